package gauge

import (
	"math"
	"slices"
)

// median of values; it orders them. NaN of none.
func median(v []float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	slices.Sort(v)
	if n := len(v); n%2 == 0 {
		return (v[n/2-1] + v[n/2]) / 2
	}
	return v[len(v)/2]
}

// madToSigma makes a normal variable's standard deviation of its median
// absolute deviation: 1/Φ⁻¹(¾).
const madToSigma = 1.4826022185056018

// spread is the standard deviation that the values' median absolute deviation
// from their median stands for.
func spread(v []float64) float64 {
	m := median(v)
	d := make([]float64, len(v))
	for i, x := range v {
		d[i] = math.Abs(x - m)
	}
	return madToSigma * median(d)
}

// agreed is the value that the largest number of values agree on: the middle
// of the shortest stretch that holds a part of them (shorth; a mode for a small
// part), then one mean of what lies within three of that stretch's standard
// deviations. Values that differ, even most of them and all to one side, carry
// it off only where they agree more closely with each other. It orders the
// values.
func agreed(v []float64, part float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	slices.Sort(v)
	h := max(2, int(part*float64(len(v))))
	if len(v) < 2 {
		return v[0]
	}
	best, at := math.Inf(1), v[0]
	for i := 0; i+h <= len(v); i++ {
		if d := v[i+h-1] - v[i]; d < best {
			best, at = d, (v[i+h-1]+v[i])/2
		}
	}
	reach := 3 * best / 2 / (math.Sqrt2 * math.Erfinv(part))
	n, sum := 0.0, 0.0
	for _, x := range v {
		if d := x - at; math.Abs(d) <= reach {
			n, sum = n+1, sum+d
		}
	}
	if n > 0 {
		at += sum / n
	}
	return at
}
