package picture

// row looks n colours up and marks those whose cell is to be evaluated
// exactly. dst and src are different rows, padded to whole blocks.
func (c *cube) row(dst, src *planes, n int, m marks) {
	for x := 0; x < n; x += block {
		var any uint64
		if c.trilinear {
			any = c.trilinearBlock(dst, src, x)
		} else {
			any = c.tetrahedralBlock(dst, src, x)
		}
		if any&nodeFlag != 0 {
			c.mark(src, x, min(x+block, n), m)
		}
	}
}

func (c *cube) mark(src *planes, from, to int, m marks) {
	for x := from; x < to; x++ {
		if c.exact([3]uint16{src.r[x], src.g[x], src.b[x]}) {
			m.set(x)
		}
	}
}

// tetrahedralBlock looks one block up from column x0. It returns all low
// corners' nodes or-ed together, for their flags.
//
// The three fractions are sorted with their axes' strides in their low bits,
// by subtraction and sign, since a branch on them would be mispredicted at
// every second pixel.
func (c *cube) tetrahedralBlock(dst, src *planes, x0 int) (any uint64) {
	sr, sg, sb := (*[block]uint16)(src.r[x0:]), (*[block]uint16)(src.g[x0:]), (*[block]uint16)(src.b[x0:])
	dr, dg, db := (*[block]uint16)(dst.r[x0:]), (*[block]uint16)(dst.g[x0:]), (*[block]uint16)(dst.b[x0:])
	m := uint32(c.n - 1)
	nodes := c.nodes
	for x := range block {
		pr, pg, pb := uint32(sr[x])*m, uint32(sg[x])*m, uint32(sb[x])*m
		at := c.place[0][pr>>16&(maxCells-1)] + c.place[1][pg>>16&(maxCells-1)] + c.place[2][pb>>16&(maxCells-1)]
		cell := (*[nodeSlack]uint64)(nodes[c.dir[at&(maxBlocks-1)]+at>>16:])

		kr := pr&fracMask<<(strideBits-fracShift) | 1
		kg := pg&fracMask<<(strideBits-fracShift) | strideG
		kb := pb&fracMask<<(strideBits-fracShift) | strideB
		d := int32(kr - kg)
		s := d & (d >> 31)
		hi, lo := int32(kr)-s, int32(kg)+s
		d = hi - int32(kb)
		s = d & (d >> 31)
		hi, kmid := hi-s, int32(kb)+s
		d = kmid - lo
		s = d & (d >> 31)
		mid, lo := kmid-s, lo+s

		o1 := hi & (nodeSlack - 1)
		o2 := (o1 + mid) & (nodeSlack - 1)
		fh, fm, fl := uint64(uint32(hi)>>strideBits), uint64(uint32(mid)>>strideBits), uint64(uint32(lo)>>strideBits)
		w0, w1, w2 := weightOne-fh, fh-fm, fm-fl
		n0, n1, n2, n3 := cell[0], cell[o1], cell[o2], cell[diagonal]
		any |= n0
		rb := n0&laneRB*w0 + n1&laneRB*w1 + n2&laneRB*w2 + n3&laneRB*fl
		g := n0>>16&lane16*w0 + n1>>16&lane16*w1 + n2>>16&lane16*w2 + n3>>16&lane16*fl
		dr[x], dg[x], db[x] = uint16(rb>>sumShift), uint16(g>>sumShift), uint16(rb>>(32+sumShift))
	}
	return any
}

func (c *cube) trilinearBlock(dst, src *planes, x0 int) (any uint64) {
	for x := x0; x < x0+block; x++ {
		u := [3]uint16{src.r[x], src.g[x], src.b[x]}
		any |= c.nodes[c.cell(u)]
		v := c.at(u)
		dst.r[x], dst.g[x], dst.b[x] = v[0], v[1], v[2]
	}
	return any
}
