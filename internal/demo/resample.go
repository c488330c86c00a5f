package demo

import "math"

// sampleCubic reads an interleaved picture between its pixels (Catmull–Rom;
// Keys, "Cubic Convolution Interpolation", 1981, a = −1/2), edges held.
func sampleCubic(src []float32, w, h, channels int, x, y float64, out []float32) {
	fx, fy := math.Floor(x), math.Floor(y)
	i, j := int(fx), int(fy)
	kx, ky := cubicWeights(float32(x-fx)), cubicWeights(float32(y-fy))
	var sum [4]float32
	if i >= 1 && j >= 1 && i+2 < w && j+2 < h {
		at := ((j-1)*w + i - 1) * channels
		for r := range 4 {
			p := src[at : at+4*channels : at+4*channels]
			for c := range channels {
				sum[c] += ky[r] * (kx[0]*p[c] + kx[1]*p[channels+c] + kx[2]*p[2*channels+c] + kx[3]*p[3*channels+c])
			}
			at += w * channels
		}
	} else {
		for r := range 4 {
			yy := max(0, min(h-1, j-1+r))
			for k := range 4 {
				xx := max(0, min(w-1, i-1+k))
				for c := range channels {
					sum[c] += ky[r] * kx[k] * src[(yy*w+xx)*channels+c]
				}
			}
		}
	}
	copy(out, sum[:channels])
}

// sampleCubic4 is sampleCubic for four channels, the one that runs for every
// pixel of every frame.
func sampleCubic4(src []float32, w, h int, x, y float32, out *[4]float32) {
	fx, fy := floor32(x), floor32(y)
	i, j := int(fx), int(fy)
	if i < 1 || j < 1 || i+2 >= w || j+2 >= h {
		sampleCubic(src, w, h, 4, float64(x), float64(y), out[:])
		return
	}
	kx, ky := cubicWeights(x-fx), cubicWeights(y-fy)
	var a, b, c, d float32
	at := 4 * ((j-1)*w + i - 1)
	for _, k := range ky {
		p := (*[16]float32)(src[at:])
		a += k * (kx[0]*p[0] + kx[1]*p[4] + kx[2]*p[8] + kx[3]*p[12])
		b += k * (kx[0]*p[1] + kx[1]*p[5] + kx[2]*p[9] + kx[3]*p[13])
		c += k * (kx[0]*p[2] + kx[1]*p[6] + kx[2]*p[10] + kx[3]*p[14])
		d += k * (kx[0]*p[3] + kx[1]*p[7] + kx[2]*p[11] + kx[3]*p[15])
		at += 4 * w
	}
	*out = [4]float32{a, b, c, d}
}

func cubicWeights(t float32) [4]float32 {
	t2 := t * t
	t3 := t2 * t
	return [4]float32{-0.5*t + t2 - 0.5*t3, 1 - 2.5*t2 + 1.5*t3, 0.5*t + 2*t2 - 1.5*t3, -0.5*t2 + 0.5*t3}
}
