package lamps

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// slowChangePoints is the optimal partition without pruning, by definition.
func slowChangePoints(series [][]float64, penalty float64, shortest int) float64 {
	n := len(series)
	best := make([]float64, n+1)
	best[0] = -penalty
	for t := 1; t <= n; t++ {
		best[t] = math.Inf(1)
		for s := range t {
			if t-s < shortest || math.IsInf(best[s], 1) {
				continue
			}
			best[t] = min(best[t], best[s]+squaresAbout(series[s:t])+penalty)
		}
	}
	return best[n]
}

func squaresAbout(p [][]float64) float64 {
	total := 0.0
	for k := range p[0] {
		m := 0.0
		for _, v := range p {
			m += v[k] / float64(len(p))
		}
		for _, v := range p {
			total += (v[k] - m) * (v[k] - m)
		}
	}
	return total
}

// The pruned search reaches the optimum of the plain one.
func TestChangePointsOptimal(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 2))
	for trial := range 60 {
		n, d, shortest := 20+rng.IntN(60), 1+rng.IntN(4), 1+rng.IntN(5)
		series := make([][]float64, n)
		level := make([]float64, d)
		for i := range series {
			if rng.Float64() < .08 {
				for k := range level {
					level[k] += 3 * rng.NormFloat64()
				}
			}
			series[i] = make([]float64, d)
			for k := range level {
				series[i][k] = level[k] + rng.NormFloat64()
			}
		}
		penalty := 2 + 20*rng.Float64()
		points := changePoints(series, penalty, shortest)
		cost := -penalty
		from := 0
		for _, p := range append(slices.Clone(points), n) {
			if p-from < shortest {
				t.Fatalf("trial %d: segment %d..%d shorter than %d", trial, from, p, shortest)
			}
			cost += squaresAbout(series[from:p]) + penalty
			from = p
		}
		if want := slowChangePoints(series, penalty, shortest); math.Abs(cost-want) > 1e-6*math.Max(1, math.Abs(want)) {
			t.Fatalf("trial %d: cost %g, optimum %g", trial, cost, want)
		}
	}
}

// Noise alone changes nowhere; a change of 2.5 deviations in one of 86 numbers
// is found to the frame or two after two seconds.
func TestChangePenalty(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 1))
	const n, d = 400, 86
	noise := func() [][]float64 {
		s := make([][]float64, n)
		for i := range s {
			s[i] = make([]float64, d)
			for k := range s[i] {
				s[i][k] = rng.NormFloat64()
			}
		}
		return s
	}
	p := changePenalty(n, d, 1)
	for range 20 {
		if got := changePoints(noise(), p, 5); len(got) > 0 {
			t.Fatalf("noise alone changes at %v", got)
		}
	}
	found := 0
	for range 20 {
		s := noise()
		for i := 200; i < n; i++ {
			s[i][17] += 2.5
		}
		if got := changePoints(s, p, 5); len(got) == 1 && got[0] >= 197 && got[0] <= 203 {
			found++
		}
	}
	if found < 18 {
		t.Fatalf("a faint lamp's change was found %d times of 20", found)
	}
}
