package gauge

import (
	"math"
	"testing"
)

// A share of 0.5 read off n normal samples gives their scale within 1.2/√n of
// itself; n here is 40 000 or more and three such errors are allowed, with a
// hundredth more for samples that share a neighbour.
const sigmaTolerance = 0.03

// Neighbouring pixels' errors of rounding go together where there is little
// noise to part them, which the model leaves out.
const roundedTolerance = 0.1

func TestSigmaOfRoundedNoiseIsRight(t *testing.T) {
	r := newRand(31)
	const w, h = 400, 200
	for _, sigma := range []float64{0.3, 0.5, 0.8, 1.3, 2.5, 6, 15} {
		phase := r.Float64()
		row := make([]uint16, w)
		before := make([]uint16, w)
		wide, over := make(tally, 512), make(tally, 512)
		for range h {
			for x := range row {
				level := 300 + phase + 0.37*float64(x)
				row[x] = uint16(math.Round(level + sigma*r.NormFloat64()))
				before[x] = uint16(math.Round(level + sigma*r.NormFloat64()))
			}
			for x := 1; x < w-1; x++ {
				wide.add(highPass(row, x))
				over.add(int(row[x]) - int(before[x]))
			}
		}
		for _, core := range []float64{0.35, 0.5, 0.6} {
			a, okA := wide.sigma(across, core)
			b, okB := over.sigma(overTime, core)
			tolerance := sigmaTolerance
			if sigma < 0.6 {
				tolerance = roundedTolerance
			}
			if !okA || !okB || sigma > 0.4 && math.Abs(a/sigma-1) > tolerance || math.Abs(b/sigma-1) > sigmaTolerance {
				t.Errorf("σ %.2f, core %.2f: across %.3f, over time %.3f", sigma, core, a, b)
			}
		}
	}
}

func TestSigmaLittleMovedByLargeDifferences(t *testing.T) {
	r := newRand(32)
	over := make(tally, 256)
	const n, sigma = 40000, 3.0
	for range n {
		over.add(int(math.Round(sigma*r.NormFloat64()) - math.Round(sigma*r.NormFloat64())))
	}
	for range n / 10 { // one in eleven moved
		over.add(20 + r.IntN(200))
	}
	// The share of small ones is lowered to 10/11, so what is read at a share of
	// 0.35 lies at their own share of 0.385: Φ⁻¹(0.6925)/Φ⁻¹(0.675) = 1.109 times
	// as far out. A quantile of so many has a standard error of 0.7 %
	// (√(p(1−p)/n) over the density); five of them are allowed.
	const wider, allowed = 1.109, 5 * 0.007
	if got, ok := over.sigma(overTime, 0.35); !ok || math.Abs(got/sigma-wider) > allowed {
		t.Errorf("%.3f, want %.3f within %.1f %%", got, sigma*wider, 100*allowed)
	}
	if _, ok := make(tally, 8).sigma(overTime, 0.5); ok {
		t.Error("a scale from nothing")
	}
	still := make(tally, 8)
	for range 100 {
		still.add(0)
	}
	if got, ok := still.sigma(overTime, 0.5); !ok || got != 0 {
		t.Errorf("no difference at all: %g", got)
	}
}
