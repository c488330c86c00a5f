package colour

import (
	"math"
	"strings"
	"testing"

	"lampwise/internal/fault"

	"pgregory.net/rapid"
)

// TestGamutWhite: RGB (1, 1, 1) is the white at Y = 1, and each primary alone
// has its own chromaticity.
func TestGamutWhite(t *testing.T) {
	for _, g := range Gamuts() {
		m := g.ToXYZ()
		white := XYZ(m.Apply([3]float64{1, 1, 1}))
		if math.Abs(white[1]-1) > 1e-12 || math.Abs(white.XY().X-g.W.X) > 1e-12 || math.Abs(white.XY().Y-g.W.Y) > 1e-12 {
			t.Errorf("%s: white %v", g.ID, white)
		}
		for j, p := range []XY{g.R, g.G, g.B} {
			one := [3]float64{}
			one[j] = 1
			got := XYZ(m.Apply(one)).XY()
			if math.Abs(got.X-p.X) > 1e-12 || math.Abs(got.Y-p.Y) > 1e-12 {
				t.Errorf("%s: primary %d at %v, expected %v", g.ID, j, got, p)
			}
		}
		if d := furthest(m.Mul(g.FromXYZ()), Identity); d > 1e-12 {
			t.Errorf("%s: matrix times inverse is %.2g off", g.ID, d)
		}
	}
}

// TestAdaptation: the white goes to the white, there and back is nothing, and
// neutral stays neutral between any two gamuts.
func TestAdaptation(t *testing.T) {
	cats := []CAT{CAT16, Bradford, CAT02, ""}
	rapid.Check(t, func(t *rapid.T) {
		cat := rapid.SampledFrom(cats).Draw(t, "cat")
		from := XYFromCCT(2000, 0)
		to := XY{rapid.Float64Range(0.25, 0.5).Draw(t, "x"), rapid.Float64Range(0.28, 0.45).Draw(t, "y")}
		m := Adapt(from, to, cat)
		got := m.Apply(from.XYZ())
		for k, want := range to.XYZ() {
			if math.Abs(got[k]-want) > 1e-12 {
				t.Fatalf("%s: white %v lands on %v, expected %v", cat, from, got, to.XYZ())
			}
		}
		if d := furthest(Adapt(to, from, cat).Mul(m), Identity); d > 1e-10 {
			t.Fatalf("%s there and back: %.2g off", cat, d)
		}
		a := rapid.SampledFrom(Gamuts()).Draw(t, "a")
		b := rapid.SampledFrom(Gamuts()).Draw(t, "b")
		for _, v := range RGBToRGB(a, b, cat).Apply([3]float64{0.18, 0.18, 0.18}) {
			if math.Abs(v-0.18) > 1e-12 {
				t.Fatalf("grey of %s becomes %g in %s", a.ID, v, b.ID)
			}
		}
	})
}

func TestGamutFaults(t *testing.T) {
	_, err := GamutByID("bt790")
	if f, ok := fault.As(err); !ok || !strings.Contains(f.Hint, "bt709") {
		t.Errorf("bt790: %v", err)
	}
	for _, g := range []Gamut{
		{ID: "line", R: XY{0.1, 0.1}, G: XY{0.2, 0.2}, B: XY{0.3, 0.3}, W: D65},
		{ID: "black", R: XY{0.64, 0.33}, G: XY{0.3, 0.6}, B: XY{0.15, 0.06}},
		{ID: "outside", R: XY{0.64, 0.33}, G: XY{0.3, 0.6}, B: XY{0.15, 0.06}, W: XY{0.7, 0.29}},
	} {
		if _, ok := fault.As(g.Check()); !ok {
			t.Errorf("%s passes", g.ID)
		}
	}
}
