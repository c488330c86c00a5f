package job

import (
	"math"

	"lampwise/internal/lamps"
	"lampwise/internal/picture"
)

// lightSquares is the fast way for squares of 2×2 and 4×4 of subsampled chroma that
// stands on its pair's first pixel, which is nearly all clips. A square gets
// its mean chroma; where its luma reaches little way, its light is that of its
// mean code and what the codes' variance adds to it, to second order. Both
// change the light by less than the table's steps do, but where chroma has an
// edge inside the square.
//
// Places are fixed-point numbers of 32 bits, of which the upper 15 are the place.
type lightSquares struct {
	n          int
	even, most uint16 // evenCodes and bentCodes as codes of the format
	curvature
	kY, cY     uint32 // place of the sum of a square's luma codes
	kS         uint32 // place of a single luma code; cY is its offset, too
	rV, gU, gV uint32 // chroma's share of the place, of the weighted sum of its codes
	bU         uint32
	cR, cG, cB uint32
}

const (
	placeShift = 17
	// fastBits is the most of a code for which 17 bits behind the point are
	// enough: a sum of weight 16 then errs by a quarter of a place.
	fastBits = 12
)

// squaresFor prepares the fast way; nil where the format is another.
func squaresFor(f picture.Format, n int, light *[lightPlaces]float32) *lightSquares {
	if n != 2 && n != 4 || f.Sub == picture.Sub444 || f.Siting == picture.SiteCentre || f.Bits > fastBits {
		return nil
	}
	s := &lightSquares{n: n}
	fixed := func(v float64) uint32 { return uint32(int64(math.Round(v * (1 << placeShift)))) }
	slope, offset := f.Range.LumaScale(f.Bits)
	s.kS, s.cY = fixed(lightSteps/slope), fixed(lightBase-lightSteps*offset/slope+0.5)
	s.kY = fixed(lightSteps / slope / float64(n*n))
	unit := float64(int(1)<<f.Bits) / 1024
	s.curvature = curvatureOf(light)
	s.even, s.most = uint16(math.Round(evenCodes*unit)), uint16(math.Round(min(bentCodes, s.reach)*unit))
	// n²Σp² − (Σp)² is the codes' variance times n⁴.
	s.bend *= float32(math.Pow(lightSteps/slope, 2) / math.Pow(float64(n), 4))
	cs, co := f.Range.ChromaScale(f.Bits)
	weights := float64(chromaWeights * n)
	m := f.Matrix.ToRGB()
	k := func(v float64) (per, offset uint32) {
		return fixed(v * lightSteps / cs / weights), fixed(-v * lightSteps * co / cs)
	}
	var cGu, cGv uint32
	s.rV, s.cR = k(m[0][2])
	s.gU, cGu = k(m[1][1])
	s.gV, cGv = k(m[1][2])
	s.bU, s.cB = k(m[2][1])
	s.cG = cGu + cGv
	return s
}

// chromaWeights is the sum of a chroma row's weights in a square: the mean of
// C(2k) = c[k], C(2k+1) = ½c[k] + ½c[k+1] over each pair of columns.
const chromaWeights = 8

// squareRow is what makes one row of a working picture: n rows of codes, and
// where the light goes. Its first fields are read by squares_amd64.s.
type squareRow struct {
	luma, cb, cr [4]*uint16
	dst          *float32
	clipped      *bool
	table        *[lightPlaces]float32
	groups       int // of eight squares
	numbers      [18]uint32

	lumaRow, cbRow, crRow [4][]uint16
	dstRow                []float32
	clippedRow            []bool
	spare                 []bool // in the place of clippedRow where clipping isn't asked for
}

// row fills row y of out. r is kept by the caller between rows.
func (s *lightSquares) row(l *lightDecoder, f *picture.Frame, out *lamps.Light, y int, r *squareRow) {
	cw, ch := f.ChromaSize()
	for k := range s.n {
		fy := y*s.n + k
		r.lumaRow[k] = f.Y[fy*f.Width:][:l.w*s.n]
		if f.Sub == picture.Sub420 {
			fy = min(fy/2, ch-1)
		}
		r.cbRow[k], r.crRow[k] = f.Cb[fy*cw:][:cw], f.Cr[fy*cw:][:cw]
	}
	r.dstRow = out.Pix[3*y*l.w:][:3*l.w]
	if out.Clipped != nil {
		r.clippedRow = out.Clipped[y*l.w:][:l.w]
	} else {
		if r.spare == nil {
			r.spare = make([]bool, l.w)
		}
		r.clippedRow = r.spare
	}
	from := s.wide(l, r)
	if s.n == 2 {
		s.row2(l, r, from)
	} else {
		s.row4(l, r, from)
	}
}

// row2 does the squares of 2×2 from one on.
func (s *lightSquares) row2(l *lightDecoder, r *squareRow, from int) {
	table := l.light
	p, q := r.lumaRow[0], r.lumaRow[1]
	last := len(r.cbRow[0]) - 1
	sum := func(c *[4][]uint16, i int) uint32 { return uint32(c[0][i]) + uint32(c[1][i]) }
	for x := from; x < len(r.dstRow)/3; x++ {
		b := min(x+1, last)
		u, v := 6*sum(&r.cbRow, x)+2*sum(&r.cbRow, b), 6*sum(&r.crRow, x)+2*sum(&r.crRow, b)
		red, green, blue := v*s.rV+s.cR, u*s.gU+v*s.gV+s.cG, u*s.bU+s.cB
		i := 2 * x
		p0, p1, q0, q1 := p[i], p[i+1], q[i], q[i+1]
		lo, hi := min(p0, p1, q0, q1), max(p0, p1, q0, q1)
		d := r.dstRow[3*x : 3*x+3 : 3*x+3]
		sum := uint32(p0) + uint32(p1) + uint32(q0) + uint32(q1)
		squares := uint32(p0)*uint32(p0) + uint32(p1)*uint32(p1) + uint32(q0)*uint32(q0) + uint32(q1)*uint32(q1)
		at := sum*s.kY + s.cY
		d[0], d[1], d[2] = table[(at+red)>>placeShift], table[(at+green)>>placeShift], table[(at+blue)>>placeShift]
		if s.bends(d, hi-lo) {
			s.bent(d, float32(int32(4*squares-sum*sum)))
		} else {
			var sr, sg, sb float32
			for _, code := range [4]uint16{p0, p1, q0, q1} {
				at := uint32(code)*s.kS + s.cY
				sr += table[(at+red)>>placeShift]
				sg += table[(at+green)>>placeShift]
				sb += table[(at+blue)>>placeShift]
			}
			d[0], d[1], d[2] = sr/4, sg/4, sb/4
		}
		r.clippedRow[x] = s.clips(l, hi, red, green, blue)
	}
}

// bends says whether a square whose luma reaches so far, and whose mean code's
// light is d, has that light and what bent adds to it.
func (s *lightSquares) bends(d []float32, reach uint16) bool {
	return reach <= s.even || reach <= s.most && !s.corner(d[0]) && !s.corner(d[1]) && !s.corner(d[2])
}

// clips says whether a square whose highest luma code is hi reaches the clip.
func (s *lightSquares) clips(l *lightDecoder, hi uint16, red, green, blue uint32) bool {
	top := uint32(max(int32(red), int32(green), int32(blue)))
	return int32((uint32(hi)*s.kS+s.cY+top)>>placeShift) >= l.clip
}

// row4 does the squares of 4×4 from one on.
func (s *lightSquares) row4(l *lightDecoder, r *squareRow, from int) {
	table, luma := l.light, &r.lumaRow
	last := len(r.cbRow[0]) - 1
	sums := func(c *[4][]uint16, at int) uint32 {
		return uint32(c[0][at]) + uint32(c[1][at]) + uint32(c[2][at]) + uint32(c[3][at])
	}
	for x := from; x < len(r.dstRow)/3; x++ {
		a, b := 2*x, min(2*x+2, last)
		u0, u1, u2 := sums(&r.cbRow, a), sums(&r.cbRow, a+1), sums(&r.cbRow, b)
		v0, v1, v2 := sums(&r.crRow, a), sums(&r.crRow, a+1), sums(&r.crRow, b)
		pu, pv := [2]uint32{3*u0 + u1, 3*u1 + u2}, [2]uint32{3*v0 + v1, 3*v1 + v2} // of each pair of columns
		u, v := pu[0]+pu[1], pv[0]+pv[1]
		red, green, blue := v*s.rV+s.cR, u*s.gU+v*s.gV+s.cG, u*s.bU+s.cB
		lo, hi, sum, squares := luma[0][4*x], uint16(0), uint32(0), uint32(0)
		for k := range luma {
			for _, code := range luma[k][4*x : 4*x+4 : 4*x+4] {
				lo, hi, sum, squares = min(lo, code), max(hi, code), sum+uint32(code), squares+uint32(code)*uint32(code)
			}
		}
		d := r.dstRow[3*x : 3*x+3 : 3*x+3]
		at := sum*s.kY + s.cY
		d[0], d[1], d[2] = table[(at+red)>>placeShift], table[(at+green)>>placeShift], table[(at+blue)>>placeShift]
		if s.bends(d, hi-lo) {
			s.bent(d, float32(int32(16*squares-sum*sum)))
		} else {
			s.exact(table, luma, x, pu, pv, d)
		}
		r.clippedRow[x] = s.clips(l, hi, red, green, blue)
	}
}

// exact averages the light of each of the square's pixels, each pair of columns
// with its own chroma.
func (s *lightSquares) exact(table *[lightPlaces]float32, luma *[4][]uint16, x int, pu, pv [2]uint32, d []float32) {
	var sr, sg, sb float32
	for j := range 2 {
		u, v := 2*pu[j], 2*pv[j]
		r, g, b := v*s.rV+s.cR, u*s.gU+v*s.gV+s.cG, u*s.bU+s.cB
		for k := range luma {
			for _, code := range luma[k][4*x+2*j : 4*x+2*j+2] {
				p := uint32(code)*s.kS + s.cY
				sr += table[(p+r)>>placeShift]
				sg += table[(p+g)>>placeShift]
				sb += table[(p+b)>>placeShift]
			}
		}
	}
	d[0], d[1], d[2] = sr/16, sg/16, sb/16
}
