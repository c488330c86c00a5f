package main

import (
	. "github.com/mmcloughlin/avo/build"
	. "github.com/mmcloughlin/avo/operand"
	. "github.com/mmcloughlin/avo/reg"
)

// Strides of a block of nodes, and the bits of a weight, as in package picture.
const (
	strideG = 9
	strideB = 81

	weightBits = 8
)

// cube is (*cube).tetrahedralBlock.
//
// The weights of a cell's eight corners come from maxima and minima without
// sorting, 16 pixels at once, and are transposed such that a register holds
// the eight of two pixels. Each pixel's nodes are then loaded by two along
// red, interleaved and multiplied pairwise.
func cube() {
	TEXT("cubeAVX2", NOSPLIT, "func(dst, src *uint16, nodes *uint64, dir *uint32, params *int32) (any uint32)")
	Doc("cubeAVX2 is (*cube).tetrahedralBlock. params: grid points less 1, blocks a side, their square, what is added to a sum.")
	dst, src, nodes, dir, params := ptr("dst"), ptr("src"), ptr("nodes"), ptr("dir"), ptr("params")
	seen := GP32()
	XORL(seen, seen)

	interleave := GLOBL("interleave", RODATA|NOPTR)
	for lane := range 2 {
		for w := range 4 {
			for i, b := range []int{2 * w, 2*w + 1, 2*w + 8, 2*w + 9} {
				DATA(lane*16+w*4+i, U8(b))
			}
		}
	}
	places := AllocLocal(32)   // block of the cube, 16 × 16 bits
	inside := AllocLocal(32)   // bytes from the block's first node
	weights := AllocLocal(256) // of pixels p and p+8: four pairs each
	shuffle := YMM()
	VMOVDQU(interleave, shuffle)
	round := doubles(params, 3)

	n := GP64()
	MOVQ(U32(block/lanes), n)
	loop(n, "group", func() {
		place(src, params, places, inside, weights)

		var packed [4]VecVirtual
		var even VecVirtual
		for p := range lanes / 2 {
			sum := YMM()
			low, high := corner(places, inside, dir, p), corner(places, inside, dir, p+lanes/2)
			ORL(Mem{Base: nodes, Index: low, Scale: 1, Disp: 4}, seen)
			ORL(Mem{Base: nodes, Index: high, Scale: 1, Disp: 4}, seen)
			for i, offset := range []int{0, strideG, strideB, strideG + strideB} {
				pair, x := YMM(), XMM()
				VMOVDQU(Mem{Base: nodes, Index: low, Scale: 1, Disp: sixty4 * offset}, x)
				VINSERTI128(U8(1), Mem{Base: nodes, Index: high, Scale: 1, Disp: sixty4 * offset}, x.AsY(), pair)
				VPSHUFB(shuffle, pair, pair)
				w := YMM()
				VPSHUFD(U8(0x55*i), weights.Offset(32*p), w)
				if i == 0 {
					VPMADDWD(pair, w, sum)
				} else {
					VPMADDWD(pair, w, w)
					VPADDD(w, sum, sum)
				}
			}
			VPADDD(round, sum, sum)
			VPSRLD(U8(13+weightBits-16), sum, sum)
			if p%2 == 0 {
				even = sum
				continue
			}
			packed[p/2] = YMM()
			VPACKUSDW(sum, even, packed[p/2])
		}
		// packed[i] has pixels 2i and 2i+1 (and those 8 further, in the high
		// lane) as r g b x r g b x.
		half := func(a, b VecVirtual) (rg, bx VecVirtual) {
			t0, t1 := YMM(), YMM()
			rg, bx = YMM(), YMM()
			VPUNPCKLWD(b, a, t0)
			VPUNPCKHWD(b, a, t1)
			VPUNPCKLWD(t1, t0, rg)
			VPUNPCKHWD(t1, t0, bx)
			return rg, bx
		}
		rg0, bx0 := half(packed[0], packed[1])
		rg1, bx1 := half(packed[2], packed[3])
		r, g, b := YMM(), YMM(), YMM()
		VPUNPCKLQDQ(rg1, rg0, r)
		VPUNPCKHQDQ(rg1, rg0, g)
		VPUNPCKLQDQ(bx1, bx0, b)
		VMOVDQU(r, at(dst, 0))
		VMOVDQU(g, at(dst, plane))
		VMOVDQU(b, at(dst, 2*plane))
		ADDQ(U8(2*lanes), src)
		ADDQ(U8(2*lanes), dst)
	})
	VZEROUPPER()
	Store(seen, ReturnIndex(0))
	RET()
}

// corner is the byte offset of a pixel's low corner from the first node.
func corner(places, inside Mem, dir Register, p int) GPVirtual {
	node, byteInside := GP64(), GP64()
	MOVWLZX(places.Offset(2*p), node.As32())
	MOVL(Mem{Base: dir, Index: node, Scale: 4}, node.As32())
	MOVWLZX(inside.Offset(2*p), byteInside.As32())
	LEAQ(Mem{Base: byteInside, Index: node, Scale: 8}, node)
	return node
}

// place finds cells and weights of 16 pixels.
func place(src, params Register, places, inside, weights Mem) {
	m := words(params, 0)
	var f, cell [3]VecVirtual
	for ch := range 3 {
		u := YMM()
		f[ch], cell[ch] = YMM(), YMM()
		VMOVDQU(at(src, ch*plane), u)
		VPMULHUW(m, u, cell[ch])
		VPMULLW(m, u, f[ch])
		VPSRLW(U8(16-weightBits), f[ch], f[ch])
	}

	// Blocks of eight cells, and cells in them.
	of := YMM()
	VPSRLW(U8(3), cell[0], of)
	for ch := 1; ch < 3; ch++ {
		t := YMM()
		VPSRLW(U8(3), cell[ch], t)
		VPMULLW(words(params, ch), t, t)
		VPADDW(t, of, of)
	}
	VMOVDQU(of, places)
	seven := YMM()
	VPCMPEQW(seven, seven, seven)
	VPSRLW(U8(13), seven, seven)
	for ch := range 3 {
		VPAND(seven, cell[ch], cell[ch])
	}
	// r + 9·(g + 9·b), times the bytes of a node
	t := YMM()
	VPSLLW(U8(3), cell[2], t)
	VPADDW(cell[2], t, cell[2])
	VPADDW(cell[2], cell[1], cell[1])
	VPSLLW(U8(3), cell[1], t)
	VPADDW(cell[1], t, cell[1])
	VPADDW(cell[1], cell[0], cell[0])
	VPSLLW(U8(3), cell[0], cell[0])
	VMOVDQU(cell[0], inside)

	r, g, b := f[0], f[1], f[2]
	one := YMM()
	VPCMPEQW(one, one, one)
	VPSRLW(U8(15), one, one)
	VPSLLW(U8(weightBits), one, one)
	most := func(x, y VecVirtual) VecVirtual { v := YMM(); VPMAXUW(x, y, v); return v }
	least := func(x, y VecVirtual) VecVirtual { v := YMM(); VPMINUW(x, y, v); return v }
	less := func(x, y VecVirtual) VecVirtual { v := YMM(); VPSUBUSW(y, x, v); return v } // x − y, at least 0
	pair := func(x, y VecVirtual) (lo, hi VecVirtual) {
		lo, hi = YMM(), YMM()
		VPUNPCKLWD(y, x, lo)
		VPUNPCKHWD(y, x, hi)
		return lo, hi
	}
	// Corners r and not r, for each g and b: 000 and r, g and rg, b and rb, gb and rgb.
	hiGB, loGB := most(g, b), least(g, b)
	a0, a1 := pair(less(one, most(r, hiGB)), less(r, hiGB))
	d0, d1 := pair(less(loGB, r), least(r, loGB))
	b0, b1 := pair(less(g, most(r, b)), less(least(r, g), b))
	c0, c1 := pair(less(b, most(r, g)), less(least(r, b), g))

	spread := func(a, b, c, d VecVirtual, first int) {
		for half := range 2 {
			ab, cd := YMM(), YMM()
			if half == 0 {
				VPUNPCKLDQ(b, a, ab)
				VPUNPCKLDQ(d, c, cd)
			} else {
				VPUNPCKHDQ(b, a, ab)
				VPUNPCKHDQ(d, c, cd)
			}
			w := YMM()
			VPUNPCKLQDQ(cd, ab, w)
			VMOVDQU(w, weights.Offset(32*(first+2*half)))
			VPUNPCKHQDQ(cd, ab, w)
			VMOVDQU(w, weights.Offset(32*(first+2*half+1)))
		}
	}
	spread(a0, b0, c0, d0, 0)
	spread(a1, b1, c1, d1, 4)
}
