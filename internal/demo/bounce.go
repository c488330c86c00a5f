package demo

import (
	"context"
	"math"
)

// bounce.go traces the light that comes by way of other surfaces. It's smooth
// from place to place, so it's found on a coarse grid of the picture and
// spread over the pixels between (bounceGrid.at).

// gathered is the indirect radiance a perfect white at p would send back.
type gathered struct {
	p, n  vec
	depth float32
	ok    bool
	l     light
}

// survive is how many bounces every path makes before it may be dropped at
// random (Russian roulette keeps the mean).
const survive = 2

// gather follows count paths from p and returns the mean.
func (t *tracer) gather(p, n, ng vec, dr draw, count int) (out light) {
	var sum light
	pics := len(t.pictures)
	x, y := basis(n)
	for k := range count {
		dk := draw{dr.seed, dr.i + k, dr.block}
		u, v := dk.pair(dimBounce)
		r, phi := sqrt32(u), 2*math.Pi*v
		d := x.mul(r * cos32(phi)).add(y.mul(r * sin32(phi))).add(n.mul(sqrt32(max(0, 1-u))))
		if d.dot(ng) <= 0 {
			continue // the share below the surface is nearly nothing: normals differ little
		}
		t.path(p.mad(offset, ng), d, dk, &sum)
	}
	k := 1 / float32(count)
	for i := range pics {
		for c := range 3 {
			out[i][c] = sum[i][c] * k
		}
	}
	return out
}

// path follows one ray through the room, adding at each surface the lamps'
// direct light as it arrives back at the start. Lamps' own faces count
// nothing here: their light was sampled at the surface before.
func (t *tracer) path(o, d vec, dr draw, sum *light) {
	carried := evenSpectrum // reflected share at each band
	rnd := seeded(dr.seed, uint64(dr.i), 99)
	for depth := 0; ; depth++ {
		h, ok := t.tree.nearest(o, d, 0, 100, layerAll)
		if !ok || t.lampAt(h) >= 0 {
			return
		}
		s := t.spotAt(o, d, h)
		var body spectrum
		for _, k := range s.tints {
			if k.share != 0 {
				c := &t.palette[k.colour]
				for w := range body {
					body[w] += k.share * c[w]
				}
			}
		}
		if s.metal >= 0 { // a metal's reflection, spread evenly
			c := &t.palette[s.metal]
			for w := range body {
				body[w] += 0.85 * c[w]
			}
		}
		var top float32
		for w := range carried {
			carried[w] *= body[w]
			top = max(top, carried[w])
		}
		n := s.n
		if s.along != (vec{}) {
			n = s.ng
		}
		start := s.p.mad(offset, s.ng)
		for l := range t.lamps {
			ls, ok := t.lamps[l].face.sample(s.p, rnd.float(), rnd.float())
			if !ok {
				continue
			}
			nl := n.dot(ls.dir)
			if nl <= 0 || s.ng.dot(ls.dir) <= 0 {
				continue
			}
			e := ls.l * nl / (ls.pdf * math.Pi)
			if t.tree.blocked(start, ls.dir, 0, ls.dist*0.9995-offset, &dr.block[0][l]) {
				continue
			}
			from, to := t.lampPictures(l)
			for i := from; i < to; i++ {
				c := t.sense(i, &carried)
				for j := range 3 {
					sum[i][j] += e * c[j]
				}
			}
		}
		if depth+1 >= survive {
			if rnd.float() >= top {
				return
			}
			for w := range carried {
				carried[w] /= top
			}
		}
		u, v := rnd.float(), rnd.float()
		r, phi := sqrt32(u), 2*math.Pi*v
		x, y := basis(n)
		d = x.mul(r * cos32(phi)).add(y.mul(r * sin32(phi))).add(n.mul(sqrt32(max(0, 1-u))))
		if d.dot(s.ng) <= 0 {
			return
		}
		o = start
	}
}

// bounceGrid holds gathered light on a grid of a picture's pixels.
type bounceGrid struct {
	step, w, h int
	cells      []gathered
}

// newBounceGrid gathers with the given number of paths at every step-th pixel
// that the view sees of the layers and that wanted accepts.
func (t *tracer) newBounceGrid(ctx context.Context, v *view, layers uint8, step, paths int, seed uint64, wanted func(x, y int) bool) (*bounceGrid, error) {
	g := &bounceGrid{step: step, w: (v.w+step-1)/step + 1, h: (v.h+step-1)/step + 1}
	g.cells = make([]gathered, g.w*g.h)
	err := eachRow(ctx, g.h, func(y int) {
		block := newBlockers()
		for x := range g.w {
			px, py := x*step, y*step
			if !wanted(px, py) {
				continue
			}
			o, d := v.ray(float32(px)+0.5, float32(py)+0.5)
			h, ok := t.tree.nearest(o, d, 0, 100, layers)
			if !ok || t.lampAt(h) >= 0 {
				continue
			}
			s := t.spotAt(o, d, h)
			c := &g.cells[y*g.w+x]
			*c = gathered{p: s.p, n: s.n, depth: h.t, ok: true}
			if s.along != (vec{}) {
				c.n = s.ng
			}
			c.l = t.gather(s.p, c.n, s.ng, draw{mix64(seed ^ uint64(y*g.w+x)<<20), 0, block}, paths)
		}
	})
	if err != nil {
		return nil, err
	}
	pics := len(t.pictures)
	for pass := range 3 {
		if err := g.smooth(ctx, 1<<pass, pics); err != nil {
			return nil, err
		}
	}
	return g, nil
}

// likeness weighs how much a gathered place tells about another: same side,
// same plane, near by (in units of the grid's spacing there).
func (c *gathered) likeness(p, n vec, spacing float32) float32 {
	k := c.n.dot(n)
	if !c.ok || k <= 0.1 {
		return 0
	}
	d := p.sub(c.p)
	off := d.dot(n) / (0.35 * spacing)
	far := d.dot(d) / (16 * spacing * spacing)
	k *= k
	k *= k
	return k * float32(math.Exp(-float64(off*off+far)))
}

// smooth is one pass of an edge-aware à-trous filter (Dammertz et al.,
// "Edge-Avoiding À-Trous Wavelet Transform", HPG 2010) over the grid.
func (g *bounceGrid) smooth(ctx context.Context, hole, pics int) error {
	out := make([]gathered, len(g.cells))
	kernel := [3]float32{0.25, 0.5, 0.25}
	err := eachRow(ctx, g.h, func(y int) {
		for x := range g.w {
			c := &g.cells[y*g.w+x]
			o := &out[y*g.w+x]
			*o = *c
			if !c.ok {
				continue
			}
			spacing := c.depth * pixelAngle * float32(g.step*hole)
			var sum light
			var weight float32
			for j := -1; j <= 1; j++ {
				for i := -1; i <= 1; i++ {
					xx, yy := x+i*hole, y+j*hole
					if xx < 0 || yy < 0 || xx >= g.w || yy >= g.h {
						continue
					}
					b := &g.cells[yy*g.w+xx]
					k := kernel[i+1] * kernel[j+1] * b.likeness(c.p, c.n, spacing)
					if k > 0 {
						sum.add(k, &b.l, pics)
						weight += k
					}
				}
			}
			if weight > 0 {
				o.l = light{}
				o.l.add(1/weight, &sum, pics)
			}
		}
	})
	g.cells = out
	return err
}

// pixelAngle scales a pixel step to an angle for the filter's widths; its
// order of magnitude is all that matters there.
const pixelAngle = 0.0009

// at is the gathered light for a place seen at pixel (x, y); other is used
// where nothing near by tells.
func (g *bounceGrid) at(x, y float32, p, n vec, depth float32, other *light, pics int, out *light) {
	fx, fy := (x-0.5)/float32(g.step), (y-0.5)/float32(g.step)
	x0, y0 := int(floor32(fx)), int(floor32(fy))
	u, v := fx-float32(x0), fy-float32(y0)
	spacing := depth * pixelAngle * float32(g.step) * 2
	*out = light{}
	var weight float32
	for j := range 2 {
		for i := range 2 {
			xx, yy := x0+i, y0+j
			if xx < 0 || yy < 0 || xx >= g.w || yy >= g.h {
				continue
			}
			k := (1 - abs32(float32(i)-u)) * (1 - abs32(float32(j)-v))
			c := &g.cells[yy*g.w+xx]
			k = (k + 0.02) * c.likeness(p, n, spacing)
			if k > 0 {
				out.add(k, &c.l, pics)
				weight += k
			}
		}
	}
	if weight < 1e-3 {
		out.add(1e-3, other, pics)
		weight += 1e-3
	}
	k := 1 / weight
	for i := range pics {
		for c := range 3 {
			out[i][c] *= k
		}
	}
}
