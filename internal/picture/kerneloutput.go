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
	plain     bool // no number after the vignette is off limits
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

// setPlain says whether no number can be off limits after a vignette whose
// factors are at most gain.
func (o *output) setPlain(gain uint32) {
	o.plain = o.zero == 0 && o.low == 0 && int64(uint64(displayTop)*uint64(gain)>>16) <= int64(o.high)
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

// sums are a row of chroma's horizontal filter: weights of 4, for R′, G′ and
// B′, one number for each chroma column: apart for the wide form, in lanes and
// with offset for the portable one.
type sums struct {
	r, g, b []int32
	lanes   []uint64
}

// newSums keeps the three of the wide form in one piece of memory, green n
// after red.
func newSums(n int, wide bool) sums {
	if !wide {
		return sums{lanes: make([]uint64, n)}
	}
	all := make([]int32, 3*n)
	return sums{r: all[:n:n], g: all[n : 2*n : 2*n], b: all[2*n:]}
}

// offset makes the numbers after vignette and limiter positive, so that they
// can stand in lanes: chroma's filter, with weights of 16 in all, then needs 20
// of a lane's 21 bits.
func (o *output) offset() int32 { return max(0, -o.low) }

// row writes the luma of one row and leaves what its chroma is made of in s.
// noise and gain are as long as the padded row; len(y) is the row's own length.
func (o *output) row(y []uint16, s sums, src laneRow, gain []uint16, noise []int16) {
	var before uint64
	for i := range blocks(len(y)) {
		from := i * block
		to := min(from+block, len(y))
		var v [block + 1]uint64
		if o.plain {
			o.finishPlain(y[from:to], &v, &src[i], gain[from:from+block], noise[from:])
		} else {
			o.finish(y[from:to], &v, &src[i], gain[from:from+block], noise[from:])
		}
		n := to - from
		if o.format.Sub == Sub444 {
			for x := range n {
				s.lanes[from+x] = tapUnit * v[x]
			}
			continue
		}
		if n&1 == 1 { // the edge is repeated
			v[n] = v[n-1]
		}
		if i == 0 {
			before = v[0]
		}
		before = o.filter(s.lanes[from/2:(to+1)/2], v[:block], before)
	}
}

// finish applies vignette and limiter to a block, writes its luma and leaves
// R′, G′ and B′ in v.
func (o *output) finish(y []uint16, v *[block + 1]uint64, src *lanes, gain []uint16, noise []int16) {
	y = y[:min(len(y), block)]
	gain, noise = gain[:len(y)], noise[:len(y)]
	shift := uint(o.shift) & 31
	noiseShift := (shift - noiseBits) & 31
	zero, low, high := uint32(2*o.zero), o.low, o.high
	offset := o.offset()
	kr, kg, kb, bias := o.y[0], o.y[1], o.y[2], o.bias[0]
	lowest, highest := o.min, o.max
	for x, c := range src[:len(y)] {
		g := uint32(gain[x])
		off := int32(zero * g >> 16)
		r := max(low, min(high, int32(uint32(uint16(c))*g>>16)-off))
		m := max(low, min(high, int32(uint32(uint16(c>>laneG))*g>>16)-off))
		b := max(low, min(high, int32(uint32(uint16(c>>laneB))*g>>16)-off))
		v[x] = pack3(uint64(r+offset), uint64(m+offset), uint64(b+offset))
		code := (kr*r + kg*m + kb*b + bias + int32(noise[x])<<noiseShift) >> shift
		y[x] = uint16(max(lowest, min(highest, code)))
	}
}

// finishPlain is finish where no number can be off limits: the plan's last
// step gives none.
func (o *output) finishPlain(y []uint16, v *[block + 1]uint64, src *lanes, gain []uint16, noise []int16) {
	y = y[:min(len(y), block)]
	gain, noise = gain[:len(y)], noise[:len(y)]
	shift := uint(o.shift) & 31
	noiseShift := (shift - noiseBits) & 31
	kr, kg, kb, bias := uint32(o.y[0]), uint32(o.y[1]), uint32(o.y[2]), uint32(o.bias[0])
	lowest, highest := o.min, o.max
	for x, c := range src[:len(y)] {
		g := uint32(gain[x])
		r := uint32(uint16(c)) * g >> 16
		m := uint32(uint16(c>>laneG)) * g >> 16
		b := uint32(uint16(c>>laneB)) * g >> 16
		v[x] = pack3(uint64(r), uint64(m), uint64(b))
		code := int32(kr*r+kg*m+kb*b+bias+uint32(int32(noise[x]))<<noiseShift) >> shift
		y[x] = uint16(max(lowest, min(highest, code)))
	}
}

// filter is chroma's horizontal filter with weights of 4 (downTaps). before is
// the pixel before the first; the last one is returned.
func (o *output) filter(dst []uint64, v []uint64, before uint64) uint64 {
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
func (o *output) chroma(cb, cr []uint16, rows [3][]uint64, weights [3]int32, noiseCb, noiseCr []int16) {
	shift := uint(o.shift) & 31
	noiseShift := (shift - noiseBits) & 31
	n := len(cb)
	cr, noiseCb, noiseCr = cr[:n], noiseCb[:n], noiseCr[:n]
	lowest, highest := o.min, o.max
	offset := o.offset()
	br, bg, bb := o.cb[0], o.cb[1], o.cb[2]
	rr, rg, rb := o.cr[0], o.cr[1], o.cr[2]
	biasCb, biasCr := o.bias[1], o.bias[2]
	a, b, c := rows[0][:n], rows[1][:n], rows[2][:n]
	wa, wb, wc := uint64(weights[0]), uint64(weights[1]), uint64(weights[2])
	const half = oneEach << (tapBits - 1)
	for k := range cb {
		v := wa*a[k] + wb*b[k] + wc*c[k] + half
		r := int32(v&laneMask>>tapBits) - offset
		g := int32(v>>laneG&laneMask>>tapBits) - offset
		b := int32(v>>(laneB+tapBits)) - offset
		p := (br*r + bg*g + bb*b + biasCb + int32(noiseCb[k])<<noiseShift) >> shift
		q := (rr*r + rg*g + rb*b + biasCr + int32(noiseCr[k])<<noiseShift) >> shift
		cb[k] = uint16(max(lowest, min(highest, p)))
		cr[k] = uint16(max(lowest, min(highest, q)))
	}
}
