package lamps

import "math"

// normal gathers the normal equations of a weighted least-squares fit with few
// unknowns. Our columns are levels of 0..1 or lamp pictures scaled alike, so
// squaring their condition is harmless; the tests hold it against gonum's QR.
type normal struct {
	n int
	a []float64 // n×n, rows first; the lower triangle is kept
	b []float64
}

func newNormal(n int) *normal { return &normal{n: n, a: make([]float64, n*n), b: make([]float64, n)} }

func (e *normal) reset() {
	clear(e.a)
	clear(e.b)
}

// add takes one equation row·β = y with weight w.
func (e *normal) add(row []float64, y, w float64) {
	for i, r := range row {
		wr := w * r
		e.b[i] += wr * y
		k := i * e.n
		for j := 0; j <= i; j++ {
			e.a[k+j] += wr * row[j]
		}
	}
}

// solve returns β; the equations are used up. ok is false when the unknowns
// can't be told apart.
func (e *normal) solve() (beta []float64, ok bool) {
	if !factorise(e.a, e.n) {
		return nil, false
	}
	substitute(e.a, e.b, e.n)
	return e.b, true
}

// pivotFloor is the share of a diagonal element that must be left at its turn;
// below it the unknown is a sum of others to rounding.
const pivotFloor = 1e-11

// factorise replaces the lower triangle of a symmetric matrix by its Cholesky
// factor. It reports false, leaving a unusable, when a isn't positive definite.
func factorise(a []float64, n int) bool {
	for i := range n {
		ri := a[i*n : i*n+i+1]
		for j := 0; j <= i; j++ {
			rj := a[j*n : j*n+j+1]
			s := ri[j]
			for k := range j {
				s -= ri[k] * rj[k]
			}
			if i > j {
				ri[j] = s / rj[j]
				continue
			}
			if !(s > pivotFloor*ri[i]) || math.IsInf(s, 1) { // also NaN
				return false
			}
			ri[i] = math.Sqrt(s)
		}
	}
	return true
}

// substitute solves L·Lᵀ·x = b in place.
func substitute(l, b []float64, n int) {
	for i := range n {
		s := b[i]
		for k := range i {
			s -= l[i*n+k] * b[k]
		}
		b[i] = s / l[i*n+i]
	}
	for i := n - 1; i >= 0; i-- {
		s := b[i]
		for k := i + 1; k < n; k++ {
			s -= l[k*n+i] * b[k]
		}
		b[i] = s / l[i*n+i]
	}
}

// inverseFrom writes the full symmetric inverse of L·Lᵀ into dst (n×n);
// column is scratch of n.
func inverseFrom(l []float64, n int, dst, column []float64) {
	for j := range n {
		// Above j the column is nil on the way down, and mirrored on the way up.
		for i := j; i < n; i++ {
			s := boolTo(i == j)
			for k := j; k < i; k++ {
				s -= l[i*n+k] * column[k]
			}
			column[i] = s / l[i*n+i]
		}
		for i := n - 1; i >= j; i-- {
			s := column[i]
			for k := i + 1; k < n; k++ {
				s -= l[k*n+i] * column[k]
			}
			column[i] = s / l[i*n+i]
			dst[i*n+j], dst[j*n+i] = column[i], column[i]
		}
	}
}

// invertGeneral inverts a full n×n matrix by elimination with partial
// pivoting, in place; false when singular.
func invertGeneral(a []float64, n int) bool {
	inv := make([]float64, n*n)
	for i := range n {
		inv[i*n+i] = 1
	}
	for c := range n {
		best := c
		for r := c + 1; r < n; r++ {
			if math.Abs(a[r*n+c]) > math.Abs(a[best*n+c]) {
				best = r
			}
		}
		p := a[best*n+c]
		if p == 0 || math.IsNaN(p) || math.IsInf(p, 0) {
			return false
		}
		if best != c {
			for k := range n {
				a[c*n+k], a[best*n+k] = a[best*n+k], a[c*n+k]
				inv[c*n+k], inv[best*n+k] = inv[best*n+k], inv[c*n+k]
			}
		}
		for k := range n {
			a[c*n+k] /= p
			inv[c*n+k] /= p
		}
		for r := range n {
			if r == c {
				continue
			}
			f := a[r*n+c]
			if f == 0 {
				continue
			}
			for k := range n {
				a[r*n+k] -= f * a[c*n+k]
				inv[r*n+k] -= f * inv[c*n+k]
			}
		}
	}
	copy(a, inv)
	return true
}
