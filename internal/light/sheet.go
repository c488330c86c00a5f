package light

import "math"

// sheet is a smooth function over the points of a grid, computed at few of them
// where it's smooth: a block is filled from nine of its points, by squares, when
// four others say that this holds; else it's cut in four.
type sheet struct {
	w, h int
	v    []float64
	at   func(i, j int) float64
	done []bool
}

// sheetBound is how far the four may be off, as a share of the value there. They
// lie where squares are at their worst, in the middle between the points that
// they go through; the test holds every point to 0.7 %, a hundredth of a stop.
const sheetBound = 0.003

// sheetBlock is the side of the largest blocks; a power of two.
const sheetBlock = 16

func newSheet(w, h int, at func(i, j int) float64) *sheet {
	s := &sheet{w: w, h: h, v: make([]float64, w*h), at: at, done: make([]bool, w*h)}
	for j := 0; j < h; j += sheetBlock {
		for i := 0; i < w; i += sheetBlock {
			s.block(i, j, sheetBlock)
		}
	}
	return s
}

func (s *sheet) get(i, j int) float64 {
	k := j*s.w + i
	if !s.done[k] {
		s.v[k], s.done[k] = s.at(i, j), true
	}
	return s.v[k]
}

// block fills i..i+n, j..j+n, as far as the grid goes.
func (s *sheet) block(i, j, n int) {
	if i >= s.w || j >= s.h {
		return
	}
	if n < 4 || i+n >= s.w || j+n >= s.h {
		if n < 4 {
			for y := j; y <= min(j+n, s.h-1); y++ {
				for x := i; x <= min(i+n, s.w-1); x++ {
					s.get(x, y)
				}
			}
			return
		}
		s.quarter(i, j, n)
		return
	}
	var p [3][3]float64
	for b := range 3 {
		for a := range 3 {
			p[b][a] = s.get(i+a*n/2, j+b*n/2)
		}
	}
	for _, q := range [4][2]int{{1, 1}, {3, 1}, {1, 3}, {3, 3}} {
		x, y := i+q[0]*n/4, j+q[1]*n/4
		want := s.get(x, y)
		got := squares(&p, float64(q[0])/4, float64(q[1])/4)
		if !(math.Abs(got-want) <= sheetBound*math.Abs(want)) { // NaN, too
			s.quarter(i, j, n)
			return
		}
	}
	for y := range n + 1 {
		for x := range n + 1 {
			k := (j+y)*s.w + i + x
			if !s.done[k] {
				s.v[k], s.done[k] = squares(&p, float64(x)/float64(n), float64(y)/float64(n)), true
			}
		}
	}
}

func (s *sheet) quarter(i, j, n int) {
	n /= 2
	s.block(i, j, n)
	s.block(i+n, j, n)
	s.block(i, j+n, n)
	s.block(i+n, j+n, n)
}

// squares goes through nine points by a square each way (Lagrange); u, v from 0 to 1.
func squares(p *[3][3]float64, u, v float64) float64 {
	weights := func(t float64) [3]float64 {
		return [3]float64{(2*t - 1) * (t - 1), 4 * t * (1 - t), t * (2*t - 1)}
	}
	a, b := weights(u), weights(v)
	sum := 0.0
	for k := range 3 {
		sum += b[k] * (p[k][0]*a[0] + p[k][1]*a[1] + p[k][2]*a[2])
	}
	return sum
}
