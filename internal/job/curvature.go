package job

import "math"

// curvature says how a log curve bends light: from high up, light's second
// derivative after the place is an affine function of the light itself,
// 2·bend·(light + base), as it is for every curve whose upper part is
// light = (10^(E′·k) − b)/a; below low there is none, as in a straight foot.
// Between is the corner of the two, of which nothing is said.
type curvature struct {
	bend, base, low, high float32
	reach                 float64 // 10-bit codes over which the third order is as bentCodes says
}

// corner says whether nothing is said of light's bend.
func (c curvature) corner(light float32) bool { return light > c.low && light < c.high }

// bent adds to a mean code's light what the codes' spread adds to it.
func (c curvature) bent(light []float32, spread float32) {
	spread *= c.bend
	for i, v := range light {
		if v >= c.high {
			light[i] = v + float32((v+c.base)*spread)
		}
	}
}

// How far, in 10-bit codes, a square's luma may reach for its mean code to
// stand for it. Over a spread of σ stops the mean light is (σ·ln 2)²/2 above the
// mean code's: at most 0.0005 for eight codes of the steepest curve here. With
// that added, what is left is the third order.
const (
	evenCodes = 8
	bentCodes = 32
	// Of values of which a quarter lie a distance d from the others, the third
	// central moment is 3/32·d³; a sixth of it, times the cube of the log's
	// slope, is 0.00035 of the light for a slope times distance of this.
	thirdOrder = 0.28
)

// curvatureOf finds the curvature of a table of light. Of a curve that isn't of
// that form, nothing is said.
func curvatureOf(light *[lightPlaces]float32) curvature {
	const (
		span  = 64 // places each way: over fewer, float32 light is too coarse
		lower = lightBase + lightSteps*6/10
		upper = lightBase + lightSteps*9/10
		most  = 0.03 // of a bend that itself is under 0.011 of the light
		reach = 8 * bentCodes
	)
	none := curvature{low: float32(math.Inf(-1)), high: float32(math.Inf(1))}
	second := func(at int) float64 {
		return (float64(light[at+span]) - 2*float64(light[at]) + float64(light[at-span])) / (span * span)
	}
	d0, d1 := second(lower), second(upper)
	f0, f1 := float64(light[lower]), float64(light[upper])
	if !(d0 > 0 && d1 > d0 && f1 > f0) {
		return none
	}
	// An exponential's second difference over a span is (2·cosh(k·span) − 2)/span²
	// times itself.
	k := math.Acosh(1+(d1-d0)/(f1-f0)*span*span/2) / span
	base := d0*(f1-f0)/(d1-d0) - f0
	bend := func(at int) float64 { return (math.Cosh(k*span) - 1) * 2 / (span * span) * (float64(light[at]) + base) }
	log := upper
	for log > lightBase-reach && math.Abs(second(log)/bend(log)-1) <= most {
		log -= span / 4
	}
	foot := log
	for foot > lightBase-reach && math.Abs(second(foot)) > most*bend(lower)/100 {
		foot -= span / 4
	}
	// Below the foot's upper end it must be straight throughout.
	for at := foot; at > lightBase-reach; at -= span / 4 {
		if math.Abs(second(at)) > most*bend(lower)/100 {
			return none
		}
	}
	if log > lower {
		return none
	}
	// The third order goes with light + base: twice what it is of the light, at most.
	high := max(light[log+reach], float32(base))
	return curvature{
		bend: float32(k * k / 2), base: float32(base), low: min(light[max(foot-reach, 0)], high), high: high, reach: thirdOrder / (8 * k),
	}
}
