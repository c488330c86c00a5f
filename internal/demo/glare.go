package demo

import (
	"context"
	"math"
)

// A lens throws a little of its light about: a soft glow round bright spots
// and a veil over everything. It's the same share of every lamp's picture, so
// light still adds. The widths are Gaussian standard deviations as shares of
// the frame's height; sizes of the order of a good lens's, chosen by eye.
var glareParts = []struct{ share, width float64 }{
	{0.006, 0.006},
	{0.005, 0.030},
	{0.004, 0.150},
}

// glareTotal is the light that is thrown about in all.
func glareTotal() float32 {
	var t float64
	for _, p := range glareParts {
		t += p.share
	}
	return float32(t)
}

// glaze puts the glare into all pictures. Front and back get it so that
// together they still make the whole: with the front covering a of a pixel, it
// carries a parts of the glow that falls there.
func (s *Studio) glaze(ctx context.Context) error {
	cell := max(1, s.Height/135)
	keep := 1 - glareTotal()
	return eachRow(ctx, len(s.pics), func(i int) {
		g := newGlow(s.still[i], s.w, s.h, cell, float64(s.Height))
		in, lid := s.inner, s.lidBox
		for y := range s.h {
			for x := range s.w {
				v := g.at(x, y)
				spread := func(p []float32, at int, a float32) {
					for c := range 3 {
						p[3*at+c] = keep*p[3*at+c] + a*v[c]
					}
				}
				spread(s.still[i], y*s.w+x, 1)
				if !in.has(x, y) {
					continue
				}
				at := (y-in.y0)*in.w() + x - in.x0
				a := s.fore.cover[at]
				spread(s.back.pics[i], at, 1)
				spread(s.fore.pics[i], at, a)
				if lid.has(x, y) {
					spread(s.lidPics[i], (y-lid.y0)*lid.w()+x-lid.x0, a)
				}
			}
		}
	})
}

// glow is the scattered light on a coarse grid.
type glow struct {
	cell, w, h int
	v          []float32 // 3·w·h
}

func newGlow(src []float32, w, h, cell int, height float64) *glow {
	g := &glow{cell: cell, w: (w + cell - 1) / cell, h: (h + cell - 1) / cell}
	small := make([]float32, 3*g.w*g.h)
	count := make([]float32, g.w*g.h)
	for y := range h {
		for x := range w {
			at := y/cell*g.w + x/cell
			count[at]++
			for c := range 3 {
				small[3*at+c] += src[3*(y*w+x)+c]
			}
		}
	}
	for i, n := range count {
		for c := range 3 {
			small[3*i+c] /= n
		}
	}
	g.v = make([]float32, len(small))
	for _, p := range glareParts {
		b := blur(small, g.w, g.h, p.width*height/float64(cell))
		for i := range b {
			g.v[i] += float32(p.share) * b[i]
		}
	}
	return g
}

// blur is a Gaussian in both directions, edges held.
func blur(src []float32, w, h int, sigma float64) []float32 {
	n := int(math.Ceil(3 * sigma))
	k := make([]float32, 2*n+1)
	var sum float32
	for i := range k {
		k[i] = float32(math.Exp(-0.5 * math.Pow(float64(i-n)/math.Max(sigma, 1e-3), 2)))
		sum += k[i]
	}
	for i := range k {
		k[i] /= sum
	}
	mid, out := make([]float32, len(src)), make([]float32, len(src))
	for y := range h {
		for x := range w {
			for i, f := range k {
				from := 3 * (y*w + max(0, min(w-1, x+i-n)))
				for c := range 3 {
					mid[3*(y*w+x)+c] += f * src[from+c]
				}
			}
		}
	}
	for y := range h {
		for i, f := range k {
			from := 3 * w * max(0, min(h-1, y+i-n))
			row := out[3*w*y : 3*w*(y+1)]
			for x, m := range mid[from : from+3*w] {
				row[x] += f * m
			}
		}
	}
	return out
}

// at reads the glow at a pixel, bilinearly between cells.
func (g *glow) at(x, y int) (v [3]float32) {
	fx := (float32(x)+0.5)/float32(g.cell) - 0.5
	fy := (float32(y)+0.5)/float32(g.cell) - 0.5
	x0, y0 := floor32(fx), floor32(fy)
	u, w := fx-x0, fy-y0
	cx := func(i int) int { return max(0, min(g.w-1, i)) }
	cy := func(i int) int { return max(0, min(g.h-1, i)) }
	for j, ky := range [2]float32{1 - w, w} {
		for i, kx := range [2]float32{1 - u, u} {
			at := 3 * (cy(int(y0)+j)*g.w + cx(int(x0)+i))
			for c := range 3 {
				v[c] += kx * ky * g.v[at+c]
			}
		}
	}
	return v
}
