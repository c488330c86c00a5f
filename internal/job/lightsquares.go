package job

import (
	"math"

	"lampwise/internal/lamps"
	"lampwise/internal/picture"
)

// lightSquares is the fast way for squares of 2×2 and 4×4 of subsampled chroma that
// stands on its pair's first pixel, which is nearly all clips. A square gets
// its mean chroma; where its luma is nearly even, its light is that of its mean
// code. Both change the light by less than the table's steps do, but where
// chroma has an edge inside the square.
type lightSquares struct {
	n, rows    int // luma rows; chroma rows of a square
	flat       uint16
	kY, cY     int64 // place of the sum of a square's luma codes, times one
	kS, cS     int64 // place of a single luma code
	rV, gU, gV int64 // chroma's share of the place, of the weighted sum of its codes
	bU         int64
	cR, cG, cB int64
}

const (
	one = 1 << 20 // of the fixed-point numbers
	// flatCodes is how far, in 10-bit codes, the luma of a square may reach for
	// its mean code to stand for it. Over a spread of σ stops the mean light is
	// (σ·ln 2)²/2 above the mean code's: at most 0.0005, for eight codes of the
	// steepest curve here.
	flatCodes = 8
)

// squaresFor prepares the fast way; nil where the format is another.
func squaresFor(f picture.Format, n int) *lightSquares {
	if n != 2 && n != 4 || f.Sub == picture.Sub444 || f.Siting == picture.SiteCentre {
		return nil
	}
	s := &lightSquares{n: n, rows: n, flat: uint16(math.Round(flatCodes * float64(int(1)<<f.Bits) / 1024))}
	if f.Sub == picture.Sub420 {
		s.rows = n / 2
	}
	fixed := func(v float64) int64 { return int64(math.Round(v * one)) }
	slope, offset := f.Range.LumaScale(f.Bits)
	s.kS, s.cS = fixed(lightSteps/slope), fixed(lightBase-lightSteps*offset/slope+0.5)
	s.kY, s.cY = fixed(lightSteps/slope/float64(n*n)), s.cS
	cs, co := f.Range.ChromaScale(f.Bits)
	weights := float64(chromaWeights * s.rows)
	m := f.Matrix.ToRGB()
	k := func(v float64) (int64, int64) {
		return fixed(v * lightSteps / cs / weights), fixed(-v * lightSteps * co / cs)
	}
	var cR, cGu, cGv, cB int64
	s.rV, cR = k(m[0][2])
	s.gU, cGu = k(m[1][1])
	s.gV, cGv = k(m[1][2])
	s.bU, cB = k(m[2][1])
	s.cR, s.cG, s.cB = cR, cGu+cGv, cB
	return s
}

// chromaWeights is the sum of a chroma row's weights in a square: the mean of
// C(2k) = c[k], C(2k+1) = ½c[k] + ½c[k+1] over its columns.
const chromaWeights = 8

// row fills row y of out, both rows of numbers in one pass.
func (s *lightSquares) row(l *lightDecoder, f *picture.Frame, out *lamps.Light, y int) {
	cw, ch := f.ChromaSize()
	var luma [4][]uint16
	for k := range s.n {
		luma[k] = f.Y[(y*s.n+k)*f.Width:][:l.w*s.n]
	}
	var cb, cr [4][]uint16
	for k := range s.rows {
		cy := y*s.rows + k
		cy = min(cy, ch-1)
		cb[k], cr[k] = f.Cb[cy*cw:][:cw], f.Cr[cy*cw:][:cw]
	}
	dst := out.Pix[3*y*l.w:][:3*l.w]
	var clipped []bool
	if out.Clipped != nil {
		clipped = out.Clipped[y*l.w:][:l.w]
	}
	table := l.light
	const mask = lightPlaces - 1
	pairs := s.n / 2
	for x := range l.w {
		// Chroma.
		var u, v int64
		var pu, pv [2]int64 // of each pair of columns
		a := x * pairs
		b := min(a+pairs, cw-1)
		if pairs == 1 {
			for k := range s.rows {
				u += 6*int64(cb[k][a]) + 2*int64(cb[k][b])
				v += 6*int64(cr[k][a]) + 2*int64(cr[k][b])
			}
			pu[0], pv[0] = u, v
		} else {
			for k := range s.rows {
				u0, u1, u2 := int64(cb[k][a]), int64(cb[k][a+1]), int64(cb[k][b])
				v0, v1, v2 := int64(cr[k][a]), int64(cr[k][a+1]), int64(cr[k][b])
				pu[0], pu[1] = pu[0]+6*u0+2*u1, pu[1]+6*u1+2*u2
				pv[0], pv[1] = pv[0]+6*v0+2*v1, pv[1]+6*v1+2*v2
			}
			u, v = (pu[0]+pu[1])/2, (pv[0]+pv[1])/2
		}
		r, g, bl := v*s.rV+s.cR, u*s.gU+v*s.gV+s.cG, u*s.bU+s.cB
		// Luma.
		var sum int64
		var lo, hi uint16
		if s.n == 2 {
			p := luma[0][2*x : 2*x+2 : 2*x+2]
			q := luma[1][2*x : 2*x+2 : 2*x+2]
			lo, hi = min(p[0], p[1], q[0], q[1]), max(p[0], p[1], q[0], q[1])
			sum = int64(p[0]) + int64(p[1]) + int64(q[0]) + int64(q[1])
		} else {
			lo = math.MaxUint16
			for k := range 4 {
				p := luma[k][4*x : 4*x+4 : 4*x+4]
				lo, hi = min(lo, p[0], p[1], p[2], p[3]), max(hi, p[0], p[1], p[2], p[3])
				sum += int64(p[0]) + int64(p[1]) + int64(p[2]) + int64(p[3])
			}
		}
		d := dst[3*x : 3*x+3 : 3*x+3]
		if hi-lo <= s.flat {
			p := sum*s.kY + s.cY
			d[0] = table[(p+r)>>20&mask]
			d[1] = table[(p+g)>>20&mask]
			d[2] = table[(p+bl)>>20&mask]
		} else {
			s.exact(table, luma[:s.n], x, pu, pv, d)
		}
		if clipped != nil {
			clipped[x] = (int64(hi)*s.kS+s.cS+max(r, g, bl))>>20 >= int64(l.clip)
		}
	}
}

// exact averages the light of each of the square's pixels, each pair of columns
// with its own chroma.
func (s *lightSquares) exact(table *[lightPlaces]float32, luma [][]uint16, x int, pu, pv [2]int64, d []float32) {
	const mask = lightPlaces - 1
	var sr, sg, sb float32
	for j := range s.n / 2 {
		u, v := pu[j], pv[j]
		r, g, b := v*s.rV+s.cR, u*s.gU+v*s.gV+s.cG, u*s.bU+s.cB
		for _, row := range luma {
			for _, code := range row[x*s.n+2*j : x*s.n+2*j+2] {
				p := int64(code)*s.kS + s.cS
				sr += table[(p+r)>>20&mask]
				sg += table[(p+g)>>20&mask]
				sb += table[(p+b)>>20&mask]
			}
		}
	}
	k := 1 / float32(s.n*s.n)
	d[0], d[1], d[2] = sr*k, sg*k, sb*k
}
