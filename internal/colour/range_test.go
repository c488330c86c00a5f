package colour

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// TestRangeLevels: levels as ITU-T H.273 gives them for each depth.
func TestRangeLevels(t *testing.T) {
	for _, c := range []struct {
		r                                      Range
		bits                                   int
		black, white, chromaLow, zero, chromaH float64
	}{
		{Narrow, 8, 16, 235, 16, 128, 240},
		{Narrow, 10, 64, 940, 64, 512, 960},
		{Narrow, 12, 256, 3760, 256, 2048, 3840},
		{Narrow, 16, 4096, 60160, 4096, 32768, 61440},
		{Full, 8, 0, 255, 0.5, 128, 255.5},
		{Full, 10, 0, 1023, 0.5, 512, 1023.5},
		{Full, 12, 0, 4095, 0.5, 2048, 4095.5},
		{Full, 16, 0, 65535, 0.5, 32768, 65535.5},
	} {
		got := [5]float64{c.r.LumaToCode(0, c.bits), c.r.LumaToCode(1, c.bits), c.r.ChromaToCode(-0.5, c.bits), c.r.ChromaToCode(0, c.bits), c.r.ChromaToCode(0.5, c.bits)}
		if want := [5]float64{c.black, c.white, c.chromaLow, c.zero, c.chromaH}; got != want {
			t.Errorf("%s %d bits: %v, expected %v", c.r, c.bits, got, want)
		}
	}
}

// TestRangeRoundTrip: every code of every depth comes back; log luma above
// 940 is kept as a signal above 1.
func TestRangeRoundTrip(t *testing.T) {
	for _, r := range []Range{Narrow, Full} {
		for _, bits := range []int{8, 10, 12, 16} {
			for code := 0; code < 1<<bits; code++ {
				if back := r.LumaToCode(r.LumaFromCode(float64(code), bits), bits); math.Round(back) != float64(code) || math.Abs(back-float64(code)) > 1e-10 {
					t.Fatalf("%s luma %d of %d bits comes back %g", r, code, bits, back)
				}
				if back := r.ChromaToCode(r.ChromaFromCode(float64(code), bits), bits); math.Abs(back-float64(code)) > 1e-10 {
					t.Fatalf("%s chroma %d of %d bits comes back %g", r, code, bits, back)
				}
			}
		}
	}
	if e := Narrow.LumaFromCode(1019, 10); math.Abs(e-955.0/876) > 1e-15 {
		t.Errorf("code 1019 is %g", e)
	}
}

func TestMatrixCoefficients(t *testing.T) {
	for _, m := range []MatrixCoefficients{MatrixBT709, MatrixBT601, MatrixBT2020} {
		if !m.Known() {
			t.Errorf("%s is not known", m)
		}
		if d := furthest(m.ToRGB().Mul(m.FromRGB()), Identity); d > 1e-15*4 {
			t.Errorf("%s: there and back is %.2g off", m, d)
		}
		if d := furthest(m.FromRGB().Inverse(), m.ToRGB()); d > 1e-14 {
			t.Errorf("%s: ToRGB is %.2g off the inverse", m, d)
		}
	}
	// Luma weights are the gamut's own, rounded to four places (BT.709-6, note to 3.2; BT.2020-2).
	for m, g := range map[MatrixCoefficients]string{MatrixBT709: "bt709", MatrixBT2020: "bt2020"} {
		kr, kg, kb := m.Weights()
		r, gr, b := MustGamut(g).LuminanceWeights()
		for _, d := range []float64{kr - r, kg - gr, kb - b} {
			if math.Abs(d) > 5e-5 {
				t.Errorf("%s: weights %g %g %g, its primaries give %g %g %g", m, kr, kg, kb, r, gr, b)
			}
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(-0.1, 1.1).Draw(t, "v")
		for _, m := range []MatrixCoefficients{MatrixBT709, MatrixBT601, MatrixBT2020} {
			y := m.FromRGB().Apply([3]float64{v, v, v})
			if math.Abs(y[0]-v) > 1e-15 || math.Abs(y[1]) > 1e-15 || math.Abs(y[2]) > 1e-15 {
				t.Fatalf("%s: neutral %g becomes %v", m, v, y)
			}
		}
	})
	defer func() {
		if recover() == nil {
			t.Error("an unknown matrix has weights")
		}
	}()
	MatrixCoefficients("").Weights()
}
