package grade

import (
	"math"

	"lampwise/internal/fault"
)

// DetailCurve asks for the tone curve that keeps most detail.
//
// The log signal is cut into len(Weight) equal bins over Lo..Hi. Weight says
// how much detail lies in each bin and how much it matters: nonnegative, any
// scale. Anchors are signals that stay where they are, between Lo and Hi,
// rising; the ends stay too. Least and Most are the limits of the slope.
type DetailCurve struct {
	Lo, Hi      float64
	Weight      []float64
	Anchors     []float64
	Least, Most float64 // 0 < Least ≤ 1 ≤ Most
	Strength    float64 // 0 = straight, 1 = all of it
}

// detailBins bounds the bins of a DetailCurve.
const detailBins = 4096

// Slopes are the optimum's slopes in each bin, mixed with 1 by Strength.
//
// Between two anchors they minimise Σ w/s² (the error that a later rounding or
// noise of even size leaves on the detail) subject to Σ s·δ = what lies between
// them and to the limits. Without limits s is proportional to the cube root of
// w; bins that meet a limit are held there and the others solved again, which
// the multiplier of the sum does in one: s = clamp(k·w^⅓, Least, Most).
//
// Source: Z. Mai, H. Mansour, R. Mantiuk, P. Nasiopoulos, R. Ward, W. Heidrich 2011, "Optimizing a Tone Curve for Backward-Compatible High Dynamic Range Image and Video Compression", IEEE Transactions on Image Processing 20(6) (closed form; from memory)
func (d DetailCurve) Slopes() ([]float64, error) {
	n := len(d.Weight)
	if n < 1 || n > detailBins || !(d.Hi > d.Lo) || !(d.Least > 0 && d.Least <= 1 && d.Most >= 1) || !(d.Strength >= 0 && d.Strength <= 1) || math.IsInf(d.Most, 0) || math.IsInf(d.Hi-d.Lo, 0) {
		return nil, fault.New(fault.Usage, "detail-curve", "", "slope limits %.3g to %.3g, strength %.3g, %d bins: limits lie about 1, strength between 0 and 1", d.Least, d.Most, d.Strength, n)
	}
	for _, w := range d.Weight {
		if !(w >= 0) || math.IsInf(w, 0) {
			return nil, fault.New(fault.Usage, "detail-curve", "", "a weight of detail is %v", w)
		}
	}
	s := make([]float64, n)
	from := 0
	for _, a := range append(append([]float64{}, d.Anchors...), d.Hi) {
		to := int(math.Round((a - d.Lo) / (d.Hi - d.Lo) * float64(n)))
		if to > n || to < from {
			return nil, fault.New(fault.Usage, "detail-curve", "", "anchor %.4g does not rise inside %.4g to %.4g", a, d.Lo, d.Hi)
		}
		optimumSlopes(s[from:to], d.Weight[from:to], d.Least, d.Most)
		from = to
	}
	for i := range s {
		s[i] = 1 + d.Strength*(s[i]-1)
	}
	return s, nil
}

// optimumSlopes solves one stretch whose slopes have a mean of 1.
func optimumSlopes(s, w []float64, least, most float64) {
	if len(s) == 0 {
		return
	}
	root := make([]float64, len(w))
	sum, top := 0.0, 0.0
	for i, x := range w {
		root[i] = math.Cbrt(x)
		sum += root[i]
		top = math.Max(top, root[i])
	}
	if sum == 0 {
		for i := range s {
			s[i] = 1
		}
		return
	}
	// Empty bins would be squeezed to nothing, and the sum could not be met by
	// the rest; the little they are given decides nothing else.
	for i := range root {
		root[i] = math.Max(root[i], 1e-6*top)
	}
	mean := func(k float64) float64 {
		t := 0.0
		for i, r := range root {
			s[i] = math.Min(math.Max(k*r, least), most)
			t += s[i]
		}
		return t / float64(len(s))
	}
	lo, hi := 0.0, most/(1e-6*top)
	for range 200 {
		k := (lo + hi) / 2
		if mean(k) < 1 {
			lo = k
		} else {
			hi = k
		}
	}
	mean((lo + hi) / 2)
}

// Loss is Σ w/s² over Σ w: 1 for a straight curve, less where detail gains.
func (d DetailCurve) Loss(slopes []float64) float64 {
	sum, total := 0.0, 0.0
	for i, w := range d.Weight {
		sum += w / (slopes[i] * slopes[i])
		total += w
	}
	if total == 0 {
		return 1
	}
	return sum / total
}

// At is where the slopes bring signal y, straight on beyond the ends.
func (d DetailCurve) At(slopes []float64, y float64) float64 {
	step := (d.Hi - d.Lo) / float64(len(slopes))
	if y <= d.Lo {
		return y
	}
	out := d.Lo
	for i, s := range slopes {
		from := d.Lo + float64(i)*step
		if y <= from+step {
			return out + s*(y-from)
		}
		out += s * step
	}
	return out + y - d.Hi
}
