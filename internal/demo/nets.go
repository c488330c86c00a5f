package demo

import (
	"context"
	"math"
)

// field is a signed distance (metres, below 0 inside); it may be a little off
// away from the surface, as smooth unions make it.
type field func(p vec) float32

// nets turns the zero level of a field inside lo..hi into triangles of about
// the given size: naive surface nets (Gibson, "Constrained Elastic Surface
// Nets", MICCAI 1998), normals from the field's gradient.
func (b *builder) nets(f field, lo, hi vec, size float32) {
	d := hi.sub(lo)
	nx, ny, nz := int(d.x/size)+2, int(d.y/size)+2, int(d.z/size)+2
	g := &netGrid{f: f, lo: lo, size: size, nx: nx, ny: ny, nz: nz, v: make([]float32, nx*ny*nz)}
	g.fill()
	g.connect(b)
}

type netGrid struct {
	f          field
	lo         vec
	size       float32
	nx, ny, nz int
	v          []float32 // field at the corners
}

func (g *netGrid) at(x, y, z int) vec {
	return vec{g.lo.x + float32(x)*g.size, g.lo.y + float32(y)*g.size, g.lo.z + float32(z)*g.size}
}

// netBlock is how many corners are left out together when the field says that
// the surface is far.
const netBlock = 8

func (g *netGrid) fill() {
	blocks := func(n int) int { return (n + netBlock - 1) / netBlock }
	bx, by, bz := blocks(g.nx), blocks(g.ny), blocks(g.nz)
	half := float32(netBlock) / 2
	reach := half*g.size*sqrt32(3)*1.6 + g.size
	_ = eachRow(context.Background(), bz*by, func(i int) {
		z0, y0 := i/by*netBlock, i%by*netBlock
		for k := range bx {
			x0 := k * netBlock
			c := g.at(x0, y0, z0).add(vec{half * g.size, half * g.size, half * g.size})
			far := g.f(c)
			skip := abs32(far) > reach
			for z := z0; z < min(z0+netBlock, g.nz); z++ {
				for y := y0; y < min(y0+netBlock, g.ny); y++ {
					at := (z*g.ny + y) * g.nx
					for x := x0; x < min(x0+netBlock, g.nx); x++ {
						if skip {
							g.v[at+x] = far
						} else {
							g.v[at+x] = g.f(g.at(x, y, z))
						}
					}
				}
			}
		}
	})
}

// connect puts a vertex into every cell the surface crosses and joins them.
func (g *netGrid) connect(b *builder) {
	nx, ny := g.nx, g.ny
	cell := make([]int32, len(g.v))
	var points []vec
	corner := [8][3]int{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {1, 1, 0}, {0, 0, 1}, {1, 0, 1}, {0, 1, 1}, {1, 1, 1}}
	edges := [12][2]int{{0, 1}, {2, 3}, {4, 5}, {6, 7}, {0, 2}, {1, 3}, {4, 6}, {5, 7}, {0, 4}, {1, 5}, {2, 6}, {3, 7}}
	for z := 0; z+1 < g.nz; z++ {
		for y := 0; y+1 < ny; y++ {
			for x := 0; x+1 < nx; x++ {
				at := (z*ny+y)*nx + x
				var v [8]float32
				in := 0
				for k, c := range corner {
					v[k] = g.v[at+(c[2]*ny+c[1])*nx+c[0]]
					if v[k] < 0 {
						in++
					}
				}
				cell[at] = -1
				if in == 0 || in == 8 {
					continue
				}
				var sum vec
				n := float32(0)
				for _, e := range edges {
					a, c := v[e[0]], v[e[1]]
					if (a < 0) == (c < 0) {
						continue
					}
					t := a / (a - c)
					p, q := corner[e[0]], corner[e[1]]
					sum = sum.add(vec{
						float32(p[0]) + t*float32(q[0]-p[0]),
						float32(p[1]) + t*float32(q[1]-p[1]),
						float32(p[2]) + t*float32(q[2]-p[2]),
					})
					n++
				}
				cell[at] = int32(len(points))
				points = append(points, g.at(x, y, z).mad(g.size/n, sum))
			}
		}
	}
	normals := make([]vec, len(points))
	const chunk = 512
	_ = eachRow(context.Background(), (len(points)+chunk-1)/chunk, func(i int) {
		for k := i * chunk; k < min((i+1)*chunk, len(points)); k++ {
			normals[k] = g.slope(points[k])
		}
	})
	quad := func(in bool, i, j, k, l int32) {
		if i < 0 || j < 0 || k < 0 || l < 0 {
			return
		}
		if !in {
			j, l = l, j
		}
		b.tri(points[i], points[j], points[k], normals[i], normals[j], normals[k])
		b.tri(points[i], points[k], points[l], normals[i], normals[k], normals[l])
	}
	sy, sz := nx, nx*ny
	for z := 1; z+1 < g.nz; z++ {
		for y := 1; y+1 < ny; y++ {
			for x := 1; x+1 < nx; x++ {
				at := z*sz + y*sy + x
				in := g.v[at] < 0
				if in != (g.v[at+1] < 0) {
					quad(in, cell[at-sy-sz], cell[at-sz], cell[at], cell[at-sy])
				}
				if in != (g.v[at+sy] < 0) {
					quad(in, cell[at-1-sz], cell[at-1], cell[at], cell[at-sz])
				}
				if in != (g.v[at+sz] < 0) {
					quad(in, cell[at-1-sy], cell[at-sy], cell[at], cell[at-1])
				}
			}
		}
	}
}

// slope is the field's gradient, of unit length (four points of a tetrahedron).
func (g *netGrid) slope(p vec) vec {
	h := 0.5 * g.size
	a := g.f(vec{p.x + h, p.y - h, p.z - h})
	b := g.f(vec{p.x - h, p.y - h, p.z + h})
	c := g.f(vec{p.x - h, p.y + h, p.z - h})
	d := g.f(vec{p.x + h, p.y + h, p.z + h})
	return vec{a - b - c + d, -a - b + c + d, -a + b - c + d}.unit()
}

// Fields of simple bodies.

func ball(p, c vec, r float32) float32 { return p.sub(c).length() - r }

// egg is an ellipsoid (first-order distance).
func egg(p, c, r vec) float32 {
	q := p.sub(c)
	k0 := vec{q.x / r.x, q.y / r.y, q.z / r.z}.length()
	k1 := vec{q.x / (r.x * r.x), q.y / (r.y * r.y), q.z / (r.z * r.z)}.length()
	if k1 == 0 {
		return -min(r.x, min(r.y, r.z))
	}
	return k0 * (k0 - 1) / k1
}

// limb is a bar between a and b whose radius goes from ra to rb.
func limb(p, a, b vec, ra, rb float32) float32 {
	ab := b.sub(a)
	t := clamp32(p.sub(a).dot(ab)/ab.dot(ab), 0, 1)
	return p.sub(a.mad(t, ab)).length() - (ra + t*(rb-ra))
}

// arc is a bar bent through three points (quadratic curve in eight pieces).
func arc(p, a, b, c vec, ra, rb float32) float32 {
	d := float32(math.MaxFloat32)
	prev := a
	const n = 6
	for i := 1; i <= n; i++ {
		t := float32(i) / n
		q := a.mul((1 - t) * (1 - t)).add(b.mul(2 * t * (1 - t))).add(c.mul(t * t))
		t0 := float32(i-1) / n
		d = min(d, limb(p, prev, q, ra+t0*(rb-ra), ra+t*(rb-ra)))
		prev = q
	}
	return d
}

// slab is a box with rounded edges about c.
func slab(p, c, half vec, r float32) float32 {
	q := p.sub(c)
	x, y, z := abs32(q.x)-half.x+r, abs32(q.y)-half.y+r, abs32(q.z)-half.z+r
	out := vec{max(x, 0), max(y, 0), max(z, 0)}.length()
	return out + min(max(x, max(y, z)), 0) - r
}

// join is the union with a fillet of about k.
func join(a, b, k float32) float32 {
	h := max(k-abs32(a-b), 0) / k
	return min(a, b) - h*h*h*k*(1.0/6)
}

// carve takes b out of a, with rounded edges of about k.
func carve(a, b, k float32) float32 { return -join(-a, b, k) }
