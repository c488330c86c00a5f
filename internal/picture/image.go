package picture

import (
	"math"

	"lampwise/internal/colour"
)

// Image makes a picture of the frame's size by sending R′G′B′ of each pixel
// (E′ of the frame's own range, see RGB) through f.
func (f *Frame) Image(s Space, through func(e [3]float64) [3]float64) *Image {
	im := NewImage(f.Width, f.Height, s)
	eachRow(f.Height, func(y int) {
		for x := range f.Width {
			im.Set(x, y, through(f.RGB(x, y)))
		}
	})
	return im
}

// Preview makes a picture in the display signal, at most w×h and of the
// frame's proportions, of a frame in which each w×h box is one pixel: the
// program runs on the frame's pixels and the boxes are averaged in linear
// light. Dither is left out.
func (p *Program) Preview(f *Frame, w, h int) *Image {
	full := f.Image(SpaceDisplay, func(e [3]float64) [3]float64 { return p.Colour(p.Input.Signal(e)) })
	eachRow(f.Height, func(y int) {
		for x := range f.Width {
			v := full.At(x, y)
			if p.Vignette != nil {
				g := p.Vignette.SignalGain(x, y, f.Width, f.Height)
				v = [3]float64{v[0] * g, v[1] * g, v[2] * g}
			}
			full.Set(x, y, p.Output.limit(v))
		}
	})
	w, h = Fit(f.Width, f.Height, w, h)
	return full.Shrink(w, h)
}

// Fit is the largest size of the proportions w:h inside maxW×maxH, never
// larger than w×h, never below 1×1.
func Fit(w, h, maxW, maxH int) (int, int) {
	k := min(1, float64(maxW)/float64(w), float64(maxH)/float64(h))
	return max(1, int(math.Round(k*float64(w)))), max(1, int(math.Round(k*float64(h))))
}

// At returns the pixel at column x and row y.
func (im *Image) At(x, y int) [3]float64 {
	p := im.Pix[3*(y*im.W+x):][:3]
	return [3]float64{float64(p[0]), float64(p[1]), float64(p[2])}
}

// Set writes the pixel at column x and row y.
func (im *Image) Set(x, y int, v [3]float64) {
	p := im.Pix[3*(y*im.W+x):][:3]
	p[0], p[1], p[2] = float32(v[0]), float32(v[1]), float32(v[2])
}

// Shrink returns the picture at w×h, neither above the picture's own, each
// pixel the mean of the box it covers (parts of pixels count in part), taken
// in linear light: a display signal is decoded by BT.1886 and encoded again,
// scene-linear stays as it is. A camera signal has no light without its curve
// and is averaged as it is; decode it first where that matters.
func (im *Image) Shrink(w, h int) *Image {
	w, h = max(1, min(w, im.W)), max(1, min(h, im.H))
	decode, encode := func(x float64) float64 { return x }, func(x float64) float64 { return x }
	if im.Space == SpaceDisplay {
		decode = mirrored(colour.BT1886.Decode)
		encode = mirrored(colour.BT1886.Encode)
	}
	out := NewImage(w, h, im.Space)
	across := boxes(im.W, w)
	eachRow(h, func(y int) {
		row := make([][3]float64, im.W)
		down := boxes(im.H, h)[y]
		for i, weight := range down.weights {
			for x := range row {
				v := im.At(x, down.first+i)
				for ch := range 3 {
					row[x][ch] += weight * decode(v[ch])
				}
			}
		}
		for x, b := range across {
			var sum [3]float64
			for i, weight := range b.weights {
				for ch := range 3 {
					sum[ch] += weight * row[b.first+i][ch]
				}
			}
			out.Set(x, y, [3]float64{encode(sum[0]), encode(sum[1]), encode(sum[2])})
		}
	})
	return out
}

// mirrored carries a curve on to negative numbers by its own mirror image, so
// that undershoots neither vanish nor raise the mean.
func mirrored(f func(float64) float64) func(float64) float64 {
	return func(x float64) float64 {
		if x < 0 {
			return -f(-x)
		}
		return f(x)
	}
}

// box is a run of samples and their weights, which sum to 1.
type box struct {
	first   int
	weights []float64
}

// boxes splits n samples into m boxes of equal width.
func boxes(n, m int) []box {
	out := make([]box, m)
	width := float64(n) / float64(m)
	for i := range out {
		// In whole numbers, sample j covers j·m..(j+1)·m and box i i·n..(i+1)·n.
		lo, hi := i*n/m, ((i+1)*n+m-1)/m
		out[i].first = lo
		for j := lo; j < hi; j++ {
			part := float64(min((j+1)*m, (i+1)*n)-max(j*m, i*n)) / float64(m)
			out[i].weights = append(out[i].weights, part/width)
		}
	}
	return out
}
