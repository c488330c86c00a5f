package grade

import (
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
)

// toneCurves is the compiled curve stage: master, then R, G, B, each a
// monotone cubic on the log signal y; nil = identity.
//
// Points in stops become points in y through the camera's curve. Below them
// stands the foot: the user's code pairs, or zero light at its own code.
// Beyond the last point the curve goes straight on; the result is held inside
// the range that the log signal may have.
type toneCurves struct {
	master *pchip
	rgb    [3]*pchip
}

func newToneCurves(c Curve, curve *colour.Curve) (*toneCurves, error) {
	t := &toneCurves{}
	foot := c.Foot
	var err error
	if len(c.Master)+len(foot) > 0 {
		if t.master, err = tonePoints(c.Master, foot, curve, "curve.master"); err != nil {
			return nil, err
		}
	}
	for i, points := range [][][2]float64{c.Red, c.Green, c.Blue} {
		if len(points) == 0 {
			continue
		}
		if t.rgb[i], err = tonePoints(points, nil, curve, "curve."+[]string{"red", "green", "blue"}[i]); err != nil {
			return nil, err
		}
	}
	return t, nil
}

// tonePoints joins the foot and the points in stops.
func tonePoints(stops, foot [][2]float64, curve *colour.Curve, key string) (*pchip, error) {
	var x, y []float64
	add := func(a, b float64) error {
		if n := len(x); n > 0 && !(a > x[n-1]+1e-6 && b > y[n-1]+1e-6) {
			return fault.New(fault.Usage, "grade-points",
				"Points in stops must stand above the foot in both codes; very low stops share one code in a log curve.",
				"%s: point %d (codes %.1f → %.1f) doesn't rise above the one before (%.1f → %.1f)",
				key, n+1, code10(curve, a), code10(curve, b), code10(curve, x[n-1]), code10(curve, y[n-1]))
		}
		x, y = append(x, a), append(y, b)
		return nil
	}
	if len(foot) == 0 {
		black := curve.Encode(0)
		foot = [][2]float64{{code10(curve, black), code10(curve, black)}}
	}
	for _, f := range foot {
		if err := add(signal10(curve, f[0]), signal10(curve, f[1])); err != nil {
			return nil, err
		}
	}
	if len(stops) == 0 { // a foot alone: grey stays
		stops = [][2]float64{{0, 0}}
	}
	for _, s := range stops {
		if err := add(curve.Encode(colour.Grey*math.Exp2(s[0])), curve.Encode(colour.Grey*math.Exp2(s[1]))); err != nil {
			return nil, err
		}
	}
	return newPchip(x, y), nil
}

// code10 and signal10 turn the curve's y into a 10-bit code and back.
func code10(c *colour.Curve, y float64) float64 {
	if c.Levels == colour.LevelsVideo {
		return colour.Narrow.LumaToCode(y, 10)
	}
	return y * 1023
}

func signal10(c *colour.Curve, code float64) float64 {
	if c.Levels == colour.LevelsVideo {
		return colour.Narrow.LumaFromCode(code, 10)
	}
	return code / 1023
}

func (t *toneCurves) apply(v [3]float64) [3]float64 {
	for i := range v {
		v[i] = t.channel(i, v[i])
	}
	return v
}

func (t *toneCurves) channel(i int, y float64) float64 {
	if t.master != nil {
		y = t.master.at(y)
	}
	if t.rgb[i] != nil {
		y = t.rgb[i].at(y)
	}
	return y
}

// CurveSlopes says how much the curve stage spreads and squeezes: the slope of
// log signal out over log signal in (in the logarithmic part of a camera curve,
// stops out per stop in), over the recorded range.
type CurveSlopes struct {
	Least, Most     float64
	LeastAt, MostAt float64 // stops from grey; −16 stands for all below
}

// deepest is the lowest stop told of; every camera's noise lies above it.
const deepest = -16

// CurveSlopes returns the slope limits of the master, R, G and B together.
// Where the curve doesn't run both are 1.
func (p *Path) CurveSlopes() CurveSlopes {
	s := CurveSlopes{Least: 1, Most: 1}
	if !p.on[StageCurve] {
		return s
	}
	s.Least, s.Most = math.Inf(1), math.Inf(-1)
	const steps = 2048
	lo := p.Curve.Encode(0)
	for i := range steps + 1 {
		y := lo + (1-lo)*float64(i)/steps
		for ch := range 3 {
			d := p.tone.slope(ch, y)
			at := max(math.Log2(max(p.Curve.Decode(y), 0)/colour.Grey), deepest)
			if d < s.Least {
				s.Least, s.LeastAt = d, at
			}
			if d > s.Most {
				s.Most, s.MostAt = d, at
			}
		}
	}
	return s
}

func (t *toneCurves) slope(ch int, y float64) float64 {
	d := 1.0
	if t.master != nil {
		d = t.master.slopeAt(y)
		y = t.master.at(y)
	}
	if t.rgb[ch] != nil {
		d *= t.rgb[ch].slopeAt(y)
	}
	return d
}
