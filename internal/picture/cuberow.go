package picture

// row looks a row up and marks the pixels whose cell is to be evaluated
// exactly. dst and src are different rows.
func (c *cube) row(dst, src []pixels, m marks) {
	for i := range src {
		var any uint64
		if c.trilinear {
			any = c.trilinearBlock(&dst[i], &src[i])
		} else {
			any = c.tetrahedralBlock(&dst[i], &src[i])
		}
		if any&nodeFlag != 0 {
			m[i] |= c.marked(&src[i])
		}
	}
}

// marked is one bit for each pixel of a block that is to be evaluated exactly.
func (c *cube) marked(p *pixels) (m uint64) {
	for x := range block {
		if c.exact([3]uint16{p.r[x], p.g[x], p.b[x]}) {
			m |= 1 << x
		}
	}
	return m
}

// tetrahedralBlock looks one block up. It returns all low corners' nodes or-ed
// together, for their flags.
//
// The three fractions are sorted with their axes' strides in their low bits,
// by subtraction and sign, since a branch on them would be mispredicted at
// every second pixel. There are two passes because one has more numbers in
// flight than processors have registers.
func (c *cube) tetrahedralBlock(dst, src *pixels) (any uint64) {
	var cells, his, mids, los [block]uint32
	m := uint32(c.n - 1)
	for x := range block {
		pr, pg, pb := uint32(src.r[x])*m, uint32(src.g[x])*m, uint32(src.b[x])*m
		at := c.place[0][pr>>16&(maxCells-1)] + c.place[1][pg>>16&(maxCells-1)] + c.place[2][pb>>16&(maxCells-1)]
		cells[x] = c.dir[at&(maxBlocks-1)] + at>>16

		kr := pr&fracMask<<(strideBits-fracShift) | 1
		kg := pg&fracMask<<(strideBits-fracShift) | strideG
		kb := pb&fracMask<<(strideBits-fracShift) | strideB
		d := int32(kr - kg)
		s := d & (d >> 31)
		hi, lo := int32(kr)-s, int32(kg)+s
		d = hi - int32(kb)
		s = d & (d >> 31)
		hi, mid := hi-s, int32(kb)+s
		d = mid - lo
		s = d & (d >> 31)
		his[x], mids[x], los[x] = uint32(hi), uint32(mid-s), uint32(lo+s)
	}
	nodes := c.nodes
	for x := range block {
		hi, mid, lo := his[x], mids[x], los[x]
		cell := (*[nodeSlack]uint64)(nodes[cells[x]:])
		o1 := hi & (nodeSlack - 1)
		o2 := (o1 + mid) & (nodeSlack - 1)
		fh, fm, fl := uint64(hi>>strideBits), uint64(mid>>strideBits), uint64(lo>>strideBits)
		w0, w1, w2 := weightOne-fh, fh-fm, fm-fl
		n0, n1, n2, n3 := cell[0], cell[o1], cell[o2], cell[diagonal]
		any |= n0
		rb := n0&laneRB*w0 + n1&laneRB*w1 + n2&laneRB*w2 + n3&laneRB*fl
		g := n0>>16&lane16*w0 + n1>>16&lane16*w1 + n2>>16&lane16*w2 + n3>>16&lane16*fl
		dst.r[x], dst.g[x], dst.b[x] = uint16(rb>>sumShift), uint16(g>>sumShift), uint16(rb>>(32+sumShift))
	}
	return any
}

func (c *cube) trilinearBlock(dst, src *pixels) (any uint64) {
	for x := range block {
		u := [3]uint16{src.r[x], src.g[x], src.b[x]}
		any |= c.nodes[c.cell(u)]
		v := c.at(u)
		dst.r[x], dst.g[x], dst.b[x] = v[0], v[1], v[2]
	}
	return any
}
