package main

import (
	. "github.com/mmcloughlin/avo/build"
	. "github.com/mmcloughlin/avo/operand"
	. "github.com/mmcloughlin/avo/reg"
)

// store writes R, G and B of a pixel together.
func (s *squares) store() {
	dst := pointer(s.args, argDst)
	place := GP64()
	LEAQ(Mem{Base: s.byte32, Index: s.byte32, Scale: 2}, place)
	ADDQ(dst, place)
	var rgb [3]VecVirtual
	for c := range rgb {
		rgb[c] = YMM()
		VMOVUPS(s.light[c], rgb[c])
	}
	order := GLOBL("order"+s.name, RODATA|NOPTR)
	for i := range 24 {
		DATA(4*i, U32(i/3))
	}
	for part := range 3 {
		index := YMM()
		VMOVDQU(order.Offset(32*part), index)
		var x [3]VecVirtual
		for c := range x {
			x[c] = YMM()
			VPERMPS(rgb[c], index, x[c])
		}
		var take [3]uint8 // the places of each channel
		for j := range 8 {
			take[(8*part+j)%3] |= 1 << j
		}
		VBLENDPS(U8(take[1]), x[1], x[0], x[0])
		VBLENDPS(U8(take[2]), x[2], x[0], x[0])
		VMOVUPS(x[0], Mem{Base: place, Disp: 32 * part})
	}
}

// clipped writes where the highest code with the largest of chroma's shares
// is at the recording's clip.
func (s *squares) clipped() {
	top := YMM()
	VMOVDQU(s.offsets[0], top)
	VPMAXSD(s.offsets[1], top, top)
	VPMAXSD(s.offsets[2], top, top)
	h := YMM()
	VMOVDQU(s.high, h)
	VPMULLD(s.number(numKS), h, h)
	VPADDD(s.number(numC), h, h)
	VPADDD(h, top, top)
	VPSRLD(U8(placeShift), top, top)
	VPCMPGTD(s.number(numClip), top, top)
	upper := XMM()
	VEXTRACTI128(U8(1), top, upper)
	VPACKSSDW(upper, top.AsX(), upper)
	VPACKSSWB(upper, upper, upper)
	VPABSB(upper, upper)
	clipped := pointer(s.args, argClipped)
	VMOVQ(upper, Mem{Base: clipped, Index: s.at, Scale: 8})
}
