package demo

import "math"

// facet is what shading needs of a triangle.
type facet struct {
	n0, n1, n2 vec
	tangent    vec // along a hair; zero elsewhere
	material   uint16
	part       uint16
}

// part is one thing of the scene: where it stands, for textures that go with
// it, and a number that makes two alike things differ.
type part struct {
	frame frame
	seed  uint32
}

// builder collects triangles.
type builder struct {
	tris   []triangle
	facets []facet
	parts  []part

	// What the next triangles get.
	layer    uint8
	material uint16
	open     bool
	cur      uint16
	f        frame
}

func newBuilder() *builder {
	b := &builder{layer: layerBack}
	b.begin(world, 0)
	return b
}

// begin starts a part that stands in f.
func (b *builder) begin(f frame, material int) *builder {
	b.parts = append(b.parts, part{f, uint32(mix64(uint64(len(b.parts)) + 77))})
	b.cur = uint16(len(b.parts) - 1)
	b.f = f
	b.material = uint16(material)
	return b
}

// in moves the pen without starting a part.
func (b *builder) in(f frame) *builder { b.f = f; return b }

// tri adds one triangle given in the current frame.
func (b *builder) tri(p0, p1, p2, n0, n1, n2 vec) {
	a, c, d := b.f.point(p0), b.f.point(p1), b.f.point(p2)
	b.tris = append(b.tris, triangle{a: a, e1: c.sub(a), e2: d.sub(a), layer: b.layer, open: b.open})
	b.facets = append(b.facets, facet{
		n0: b.f.dir(n0).unit(), n1: b.f.dir(n1).unit(), n2: b.f.dir(n2).unit(),
		material: b.material, part: b.cur,
	})
}

func (b *builder) flat(p0, p1, p2 vec) {
	n := p1.sub(p0).cross(p2.sub(p0)).unit()
	b.tri(p0, p1, p2, n, n, n)
}

func (b *builder) quad(p0, p1, p2, p3 vec) {
	b.flat(p0, p1, p2)
	b.flat(p0, p2, p3)
}

// box adds a box of the given full sizes about c, its edges broken by a small
// bevel so that they catch light as real edges do.
func (b *builder) box(c vec, sx, sy, sz, bevel float64) {
	h := v3(sx/2, sy/2, sz/2)
	r := float32(math.Min(bevel, 0.49*math.Min(sx, math.Min(sy, sz))))
	if r <= 0 {
		r = 1e-5
	}
	// Three quads' worth of corners: each corner of the box has one point per face.
	pt := func(s vec, axis int) vec {
		q := vec{h.x - r, h.y - r, h.z - r}
		switch axis {
		case 0:
			q.x = h.x
		case 1:
			q.y = h.y
		default:
			q.z = h.z
		}
		return c.add(q.scale(s))
	}
	signs := []float32{-1, 1}
	for axis := range 3 {
		u, v := (axis+1)%3, (axis+2)%3
		mk := func(s, a, d float32, face int) vec {
			var k [3]float32
			k[axis], k[u], k[v] = s, a, d
			return pt(vec{k[0], k[1], k[2]}, face)
		}
		for _, s := range signs {
			p0, p1, p2, p3 := mk(s, -1, -1, axis), mk(s, 1, -1, axis), mk(s, 1, 1, axis), mk(s, -1, 1, axis)
			if s < 0 {
				p1, p3 = p3, p1
			}
			b.quad(p0, p1, p2, p3)
		}
		// bevel strips along this axis between faces u and v
		for _, a := range signs {
			for _, d := range signs {
				q0, q1 := mk(-1, a, d, u), mk(1, a, d, u)
				q2, q3 := mk(1, a, d, v), mk(-1, a, d, v)
				var nk [3]float32
				nk[u], nk[v] = a, d
				n := vec{nk[0], nk[1], nk[2]}
				b.facing(n, q0, q1, q2)
				b.facing(n, q0, q2, q3)
			}
		}
	}
	for _, x := range signs {
		for _, y := range signs {
			for _, z := range signs {
				s := vec{x, y, z}
				b.facing(s, pt(s, 0), pt(s, 1), pt(s, 2))
			}
		}
	}
}

// facing adds a triangle turned so that it looks along n.
func (b *builder) facing(n, p0, p1, p2 vec) {
	if p1.sub(p0).cross(p2.sub(p0)).dot(n) < 0 {
		p1, p2 = p2, p1
	}
	b.flat(p0, p1, p2)
}

// sweep puts a round or oval section along a path of points; radius gives the
// section at each. Ends are closed when capped.
func (b *builder) sweep(path []vec, radius func(i int) float32, sides int, capped bool) {
	n := len(path)
	if n < 2 {
		return
	}
	dirAt := func(i int) vec {
		switch i {
		case 0:
			return path[1].sub(path[0]).unit()
		case n - 1:
			return path[n-1].sub(path[n-2]).unit()
		}
		return path[i+1].sub(path[i-1]).unit()
	}
	d0 := dirAt(0)
	x, _ := basis(d0)
	ring := func(i int, x vec) ([]vec, []vec) {
		d := dirAt(i)
		x = x.sub(d.mul(x.dot(d))).unit()
		y := d.cross(x)
		ps, ns := make([]vec, sides), make([]vec, sides)
		for k := range sides {
			s, c := math.Sincos(2 * math.Pi * float64(k) / float64(sides))
			nn := x.mul(float32(c)).add(y.mul(float32(s)))
			ns[k] = nn
			ps[k] = path[i].mad(radius(i), nn)
		}
		return ps, ns
	}
	p0, n0 := ring(0, x)
	if capped {
		for k := range sides {
			b.facing(d0.neg(), path[0], p0[k], p0[(k+1)%sides])
		}
	}
	for i := 1; i < n; i++ {
		d := dirAt(i)
		x = x.sub(d.mul(x.dot(d))).unit()
		p1, n1 := ring(i, x)
		for k := range sides {
			l := (k + 1) % sides
			b.tri(p0[k], p0[l], p1[l], n0[k], n0[l], n1[l])
			b.tri(p0[k], p1[l], p1[k], n0[k], n1[l], n1[k])
		}
		p0, n0 = p1, n1
	}
	if capped {
		d := dirAt(n - 1)
		for k := range sides {
			b.facing(d, path[n-1], p0[k], p0[(k+1)%sides])
		}
	}
}

// rod is a straight round bar. A long thin one is cut into pieces, whose boxes
// lie closer round it when it stands askew.
func (b *builder) rod(p, q vec, r float64, sides int) {
	n := max(1, min(10, int(q.sub(p).length()/float32(12*r))))
	path := make([]vec, n+1)
	for i := range path {
		path[i] = p.lerp(q, float32(i)/float32(n))
	}
	b.sweep(path, func(int) float32 { return float32(r) }, sides, true)
}

// cone is a straight bar whose radius changes from r0 to r1.
func (b *builder) cone(p, q vec, r0, r1 float64, sides int) {
	b.sweep([]vec{p, q}, func(i int) float32 {
		if i == 0 {
			return float32(r0)
		}
		return float32(r1)
	}, sides, true)
}

// pipe is a bent round bar through the points, rounded by subdivision.
func (b *builder) pipe(points []vec, r float64, sides, steps int) {
	b.sweep(rounded(points, steps), func(int) float32 { return float32(r) }, sides, true)
}

// rounded is a Catmull–Rom curve through the points.
func rounded(p []vec, steps int) []vec {
	get := func(i int) vec {
		return p[max(0, min(len(p)-1, i))]
	}
	var out []vec
	for i := 0; i+1 < len(p); i++ {
		a, q, c, d := get(i-1), get(i), get(i+1), get(i+2)
		for s := range steps {
			t := float32(s) / float32(steps)
			t2, t3 := t*t, t*t*t
			w := a.mul(-0.5*t + t2 - 0.5*t3).add(q.mul(1 - 2.5*t2 + 1.5*t3)).add(c.mul(0.5*t + 2*t2 - 1.5*t3)).add(d.mul(-0.5*t2 + 0.5*t3))
			out = append(out, w)
		}
	}
	return append(out, p[len(p)-1])
}

// lathe turns a profile (x = radius, y = height) about the frame's y axis.
// The normals follow the profile, with a crease where it bends by more than 40°.
func (b *builder) lathe(profile [][2]float64, sides int) {
	for i := 0; i+1 < len(profile); i++ {
		b.latheBand(profile, i, sides)
	}
}

func (b *builder) latheBand(profile [][2]float64, i, sides int) {
	slope := func(j int) (float64, float64, bool) {
		if j < 0 || j+1 >= len(profile) {
			return 0, 0, false
		}
		dx, dy := profile[j+1][0]-profile[j][0], profile[j+1][1]-profile[j][1]
		l := math.Hypot(dx, dy)
		if l == 0 {
			return 0, 0, false
		}
		return dy / l, -dx / l, true
	}
	nx, ny, ok := slope(i)
	if !ok {
		return
	}
	blend := func(j int) (float64, float64) {
		mx, my, ok := slope(j)
		if !ok || mx*nx+my*ny < 0.77 {
			return nx, ny
		}
		l := math.Hypot(mx+nx, my+ny)
		return (mx + nx) / l, (my + ny) / l
	}
	ax, ay := blend(i - 1)
	cx, cy := blend(i + 1)
	for k := range sides {
		s0, c0 := math.Sincos(2 * math.Pi * float64(k) / float64(sides))
		s1, c1 := math.Sincos(2 * math.Pi * float64(k+1) / float64(sides))
		p := func(j int, s, c float64) vec { return v3(profile[j][0]*c, profile[j][1], profile[j][0]*s) }
		n := func(x, y, s, c float64) vec { return v3(x*c, y, x*s) }
		p00, p01, p10, p11 := p(i, s0, c0), p(i, s1, c1), p(i+1, s0, c0), p(i+1, s1, c1)
		n00, n01, n10, n11 := n(ax, ay, s0, c0), n(ax, ay, s1, c1), n(cx, cy, s0, c0), n(cx, cy, s1, c1)
		if profile[i+1][0] > 0 {
			b.tri(p00, p10, p11, n00, n10, n11)
		}
		if profile[i][0] > 0 {
			b.tri(p00, p11, p01, n00, n11, n01)
		}
	}
}

// torus lies in the frame's xz plane, or part of it between two angles in turns.
func (b *builder) torus(c vec, major, minor float64, n, sides int, from, to float64) {
	path := make([]vec, n+1)
	for i := range path {
		s, k := math.Sincos(2 * math.Pi * (from + (to-from)*float64(i)/float64(n)))
		path[i] = c.add(v3(major*k, 0, major*s))
	}
	b.sweep(path, func(int) float32 { return float32(minor) }, sides, to-from < 0.999)
}

// ball is a sphere of the given radii.
func (b *builder) ball(c, r vec, n int) {
	p := func(i, j int) (vec, vec) {
		s, k := math.Sincos(math.Pi * float64(i) / float64(n))
		t, u := math.Sincos(2 * math.Pi * float64(j) / float64(2*n))
		d := v3(s*u, k, s*t)
		return c.add(d.scale(r)), vec{d.x / r.x, d.y / r.y, d.z / r.z}
	}
	for i := range n {
		for j := range 2 * n {
			p00, n00 := p(i, j)
			p01, n01 := p(i, j+1)
			p10, n10 := p(i+1, j)
			p11, n11 := p(i+1, j+1)
			if i+1 < n {
				b.tri(p00, p11, p10, n00, n11, n10)
			}
			if i > 0 {
				b.tri(p00, p01, p11, n00, n01, n11)
			}
		}
	}
}
