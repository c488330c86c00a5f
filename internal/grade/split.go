package grade

import (
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/unit"
)

func (s Split) idle() bool {
	return s.Shadow == (Push{}) && s.Middle == (Push{}) && s.High == (Push{})
}

// pushes lists the three ranges in order of light.
func (s Split) pushes() [3]Push { return [3]Push{s.Shadow, s.Middle, s.High} }

// rangeNames are the words of the split's ranges, in order of light.
var rangeNames = [3]string{"shadow", "middle", "high"}

// split is the compiled stage.
//
// A neutral of scene light x at the gamut's white, whose chromaticity is moved
// by m mired along the Planckian locus and d in Duv across it, has camera RGB
// x·r, r = fromXYZ·XYZ(moved, Y = 1). In log its channels differ from before
// by Encode(x·r) − Encode(x): that is the shift, evaluated at the light of the
// colour's luma, so it is the same push in mired at every level and vanishes
// at black. log2(r) of the three ranges is mixed by their weights; what of the
// shift is luma is taken out again, so that luma is kept exactly.
type split struct {
	curve   *colour.Curve
	centres [3]float64    // log signal
	ratios  [3][3]float64 // log2(r) of shadow, middle, high for R, G, B
	pushes  [3]Push       // with the counter-push filled in
	counter int           // range solved; −1 = none
	white   colour.XY
	fromXYZ colour.Mat3
}

func newSplit(s Split, c *colour.Curve, g *colour.Gamut) (*split, error) {
	sp := &split{curve: c, pushes: s.pushes(), counter: -1, white: g.W, fromXYZ: g.FromXYZ()}
	for i, stops := range s.Centres {
		sp.centres[i] = c.Encode(colour.Grey * math.Exp2(stops))
	}
	if !(sp.centres[0] < sp.centres[1] && sp.centres[1] < sp.centres[2]) {
		return nil, fault.New(fault.Usage, "grade-centres", "Move the shadow's centre up.",
			"split.centres %v fall together in this camera's curve", s.Centres)
	}
	for i, name := range rangeNames {
		if name == s.Counter {
			sp.counter = i
			sp.pushes[i] = Push{}
		}
	}
	for i := range sp.pushes {
		if err := sp.setPush(i, sp.pushes[i]); err != nil {
			return nil, err
		}
	}
	if sp.counter >= 0 {
		if err := sp.solveCounter(Spread{Centre: s.Spread[0], Width: s.Spread[1]}); err != nil {
			return nil, err
		}
	}
	return sp, nil
}

func (s *split) setPush(i int, p Push) error {
	r, err := s.ratio(p)
	if err != nil {
		return err
	}
	s.pushes[i], s.ratios[i] = p, r
	return nil
}

// ratio is log2 of the camera RGB of a neutral moved by a push, against the
// neutral unmoved.
func (s *split) ratio(p Push) ([3]float64, error) {
	if p == (Push{}) {
		return [3]float64{}, nil
	}
	k, duv, err := colour.CCT(s.white)
	if err != nil {
		return [3]float64{}, err
	}
	at := func(m unit.Mired, d float64) [3]float64 {
		return s.fromXYZ.Apply(colour.XYFromCCT(m.Kelvin(), d).XYZ())
	}
	// Against the white by the same way round, so that no push is no shift.
	from, to := at(k.Mired(), duv), at(k.Mired()+unit.Mired(p.Mired), duv+p.Duv)
	var r [3]float64
	for i := range r {
		r[i] = math.Log2(to[i] / from[i])
	}
	if !colour.Finite(r) {
		return r, fault.New(fault.Usage, "grade-push", "Use a smaller push.",
			"split: %+.0f mired with %+.4f Duv leaves the camera's primaries", p.Mired, p.Duv)
	}
	return r, nil
}

// weights are the three ranges' shares at a log luma: a smooth step (3t² − 2t³)
// from centre to centre. They sum to 1 and have a continuous slope.
func (s *split) weights(l float64) [3]float64 {
	step := func(a, b float64) float64 {
		return smoothStep(hold((l-a)/(b-a), 0, 1))
	}
	up, top := step(s.centres[0], s.centres[1]), step(s.centres[1], s.centres[2])
	return [3]float64{1 - up, up - top, top}
}

// shift is what is added to R, G, B at a log luma; its own luma is 0.
func (s *split) shift(l float64) [3]float64 {
	w := s.weights(l)
	x := hold(s.curve.Decode(l), -sceneMax, sceneMax)
	base := s.curve.Encode(x)
	var out [3]float64
	for i := range out {
		r := 0.0
		for j := range w {
			r += w[j] * s.ratios[j][i]
		}
		out[i] = s.curve.Encode(x*math.Exp2(r)) - base
	}
	mean := luma(out)
	for i := range out {
		out[i] -= mean
	}
	return out
}

func (s *split) apply(v [3]float64) [3]float64 {
	d := s.shift(luma(v))
	for i := range v {
		v[i] += d[i]
	}
	return v
}
