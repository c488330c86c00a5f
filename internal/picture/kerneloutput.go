package picture

import (
	"math"
)

// output is how a kernel writes frames of one format: u of the display domain
// through vignette and limiter to Y′CbCr codes, in whole numbers.
//
// After the vignette a channel is a 15-bit number with sign, less the number
// of signal 0, so that signal 1 is unit. Matrix coefficients have 16 bits and sign;
// sums carry shift bits below the code.
type output struct {
	format     Format
	zero, unit int // display's, in 15 bits before and gainBits after the vignette
	gainBits   int // bits of a vignette's factor below its 1

	low, high int32 // limiter, on the numbers after the vignette
	shift     int   // bits below the code
	y, cb, cr coefficients
	min, max  int32 // codes
	bias      [3]int32
	midway    bool // chroma lies midway between columns
}

// coefficients of R′, G′ and B′.
type coefficients [3]int32

// noiseBits is how many bits noise has below the code: noiseUnit = 1<<noiseBits.
const noiseBits = 8

// gainBitsFor is how many bits a vignette's factors, none above most, can have
// below their 1 in 16 bits: 15 unless it brightens by a factor of 2 or more.
func gainBitsFor(most float64) int {
	bits := 15
	for most*float64(int(1)<<bits) >= 1<<16 {
		bits--
	}
	return bits
}

func newOutput(f Format, o Output, d display, gainBits int) *output {
	out := &output{format: f, zero: d.zero, unit: d.unit >> (15 - gainBits), gainBits: gainBits, midway: f.Siting == SiteCentre}
	out.low, out.high = -(1 << 15), 1<<15-1
	if o.Limiter == LimiterRGB {
		out.low, out.high = 0, int32(out.unit)
	}
	lo, hi := o.codeLimits()
	out.min, out.max = int32(lo), int32(hi)

	lumaSlope, lumaOffset := f.Range.LumaScale(f.Bits)
	chromaSlope, chromaOffset := f.Range.ChromaScale(f.Bits)
	m := f.Matrix.FromRGB()
	// As many bits below the code as a 16-bit coefficient and a 32-bit sum allow.
	out.shift = 30 - f.Bits
	for ; ; out.shift-- {
		k := float64(int(1)<<out.shift) / float64(out.unit)
		out.y = rowOf(m[0], lumaSlope*k)
		out.cb, out.cr = rowOf(m[1], chromaSlope*k), rowOf(m[2], chromaSlope*k)
		if out.y.fit() && out.cb.fit() && out.cr.fit() {
			break
		}
	}
	for i, offset := range [3]float64{lumaOffset, chromaOffset, chromaOffset} {
		out.bias[i] = int32((offset + 0.5) * float64(int(1)<<out.shift))
	}
	// The numbers after the vignette were rounded down, by a half on average;
	// chroma's coefficients cancel that.
	out.bias[0] += (out.y[0] + out.y[1] + out.y[2]) / 2
	return out
}

// rowOf rounds a matrix row times k such that its sum is right: white then has
// its very code, and a neutral no chroma.
func rowOf(row [3]float64, k float64) (c coefficients) {
	c[0], c[2] = int32(math.Round(row[0]*k)), int32(math.Round(row[2]*k))
	c[1] = int32(math.Round((row[0]+row[1]+row[2])*k)) - c[0] - c[2]
	return c
}

func (c coefficients) fit() bool {
	size := func(x int32) int32 { return max(x, -x) }
	return max(size(c[0]), size(c[1]), size(c[2])) < 1<<15 && size(c[0])+size(c[1])+size(c[2]) < 1<<15
}

func (c coefficients) of(r, g, b int32) int32 { return c[0]*r + c[1]*g + c[2]*b }

// sums are a row of chroma's horizontal filter: weights of 4, for R′, G′ and
// B′, one number for each chroma column.
type sums struct{ r, g, b []int32 }

func newSums(n int) sums {
	return sums{make([]int32, n), make([]int32, n), make([]int32, n)}
}

// row writes the luma of one row and leaves what its chroma is made of in s.
// src is padded with one more pixel where the width is odd; noise and gain are
// as long as the padded row.
func (o *output) row(y []uint16, s sums, src *planes, gain []uint16, noise []int16) {
	shift := uint(o.shift) & 31
	noiseShift := (shift - noiseBits) & 31
	zero := uint32(2 * o.zero)
	low, high := o.low, o.high
	code := func(acc int32, n int16) uint16 {
		acc = (acc + int32(n)<<noiseShift) >> shift
		return uint16(max(o.min, min(o.max, acc)))
	}
	fit := func(u uint16, g uint32) int32 {
		v := int32(uint32(u)*g>>16) - int32(zero*g>>16)
		return max(low, min(high, v))
	}
	w := len(y)
	if o.format.Sub == Sub444 {
		for x := range w {
			g := uint32(gain[x])
			r, gr, b := fit(src.r[x], g), fit(src.g[x], g), fit(src.b[x], g)
			y[x] = code(o.y.of(r, gr, b)+o.bias[0], noise[x])
			s.r[x], s.g[x], s.b[x] = 4*r, 4*gr, 4*b
		}
		return
	}
	var pr, pg, pb int32
	for k := range (w + 1) / 2 {
		x := 2 * k
		g0, g1 := uint32(gain[x]), uint32(gain[x+1])
		r0, gr0, b0 := fit(src.r[x], g0), fit(src.g[x], g0), fit(src.b[x], g0)
		y[x] = code(o.y.of(r0, gr0, b0)+o.bias[0], noise[x])
		r1, gr1, b1 := r0, gr0, b0
		if x+1 < w {
			r1, gr1, b1 = fit(src.r[x+1], g1), fit(src.g[x+1], g1), fit(src.b[x+1], g1)
			y[x+1] = code(o.y.of(r1, gr1, b1)+o.bias[0], noise[x+1])
		}
		if o.midway {
			s.r[k], s.g[k], s.b[k] = 2*(r0+r1), 2*(gr0+gr1), 2*(b0+b1)
			continue
		}
		if k == 0 {
			pr, pg, pb = r0, gr0, b0
		}
		s.r[k], s.g[k], s.b[k] = pr+2*r0+r1, pg+2*gr0+gr1, pb+2*b0+b1
		pr, pg, pb = r1, gr1, b1
	}
}

// chroma writes one row of both chroma planes from the rows of sums it is
// filtered down from, with their weights of 4.
func (o *output) chroma(cb, cr []uint16, rows [3]sums, weights [3]int32, noiseCb, noiseCr []int16) {
	shift := uint(o.shift) & 31
	noiseShift := (shift - noiseBits) & 31
	for k := range cb {
		var v [3]int32
		for i, w := range weights {
			v[0] += w * rows[i].r[k]
			v[1] += w * rows[i].g[k]
			v[2] += w * rows[i].b[k]
		}
		r, g, b := (v[0]+8)>>tapBits, (v[1]+8)>>tapBits, (v[2]+8)>>tapBits
		p := (o.cb.of(r, g, b) + o.bias[1] + int32(noiseCb[k])<<noiseShift) >> shift
		q := (o.cr.of(r, g, b) + o.bias[2] + int32(noiseCr[k])<<noiseShift) >> shift
		cb[k] = uint16(max(o.min, min(o.max, p)))
		cr[k] = uint16(max(o.min, min(o.max, q)))
	}
}
