package lamps

import (
	"math"
)

// sources turns the fit's weights into stops against the reference.
func (s *Set) sources(f *robustFit) ([]source, []float64) {
	n, k := s.columns(), f.k
	m := 3 * n
	src := make([]source, n)
	scale := make([]float64, m)
	reference := s.Weights(s.Mix)
	var weights [3]float64
	weights[0], weights[1], weights[2] = s.rgb().LuminanceWeights()
	for j := range n {
		src[j].ambient = j == n-1
		src[j].weights = f.luminance(j, weights)
		for c := range 3 {
			ref := reference[j][c]
			if ref <= 0 {
				ref = 1 // a lamp that is off in the mix is measured against full
			}
			b := f.beta[c][j]
			sd := math.Sqrt(max(f.cov[(c*k+j)*(3*k+1)], 0))
			if !(sd > 0) || b < 4*sd || sd/b/math.Ln2 > 3*largestSE {
				continue
			}
			src[j].use[c] = true
			src[j].stops[c] = math.Log2(b / ref)
			scale[3*j+c] = 1 / (b * math.Ln2)
		}
	}
	// From channel-major to source-major.
	out := make([]float64, m*m)
	for j := range n {
		for c := range 3 {
			for l := range n {
				for d := range 3 {
					out[(3*j+c)*m+3*l+d] = f.cov[(c*k+j)*3*k+d*k+l] * scale[3*j+c] * scale[3*l+d]
				}
			}
		}
	}
	return src, out
}

// luminance shares of picture j over its channels, by its own light.
func (f *robustFit) luminance(j int, weights [3]float64) [3]float64 {
	var sum [3]float64
	for i := range f.n {
		for c := range 3 {
			sum[c] += f.x[(3*i+c)*f.k+j]
		}
	}
	total := 0.0
	for c := range 3 {
		sum[c] = weights[c] * max(sum[c], 0)
		total += sum[c]
	}
	if total <= 0 {
		return weights
	}
	for c := range 3 {
		sum[c] /= total
	}
	return sum
}

// purity is the light of picture j's weakest channel over that of its strongest.
func (f *robustFit) purity(j int) float64 {
	var sum [3]float64
	for i := range f.n {
		for c := range 3 {
			sum[c] += f.x[(3*i+c)*f.k+j]
		}
	}
	return max(min(sum[0], sum[1], sum[2]), 0) / max(sum[0], sum[1], sum[2], 1e-12)
}

// largestShares is, for each picture, the largest share it has of the light of
// any bin in a mix (the 99 % point, so that one bin's noise doesn't count).
func (f *robustFit) largestShares(factors [][3]float64) []float64 {
	shares := make([][]float64, len(factors))
	for i := range f.n {
		own := make([]float64, len(factors))
		total := 0.0
		for j := range factors {
			for c := range 3 {
				own[j] += factors[j][c] * f.x[(3*i+c)*f.k+j]
			}
			total += own[j]
		}
		if total <= 0 {
			continue
		}
		for j := range factors {
			shares[j] = append(shares[j], own[j]/total)
		}
	}
	out := make([]float64, len(factors))
	for j := range out {
		out[j] = quantile(shares[j], .99)
	}
	return out
}
