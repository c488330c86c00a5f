package lamps

import "gonum.org/v1/gonum/mat"

// rankBySVD is the slow reference for the rank test.
type rankBySVD struct{ svd mat.SVD }

func (r *rankBySVD) rank(m *mat.Dense) int {
	r.svd.Factorize(m, mat.SVDNone)
	n := 0
	for _, v := range r.svd.Values(nil) {
		if v > 1e-9 {
			n++
		}
	}
	return n
}
