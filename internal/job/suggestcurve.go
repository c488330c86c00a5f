package job

import (
	"fmt"
	"math"
	"slices"

	"lampwise/internal/colour"
	"lampwise/internal/grade"
	"lampwise/internal/region"
)

const (
	curveBins = 96
	// The limits of slope: points of a curve moved too far fall apart; 10 bits
	// bear it, 8 often don't (common practice, no source).
	curveLeast, curveMost   = 0.75, 1.35
	curveLeast8, curveMost8 = 0.85, 1.2
	curveFace               = 3.0  // weight of a face against the rest
	curveFlat               = 0.01 // contrast of neighbours, in y, at which half of a square counts as detail
	curveTexture            = 0.05 // detail is taken as this part of the light when it is weighed against noise
	curvePoints             = 8
	curveWorth              = 0.02 // least part of the loss that must be gained
)

// curve finds the tone curve that keeps most detail of this clip.
func (a *adviser) curve(g *grade.Grade) (Suggestion, *grade.Grade, error) {
	var out Suggestion
	p := a.now.work.Path
	c := p.Curve
	lo, hi := c.Encode(0), c.Encode(colour.Grey*math.Exp2(6))
	if a.sight.camera.ClipCode > 0 {
		hi = math.Min(hi, p.Clip.ClipCode)
	}
	if p.Clip.ClipCode == 0 {
		hi = math.Min(c.Encode(colour.Grey*math.Exp2(6)), 1)
	}
	least, most := curveLeast, curveMost
	bits := a.sight.info.Video.Bits
	if bits <= 8 {
		least, most = curveLeast8, curveMost8
	}
	d := grade.DetailCurve{Lo: lo, Hi: hi, Weight: make([]float64, curveBins), Least: least, Most: most, Strength: a.request.Strength}
	total := 0.0
	for i := range a.sight.samples {
		s := &a.sight.samples[i]
		if s.clipped || s.lamp {
			continue
		}
		y := a.beforeCurve(s.y)
		if y <= lo || y >= hi {
			continue
		}
		w := s.detail / (s.detail + curveFlat)
		if s.face {
			w *= curveFace
		}
		light := c.Decode(y)
		if sigma, ok := a.sight.noiseAt(light); ok && light > 0 {
			n := sigma / (curveTexture * light)
			w /= 1 + n*n
		}
		d.Weight[int((y-lo)/(hi-lo)*curveBins)] += w
		total += w
	}
	if total == 0 {
		out.Unknown = true
		out.Reason = "nothing between black and clip to spread a curve over"
		return out, nil, nil
	}
	// The bins are smoothed over a neighbour on each side, so that a narrow
	// peak doesn't make a kink.
	d.Weight = eased(eased(d.Weight))
	d.Anchors = []float64{c.Encode(colour.Grey)}
	anchors := "grey"
	if lit := a.sight.reading(region.FaceLit); lit != nil && lit.Linear != nil {
		y := a.beforeCurve(a.sight.signalOf(a.now, *lit.Linear))
		if math.Abs(y-d.Anchors[0]) > 3*(hi-lo)/curveBins && y > lo && y < hi {
			d.Anchors = append(d.Anchors, y)
			slices.Sort(d.Anchors)
			anchors = "grey and the lit side of the face"
		}
	}
	slopes, err := d.Slopes()
	if err != nil {
		return out, nil, err
	}
	points := a.curvePoints(d, slopes)
	g.Curve.Master, g.Curve.Foot = points, nil
	g.SetOff(grade.StageCurve, false)
	if err := g.Check(); err != nil {
		return out, nil, err
	}
	then, err := a.state(g)
	if err != nil {
		return out, nil, err
	}
	// The gain is told of the curve as it will be, points joined by the path's
	// own cubic, against the curve that is there.
	before, after := a.detailLoss(p, d), a.detailLoss(then.work.Path, d)
	sl := then.work.Path.CurveSlopes()
	out.Numbers = []Number{
		number("loss of detail before", before, "of a straight curve's"), number("loss of detail after", after, "of a straight curve's"),
		number("loss at the optimum, full strength", d.Loss(mustSlopes(d)), "of a straight curve's"),
		number("least slope", sl.Least, "log out per log in"), number("most slope", sl.Most, "log out per log in"),
	}
	if after > before*(1-curveWorth) {
		out.Reason = fmt.Sprintf("the curve that keeps most detail would gain less than %.0f %% over the one that is there, so it stays", 100*curveWorth)
		return out, nil, nil
	}
	out.Reason = fmt.Sprintf("this clip's detail, faces %.0f-fold, flat walls and what drowns in noise less, asks for a steeper curve where it lies; what reads as %s stays where it is, slopes stay within %.2f to %.2f at full strength and %.0f %% of it is taken. It acts before the conversion, where a curve belongs; style comes after",
		curveFace, anchors, least, most, 100*a.request.Strength)
	if bits <= 8 {
		out.Reason += ". The clip has 8 bits, which often bear no more"
	}
	out.Settings = []string{setting("curve.master", "%s", stopPairs(points)), "curve.foot=[]", "curve.off=false"}
	return out, g, nil
}

// beforeCurve is the mean log signal that enters the curve.
func (a *adviser) beforeCurve(y [3]float64) float64 {
	return mean3(a.now.work.Path.After(grade.StageSplit, y))
}

func mustSlopes(d grade.DetailCurve) []float64 {
	d.Strength = 1
	s, err := d.Slopes()
	if err != nil {
		panic(err) // the same with another strength was taken
	}
	return s
}

func eased(w []float64) []float64 {
	out := make([]float64, len(w))
	for i := range w {
		out[i] = (w[max(0, i-1)] + 2*w[i] + w[min(len(w)-1, i+1)]) / 4
	}
	return out
}

// curvePoints are the curve's points in stops from grey: whole stops, thinned
// to few, grey among them.
func (a *adviser) curvePoints(d grade.DetailCurve, slopes []float64) [][2]float64 {
	c := a.now.work.Path.Curve
	stops := func(y float64) float64 { return math.Log2(math.Max(c.Decode(y), 1e-9) / colour.Grey) }
	last := stops(d.Hi)
	in := []float64{0}
	const deepestPoint, step = -5.0, 1.5
	for x := -step; x >= deepestPoint; x -= step {
		in = append(in, x)
	}
	for x := step; x < last-step/2 && len(in) < curvePoints-1; x += step {
		in = append(in, x)
	}
	if last > 1 {
		in = append(in, last)
	}
	slices.Sort(in)
	var out [][2]float64
	for _, x := range in {
		x = math.Round(100*x) / 100
		y := stops(d.At(slopes, c.Encode(colour.Grey*math.Exp2(x))))
		if x == 0 {
			y = 0
		}
		y = math.Round(100*y) / 100
		if n := len(out); n > 0 && (x <= out[n-1][0] || y <= out[n-1][1]) {
			continue
		}
		out = append(out, [2]float64{x, y})
	}
	return out
}

// detailLoss is Σ w/s² over Σ w of a path's curve, s being its slope in a bin.
func (a *adviser) detailLoss(p *grade.Path, d grade.DetailCurve) float64 {
	step := (d.Hi - d.Lo) / float64(len(d.Weight))
	slopes := make([]float64, len(d.Weight))
	for i := range slopes {
		y := d.Lo + float64(i)*step
		slopes[i] = math.Max((p.CurveAt(y+step)-p.CurveAt(y))/step, 1e-3)
	}
	return d.Loss(slopes)
}

// stopPairs writes points as a grade file has them.
func stopPairs(points [][2]float64) string {
	text := "["
	for i, p := range points {
		if i > 0 {
			text += ", "
		}
		text += fmt.Sprintf("[%g, %g]", p[0], p[1])
	}
	return text + "]"
}

// noiseAt is the clip's measured noise at a scene light.
func (s *sight) noiseAt(light float64) (float64, bool) {
	if l := s.out.Found.Noise.Line; l != nil {
		return l.Sigma(light), true
	}
	return 0, false
}
