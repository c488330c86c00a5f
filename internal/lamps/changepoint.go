package lamps

import "math"

// changePoints finds where a series of n points of d numbers each, in units of
// its noise, changes its mean: the segmentation that minimises the squares
// about the segments' means plus penalty for each change. It is the exact
// optimum, found by pruned exact linear time (PELT: Killick, Fearnhead and
// Eckley, "Optimal detection of changepoints with a linear computational
// cost", JASA 107, 2012, section 3). Segments have at least shortest points.
// The result lists the first point of each segment but the first's.
func changePoints(series [][]float64, penalty float64, shortest int) []int {
	n := len(series)
	shortest = max(1, shortest)
	if n < 2*shortest {
		return nil
	}
	d := len(series[0])
	// Sums up to each point; the squares' own sum is common to all segmentations.
	sums := make([]float64, (n+1)*d)
	for t, p := range series {
		for k, v := range p {
			sums[(t+1)*d+k] = sums[t*d+k] + v
		}
	}
	// cost of points from..to, less their squares' sum: −|sum|²/length.
	cost := func(from, to int) float64 {
		a, b := sums[from*d:from*d+d], sums[to*d:to*d+d]
		s := 0.0
		for k, v := range b {
			u := v - a[k]
			s += u * u
		}
		return -s / float64(to-from)
	}
	best := make([]float64, n+1)
	last := make([]int, n+1)
	for t := 1; t < shortest && t <= n; t++ {
		best[t] = math.Inf(1)
	}
	best[0] = -penalty
	candidates := []int{0}
	value := make([]float64, n+1)
	for t := shortest; t <= n; t++ {
		best[t] = math.Inf(1)
		for _, c := range candidates {
			value[c] = best[c] + cost(c, t)
			if v := value[c] + penalty; v < best[t] {
				best[t], last[t] = v, c
			}
		}
		// A start that is worse by more than a penalty already can't win later.
		kept := candidates[:0]
		for _, c := range candidates {
			if value[c] <= best[t] {
				kept = append(kept, c)
			}
		}
		candidates = kept
		if next := t - shortest + 1; next > 0 && !math.IsInf(best[next], 1) {
			candidates = append(candidates, next)
		}
	}
	var out []int
	for t := last[n]; t > 0; t = last[t] {
		out = append(out, t)
	}
	for i, j := 0, len(out)-1; i < j; i, j = i+1, j-1 {
		out[i], out[j] = out[j], out[i]
	}
	return out
}

// changePenalty is what a change must gain to be believed: the squares that
// chance alone gains at a place, over d numbers, exceed it with probability
// about 1/n² (χ²'s upper tail after Laurent and Massart, Annals of Statistics
// 28, 2000, lemma 1: P(χ² ≥ d + 2√(d·x) + 2x) ≤ e⁻ˣ, x = 2·ln n), times how
// much longer than the frames the noise is correlated.
//
// Source: B. Laurent, P. Massart 2000, Annals of Statistics 28(5) (the tail of χ²)
func changePenalty(n, d int, correlation float64) float64 {
	x := 2 * math.Log(float64(max(n, 2)))
	f := float64(d)
	return max(correlation, 1) * (f + 2*math.Sqrt(f*x) + 2*x)
}
