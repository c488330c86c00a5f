package region

import (
	"math"
	"slices"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// faceSize is the longer side, in pixels, of the picture that is searched for
// faces: a face has then at least leastFace pixels when it is a thirtieth of
// a wide picture's width.
const faceSize = 640

// bt709Luma weighs R, G and B to luminance (BT.709-6, item 3.2).
var bt709Luma = func() [3]float64 {
	y := colour.MustGamut("bt709").ToXYZ()[1]
	return [3]float64{y[0], y[1], y[2]}
}()

// faceTone brings a picture to the eight-bit brightness that faces are looked
// for in, at most faceSize long:
//
//   - scene-linear: log2 of luminance + b, b being a sixteenth of the frame's
//     median, so that noise in the dark doesn't take most of the steps;
//   - camera signal and display signal: luma as it stands, both being close
//     to even steps for the eye;
//
// then the part between the darkest and the brightest two hundredth is spread
// over 0..255. Rising tones don't change what the cascade sees, only how finely.
func faceTone(im *picture.Image) *grey {
	v, w, h := brightness(im)
	lo, hi := quantile(v, 0.005), quantile(v, 0.995)
	g := &grey{w: w, h: h, pix: make([]uint8, len(v))}
	if hi <= lo {
		return g
	}
	for i, x := range v {
		g.pix[i] = uint8(math.Round(255 * min(max((x-lo)/(hi-lo), 0), 1)))
	}
	return g
}

// brightness is faceTone before it's spread over eight bits.
func brightness(im *picture.Image) (v []float64, w, h int) {
	small := shrunk(im, faceSize)
	v = luminance(small)
	if im.Space == picture.SpaceSceneLinear {
		toe := max(quantile(v, 0.5)/16, 1e-6)
		for i, x := range v {
			v[i] = math.Log2(max(x, 0) + toe)
		}
	}
	return v, small.W, small.H
}

// luminance is each pixel's luminance, or luma where the picture isn't linear.
// What is no number counts as 0.
func luminance(im *picture.Image) []float64 {
	v := make([]float64, im.W*im.H)
	for i := range v {
		p := im.Pix[3*i:][:3]
		y := bt709Luma[0]*float64(p[0]) + bt709Luma[1]*float64(p[1]) + bt709Luma[2]*float64(p[2])
		if math.IsNaN(y) || math.IsInf(y, 0) {
			y = 0
		}
		v[i] = y
	}
	return v
}

// shrunk is the picture at most size long; never the picture itself.
func shrunk(im *picture.Image, size int) *picture.Image {
	w, h := picture.Fit(im.W, im.H, size, size)
	if w == im.W && h == im.H {
		out := *im
		out.Pix = slices.Clone(im.Pix)
		return &out
	}
	return im.Shrink(w, h)
}

// quantile of values, which it leaves in order: the one that stands at part q
// of the way when sorted; 0 for none.
func quantile(values []float64, q float64) float64 {
	if len(values) == 0 {
		return 0
	}
	return nth(slices.Clone(values), int(math.Round(q*float64(len(values)-1))))
}

// median of values, which it leaves in order, the mean of the middle two for
// an even number; 0 for none.
func median(values []float64) float64 {
	n := len(values)
	if n == 0 {
		return 0
	}
	s := slices.Clone(values)
	upper := nth(s, n/2)
	if n%2 == 1 {
		return upper
	}
	return (slices.Max(s[:n/2]) + upper) / 2
}

// nth puts the value that is k-th when sorted at k, none larger before it and
// none smaller after (Hoare's selection, the pivot being the middle of three),
// and returns it. There must be no NaN.
func nth(s []float64, k int) float64 {
	lo, hi := 0, len(s)-1
	for lo < hi {
		mid := lo + (hi-lo)/2
		pivot := max(min(s[lo], s[mid]), min(max(s[lo], s[mid]), s[hi]))
		i, j := lo, hi
		for i <= j {
			for s[i] < pivot {
				i++
			}
			for s[j] > pivot {
				j--
			}
			if i <= j {
				s[i], s[j] = s[j], s[i]
				i, j = i+1, j-1
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return s[k]
		}
	}
	return s[k]
}
