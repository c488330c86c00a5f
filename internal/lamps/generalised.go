package lamps

import (
	"math"
)

// logNormal is the logarithm of a normal density with covariance k (used up)
// and mean 0 at v, less its constant.
func logNormal(k, v []float64, n int) float64 {
	if !factorise(k, n) {
		return math.Inf(-1)
	}
	l := 0.0
	x := make([]float64, n)
	for i := range n {
		s := v[i]
		for j := range i {
			s -= k[i*n+j] * x[j]
		}
		x[i] = s / k[i*n+i]
		l -= x[i]*x[i]/2 + math.Log(k[i*n+i])
	}
	return l
}

// generalised solves v = A·x by generalised least squares with covariance k
// (used up); A is n×p, rows first.
func generalised(k, a, v []float64, n, p int) (x, cov []float64, ok bool) {
	if !factorise(k, n) {
		return nil, nil, false
	}
	ka := make([]float64, n*p) // K⁻¹A, column by column
	col := make([]float64, n)
	for j := range p {
		for i := range n {
			col[i] = a[i*p+j]
		}
		substitute(k, col, n)
		for i := range n {
			ka[i*p+j] = col[i]
		}
	}
	eq := newNormal(p)
	for i := range p {
		for j := range p {
			for r := range n {
				eq.a[i*p+j] += a[r*p+i] * ka[r*p+j]
			}
		}
		for r := range n {
			eq.b[i] += ka[r*p+i] * v[r]
		}
	}
	x, ok = eq.solve()
	if !ok {
		return nil, nil, false
	}
	cov = make([]float64, p*p)
	inverseFrom(eq.a, p, cov, make([]float64, p))
	return x, cov, true
}

func compare(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

func boolTo(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

func sq(x float64) float64 { return x * x }
