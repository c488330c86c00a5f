package colour

import (
	"math"

	"lampwise/internal/unit"
)

// planckC2 is the second radiation constant in m·K as colour temperature is
// reckoned with (ITS-90; CIE 15). The 2019 SI value is
// 1.438776877e-2; it would move 6500 K by 0.1 K.
const planckC2 = 1.4388e-2

// uv is a CIE 1960 uniform chromaticity, the plane in which correlated colour
// temperature and Duv are defined.
type uv struct{ u, v float64 }

func (c XY) uv() uv {
	d := -2*c.X + 12*c.Y + 3
	return uv{4 * c.X / d, 6 * c.Y / d}
}

func (c uv) xy() XY {
	d := 2*c.u - 8*c.v + 4
	return XY{3 * c.u / d, 2 * c.v / d}
}

// locus returns the black body's chromaticity at temperature t in K (t > 0)
// and its derivative by the natural logarithm of t.
func locus(t float64) (at, slope uv) {
	var sum, diff XYZ
	for i, bar := range observer {
		wavelength := (observerFirst + observerStep*float64(i)) * 1e-9
		z := planckC2 / (wavelength * t)
		e := math.Expm1(z)
		// The spectrum up to a factor: λ in units of 560 nm keeps numbers near 1.
		r := 560e-9 / wavelength
		b := r * r * r * r * r / e
		db := b * z * (1 + 1/e) // t·dB/dt = B·z·eᶻ/(eᶻ − 1)
		for k := range 3 {
			sum[k] += b * bar[k]
			diff[k] += db * bar[k]
		}
	}
	d := sum[0] + 15*sum[1] + 3*sum[2]
	dd := diff[0] + 15*diff[1] + 3*diff[2]
	at = uv{4 * sum[0] / d, 6 * sum[1] / d}
	slope = uv{(4*diff[0] - at.u*dd) / d, (6*diff[1] - at.v*dd) / d}
	return at, slope
}

// above returns the unit normal of the locus that points to positive Duv,
// toward green.
func above(slope uv) uv {
	l := math.Hypot(slope.u, slope.v)
	return uv{slope.v / l, -slope.u / l}
}

// XYFromCCT returns the chromaticity of correlated colour temperature k and
// distance duv from the black-body locus, positive above it (toward green),
// along the locus's normal in CIE 1960 u, v. k must be above 0; it is meant
// for 1000 to 100 000 K and |duv| ≤ 0.05.
func XYFromCCT(k unit.Kelvin, duv float64) XY {
	at, slope := locus(float64(k))
	n := above(slope)
	return uv{at.u + duv*n.u, at.v + duv*n.v}.xy()
}

// The CIE's daylight locus is defined between these temperatures.
const (
	daylightLowest  unit.Kelvin = 4000
	daylightHighest unit.Kelvin = 25000
)

// Daylight returns the chromaticity of a phase of daylight (CIE 15,
// daylight illuminants; coefficients from memory, held to D50 to D75 by the tests), for 4000 to 25 000 K. Beyond them it
// runs on beside the black-body locus at the Duv it ends with; that is ours,
// no standard.
//
// Source: CIE 15, phases of daylight
func Daylight(k unit.Kelvin) XY {
	if end := max(daylightLowest, min(daylightHighest, k)); end != k {
		// The formula's temperature is nominal, a fraction of a mired from the CCT.
		at, duv, err := CCT(Daylight(end))
		if err != nil {
			panic("colour: daylight has no colour temperature: " + err.Error())
		}
		return XYFromCCT(max(1, k.Mired()+at.Mired()-end.Mired()).Kelvin(), duv)
	}
	t := float64(k)
	x := -4.6070e9/(t*t*t) + 2.9678e6/(t*t) + 0.09911e3/t + 0.244063
	if t > 7000 {
		x = -2.0064e9/(t*t*t) + 1.9018e6/(t*t) + 0.24748e3/t + 0.237040
	}
	return XY{x, -3.000*x*x + 2.870*x - 0.275}
}
