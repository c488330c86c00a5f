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

// centre is a location that up to nearly half of the values, all on one side,
// can't carry off: the middle of the shortest stretch that holds half of them
// (least median of squares, Rousseeuw 1984), then one mean of what lies within
// three of its standard deviations. It orders the values. scale is that of the
// values it rests on and used their part of all.
func centre(v []float64) (at, scale, used float64) {
	if len(v) == 0 {
		return math.NaN(), math.NaN(), 0
	}
	slices.Sort(v)
	h := len(v)/2 + 1
	best := math.Inf(1)
	for i := 0; i+h <= len(v); i++ {
		if d := v[i+h-1] - v[i]; d < best {
			best, at = d, (v[i+h-1]+v[i])/2
		}
	}
	// Half of a normal variable lies within 0.6745 σ: the stretch is 2·0.6745 σ.
	scale = best / 2 * madToSigma
	reach := 3 * scale
	n, sum, square := 0.0, 0.0, 0.0
	for _, x := range v {
		if d := x - at; math.Abs(d) <= reach {
			n, sum, square = n+1, sum+d, square+d*d
		}
	}
	if n > 0 {
		m := sum / n
		at += m
		scale = math.Sqrt(max(0, square/n-m*m))
	}
	return at, scale, n / float64(len(v))
}
