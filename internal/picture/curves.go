package picture

import "math"

// Kind implements Op.
func (c *Curves) Kind() string { return "curves" }

// Apply implements Op.
func (c *Curves) Apply(v [3]float64) [3]float64 {
	out := [3]float64{c.at(0, v[0]), c.at(1, v[1]), c.at(2, v[2])}
	if c.KeepHue {
		keepHue(v, &out)
	}
	return total3(out)
}

// place gives where the input x falls among the samples of channel ch: the
// lower sample's number and the part of the way to the next one, 0..1.
func (c *Curves) place(ch int, x float64) (int, float64) {
	n := len(c.Samples[ch])
	var t float64
	switch c.Axis {
	case AxisHalf:
		return placeHalf(x)
	case AxisAsinh:
		lo, hi := math.Asinh(c.Lo[ch]/c.Scale), math.Asinh(c.Hi[ch]/c.Scale)
		t = (math.Asinh(x/c.Scale) - lo) / (hi - lo)
	default:
		t = (x - c.Lo[ch]) / (c.Hi[ch] - c.Lo[ch])
	}
	return placeEven(t, n)
}

// at is one channel's value at x.
func (c *Curves) at(ch int, x float64) float64 {
	s := c.Samples[ch]
	i, f := c.place(ch, x)
	if f == 0 { // the next sample may not exist
		return s[i]
	}
	return s[i]*(1-f) + s[i+1]*f
}

// placeEven spreads n samples over t = 0..1.
func placeEven(t float64, n int) (int, float64) {
	if !(t > 0) {
		return 0, 0
	}
	if t >= 1 {
		return n - 1, 0
	}
	t *= float64(n - 1)
	i := int(t)
	if i >= n-1 { // t just under 1 may round up
		return n - 1, 0
	}
	return i, t - float64(i)
}

// halfMax is the largest finite half float, code 0x7bff (IEEE 754 binary16).
const halfMax = 65504

// placeHalf gives the half float nearest to x on the side of zero, by its bit
// pattern, and the part of the way to the next one away from zero.
func placeHalf(x float64) (int, float64) {
	sign := 0
	if math.Signbit(x) {
		sign = 0x8000
		x = -x
	}
	if !(x < halfMax) {
		return sign | 0x7bff, 0
	}
	var lo, step float64
	var code int
	if x < 0x1p-14 { // subnormal halves, and those of the lowest exponent's step
		step = 0x1p-24
		code = int(x / step)
		lo = float64(code) * step
	} else {
		fr, e := math.Frexp(x) // x = fr·2^e, fr in 0.5..1
		step = math.Ldexp(1, e-11)
		m := int(fr * 2048) // 1024..2047
		code = (e+14)<<10 | (m - 1024)
		lo = float64(m) * step
	}
	return sign | code, (x - lo) / step
}

// HalfValue is the number of a half float's bit pattern (IEEE 754 binary16);
// infinities and NaNs come back as such.
func HalfValue(code uint16) float64 {
	e, m := int(code>>10)&31, float64(code&1023)
	var x float64
	switch e {
	case 0:
		x = m * 0x1p-24
	case 31:
		if m != 0 {
			return math.NaN()
		}
		x = math.Inf(1)
	default:
		x = math.Ldexp(1024+m, e-25)
	}
	if code&0x8000 != 0 {
		return -x
	}
	return x
}

// keepHue puts the middle channel of out where it stood between the lowest
// and the highest channel of in (Common LUT Format, LUT1D, hueAdjust="dw3").
func keepHue(in [3]float64, out *[3]float64) {
	lo, mid, hi := 0, 1, 2
	if in[lo] > in[mid] {
		lo, mid = mid, lo
	}
	if in[mid] > in[hi] {
		mid, hi = hi, mid
	}
	if in[lo] > in[mid] {
		lo, mid = mid, lo
	}
	part := 0.0
	if span := in[hi] - in[lo]; span > 0 {
		part = (in[mid] - in[lo]) / span
	}
	out[mid] = out[lo] + part*(out[hi]-out[lo])
}
