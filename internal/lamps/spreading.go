package lamps

import "slices"

// spreading computes the covariance of the pictures' values for many patches.
// Holds with the same row of the design weigh as one.
type spreading struct {
	s      *Separation
	row    [3][][]float64 // by channel, the different rows
	frames [3][]float64   // the effective frames of each
	holds  [3][][]int     // the holds of each
	eq     *normal
	column []float64
}

func newSpreading(s *Separation) *spreading {
	n := s.columns()
	p := &spreading{s: s, eq: newNormal(n), column: make([]float64, n)}
	for c := range 3 {
		for h, frames := range s.Effective {
			row := make([]float64, n)
			s.row(h, c, row)
			at := slices.IndexFunc(p.row[c], func(r []float64) bool { return slices.Equal(r, row) })
			if at < 0 {
				p.row[c], p.frames[c], p.holds[c] = append(p.row[c], row), append(p.frames[c], frames), append(p.holds[c], []int{h})
				continue
			}
			p.frames[c][at] += frames
			p.holds[c][at] = append(p.holds[c][at], h)
		}
	}
	return p
}

// covariance is Separation.Covariance.
func (p *spreading) covariance(c int, b []float64, pixels float64, dst []float64) {
	s, n := p.s, len(p.column)
	p.eq.reset()
	for h, row := range p.row[c] {
		level := 0.0
		for k := range n {
			level += row[k] * b[k]
		}
		p.eq.add(row, 0, p.frames[c][h]/s.variance(c, level))
	}
	if !factorise(p.eq.a, n) {
		clear(dst)
		return
	}
	inverseFrom(p.eq.a, n, dst, p.column)
	f := s.Inflation * s.Noise.together() / max(pixels, 1)
	for i := range dst[:n*n] {
		dst[i] *= f
	}
}
