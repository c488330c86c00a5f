package lamps

import (
	"math"
	"slices"
)

// selected rearranges x so that its k-th smallest value stands at k, smaller
// ones before and larger ones after, and returns it (Hoare's selection).
func selected(x []float64, k int) float64 {
	lo, hi := 0, len(x)-1
	for hi-lo > 16 {
		// The pivot is the median of three, which keeps sorted input quick.
		mid := lo + (hi-lo)/2
		if x[mid] < x[lo] {
			x[mid], x[lo] = x[lo], x[mid]
		}
		if x[hi] < x[lo] {
			x[hi], x[lo] = x[lo], x[hi]
		}
		if x[hi] < x[mid] {
			x[hi], x[mid] = x[mid], x[hi]
		}
		p := x[mid]
		i, j := lo, hi
		for i <= j {
			for x[i] < p {
				i++
			}
			for x[j] > p {
				j--
			}
			if i <= j {
				x[i], x[j] = x[j], x[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return x[k]
		}
	}
	for i := lo + 1; i <= hi; i++ {
		v, j := x[i], i
		for ; j > lo && x[j-1] > v; j-- {
			x[j] = x[j-1]
		}
		x[j] = v
	}
	return x[k]
}

// quantile returns the value below which the share q of x lies, between values
// by interpolation; x is rearranged. NaN for no values.
func quantile(x []float64, q float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	at := q * float64(len(x)-1)
	i := min(int(at), len(x)-1)
	v := selected(x, i)
	if i == len(x)-1 {
		return v
	}
	next := slices.Min(x[i+1:])
	return v + (at-float64(i))*(next-v)
}

// median is the 50 % quantile; x is rearranged.
func median(x []float64) float64 { return quantile(x, .5) }

type weighted struct{ value, weight float64 }

// weightedMedian sorts x and returns the value with half of the weight on
// either side, between values by interpolation.
func weightedMedian(x []weighted) float64 {
	slices.SortFunc(x, func(a, b weighted) int { return compare(a.value, b.value) })
	total := 0.0
	for _, v := range x {
		total += v.weight
	}
	// Each value stands at the middle of its own weight.
	run, lastAt := 0.0, 0.0
	for i, v := range x {
		at := run + v.weight/2
		if at >= total/2 {
			if i == 0 {
				return v.value
			}
			t := (total/2 - lastAt) / (at - lastAt)
			return x[i-1].value + t*(v.value-x[i-1].value)
		}
		run, lastAt = run+v.weight, at
	}
	return x[len(x)-1].value
}
