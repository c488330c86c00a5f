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
	layerAll    = 0xff
)

// triangle is kept in the form the intersection wants.
type triangle struct {
	a, e1, e2 vec
	layer     uint8
	open      bool // lets shadow rays through (lamp faces: their light is sampled, not blocked)
}

// node holds the boxes of both children, so that one fetch decides on two.
// A child ≥ 0 is a node; below 0 it's a leaf: ^child = first<<3 | count.
type node struct {
	lo0, hi0, lo1, hi1 vec
	child              [2]int32
}

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
		far := vec{float32(math.Inf(1)), 0, 0}
		tr.nodes = []node{{lo0: lo, hi0: hi, lo1: far, hi1: far.neg(), child: [2]int32{root, ^0}}}
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
	var n node
	n.lo0, n.hi0 = bounds(items[:split])
	n.lo1, n.hi1 = bounds(items[split:])
	n.child[0] = tr.build(items[:split], first, depth+1)
	n.child[1] = tr.build(items[split:], first+split, depth+1)
	tr.nodes[me] = n
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

// boxEntry is the distance at which a ray enters the box, or a huge one when
// it misses (slab test; the reciprocal direction may be infinite).
func boxEntry(lo, hi, o, inv vec, far float32) float32 {
	x0, x1 := (lo.x-o.x)*inv.x, (hi.x-o.x)*inv.x
	y0, y1 := (lo.y-o.y)*inv.y, (hi.y-o.y)*inv.y
	z0, z1 := (lo.z-o.z)*inv.z, (hi.z-o.z)*inv.z
	if x0 > x1 {
		x0, x1 = x1, x0
	}
	if y0 > y1 {
		y0, y1 = y1, y0
	}
	if z0 > z1 {
		z0, z1 = z1, z0
	}
	if y0 > x0 {
		x0 = y0
	}
	if z0 > x0 {
		x0 = z0
	}
	if y1 < x1 {
		x1 = y1
	}
	if z1 < x1 {
		x1 = z1
	}
	if x0 < 0 {
		x0 = 0
	}
	if x0 > x1 || x0 >= far {
		return miss
	}
	return x0
}

const miss = math.MaxFloat32

// reciprocal of a direction, with zeros pushed off so that no NaN arises.
func reciprocal(d vec) vec {
	r := func(x float32) float32 {
		if abs32(x) < 1e-12 {
			return 1e12
		}
		return 1 / x
	}
	return vec{r(d.x), r(d.y), r(d.z)}
}

// nearest finds the first triangle of the given layers along the ray.
func (tr *tree) nearest(o, d vec, near, far float32, layers uint8) (h hit, ok bool) {
	h.t = far
	h.tri = -1
	if len(tr.nodes) == 0 {
		return h, false
	}
	inv := reciprocal(d)
	var stack [64]int32
	var entry [64]float32
	sp := 0
	cur := int32(0)
	for {
		if cur >= 0 {
			n := &tr.nodes[cur]
			t0 := boxEntry(n.lo0, n.hi0, o, inv, h.t)
			t1 := boxEntry(n.lo1, n.hi1, o, inv, h.t)
			c0, c1 := n.child[0], n.child[1]
			if t1 < t0 {
				t0, t1, c0, c1 = t1, t0, c1, c0
			}
			if t0 < miss {
				if t1 < miss {
					stack[sp], entry[sp] = c1, t1
					sp++
				}
				cur = c0
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
				}
			}
		}
		for {
			if sp == 0 {
				return h, h.tri >= 0
			}
			sp--
			if entry[sp] < h.t {
				cur = stack[sp]
				break
			}
		}
	}
}

// blocked says whether anything but open triangles lies on the ray between near and far.
func (tr *tree) blocked(o, d vec, near, far float32) bool {
	if len(tr.nodes) == 0 {
		return false
	}
	inv := reciprocal(d)
	var stack [64]int32
	sp := 0
	cur := int32(0)
	for {
		if cur >= 0 {
			n := &tr.nodes[cur]
			t0 := boxEntry(n.lo0, n.hi0, o, inv, far)
			t1 := boxEntry(n.lo1, n.hi1, o, inv, far)
			c0, c1 := n.child[0], n.child[1]
			if t1 < t0 {
				t0, t1, c0, c1 = t1, t0, c1, c0
			}
			if t0 < miss {
				if t1 < miss {
					stack[sp] = c1
					sp++
				}
				cur = c0
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
					return true
				}
			}
		}
		if sp == 0 {
			return false
		}
		sp--
		cur = stack[sp]
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
