package job

import (
	"math"
	"testing"
)

// What is left of a step under noise, by the noise's own distribution: the mean
// of round(x + σn) is a sum of normal tails.
func rippleByTails(sigma float64) float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range 400 {
		x := (float64(i) + 0.5) / 400
		mean := 0.0
		for k := -20; k < 20; k++ {
			// Each border between two codes that x + σn has passed adds a step.
			over := 0.5 * math.Erfc(-(x-(float64(k)+0.5))/sigma/math.Sqrt2)
			if k < 0 {
				over -= 1
			}
			mean += over
		}
		lo, hi = math.Min(lo, mean-x), math.Max(hi, mean-x)
	}
	return hi - lo
}

func TestRippleAgainstNormalTails(t *testing.T) {
	for _, sigma := range []float64{0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.7} {
		got, want := ripple(sigma), rippleByTails(sigma)
		if math.Abs(got-want) > 5e-3 { // the lattice of places on both sides
			t.Errorf("σ %.2f: %.5f, by tails %.5f", sigma, got, want)
		}
	}
	if ripple(0) != 1 || ripple(2) != 0 {
		t.Error("the ends are not 1 and 0")
	}
	if ripple(0.5) > 0.01 {
		t.Errorf("noise of half a step leaves %.4f of it", ripple(0.5))
	}
}

func TestCodecKeepsLessAtLowRates(t *testing.T) {
	for _, bits := range []int{8, 10} {
		for _, sigma := range []float64{0.1, 0.5, 1, 3, 10, 40} {
			last := math.Inf(1)
			for qp := 0.0; qp <= 50; qp += 2 {
				k := codec.kept(sigma, qp, bits)
				if !(k >= 0 && k <= sigma && k <= last+1e-12) {
					t.Errorf("σ %.1f, %d bits, QP %.0f: %.4f after %.4f", sigma, bits, qp, k, last)
				}
				last = k
			}
		}
	}
}

// Noise hides a step of the recording, bits and dither do what they are held to do.
func TestRiskMovesAsItShould(t *testing.T) {
	c := bandingCases(false)[0]
	p := buildBandingPath(t, c)
	risk := func(sigma float64, bits, out int, dither bool) BandingRisks {
		return predictStrip(p, countedStrip{400, 428, sigma}, bits, out, dither)
	}
	clean := risk(0, 10, 8, true)
	if r := risk(1, 10, 8, true); r.Rendered >= clean.Rendered {
		t.Errorf("noise does not hide: %v, clean %v", r, clean)
	}
	if r := risk(0, 8, 8, true); r.Rendered <= clean.Rendered {
		t.Errorf("8 bits recorded are no worse: %v, 10 bits %v", r, clean)
	}
	if r := risk(1, 10, 8, false); r.Rendered <= risk(1, 10, 8, true).Rendered-1e-12 {
		t.Errorf("dither does harm: %v", r)
	}
	if r := risk(0, 10, 10, true); r.Delivered >= clean.Delivered {
		t.Errorf("10 bits delivered are no better: %v, 8 bits %v", r, clean)
	}
	if clean.Web < clean.Rendered {
		t.Errorf("a low rate does good: %v", clean)
	}
}
