package picture

import (
	"math"

	"lampwise/internal/colour"
)

// input is how a kernel reads frames of one format: codes to u, in whole
// numbers. Luma has 15 bits, chroma 14 bits with its sign; a matrix of 16-bit
// numbers takes them to u.
//
// u is 64·code of 10 bits for a narrow-range neutral, exactly (48·code + 8192
// in full range, where noise and saturated colours need room below 0), so
// neutrals suffer no rounding at all.
type input struct {
	format Format
	signal Input
	domain domain // y of u
	// held says that the program itself holds its input inside the domain: a
	// colour beyond it counts as the domain's edge, and need not be marked.
	held bool

	lumaOf             *[1 << 16]int32 // a code's part of a sum, bias included
	drop               int32           // low bits of a code that luma does not use: 1 of 16, else 0
	luma               int32           // u per code (less those bits), in 1/2^matrixShift
	bias               int32           // of every channel, a half included
	crR, cbG, crG, cbB int32
}

const (
	matrixShift = 12
	lumaBits    = 15
	chromaBits  = 14
	tapBits     = 4 // chroma interpolation has weights of sixteenths
)

// Room of the domain: u of code 0, and how many u the codes span.
var inputRoom = map[colour.Range]struct{ zero, span int32 }{
	colour.Narrow: {0, 1 << 16},
	colour.Full:   {1 << 13, 3 << 14},
}

func newInput(f Format, signal Input) *input {
	room := inputRoom[f.Range]
	in := &input{format: f, signal: signal, drop: int32(max(0, f.Bits-lumaBits))}
	in.luma = room.span << matrixShift >> (f.Bits - int(in.drop))
	in.bias = room.zero<<matrixShift + 1<<(matrixShift-1)

	in.lumaOf = new([1 << 16]int32)
	top := int32(1)<<f.Bits - 1
	for code := range in.lumaOf {
		in.lumaOf[code] = min(int32(code), top)>>in.drop*in.luma + in.bias
	}
	lumaSlope, lumaOffset := f.Range.LumaScale(f.Bits)
	chromaSlope, _ := f.Range.ChromaScale(f.Bits)
	// u of E′ = 1 less that of E′ = 0, and E′ of a 14-bit chroma number.
	perE := lumaSlope * float64(room.span) / float64(int(1)<<f.Bits)
	perChroma := float64(int(1)<<f.Bits) / (1 << chromaBits) / chromaSlope
	m := f.Matrix.ToRGB()
	coefficient := func(x float64) int32 { return int32(math.Round(x * perE * perChroma * (1 << matrixShift))) }
	in.crR, in.cbG, in.crG, in.cbB = coefficient(m[0][2]), coefficient(m[1][1]), coefficient(m[1][2]), coefficient(m[2][1])

	slope, offset := signal.line()
	zero := float64(room.zero) + lumaOffset*float64(room.span)/float64(int(1)<<f.Bits)
	for ch := range 3 {
		in.domain.lo[ch] = slope*(0-zero)/perE + offset
		in.domain.hi[ch] = slope*((1<<16)-zero)/perE + offset
	}
	return in
}

// exactY is y of the numbers a pixel was read as.
func (in *input) exactY(luma int32, cb, cr int16) [3]float64 {
	f := in.format
	full := float64(int(1) << f.Bits)
	lumaSlope, lumaOffset := f.Range.LumaScale(f.Bits)
	chromaSlope, _ := f.Range.ChromaScale(f.Bits)
	e := [3]float64{
		(float64(luma) - lumaOffset) / lumaSlope,
		float64(cb) * full / (1 << chromaBits) / chromaSlope,
		float64(cr) * full / (1 << chromaBits) / chromaSlope,
	}
	return in.signal.Signal(f.Matrix.ToRGB().Apply(e))
}

// chromaRows says which chroma rows, with which weights of 4, the chroma of
// luma row y is mixed from.
func (in *input) chromaRows(y int) [2]tap {
	_, v := chromaTaps(in.format, 0, y)
	return v
}

// chroma mixes a plane's two rows for luma row y and spreads the result to the
// luma's columns: len(dst) numbers of chromaBits with sign. mixed is room for
// the plane's width and one sample at either end.
func (in *input) chroma(dst []int16, mixed []int32, plane []uint16, y int) {
	in.spread(dst, in.mixed(mixed, plane, y))
}

// mixed is the vertical half of chroma, with one more sample at either end.
func (in *input) mixed(mixed []int32, plane []uint16, y int) []int32 {
	cw, _ := in.format.ChromaSize()
	v := in.chromaRows(y)
	in.mix(mixed[1:cw+1], plane[v[0].at*cw:][:cw], plane[v[1].at*cw:][:cw], int32(v[0].weight), int32(v[1].weight))
	mixed[0], mixed[cw+1] = mixed[1], mixed[cw]
	return mixed[:cw+2]
}

// mix is the vertical half: sums of weight 4, the middle code taken off.
func (in *input) mix(dst []int32, a, b []uint16, wa, wb int32) {
	top := uint16(1<<in.format.Bits - 1)
	middle := int32(tapUnit << (in.format.Bits - 1))
	dst = dst[:len(a)]
	if wb == 0 {
		for k, code := range a {
			dst[k] = wa*int32(min(code, top)) - middle
		}
		return
	}
	b = b[:len(a)]
	for k, code := range a {
		dst[k] = wa*int32(min(code, top)) + wb*int32(min(b[k], top)) - middle
	}
}

// spread is the horizontal half: sums of weight 16, to chromaBits. dst has room
// for an even number of pixels.
func (in *input) spread(dst []int16, mixed []int32) {
	left, right, half := in.spreadShift()
	left, right = left&31, right&31
	n := len(mixed) - 2
	mixed = mixed[1:]
	if in.format.Sub == Sub444 {
		for k, v := range mixed[:n] {
			dst[k] = int16((4*v<<left + half) >> right)
		}
		return
	}
	dst = dst[:2*n]
	after := mixed[1 : n+1]
	mixed = mixed[:n]
	if in.format.Siting == SiteCentre {
		before := mixed[0]
		for k, v := range mixed {
			dst[2*k] = int16(((3*v+before)<<left + half) >> right)
			dst[2*k+1] = int16(((3*v+after[k])<<left + half) >> right)
			before = v
		}
		return
	}
	for k, v := range mixed {
		dst[2*k] = int16((4*v<<left + half) >> right)
		dst[2*k+1] = int16(((2*v+2*after[k])<<left + half) >> right)
	}
}

// spreadShift takes sixteenths of the frame's codes to chromaBits.
func (in *input) spreadShift() (left, right uint, half int32) {
	shift := chromaBits - tapBits - in.format.Bits
	if shift >= 0 {
		return uint(shift), 0, 0
	}
	return 0, uint(-shift), 1 << (-shift - 1)
}
