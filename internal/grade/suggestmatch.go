package grade

import (
	"math"
	"strings"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
)

// Pair is one thing in two clips: its scene-linear camera RGB as recorded
// (0.18 = grey) in the clip that is to be matched, and in the one that it is
// matched to. Weight ≥ 0 says how much it counts.
type Pair struct {
	From, To [3]float64
	Weight   float64
}

// pairScale is the difference, in stops, from which a pair begins to lose its
// say: a lamp that was moved lights some things and not others.
const pairScale = 0.3

// MatchScene finds the exposure and balance with which p's grade brings the
// From sides nearest to what it makes of the To sides: gains in the balance's
// cone-like space, by weighted means of logarithms in which a pair that differs
// from the rest loses its say (weights after Cauchy). It is exact where the
// clips differ by one change of light: if gains diag(g) join the clips, a white
// w/g in place of w undoes them.
func MatchScene(p *Path, pairs []Pair) (Exposure, Balance, error) {
	e, b := p.Grade.Exposure, p.Grade.Balance
	if p.Curve == nil {
		return e, b, fault.New(fault.Usage, "match-decode", "Matching is for log clips.", "decode is off, so there is no scene light to match")
	}
	cat := colour.CAT(strings.ToLower(b.CAT))
	cone := cat.Matrix().Mul(p.Gamut.ToXYZ())
	var gains [3]float64
	for k := range 3 {
		var x, w []float64
		for _, q := range pairs {
			from, to := cone.Apply(q.From)[k], cone.Apply(q.To)[k]
			if from > 1e-5 && to > 1e-5 && q.Weight > 0 {
				x, w = append(x, math.Log2(to/from)), append(w, q.Weight)
			}
		}
		if len(x) == 0 {
			return e, b, fault.New(fault.Unsure, "match-regions", "Draw a region that both clips show: --region card=x,y,w,h.", "no region holds light in both clips")
		}
		gains[k] = math.Exp2(steadyMean(x, w))
	}
	white, target, err := p.whites()
	if err != nil {
		return e, b, err
	}
	r := cat.Response(white)
	for k := range r {
		r[k] /= gains[k]
	}
	xyz := colour.XYZ(cat.Matrix().Inverse().Apply(r))
	if !(xyz[1] > 0) {
		return e, b, fault.New(fault.Unsure, "match-white", "", "the clips differ by more colour than a balance can undo")
	}
	xy := xyz.XY()
	was := 0.0
	if p.on[StageExposure] {
		was = e.Stops
	}
	e = Exposure{Stops: was - math.Log2(xyz[1])}
	b.White, b.Target, b.Keep, b.Off = White{XY: &[2]float64{xy.X, xy.Y}}, White{XY: &[2]float64{target.X, target.Y}}, 0, false
	return e, b, nil
}

// whites are the balance's white and where it lands, kept warmth included; the
// gamut's own twice where the stage doesn't run.
func (p *Path) whites() (white, target colour.XY, err error) {
	b := p.Grade.Balance
	if !p.on[StageBalance] {
		return p.Gamut.W, p.Gamut.W, nil
	}
	if white, err = whiteXY(b.White, p.Gamut, "balance.white"); err != nil {
		return white, target, err
	}
	target = p.Gamut.W
	if b.Target.Set() {
		if target, err = whiteXY(b.Target, p.Gamut, "balance.target"); err != nil {
			return white, target, err
		}
	}
	if b.Keep > 0 {
		target = between(target, white, b.Keep)
	}
	return white, target, nil
}

// steadyMean is a weighted mean in which what lies far off counts less. It
// starts at the weighted median, so that one stray among few can't lead.
func steadyMean(x, w []float64) float64 {
	m := weightedMiddle(x, w)
	for range 50 {
		sum, total := 0.0, 0.0
		for i := range x {
			d := (x[i] - m) / pairScale
			k := w[i] / (1 + d*d)
			sum, total = sum+k*x[i], total+k
		}
		m = sum / total
	}
	return m
}

func weightedMiddle(x, w []float64) float64 {
	best, least := x[0], math.Inf(1)
	for _, m := range x {
		sum := 0.0
		for i := range x {
			sum += w[i] * math.Abs(x[i]-m)
		}
		if sum < least {
			best, least = m, sum
		}
	}
	return best
}

const (
	matchReach  = 1.2 // stops: how far along the ladder a pair's difference is taken to hold
	matchShrink = 0.3 // pulls to no change where no pair stands
	matchLeast  = 0.75
	matchMost   = 1.35
)

// MatchCurve finds what is left for the curve, after exposure and balance: a
// is the path with which the From sides are graded, b that of the To sides. It
// returns points for curve.master that take b's own curve along, and the root
// mean square of the differences in stops of scene light before and after.
// Slopes of what it adds lie within 0.75 to 1.35.
func MatchCurve(a, b *Path, pairs []Pair) (points [][2]float64, before, after float64) {
	type difference struct{ at, d, w float64 }
	var all []difference
	total := 0.0
	for _, q := range pairs {
		x, okX := a.sceneStops(q.From)
		y, okY := b.sceneStops(q.To)
		if okX && okY && q.Weight > 0 {
			all = append(all, difference{x, y - x, q.Weight})
			total += q.Weight
		}
	}
	if total == 0 {
		return nil, 0, 0
	}
	raw := func(x float64) float64 {
		sum, weight := 0.0, matchShrink
		for _, d := range all {
			z := (x - d.at) / matchReach
			k := d.w * math.Exp(-z*z/2) * float64(len(all)) / total
			sum, weight = sum+k*d.d, weight+k
		}
		return sum / weight
	}
	const from, to, step = -6.0, 6.0, 1.5
	// Held to the slopes going out from grey on both sides.
	var in, out []float64
	for x := from; x <= to+1e-9; x += step {
		in, out = append(in, x), append(out, x+raw(x))
	}
	middle := len(in) / 2
	for i := middle + 1; i < len(in); i++ {
		out[i] = hold(out[i], out[i-1]+matchLeast*step, out[i-1]+matchMost*step)
	}
	for i := middle - 1; i >= 0; i-- {
		out[i] = hold(out[i], out[i+1]-matchMost*step, out[i+1]-matchLeast*step)
	}
	added := newPchip(in, out)
	for _, d := range all {
		before += d.w / total * d.d * d.d
		e := d.at + d.d - added.at(d.at)
		after += d.w / total * e * e
	}
	for i, x := range in {
		y := b.CurveAt(b.Curve.Encode(colour.Grey * math.Exp2(out[i])))
		s := math.Log2(math.Max(b.Curve.Decode(y), 1e-9) / colour.Grey)
		p := [2]float64{x, math.Round(100*s) / 100}
		if n := len(points); n > 0 && p[1] <= points[n-1][1] {
			continue
		}
		points = append(points, p)
	}
	return points, math.Sqrt(before), math.Sqrt(after)
}

// sceneStops is where exposure and balance bring scene light, in stops from grey.
func (p *Path) sceneStops(light [3]float64) (float64, bool) {
	var y [3]float64
	for i, x := range light {
		y[i] = p.Curve.Encode(x)
	}
	w := [3]float64{}
	w[0], w[1], w[2] = p.Gamut.LuminanceWeights()
	v := p.After(StageBalance, y)
	l := w[0]*v[0] + w[1]*v[1] + w[2]*v[2]
	if !(l > 0) {
		return 0, false
	}
	return math.Log2(l / colour.Grey), true
}

// White is what the balance takes for white: the gamut's own where the stage
// doesn't run.
func (p *Path) White() (colour.XY, error) {
	w, _, err := p.whites()
	return w, err
}
