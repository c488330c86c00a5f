package gauge

import (
	"math"

	"lampwise/internal/unit"
)

// OutputNoise is what noise becomes after a function of colour.
type OutputNoise struct {
	Sigma [3]float64 `json:"sigma"` // of each channel of the result
	Luma  float64    `json:"luma"`  // of their weighted sum
}

// PassNoise carries independent noise of the given standard deviations at a
// colour through f, to first order: the covariance of the result is J·Σ·Jᵀ, J
// being f's derivative taken over one standard deviation to each side (least
// to each, where noise is less), so that a bend within the noise counts.
// weights make luma of the result.
//
// Source: JCGM 100:2008, 5.2 (propagation of uncertainty, first order with correlation)
func PassNoise(f func([3]float64) [3]float64, at, sigma, weights [3]float64, least float64) OutputNoise {
	var cov [3][3]float64
	for i := range at {
		h := max(sigma[i], least)
		lo, hi := at, at
		lo[i] -= h
		hi[i] += h
		a, b := f(lo), f(hi)
		var d [3]float64
		for k := range d {
			d[k] = (b[k] - a[k]) / (2 * h) * sigma[i]
		}
		for k := range d {
			for l := range d {
				cov[k][l] += d[k] * d[l]
			}
		}
	}
	var out OutputNoise
	luma := 0.0
	for k := range cov {
		out.Sigma[k] = math.Sqrt(cov[k][k])
		for l := range cov {
			luma += weights[k] * weights[l] * cov[k][l]
		}
	}
	out.Luma = math.Sqrt(max(0, luma))
	return out
}

// NoiseCost is by how many stops one path brings noise up against another, in
// luma; ok is false where one of them has none.
func NoiseCost(path, against OutputNoise) (cost unit.Stop, ok bool) {
	if !(path.Luma > 0) || !(against.Luma > 0) {
		return 0, false
	}
	return unit.StopsOf(path.Luma / against.Luma), true
}
