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

// newSums keeps the three in one piece of memory, green n after red.
func newSums(n int) sums {
	all := make([]int32, 3*n)
	return sums{all[:n:n], all[n : 2*n : 2*n], all[2*n:]}
}

// row writes the luma of one row and leaves what its chroma is made of in s.
// noise and gain are as long as the padded row; len(y) is the row's own length.
func (o *output) row(y []uint16, s sums, src []pixels, gain []uint16, noise []int16) {
	var before [3]int32
	for i := range blocks(len(y)) {
		from := i * block
		to := min(from+block, len(y))
		var v [3][block + 1]int32
		o.finish(&v, &src[i], gain[from:from+block])
		o.luma(y[from:to], &v, noise[from:])
		n := to - from
		if o.format.Sub == Sub444 {
			for x := range n {
				s.r[from+x], s.g[from+x], s.b[from+x] = tapUnit*v[0][x], tapUnit*v[1][x], tapUnit*v[2][x]
			}
			continue
		}
		for ch, line := range [3][]int32{s.r, s.g, s.b} {
			if n&1 == 1 { // the edge is repeated
				v[ch][n] = v[ch][n-1]
			}
			if i == 0 {
				before[ch] = v[ch][0]
			}
			before[ch] = o.filter(line[from/2:(to+1)/2], v[ch][:block], before[ch])
		}
	}
}

// finish applies vignette and limiter to a block.
func (o *output) finish(v *[3][block + 1]int32, p *pixels, gain []uint16) {
	zero, low, high := uint32(2*o.zero), o.low, o.high
	gain = gain[:block]
	for x := range block {
		g := uint32(gain[x])
		off := int32(zero * g >> 16)
		v[0][x] = max(low, min(high, int32(uint32(p.r[x])*g>>16)-off))
		v[1][x] = max(low, min(high, int32(uint32(p.g[x])*g>>16)-off))
		v[2][x] = max(low, min(high, int32(uint32(p.b[x])*g>>16)-off))
	}
}

func (o *output) luma(y []uint16, v *[3][block + 1]int32, noise []int16) {
	shift := uint(o.shift) & 31
	noiseShift := (shift - noiseBits) & 31
	noise = noise[:len(y)]
	kr, kg, kb, bias := o.y[0], o.y[1], o.y[2], o.bias[0]
	lowest, highest := o.min, o.max
	for x := range y[:min(len(y), block)] {
		acc := (kr*v[0][x] + kg*v[1][x] + kb*v[2][x] + bias + int32(noise[x])<<noiseShift) >> shift
		y[x] = uint16(max(lowest, min(highest, acc)))
	}
}

// filter is chroma's horizontal filter with weights of 4 (downTaps). before is
// the pixel before the first; the last one is returned.
func (o *output) filter(dst []int32, v []int32, before int32) int32 {
	v = v[:2*len(dst)]
	if o.midway {
		for k := range dst {
			dst[k] = 2 * (v[2*k] + v[2*k+1])
		}
		return 0
	}
	for k := range dst {
		a, b := v[2*k], v[2*k+1]
		dst[k] = before + 2*a + b
		before = b
	}
	return before
}

// chroma writes one row of both chroma planes from the rows of sums it is
// filtered down from, with their weights of 4; a weight of 0 ends the list.
func (o *output) chroma(cb, cr []uint16, rows [3]sums, weights [3]int32, noiseCb, noiseCr []int16) {
	shift := uint(o.shift) & 31
	noiseShift := (shift - noiseBits) & 31
	n := len(cb)
	cr, noiseCb, noiseCr = cr[:n], noiseCb[:n], noiseCr[:n]
	lowest, highest := o.min, o.max
	var r, g, b [block]int32
	for from := 0; from < n; from += block {
		to := min(from+block, n)
		mixRows(&r, rows[0].r[from:to], rows[1].r[from:to], rows[2].r[from:to], weights)
		mixRows(&g, rows[0].g[from:to], rows[1].g[from:to], rows[2].g[from:to], weights)
		mixRows(&b, rows[0].b[from:to], rows[1].b[from:to], rows[2].b[from:to], weights)
		for k := range to - from {
			k := k & (block - 1)
			p := (o.cb.of(r[k], g[k], b[k]) + o.bias[1] + int32(noiseCb[from+k])<<noiseShift) >> shift
			q := (o.cr.of(r[k], g[k], b[k]) + o.bias[2] + int32(noiseCr[from+k])<<noiseShift) >> shift
			cb[from+k] = uint16(max(lowest, min(highest, p)))
			cr[from+k] = uint16(max(lowest, min(highest, q)))
		}
	}
}

// mixRows is chroma's vertical filter, to whole numbers.
func mixRows(dst *[block]int32, a, b, c []int32, weights [3]int32) {
	const half = 1 << (tapBits - 1)
	b, c = b[:len(a)], c[:len(a)]
	if weights[1] == 0 {
		for k, v := range a[:min(len(a), block)] {
			dst[k] = (weights[0]*v + half) >> tapBits
		}
		return
	}
	for k, v := range a[:min(len(a), block)] {
		dst[k] = (weights[0]*v + weights[1]*b[k] + weights[2]*c[k] + half) >> tapBits
	}
}
