package lamps

import (
	"math"
)

// moments gathers, for one channel, the products of the holds' bins among each
// other, in units of their noise. Any way to explain the holds by a design is
// then weighed without looking at the picture again: what is left of all bins
// is trace(C) − trace(DᵀCD·(DᵀD)⁻¹).
type moments struct {
	holds int
	c     [3][]float64 // holds×holds
	bins  float64      // number that counted, independent as far as known
	root  []float64    // √ of the effective frames of each hold, already in c
}

// newMoments reads the holds' bins in the room; bins where something moved, or
// that are clipped in any hold, don't count.
func newMoments(holds []Hold, s *Separation) *moments {
	n := len(holds)
	valid := make([]bool, s.W*s.H)
	bad := make([]bool, len(valid))
	for i := range holds {
		for p, c := range holds[i].Mean.Clipped {
			bad[p] = bad[p] || c
		}
	}
	bad = grown(bad, s.W, s.H, clippedGrow)
	for p := range valid {
		valid[p] = !bad[p]
	}
	b := newBins(binSide(s.W), s.W, s.H, valid)
	y := make([][]float64, n)
	m := &moments{holds: n}
	for i := range holds {
		y[i] = b.means(holds[i].Mean.Image)
		m.root = append(m.root, math.Sqrt(s.Effective[i]))
	}
	v := make([]float64, n)
	for c := range 3 {
		m.c[c] = make([]float64, n*n)
	}
	for i, area := range b.count {
		if area == 0 || s.Figure != nil && s.Figure[i] || s.Misfit != nil && s.Misfit[i] > figureMisfit {
			continue
		}
		m.bins++
		for c := range 3 {
			mean := 0.0
			for h := range n {
				mean += y[h][3*i+c] / float64(n)
			}
			// One variance a bin: the holds' levels differ by little more than a stop,
			// and a model term keeps bright bins from ruling.
			variance := s.variance(c, mean)*s.Noise.together()/area + sq(responseError*mean)*s.Effective[0]
			f := 1 / math.Sqrt(variance)
			for h := range n {
				v[h] = y[h][3*i+c] * f * m.root[h]
			}
			for a := range n {
				for d := 0; d <= a; d++ {
					m.c[c][a*n+d] += v[a] * v[d]
				}
			}
		}
	}
	for c := range 3 {
		for a := range n {
			for d := range a {
				m.c[c][d*n+a] = m.c[c][a*n+d]
			}
		}
	}
	return m
}

// left is the sum of squares that design rows (holds×columns, row(h, dst))
// leave of channel c when hold h was recorded at gain[h] (nil: 1).
func (m *moments) left(c, columns int, row func(h int, dst []float64), gain []float64) float64 {
	n := m.holds
	d := make([]float64, n*columns)
	g := func(h int) float64 {
		if gain == nil {
			return 1
		}
		return gain[h]
	}
	total := 0.0
	eq := newNormal(columns)
	for h := range n {
		r := d[h*columns : (h+1)*columns]
		row(h, r)
		for k := range r {
			r[k] *= m.root[h] * g(h)
		}
		eq.add(r, 0, 1)
		total += m.c[c][h*n+h]
	}
	for k := range columns {
		eq.a[k*columns+k] *= 1 + 1e-12
	}
	if !factorise(eq.a, columns) {
		return total
	}
	// trace((DᵀD)⁻¹·DᵀCD)
	cd := make([]float64, n*columns)
	for a := range n {
		for b := range n {
			if v := m.c[c][a*n+b]; v != 0 {
				for k := range columns {
					cd[a*columns+k] += v * d[b*columns+k]
				}
			}
		}
	}
	col := make([]float64, columns)
	for k := range columns {
		clear(col)
		for a := range n {
			for j := range columns {
				col[j] += d[a*columns+j] * cd[a*columns+k]
			}
		}
		substitute(eq.a, col, columns)
		total -= col[k]
	}
	return total
}

// minimise finds the least of f near 0 in −reach..reach by golden section.
func minimise(f func(float64) float64, reach float64) (x, value float64) {
	return minimiseTo(f, reach, 1e-6)
}

// minimiseTo is the same to a share of reach.
func minimiseTo(f func(float64) float64, reach, fine float64) (x, value float64) {
	const golden = 0.6180339887498949
	a, b := -reach, reach
	c, d := b-golden*(b-a), a+golden*(b-a)
	fc, fd := f(c), f(d)
	for b-a > fine*reach {
		if fc < fd {
			b, d, fd = d, c, fc
			c = b - golden*(b-a)
			fc = f(c)
		} else {
			a, c, fc = c, d, fd
			d = a + golden*(b-a)
			fd = f(d)
		}
	}
	return (a + b) / 2, min(fc, fd)
}
