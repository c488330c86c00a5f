package demo

import (
	"context"
	"math"
)

// layer is what tracing gives: pictures of one set of things, with how
// much of each pixel they cover.
type layer struct {
	w, h  int
	pics  [][]float32 // one for each picture, 3·w·h, premultiplied by cover
	cover []float32   // w·h, 0..1
	depth []float32   // w·h, mean distance along the view, where covered
}

func newLayer(w, h, pics int) *layer {
	l := &layer{w: w, h: h, cover: make([]float32, w*h), depth: make([]float32, w*h)}
	for range pics {
		l.pics = append(l.pics, make([]float32, 3*w*h))
	}
	return l
}

// quality says how hard to work.
type quality struct {
	least, most int     // samples a pixel
	good        float32 // standard error of log2 luminance that is good enough
	gridStep    int     // pixels between places where bounced light is gathered
	paths       int     // paths gathered at each
	lens        float32 // radius of the aperture, m; 0 = pinhole
	focus       float32 // distance in focus, m
}

// traceLayer renders the given layers of the scene where wanted says so. mix
// gives each picture's weight in the reference mix: pixels are sampled until
// that mix is good enough.
func (t *tracer) traceLayer(ctx context.Context, v *view, layers uint8, q quality, seed uint64, mix []float32, wanted func(x, y int) bool, tick func()) (*layer, error) {
	pics := len(t.pictures)
	grid, err := t.newBounceGrid(ctx, v, layers, q.gridStep, q.paths, seed^0xb0, wanted)
	if err != nil {
		return nil, err
	}
	hush := grid.mean(pics)
	if t.hush == (light{}) {
		t.hush = hush
	}
	l := newLayer(v.w, v.h, pics)
	err = eachRow(ctx, v.h, func(y int) {
		block := newBlockers()
		for x := range v.w {
			if wanted(x, y) {
				t.tracePixel(block, v, layers, q, seed, mix, grid, &hush, x, y, l)
			}
		}
		if tick != nil {
			tick()
		}
	})
	return l, err
}

// mean is the grid's mean light, the stand-in where nothing better is known.
func (g *bounceGrid) mean(pics int) (m light) {
	n := 0
	for i := range g.cells {
		if g.cells[i].ok {
			m.add(1, &g.cells[i].l, pics)
			n++
		}
	}
	var out light
	if n > 0 {
		out.add(1/float32(n), &m, pics)
	}
	return out
}

// edge is the standard deviation of the pixel's filter in pixels: a lens and
// a low-pass filter over the sensor blur about this much.
const edge = 0.42

func (t *tracer) tracePixel(block *blockers, v *view, layers uint8, q quality, seed uint64, mix []float32, grid *bounceGrid, hush *light, x, y int, l *layer) {
	pics := len(t.pictures)
	dr := draw{seed: mix64(seed ^ uint64(y)<<32 ^ uint64(x)), block: block}
	var sum light
	var covered, depth float32
	var s1, s2, gain float32
	for _, m := range mix {
		gain += m
	}
	n := 0
	for n < q.most {
		dr.i = n
		// Gaussian filter by importance: the sample's place is drawn from it.
		u, w := dr.pair(dimPixel)
		r := edge * sqrt32(-2*logf(max(1-u, 1e-7)))
		px := float32(x) + 0.5 + r*cos32(2*math.Pi*w)
		py := float32(y) + 0.5 + r*sin32(2*math.Pi*w)
		o, d := v.ray(px, py)
		if q.lens > 0 {
			o, d = v.through(o, d, q, dr)
		}
		h, ok := t.tree.nearest(o, d, 0, 100, layers)
		var g light
		if ok {
			covered++
			depth += h.t * d.dot(v.fwd)
			var round light
			if t.lampAt(h) < 0 {
				f := &t.facets[h.tri]
				nn := f.n0.mul(1 - h.u - h.v).add(f.n1.mul(h.u)).add(f.n2.mul(h.v)).unit()
				if nn.dot(d) > 0 {
					nn = nn.neg()
				}
				grid.at(px, py, o.mad(h.t, d), nn, h.t, hush, pics, &round)
			}
			t.shade(o, d, h, dr, &round, 0, &g)
			// A flat sensor gets less at the corners: cos⁴ of the angle off the axis.
			c := d.dot(v.fwd)
			sum.add(c*c*c*c, &g, pics)
		}
		var lum float32
		for i := range pics {
			lum += mix[i] * (0.3*g[i][0] + 0.6*g[i][1] + 0.1*g[i][2])
		}
		s := log2f(lum + 0.02)
		s1 += s
		s2 += s * s
		n++
		if n >= q.least {
			k := 1 / float32(n)
			variance := max(0, s2*k-s1*k*s1*k) * k
			if variance < q.good*q.good {
				break
			}
		}
	}
	k := 1 / float32(n)
	at := y*v.w + x
	l.cover[at] = covered * k
	if covered > 0 {
		l.depth[at] = depth / covered
	}
	for i := range pics {
		p := l.pics[i][3*at : 3*at+3]
		for c := range 3 {
			p[c] = sum[i][c] * k
		}
	}
}

// through moves a ray to a place on the lens, keeping where it meets the plane
// of focus.
func (v *view) through(o, d vec, q quality, dr draw) (vec, vec) {
	a, b := dr.pair(dimReflect + 7)
	r := q.lens * sqrt32(a)
	at := o.mad(q.focus/d.dot(v.fwd), d)
	o = o.add(v.right.mul(r * cos32(2*math.Pi*b))).add(v.up.mul(r * sin32(2*math.Pi*b)))
	return o, at.sub(o).unit()
}

func logf(x float32) float32  { return float32(math.Log(float64(x))) }
func exp2(x float64) float64  { return math.Exp2(x) }
func log2f(x float32) float32 { return float32(math.Log2(float64(x))) }
