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
	n          int
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
	s := &lightSquares{n: n, flat: uint16(math.Round(flatCodes * float64(int(1)<<f.Bits) / 1024))}
	fixed := func(v float64) int64 { return int64(math.Round(v * one)) }
	slope, offset := f.Range.LumaScale(f.Bits)
	s.kS, s.cS = fixed(lightSteps/slope), fixed(lightBase-lightSteps*offset/slope+0.5)
	s.kY, s.cY = fixed(lightSteps/slope/float64(n*n)), s.cS
	cs, co := f.Range.ChromaScale(f.Bits)
	weights := float64(chromaWeights * n)
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
// C(2k) = c[k], C(2k+1) = ½c[k] + ½c[k+1] over each pair of columns.
const chromaWeights = 8

const placeMask = lightPlaces - 1

// row fills row y of out.
func (s *lightSquares) row(l *lightDecoder, f *picture.Frame, out *lamps.Light, y int) {
	cw, ch := f.ChromaSize()
	var luma, cb, cr [4][]uint16
	for k := range s.n {
		fy := y*s.n + k
		luma[k] = f.Y[fy*f.Width:][:l.w*s.n]
		if f.Sub == picture.Sub420 {
			fy = min(fy/2, ch-1)
		}
		cb[k], cr[k] = f.Cb[fy*cw:][:cw], f.Cr[fy*cw:][:cw]
	}
	dst := out.Pix[3*y*l.w:][:3*l.w]
	var clipped []bool
	if out.Clipped != nil {
		clipped = out.Clipped[y*l.w:][:l.w]
	}
	if s.n == 2 {
		s.row2(l, luma, cb, cr, dst, clipped)
	} else {
		s.row4(l, luma, cb, cr, dst, clipped)
	}
}

func (s *lightSquares) row2(l *lightDecoder, luma, cb, cr [4][]uint16, dst []float32, clipped []bool) {
	table, clip := l.light, int64(l.clip)
	p, q := luma[0], luma[1]
	u0, u1, v0, v1 := cb[0], cb[1], cr[0], cr[1]
	u1, v0, v1 = u1[:len(u0)], v0[:len(u0)], v1[:len(u0)]
	q = q[:len(p)]
	n := s.n * len(dst) / 3 / 2
	uNow, vNow := int64(u0[0])+int64(u1[0]), int64(v0[0])+int64(v1[0])
	for x := range n {
		b := min(x+1, len(u0)-1)
		uNext, vNext := int64(u0[b])+int64(u1[b]), int64(v0[b])+int64(v1[b])
		u, v := 6*uNow+2*uNext, 6*vNow+2*vNext
		uNow, vNow = uNext, vNext
		r, g, bl := v*s.rV+s.cR, u*s.gU+v*s.gV+s.cG, u*s.bU+s.cB
		i := 2 * x
		p0, p1, q0, q1 := p[i], p[i+1], q[i], q[i+1]
		lo, hi := min(p0, p1, q0, q1), max(p0, p1, q0, q1)
		d := dst[3*x : 3*x+3 : 3*x+3]
		if hi-lo <= s.flat {
			at := (int64(p0)+int64(p1)+int64(q0)+int64(q1))*s.kY + s.cY
			d[0], d[1], d[2] = table[(at+r)>>20&placeMask], table[(at+g)>>20&placeMask], table[(at+bl)>>20&placeMask]
		} else {
			var sr, sg, sb float32
			for _, code := range [4]uint16{p0, p1, q0, q1} {
				at := int64(code)*s.kS + s.cS
				sr += table[(at+r)>>20&placeMask]
				sg += table[(at+g)>>20&placeMask]
				sb += table[(at+bl)>>20&placeMask]
			}
			d[0], d[1], d[2] = sr/4, sg/4, sb/4
		}
		if clipped != nil {
			clipped[x] = (int64(hi)*s.kS+s.cS+max(r, g, bl))>>20 >= clip
		}
	}
}

func (s *lightSquares) row4(l *lightDecoder, luma, cb, cr [4][]uint16, dst []float32, clipped []bool) {
	table, clip := l.light, int64(l.clip)
	sums := func(c [4][]uint16, at int) int64 {
		return int64(c[0][at]) + int64(c[1][at]) + int64(c[2][at]) + int64(c[3][at])
	}
	last := len(cb[0]) - 1
	for x := range len(dst) / 3 {
		a, b := 2*x, min(2*x+2, last)
		u0, u1, u2 := sums(cb, a), sums(cb, a+1), sums(cb, b)
		v0, v1, v2 := sums(cr, a), sums(cr, a+1), sums(cr, b)
		pu, pv := [2]int64{3*u0 + u1, 3*u1 + u2}, [2]int64{3*v0 + v1, 3*v1 + v2} // of each pair of columns
		u, v := pu[0]+pu[1], pv[0]+pv[1]
		r, g, bl := v*s.rV+s.cR, u*s.gU+v*s.gV+s.cG, u*s.bU+s.cB
		p0, p1, p2, p3 := luma[0][4*x:4*x+4:4*x+4], luma[1][4*x:4*x+4:4*x+4], luma[2][4*x:4*x+4:4*x+4], luma[3][4*x:4*x+4:4*x+4]
		lo := min(p0[0], p0[1], p0[2], p0[3], p1[0], p1[1], p1[2], p1[3], p2[0], p2[1], p2[2], p2[3], p3[0], p3[1], p3[2], p3[3])
		hi := max(p0[0], p0[1], p0[2], p0[3], p1[0], p1[1], p1[2], p1[3], p2[0], p2[1], p2[2], p2[3], p3[0], p3[1], p3[2], p3[3])
		d := dst[3*x : 3*x+3 : 3*x+3]
		if hi-lo <= s.flat {
			sum := int64(0)
			for k := range 4 {
				sum += int64(p0[k]) + int64(p1[k]) + int64(p2[k]) + int64(p3[k])
			}
			at := sum*s.kY + s.cY
			d[0], d[1], d[2] = table[(at+r)>>20&placeMask], table[(at+g)>>20&placeMask], table[(at+bl)>>20&placeMask]
		} else {
			s.exact(table, luma[:], x, pu, pv, d)
		}
		if clipped != nil {
			clipped[x] = (int64(hi)*s.kS+s.cS+max(r, g, bl))>>20 >= clip
		}
	}
}

// exact averages the light of each of the square's pixels, each pair of columns
// with its own chroma.
func (s *lightSquares) exact(table *[lightPlaces]float32, luma [][]uint16, x int, pu, pv [2]int64, d []float32) {
	var sr, sg, sb float32
	for j := range s.n / 2 {
		u, v := 2*pu[j], 2*pv[j]
		r, g, b := v*s.rV+s.cR, u*s.gU+v*s.gV+s.cG, u*s.bU+s.cB
		for _, row := range luma {
			for _, code := range row[x*s.n+2*j : x*s.n+2*j+2] {
				p := int64(code)*s.kS + s.cS
				sr += table[(p+r)>>20&placeMask]
				sg += table[(p+g)>>20&placeMask]
				sb += table[(p+b)>>20&placeMask]
			}
		}
	}
	k := 1 / float32(s.n*s.n)
	d[0], d[1], d[2] = sr*k, sg*k, sb*k
}
