package picture

// row reads a row of luma codes and its chroma into dst and marks the pixels
// whose colour lies outside the domain.
func (in *input) row(dst laneRow, y []uint16, cb, cr []int16, m marks) {
	for i := range dst {
		from := i * block
		to := min(from+block, len(y))
		if from < to {
			beyond := in.block(&dst[i], y[from:to], cb[from:to], cr[from:to])
			if !in.held {
				m[i] |= beyond
			}
		}
	}
}

func (in *input) block(dst *lanes, y []uint16, cb, cr []int16) (marked uint64) {
	y = y[:min(len(y), block)]
	cb, cr = cb[:len(y)], cr[:len(y)]
	lumaOf, crR, cbG, crG, cbB := in.lumaOf, in.crR, in.cbG, in.crG, in.cbB
	for x, code := range y {
		l := lumaOf[code]
		p, q := int32(cb[x]), int32(cr[x])
		vr := (l + q*crR) >> matrixShift
		vg := (l + p*cbG + q*crG) >> matrixShift
		vb := (l + p*cbB) >> matrixShift
		if uint32(vr|vg|vb) > domainTop {
			marked |= 1 << x
			vr, vg, vb = max(0, min(domainTop, vr)), max(0, min(domainTop, vg)), max(0, min(domainTop, vb))
		}
		dst[x] = pack3(uint64(vr), uint64(vg), uint64(vb))
	}
	return marked
}

// inPairs says whether pairs does this format: halved chroma of few enough bits
// that spreading it rounds nothing, so that the matrix can be applied to the
// samples before they are spread.
func (in *input) inPairs() bool {
	_, right, _ := in.spreadShift()
	return in.format.Sub != Sub444 && right == 0
}

// pairs is spread and row in one. cb and cr are mixed rows with room for whole
// blocks.
func (in *input) pairs(dst laneRow, y []uint16, cb, cr []int32, m marks) {
	left, _, _ := in.spreadShift()
	c := contribution{in.crR << left, in.cbG << left, in.crG << left, in.cbB << left}
	if in.format.Siting != SiteCentre { // weights of 2 and 2, or 4
		c = contribution{2 * c.crR, 2 * c.cbG, 2 * c.crG, 2 * c.cbB}
	}
	var tail [block]uint16
	for i := range blocks(len(y)) {
		codes := y[i*block:]
		if len(codes) < block {
			copy(tail[:], codes)
			codes = tail[:]
		}
		p, q := cb[i*block/2:][:block/2+2], cr[i*block/2:][:block/2+2]
		var beyond uint64
		if in.format.Siting == SiteCentre {
			beyond = in.pairsMidway(&dst[i], (*[block]uint16)(codes), p, q, c)
		} else {
			beyond = in.pairsCosited(&dst[i], (*[block]uint16)(codes), p, q, c)
		}
		if !in.held {
			m[i] |= beyond
		}
	}
}

// contribution is the matrix by which a chroma sample's sums count.
type contribution struct{ crR, cbG, crG, cbB int32 }

func (c contribution) of(p, q int32) (r, g, b int32) { return c.crR * q, c.cbG*p + c.crG*q, c.cbB * p }

func (in *input) pairsCosited(dst *lanes, y *[block]uint16, cb, cr []int32, c contribution) (marked uint64) {
	lumaOf := in.lumaOf
	cb, cr = cb[:block/2+2], cr[:block/2+2]
	r, g, b := c.of(cb[1], cr[1])
	for k := range block / 2 {
		nextR, nextG, nextB := c.of(cb[k+2], cr[k+2])
		l := lumaOf[y[2*k]]
		vr, vg, vb := (l+2*r)>>matrixShift, (l+2*g)>>matrixShift, (l+2*b)>>matrixShift
		if uint32(vr|vg|vb) > domainTop {
			marked |= 1 << (2 * k)
			vr, vg, vb = heldInside(vr, vg, vb)
		}
		dst[2*k] = pack3(uint64(vr), uint64(vg), uint64(vb))
		l = lumaOf[y[2*k+1]]
		vr, vg, vb = (l+r+nextR)>>matrixShift, (l+g+nextG)>>matrixShift, (l+b+nextB)>>matrixShift
		if uint32(vr|vg|vb) > domainTop {
			marked |= 2 << (2 * k)
			vr, vg, vb = heldInside(vr, vg, vb)
		}
		dst[2*k+1] = pack3(uint64(vr), uint64(vg), uint64(vb))
		r, g, b = nextR, nextG, nextB
	}
	return marked
}

func (in *input) pairsMidway(dst *lanes, y *[block]uint16, cb, cr []int32, c contribution) (marked uint64) {
	lumaOf := in.lumaOf
	cb, cr = cb[:block/2+2], cr[:block/2+2]
	beforeR, beforeG, beforeB := c.of(cb[0], cr[0])
	r, g, b := c.of(cb[1], cr[1])
	for k := range block / 2 {
		nextR, nextG, nextB := c.of(cb[k+2], cr[k+2])
		l := lumaOf[y[2*k]]
		vr, vg, vb := (l+3*r+beforeR)>>matrixShift, (l+3*g+beforeG)>>matrixShift, (l+3*b+beforeB)>>matrixShift
		if uint32(vr|vg|vb) > domainTop {
			marked |= 1 << (2 * k)
			vr, vg, vb = heldInside(vr, vg, vb)
		}
		dst[2*k] = pack3(uint64(vr), uint64(vg), uint64(vb))
		l = lumaOf[y[2*k+1]]
		vr, vg, vb = (l+3*r+nextR)>>matrixShift, (l+3*g+nextG)>>matrixShift, (l+3*b+nextB)>>matrixShift
		if uint32(vr|vg|vb) > domainTop {
			marked |= 2 << (2 * k)
			vr, vg, vb = heldInside(vr, vg, vb)
		}
		dst[2*k+1] = pack3(uint64(vr), uint64(vg), uint64(vb))
		beforeR, beforeG, beforeB = r, g, b
		r, g, b = nextR, nextG, nextB
	}
	return marked
}

// heldInside is rarely needed, and kept out of the loops above.
//
//go:noinline
func heldInside(r, g, b int32) (int32, int32, int32) {
	return max(0, min(domainTop, r)), max(0, min(domainTop, g)), max(0, min(domainTop, b))
}
