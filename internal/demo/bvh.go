package demo

import (
	"math"
	"sort"
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

const leafMax = 4

type buildItem struct {
	lo, hi, mid vec
	idx         int32
}

// buildTree sorts triangles into a hierarchy by the surface area heuristic
// over 16 bins (Wald, "On fast Construction of SAH-based Bounding Volume
// Hierarchies", 2007).
func buildTree(tris []triangle) *tree {
	items := make([]buildItem, len(tris))
	for i, t := range tris {
		b, c := t.a.add(t.e1), t.a.add(t.e2)
		lo, hi := minVec(t.a, minVec(b, c)), maxVec(t.a, maxVec(b, c))
		items[i] = buildItem{lo, hi, lo.add(hi).mul(0.5), int32(i)}
	}
	tr := &tree{}
	if len(items) == 0 {
		return tr
	}
	root := tr.build(items, 0, 0)
	if root < 0 { // one leaf only: give it a node
		lo, hi := bounds(items)
		const far = 1e30
		tr.nodes = make([]node, 1)
		tr.nodes[0].set(0, lo, hi, root)
		tr.nodes[0].set(1, vec{far, far, far}, vec{far, far, far}, root)
	}
	tr.order = make([]int32, len(items))
	tr.tris = make([]triangle, len(items))
	for i, it := range items {
		tr.order[i] = it.idx
		tr.tris[i] = tris[it.idx]
	}
	return tr
}

func bounds(items []buildItem) (lo, hi vec) {
	lo, hi = items[0].lo, items[0].hi
	for _, it := range items[1:] {
		lo, hi = minVec(lo, it.lo), maxVec(hi, it.hi)
	}
	return lo, hi
}

func area(lo, hi vec) float32 {
	d := hi.sub(lo)
	return d.x*d.y + d.y*d.z + d.z*d.x
}

func axisOf(v vec, axis int) float32 {
	switch axis {
	case 0:
		return v.x
	case 1:
		return v.y
	}
	return v.z
}

// build sorts items in place (they start at place first of the whole) and
// returns a child reference.
func (tr *tree) build(items []buildItem, first, depth int) int32 {
	if len(items) <= 2 || depth > 60 && len(items) <= 7 {
		return ^int32(first<<3 | len(items))
	}
	split := splitPlace(items)
	if split < 0 && len(items) <= leafMax {
		return ^int32(first<<3 | len(items))
	}
	if split <= 0 || split >= len(items) {
		axis := widest(items)
		sort.Slice(items, func(i, j int) bool {
			a, b := axisOf(items[i].mid, axis), axisOf(items[j].mid, axis)
			return a < b || a == b && items[i].idx < items[j].idx
		})
		split = len(items) / 2
	}
	me := len(tr.nodes)
	tr.nodes = append(tr.nodes, node{})
	lo, hi := bounds(items[:split])
	child := tr.build(items[:split], first, depth+1)
	tr.nodes[me].set(0, lo, hi, child)
	lo, hi = bounds(items[split:])
	child = tr.build(items[split:], first+split, depth+1)
	tr.nodes[me].set(1, lo, hi, child)
	return int32(me)
}

func widest(items []buildItem) int {
	lo, hi := items[0].mid, items[0].mid
	for _, it := range items {
		lo, hi = minVec(lo, it.mid), maxVec(hi, it.mid)
	}
	d := hi.sub(lo)
	switch {
	case d.x >= d.y && d.x >= d.z:
		return 0
	case d.y >= d.z:
		return 1
	}
	return 2
}

// splitPlace partitions the items where the heuristic is least and returns
// how many are on the left; −1 when a leaf is no worse.
func splitPlace(items []buildItem) int {
	const bins = 16
	clo, chi := items[0].mid, items[0].mid
	for _, it := range items {
		clo, chi = minVec(clo, it.mid), maxVec(chi, it.mid)
	}
	bestCost, bestAxis, bestBin := float32(math.Inf(1)), -1, 0
	for axis := range 3 {
		lo, hi := axisOf(clo, axis), axisOf(chi, axis)
		if hi-lo < 1e-9 {
			continue
		}
		k := bins * 0.9999 / (hi - lo)
		var count [bins]int
		var blo, bhi [bins]vec
		for _, it := range items {
			b := int((axisOf(it.mid, axis) - lo) * k)
			if count[b] == 0 {
				blo[b], bhi[b] = it.lo, it.hi
			} else {
				blo[b], bhi[b] = minVec(blo[b], it.lo), maxVec(bhi[b], it.hi)
			}
			count[b]++
		}
		var rightCost [bins]float32
		var rlo, rhi vec
		n := 0
		for b := bins - 1; b > 0; b-- {
			if count[b] > 0 {
				if n == 0 {
					rlo, rhi = blo[b], bhi[b]
				} else {
					rlo, rhi = minVec(rlo, blo[b]), maxVec(rhi, bhi[b])
				}
				n += count[b]
			}
			if n > 0 {
				rightCost[b] = area(rlo, rhi) * float32(n)
			}
		}
		n = 0
		var llo, lhi vec
		for b := 0; b < bins-1; b++ {
			if count[b] > 0 {
				if n == 0 {
					llo, lhi = blo[b], bhi[b]
				} else {
					llo, lhi = minVec(llo, blo[b]), maxVec(lhi, bhi[b])
				}
				n += count[b]
			}
			if n == 0 || n == len(items) {
				continue
			}
			if c := area(llo, lhi)*float32(n) + rightCost[b+1]; c < bestCost {
				bestCost, bestAxis, bestBin = c, axis, b
			}
		}
	}
	lo, hi := bounds(items)
	if bestAxis < 0 || len(items) <= leafMax && bestCost >= area(lo, hi)*float32(len(items)-1) {
		return -1
	}
	alo, ahi := axisOf(clo, bestAxis), axisOf(chi, bestAxis)
	k := bins * 0.9999 / (ahi - alo)
	i, j := 0, len(items)-1
	for i <= j {
		if int((axisOf(items[i].mid, bestAxis)-alo)*k) <= bestBin {
			i++
		} else {
			items[i], items[j] = items[j], items[i]
			j--
		}
	}
	return i
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
