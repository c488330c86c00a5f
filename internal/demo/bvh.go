package demo

import (
	"math"
)

// hit is where a ray meets the scene.
type hit struct {
	t    float32
	u, v float32
	tri  int32 // index into scene.tris
}

// layer bits: what a triangle belongs to. Camera rays may leave layers out,
// so that what lies behind the figure is known too; light never does.
const (
	layerBack   uint8 = 1 << iota // the room
	layerFigure                   // the mechanic, who moves
	layerFront                    // what stands before him
	layerLamp                     // lamp housings out of the picture: seen in reflections, not by the camera
	layerLids                     // the mechanic's closed lids: seen only by the pass that asks for them
	layerAll    = 0xff &^ layerLids
)

// triangle is kept in the form the intersection wants.
type triangle struct {
	a, e1, e2 vec
	layer     uint8
	open      bool // lets shadow rays through (lamp faces: their light is sampled, not blocked)
}

// node holds the boxes of both children, so that one fetch (a cache line)
// decides on two: for each child lo x y z, hi x y z, then the child's
// reference as bits. A reference ≥ 0 is a node; below 0 it's a leaf:
// ^reference = first<<3 | count.
type node [2][8]float32

func (n *node) set(i int, lo, hi vec, child int32) {
	n[i] = [8]float32{lo.x, lo.y, lo.z, hi.x, hi.y, hi.z, math.Float32frombits(uint32(child))}
}

func (n *node) child(i int) int32 { return int32(math.Float32bits(n[i][6])) }

// tree is a bounding volume hierarchy over triangles.
type tree struct {
	nodes []node
	tris  []triangle
	order []int32 // tris[i] was item order[i] when the tree was built
}

// walker is a ray made ready for boxes. Distances are compared as the bits of
// their float32, as signed integers: the order is the same from 0 up, anything
// below 0 comes out below 0, and integers are compared without branches.
type walker struct {
	ox, oy, oz float32
	ix, iy, iz float32 // reciprocal direction
	sx, sy, sz uint32  // places of the near planes in a box
}

func newWalker(o, d vec) (w walker) {
	r := func(x float32) float32 { // zeros are pushed off so that no NaN arises
		if abs32(x) < 1e-12 {
			return 1e12
		}
		return 1 / x
	}
	w = walker{o.x, o.y, o.z, r(d.x), r(d.y), r(d.z), 0, 1, 2}
	if w.ix < 0 {
		w.sx = 3
	}
	if w.iy < 0 {
		w.sy = 4
	}
	if w.iz < 0 {
		w.sz = 5
	}
	return w
}

// box is where the ray enters and leaves a box, as bits; it misses when it
// would leave before it enters.
func (w *walker) box(b *[8]float32, far int32) (enter, leave int32) {
	x0 := int32(math.Float32bits((b[w.sx&7] - w.ox) * w.ix))
	y0 := int32(math.Float32bits((b[w.sy&7] - w.oy) * w.iy))
	z0 := int32(math.Float32bits((b[w.sz&7] - w.oz) * w.iz))
	x1 := int32(math.Float32bits((b[(3-w.sx)&7] - w.ox) * w.ix))
	y1 := int32(math.Float32bits((b[(5-w.sy)&7] - w.oy) * w.iy))
	z1 := int32(math.Float32bits((b[(7-w.sz)&7] - w.oz) * w.iz))
	return max(x0, y0, z0, 0), min(x1, y1, z1, far)
}

// nearest finds the first triangle of the given layers along the ray.
func (tr *tree) nearest(o, d vec, near, far float32, layers uint8) (h hit, ok bool) {
	h.t = far
	h.tri = -1
	if len(tr.nodes) == 0 {
		return h, false
	}
	w := newWalker(o, d)
	var stack, entry [64]int32
	sp := 0
	cur := int32(0)
	farBits := int32(math.Float32bits(far))
	for {
		if cur >= 0 {
			n := &tr.nodes[cur]
			e0, l0 := w.box(&n[0], farBits)
			e1, l1 := w.box(&n[1], farBits)
			c0, c1 := n.child(0), n.child(1)
			switch {
			case e0 <= l0 && e1 <= l1:
				if e1 < e0 {
					c0, c1, e1 = c1, c0, e0
				}
				stack[sp&63], entry[sp&63] = c1, e1
				sp++
				cur = c0
				continue
			case e0 <= l0:
				cur = c0
				continue
			case e1 <= l1:
				cur = c1
				continue
			}
		} else {
			leaf := ^cur
			first, count := leaf>>3, leaf&7
			for i := first; i < first+count; i++ {
				q := &tr.tris[i]
				if q.layer&layers == 0 {
					continue
				}
				if t, u, v, in := q.intersect(o, d); in && t > near && t < h.t {
					h = hit{t, u, v, i}
					farBits = int32(math.Float32bits(t))
				}
			}
		}
		for {
			if sp == 0 {
				return h, h.tri >= 0
			}
			sp--
			if entry[sp&63] < farBits {
				cur = stack[sp&63]
				break
			}
		}
	}
}

// blocked says whether anything but open triangles lies on the ray between
// near and far. last is a guess at what blocks (a triangle that did so for a
// neighbour); it's replaced by what does.
func (tr *tree) blocked(o, d vec, near, far float32, last *int32) bool {
	if len(tr.nodes) == 0 {
		return false
	}
	if g := *last; g >= 0 {
		if t, _, _, in := tr.tris[g].intersect(o, d); in && t > near && t < far {
			return true
		}
	}
	w := newWalker(o, d)
	var stack [64]int32
	sp := 0
	cur := int32(0)
	farBits := int32(math.Float32bits(far))
	for {
		if cur >= 0 {
			n := &tr.nodes[cur]
			e0, l0 := w.box(&n[0], farBits)
			e1, l1 := w.box(&n[1], farBits)
			switch {
			case e0 <= l0 && e1 <= l1:
				stack[sp&63] = n.child(1)
				sp++
				cur = n.child(0)
				continue
			case e0 <= l0:
				cur = n.child(0)
				continue
			case e1 <= l1:
				cur = n.child(1)
				continue
			}
		} else {
			leaf := ^cur
			first, count := leaf>>3, leaf&7
			for i := first; i < first+count; i++ {
				q := &tr.tris[i]
				if q.open {
					continue
				}
				if t, _, _, in := q.intersect(o, d); in && t > near && t < far {
					*last = i
					return true
				}
			}
		}
		if sp == 0 {
			return false
		}
		sp--
		cur = stack[sp&63]
	}
}

// intersect is the test of Möller & Trumbore, "Fast, Minimum Storage
// Ray/Triangle Intersection", JGT 2(1), 1997; both sides count.
func (q *triangle) intersect(o, d vec) (t, u, v float32, ok bool) {
	p := d.cross(q.e2)
	det := q.e1.dot(p)
	if det > -1e-14 && det < 1e-14 {
		return 0, 0, 0, false
	}
	inv := 1 / det
	s := o.sub(q.a)
	u = s.dot(p) * inv
	if u < 0 || u > 1 {
		return 0, 0, 0, false
	}
	w := s.cross(q.e1)
	v = d.dot(w) * inv
	if v < 0 || u+v > 1 {
		return 0, 0, 0, false
	}
	return q.e2.dot(w) * inv, u, v, true
}
