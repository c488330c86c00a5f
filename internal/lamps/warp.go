package lamps

import (
	"math"

	"lampwise/internal/picture"
)

// Similarity says where the camera looks now against the reference: what was
// at place x of the reference picture is at
//
//	centre + Scale·R(Rotation)·(x − centre) + (DX, DY)
//
// in today's. Pixels of the picture it was found in; x to the right, y down;
// Rotation is positive when the picture turns clockwise.
type Similarity struct {
	DX, DY   float64
	Rotation float64 // radians
	Scale    float64 // 1 = as before
}

// Still is the similarity that changes nothing.
var Still = Similarity{Scale: 1}

// apply maps a place in a w×h picture.
func (s Similarity) apply(x, y float64, w, h int) (float64, float64) { return s.mapping(w, h)(x, y) }

// mapping is apply for many places of a w×h picture.
func (s Similarity) mapping(w, h int) func(x, y float64) (float64, float64) {
	cx, cy := float64(w-1)/2, float64(h-1)/2
	sin, cos := math.Sincos(s.Rotation)
	return func(x, y float64) (float64, float64) {
		u, v := x-cx, y-cy
		return cx + s.DX + s.Scale*(cos*u-sin*v), cy + s.DY + s.Scale*(sin*u+cos*v)
	}
}

// Largest is how far, in pixels, the corner that moves most has moved.
func (s Similarity) Largest(w, h int) float64 {
	m := 0.0
	for _, c := range [4][2]float64{{0, 0}, {float64(w - 1), 0}, {0, float64(h - 1)}, {float64(w - 1), float64(h - 1)}} {
		x, y := s.apply(c[0], c[1], w, h)
		m = max(m, math.Hypot(x-c[0], y-c[1]))
	}
	return m
}

// enlarged is the same movement in pixels of a picture k times as large.
func (s Similarity) enlarged(k float64) Similarity {
	s.DX, s.DY = s.DX*k, s.DY*k
	return s
}

// cubic are Catmull and Rom's weights at fraction t for four samples.
func cubic(t float64) [4]float64 {
	t2, t3 := t*t, t*t*t
	return [4]float64{
		(-t + 2*t2 - t3) / 2,
		(2 - 5*t2 + 3*t3) / 2,
		(t + 4*t2 - 3*t3) / 2,
		(-t2 + t3) / 2,
	}
}

// Align brings today's picture onto the reference's pixels by cubic
// interpolation. seen is false where the reference shows what today's frame
// doesn't; a pixel is clipped where any sample it is made from was.
func (l *Light) Align(s Similarity) (out *Light, seen []bool) {
	w, h := l.W, l.H
	seen = make([]bool, w*h)
	if s == Still {
		for p := range seen {
			seen[p] = true
		}
		return l, seen
	}
	out = &Light{Image: picture.NewImage(w, h, l.Space), Frames: l.Frames}
	if l.Clipped != nil {
		out.Clipped = make([]bool, w*h)
	}
	moved := s.mapping(w, h)
	inRows(h, func(from, to int) {
		for y := from; y < to; y++ {
			for x := range w {
				u, v := moved(float64(x), float64(y))
				iu, iv := int(math.Floor(u)), int(math.Floor(v))
				if iu < 1 || iv < 1 || iu > w-3 || iv > h-3 {
					continue
				}
				p := y*w + x
				seen[p] = true
				cu, cv := cubic(u-float64(iu)), cubic(v-float64(iv))
				var sum [3]float64
				for j, fy := range cv {
					q := (iv-1+j)*w + iu - 1
					four := (*[12]float32)(l.Pix[3*q : 3*q+12])
					sum[0] += fy * (cu[0]*float64(four[0]) + cu[1]*float64(four[3]) + cu[2]*float64(four[6]) + cu[3]*float64(four[9]))
					sum[1] += fy * (cu[0]*float64(four[1]) + cu[1]*float64(four[4]) + cu[2]*float64(four[7]) + cu[3]*float64(four[10]))
					sum[2] += fy * (cu[0]*float64(four[2]) + cu[1]*float64(four[5]) + cu[2]*float64(four[8]) + cu[3]*float64(four[11]))
					if l.Clipped != nil {
						c := l.Clipped[q : q+4]
						out.Clipped[p] = out.Clipped[p] || c[0] || c[1] || c[2] || c[3]
					}
				}
				for c := range 3 {
					out.Pix[3*p+c] = float32(sum[c])
				}
			}
		}
	})
	return out, seen
}

// plane is one channel of numbers.
type plane struct {
	w, h int
	v    []float64
}

func newPlane(w, h int) *plane { return &plane{w, h, make([]float64, w*h)} }

// detail turns a picture into the logarithm of its light less its own blur:
// a smooth change of light leaves it alone, whatever the lamps do. floor is
// the light below which noise rules.
func detail(img *picture.Image, floor float64, fine, coarse int) *plane {
	p := newPlane(img.W, img.H)
	for i := range p.v {
		l := (float64(img.Pix[3*i]) + 2*float64(img.Pix[3*i+1]) + float64(img.Pix[3*i+2])) / 4
		p.v[i] = math.Log(max(l, 0) + floor)
	}
	a := p
	if fine > 0 {
		a = p.blurred(fine)
	}
	b := p.blurred(coarse)
	for i := range a.v {
		b.v[i] = a.v[i] - b.v[i]
	}
	return b
}

// blurred is three box blurs of the given radius, near a normal curve.
func (p *plane) blurred(radius int) *plane {
	a, b := newPlane(p.w, p.h), newPlane(p.w, p.h)
	copy(a.v, p.v)
	for range 3 {
		boxRows(a, b, radius)
		boxColumns(b, a, radius)
	}
	return a
}

func boxRows(in, out *plane, r int) {
	w := in.w
	k := 1 / float64(2*r+1)
	for y := range in.h {
		row, dst := in.v[y*w:y*w+w], out.v[y*w:y*w+w]
		s := float64(r+1) * row[0]
		for x := 1; x <= r; x++ {
			s += row[min(x, w-1)]
		}
		for x := range w {
			dst[x] = s * k
			s += row[min(x+r+1, w-1)] - row[max(x-r, 0)]
		}
	}
}

func boxColumns(in, out *plane, r int) {
	w, h := in.w, in.h
	k := 1 / float64(2*r+1)
	s := make([]float64, w)
	for x := range w {
		s[x] = float64(r+1) * in.v[x]
		for y := 1; y <= r; y++ {
			s[x] += in.v[min(y, h-1)*w+x]
		}
	}
	for y := range h {
		low, high := in.v[max(y-r, 0)*w:], in.v[min(y+r+1, h-1)*w:]
		for x := range w {
			out.v[y*w+x] = s[x] * k
			s[x] += high[x] - low[x]
		}
	}
}
