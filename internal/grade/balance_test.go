package grade

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/unit"
)

// matrixTolerance: double precision through three 3×3 products and an inverse.
const matrixTolerance = 1e-12

// whiteTolerance is in mired; CCT's own solution is good to better.
const whiteTolerance = 0.01

func card(g *colour.Gamut, xy colour.XY) White {
	rgb := [3]float64(g.FromXYZ().Apply(xy.XYZ()))
	return White{Card: &rgb}
}

// xyOf is the chromaticity of camera RGB.
func xyOf(g *colour.Gamut, rgb [3]float64) colour.XY { return colour.XYZ(g.ToXYZ().Apply(rgb)).XY() }

func miredOf(t testing.TB, xy colour.XY) (mired, duv float64) {
	t.Helper()
	k, duv, err := colour.CCT(xy)
	if err != nil {
		t.Fatal(err)
	}
	return float64(k.Mired()), duv
}

func TestBalancePutsTheCardWhereItShould(t *testing.T) {
	for _, id := range []string{"r7300-g8550", "r7400-g11400", "bt2020", "bt709"} {
		g := colour.MustGamut(id)
		for _, cat := range []string{"CAT16", "Bradford"} {
			from, to := colour.XYFromCCT(3200, 0.002), colour.XYFromCCT(5600, 0.003)
			cct, duv := 5600.0, 0.003
			m, note, err := balanceMatrix(Balance{White: card(g, from), Target: White{CCT: &cct, Duv: &duv}, CAT: cat}, g)
			if err != nil || note != "" {
				t.Fatal(err, note)
			}
			white := g.FromXYZ().Apply(from.XYZ())
			got := m.Apply(white)
			if xy := xyOf(g, got); math.Hypot(xy.X-to.X, xy.Y-to.Y) > matrixTolerance {
				t.Errorf("%s %s: card lands at %v, want %v", id, cat, xy, to)
			}
			if y := g.ToXYZ().Apply(got)[1]; math.Abs(y-1) > matrixTolerance {
				t.Errorf("%s %s: the card's luminance became %v", id, cat, y)
			}
			// Without a target the card becomes neutral: R = G = B.
			m, _, err = balanceMatrix(Balance{White: card(g, from), CAT: cat}, g)
			if err != nil {
				t.Fatal(err)
			}
			n := m.Apply(white)
			if math.Abs(n[0]-n[1]) > matrixTolerance || math.Abs(n[2]-n[1]) > matrixTolerance {
				t.Errorf("%s %s: the card isn't neutral: %v", id, cat, n)
			}
		}
	}
}

func TestBalanceOfAWhiteToItselfChangesNothing(t *testing.T) {
	g := colour.MustGamut("r7300-g8550")
	xy := [2]float64{0.42, 0.39}
	m, _, err := balanceMatrix(Balance{White: White{XY: &xy}, Target: White{XY: &xy}, CAT: "CAT16"}, g)
	if err != nil || m != colour.Identity {
		t.Errorf("%v %v", m, err)
	}
}

func TestKeepLeavesItsPartOfTheWarmth(t *testing.T) {
	g := colour.MustGamut("r7300-g8550")
	rapid.Check(t, func(t *rapid.T) {
		from := rapid.Float64Range(2300, 20000).Draw(t, "from K")
		to := rapid.Float64Range(2500, 10000).Draw(t, "to K")
		d1 := rapid.Float64Range(-0.01, 0.01).Draw(t, "from Duv")
		d2 := rapid.Float64Range(-0.01, 0.01).Draw(t, "to Duv")
		keep := rapid.Float64Range(0, 1).Draw(t, "keep")
		white := colour.XYFromCCT(unit.Kelvin(from), d1)
		xy := [2]float64{white.X, white.Y}
		m, _, err := balanceMatrix(Balance{White: White{XY: &xy}, Target: White{CCT: &to, Duv: &d2}, Keep: keep, CAT: "CAT16"}, g)
		if err != nil {
			t.Fatal(err)
		}
		k, duv, err := colour.CCT(xyOf(g, m.Apply(g.FromXYZ().Apply(white.XYZ()))))
		if err != nil {
			t.Fatal(err)
		}
		want := mix(1e6/to, 1e6/from, keep)
		if d := float64(k.Mired()) - want; math.Abs(d) > whiteTolerance {
			t.Errorf("lands %.3f mired from %.1f", d, want)
		}
		if d := duv - mix(d2, d1, keep); math.Abs(d) > 1e-5 {
			t.Errorf("Duv off by %.6f", d)
		}
	})
}

func TestKeepOfAColouredWhiteGoesAlongTheLine(t *testing.T) {
	g := colour.MustGamut("r7300-g8550")
	xy := [2]float64{0.30, 0.50} // Duv about +0.08: no CCT
	m, note, err := balanceMatrix(Balance{White: White{XY: &xy}, Keep: 0.5, CAT: "CAT16"}, g)
	if err != nil || !strings.Contains(note, "coloured lamp") {
		t.Fatalf("%v %q", err, note)
	}
	got := xyOf(g, m.Apply(g.FromXYZ().Apply(colour.XY{X: xy[0], Y: xy[1]}.XYZ())))
	u1, v1 := toUV(colour.XY{X: xy[0], Y: xy[1]})
	u2, v2 := toUV(g.W)
	u, v := toUV(got)
	if math.Abs(u-(u1+u2)/2) > 1e-9 || math.Abs(v-(v1+v2)/2) > 1e-9 {
		t.Errorf("u, v = %v, %v isn't halfway", u, v)
	}
}

func TestWhitesThatCannotBeAreRefused(t *testing.T) {
	g := colour.MustGamut("r7300-g8550")
	for name, w := range map[string]White{
		"deep blue":        {XY: &[2]float64{0.14, 0.02}},
		"violet line":      {XY: &[2]float64{0.2, 0.001}},
		"blue light alone": {Card: &[3]float64{1e-6, 1e-6, 1}},
	} {
		_, _, err := balanceMatrix(Balance{White: w, CAT: "Bradford"}, g)
		if f, ok := fault.As(err); !ok || f.Hint == "" {
			t.Errorf("%s: got %v", name, err)
		}
	}
}

// A deep blue lamp in a gamut with an imaginary blue primary has negative cone
// responses; balanced, its red and green light may become negative. The path
// must carry that without a NaN, and the picture must stay inside the screen.
func TestNegativeResponsesOnDeepBlue(t *testing.T) {
	for _, id := range []string{"r7300-g8550", "r7660-g8000", "r7400-g11400", "r7803-g14940"} {
		gamut := colour.MustGamut(id)
		response := colour.CAT16.Matrix().Mul(gamut.ToXYZ()).Apply([3]float64{0, 0, 1})
		if min(response[0], response[1], response[2]) >= 0 {
			t.Errorf("%s: the blue primary's CAT16 responses %v aren't negative; this test means nothing", id, response)
		}
		cct := 2700.0
		g := Starting("log-420")
		g.Decode.Gamut = id
		g.Look.Off = true
		g.Balance = Balance{White: White{CCT: &cct}, CAT: "CAT16"}
		g.Exposure.Stops = 2
		p, err := Build(g, Clip{}, nil)
		if err != nil {
			t.Fatal(err)
		}
		negative := false
		for s := -6.0; s <= 7; s += 0.25 {
			y := [3]float64{0.06, 0.09, p.Curve.Encode(colour.Grey * math.Exp2(s))}
			for _, stage := range Stages() {
				v := p.After(stage, y)
				if !colour.Finite(v) {
					t.Fatalf("%s after %s: %v", id, stage, v)
				}
				negative = negative || stage == StageBalance && min(v[0], v[1], v[2]) < -0.01
			}
			if v := p.Exact(y); min(v[0], v[1], v[2]) < 0 {
				t.Errorf("%s: %v is outside the screen's colours", id, v)
			}
		}
		if !negative {
			t.Errorf("%s: no light became negative; this test means nothing", id)
		}
	}
}
