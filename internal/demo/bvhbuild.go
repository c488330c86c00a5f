package demo

import (
	"math"
	"sort"
)

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

const leafMax = 4

type buildItem struct {
	lo, hi, mid vec
	idx         int32
}
