package demo

import (
	"context"
	"math"
)

// fillHoles gives pixels that were never traced (always hidden) the value of
// a neighbour, so that filters near by don't drag in black.
func (l *layer) fillHoles() {
	fill := func(at, from int) {
		for _, p := range l.pics {
			copy(p[3*at:3*at+3], p[3*from:3*from+3])
		}
		l.cover[at], l.depth[at] = l.cover[from], l.depth[from]
	}
	for y := range l.h {
		for x := 1; x < l.w; x++ {
			if at := y*l.w + x; l.cover[at] == 0 && l.cover[at-1] > 0 {
				fill(at, at-1)
			}
		}
		for x := l.w - 2; x >= 0; x-- {
			if at := y*l.w + x; l.cover[at] == 0 && l.cover[at+1] > 0 {
				fill(at, at+1)
			}
		}
	}
	for y := 1; y < l.h; y++ {
		for x := range l.w {
			if at := y*l.w + x; l.cover[at] == 0 {
				fill(at, at-l.w)
			}
		}
	}
}

// blurRadius is the circle of confusion's radius in pixels of the view for a
// distance along it: thin lens, small against the focal length's square.
func blurRadius(v *view, depth float32) float32 {
	if depth <= 0 {
		return 0
	}
	return lensRadius * abs32(1/focusAt-1/depth) / v.scale
}

// discTaps gives a disc of the given radius in pixels as offsets and weights
// that sum to 1; pixels on the rim count by the part inside.
func discTaps(r float32) (dx, dy []int, k []float32) {
	n := int(math.Ceil(float64(r)))
	var sum float32
	for y := -n; y <= n; y++ {
		for x := -n; x <= n; x++ {
			d := sqrt32(float32(x*x + y*y))
			w := clamp32(r+0.5-d, 0, 1)
			if w > 0 {
				dx, dy, k = append(dx, x), append(dy, y), append(k, w)
				sum += w
			}
		}
	}
	for i := range k {
		k[i] /= sum
	}
	return dx, dy, k
}

// defocus blurs the layer by its distance from the plane of focus. v is the
// full view; coarse is how many of its pixels one of the layer's is wide.
func (l *layer) defocus(ctx context.Context, v *view, coarse int) error {
	const levels = 24
	var most float32
	for i := range l.depth {
		most = max(most, blurRadius(v, l.depth[i])/float32(coarse))
	}
	type disc struct {
		dx, dy []int
		k      []float32
	}
	discs := make([]disc, levels+1)
	for i := range discs {
		discs[i].dx, discs[i].dy, discs[i].k = discTaps(most * float32(i) / levels)
	}
	out := make([][]float32, len(l.pics))
	for i := range out {
		out[i] = make([]float32, len(l.pics[i]))
	}
	err := eachRow(ctx, l.h, func(y int) {
		for x := range l.w {
			at := y*l.w + x
			i := 0
			if most > 0 {
				i = int(levels*blurRadius(v, l.depth[at])/float32(coarse)/most + 0.5)
			}
			d := &discs[min(i, levels)]
			for j := range d.k {
				xx := max(0, min(l.w-1, x+d.dx[j]))
				yy := max(0, min(l.h-1, y+d.dy[j]))
				from := 3 * (yy*l.w + xx)
				k := d.k[j]
				for p := range out {
					q := l.pics[p][from : from+3 : from+3]
					o := out[p][3*at : 3*at+3 : 3*at+3]
					o[0] += k * q[0]
					o[1] += k * q[1]
					o[2] += k * q[2]
				}
			}
		}
	})
	l.pics = out
	return err
}

// enlarge gives picture p of the layer at k times its size (w × h), by the
// cubic B-spline: smooth, and its weights are all positive, so that no halo arises.
func (l *layer) enlarge(p, k, w, h int) []float32 {
	src := l.pics[p]
	if k == 1 {
		return src
	}
	type tap struct {
		i int
		k [4]float32
	}
	taps := func(n int) []tap {
		t := make([]tap, n)
		for i := range t {
			f := (float64(i)+0.5)/float64(k) - 0.5
			j := math.Floor(f)
			u := float32(f - j)
			t[i] = tap{int(j) - 1, [4]float32{
				(1 - u) * (1 - u) * (1 - u) / 6,
				(4 - 6*u*u + 3*u*u*u) / 6,
				(1 + 3*u + 3*u*u - 3*u*u*u) / 6,
				u * u * u / 6,
			}}
		}
		return t
	}
	tx, ty := taps(w), taps(h)
	mid := make([]float32, 3*w*l.h)
	for y := range l.h {
		for x := range w {
			var c [3]float32
			for j, kk := range tx[x].k {
				from := 3 * (y*l.w + max(0, min(l.w-1, tx[x].i+j)))
				c[0] += kk * src[from]
				c[1] += kk * src[from+1]
				c[2] += kk * src[from+2]
			}
			copy(mid[3*(y*w+x):], c[:])
		}
	}
	dst := make([]float32, 3*w*h)
	for y := range h {
		row := dst[3*y*w : 3*(y+1)*w]
		for j, kk := range ty[y].k {
			from := 3 * w * max(0, min(l.h-1, ty[y].i+j))
			for x, m := range mid[from : from+3*w] {
				row[x] += kk * m
			}
		}
	}
	return dst
}

// crop gives picture values (n a pixel, w pixels a row) inside a box.
func crop(src []float32, n, w int, b box) []float32 {
	out := make([]float32, 0, n*b.w()*b.h())
	for y := b.y0; y < b.y1; y++ {
		out = append(out, src[n*(y*w+b.x0):n*(y*w+b.x1)]...)
	}
	return out
}
