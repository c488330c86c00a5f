package grade

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"lampwise/internal/colour"
)

// Two clips of one scene that differ by one change of light (exposure and a
// von Kries gain) are brought together exactly, whatever the grade's own
// exposure, balance and keep.
func TestMatchSceneUndoesOneChangeOfLight(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := Starting("log-420")
		g.Exposure.Stops = rapid.Float64Range(-1, 1).Draw(t, "exposure")
		if rapid.Bool().Draw(t, "balanced") {
			k := rapid.Float64Range(3000, 8000).Draw(t, "white")
			g.Balance.Off, g.Balance.White = false, White{CCT: &k}
			g.Balance.Keep = rapid.Float64Range(0, 0.9).Draw(t, "keep")
		}
		p, err := Build(g, Clip{}, looks)
		if err != nil {
			t.Fatal(err)
		}
		cat := colour.CAT16.Matrix().Mul(p.Gamut.ToXYZ())
		gain := colour.Diagonal(math.Exp2(rapid.Float64Range(-0.4, 0.4).Draw(t, "l")), math.Exp2(rapid.Float64Range(-0.4, 0.4).Draw(t, "m")), math.Exp2(rapid.Float64Range(-0.6, 0.6).Draw(t, "s"))).Scale(math.Exp2(rapid.Float64Range(-1, 1).Draw(t, "stops")))
		change := cat.Inverse().Mul(gain).Mul(cat)
		var pairs []Pair
		for _, c := range [][3]float64{{0.3, 0.2, 0.15}, {0.1, 0.08, 0.07}, {0.18, 0.18, 0.18}, {0.03, 0.04, 0.06}} {
			from := change.Apply(c)
			if min(from[0], from[1], from[2]) <= 0.001 {
				t.Skip("outside the gamut")
			}
			pairs = append(pairs, Pair{From: from, To: c, Weight: 1})
		}
		matched := *g
		matched.Exposure, matched.Balance, err = MatchScene(p, pairs)
		if err != nil {
			t.Fatal(err)
		}
		q, err := Build(&matched, Clip{}, looks)
		if err != nil {
			t.Skip(err.Error()) // beyond what a balance may be
		}
		for _, x := range pairs {
			var a, b [3]float64
			for i := range a {
				a[i], b[i] = p.Curve.Encode(x.From[i]), p.Curve.Encode(x.To[i])
			}
			va, vb := q.After(StageBalance, a), p.After(StageBalance, b)
			for i := range va {
				if math.Abs(va[i]-vb[i]) > 1e-6 {
					t.Fatalf("%v comes to %v, its like to %v", x.From, va, vb)
				}
			}
		}
	})
}

// One thing of five that a moved lamp lights otherwise does not lead the rest.
func TestMatchSceneIsNotLedByOne(t *testing.T) {
	g := Starting("log-420")
	p := mustBuild(t, g, Clip{})
	var pairs []Pair
	for _, c := range [][3]float64{{0.3, 0.2, 0.15}, {0.1, 0.08, 0.07}, {0.18, 0.18, 0.18}, {0.03, 0.04, 0.06}, {0.2, 0.3, 0.1}} {
		pairs = append(pairs, Pair{From: scale3(c, 0.5), To: c, Weight: 1})
	}
	pairs[1].From = scale3(pairs[1].From, 4)
	e, _, err := MatchScene(p, pairs)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(e.Stops-1) > 0.02 {
		t.Errorf("exposure %+.3f, wanted +1", e.Stops)
	}
}

// A difference that grows along the ladder is left to the curve, which stays
// within its slopes.
func TestMatchCurveTakesWhatIsLeft(t *testing.T) {
	g := Starting("log-420")
	p := mustBuild(t, g, Clip{})
	var pairs []Pair
	for _, s := range []float64{-4, -2.5, -1, 0, 1, 2} {
		x, y := colour.Grey*math.Exp2(s), colour.Grey*math.Exp2(1.12*s)
		pairs = append(pairs, Pair{From: [3]float64{x, x, x}, To: [3]float64{y, y, y}, Weight: 1})
	}
	points, before, after := MatchCurve(p, p, pairs)
	if before < 0.2 || after > before/2 {
		t.Errorf("difference %.3f before, %.3f after: %v", before, after, points)
	}
	q := *g
	q.Curve.Master = points
	if _, err := Build(&q, Clip{}, looks); err != nil {
		t.Fatal(err)
	}
}
