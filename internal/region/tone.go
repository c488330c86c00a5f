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
	small := im.Shrink(picture.Fit(im.W, im.H, faceSize, faceSize))
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

// quantile of values, which it leaves in order; 0 for none.
func quantile(values []float64, q float64) float64 {
	if len(values) == 0 {
		return 0
	}
	s := slices.Clone(values)
	slices.Sort(s)
	return s[int(math.Round(q*float64(len(s)-1)))]
}
