package main

import (
	. "github.com/mmcloughlin/avo/build"
	. "github.com/mmcloughlin/avo/operand"
	. "github.com/mmcloughlin/avo/reg"
)

// input is (*input).block for a full block.
func input() {
	TEXT("inputAVX2", NOSPLIT, "func(dst, y *uint16, cb, cr *int16, params *int32) (outside uint32)")
	Doc("inputAVX2 is (*input).block without the marks: outside is not 0 where there would be any.",
		"params: pairs (luma, crR), (luma, cbB), (luma, crG), (0, cbG); bias; top code; left and right shift of luma.")
	dst, y, cb, cr, params := ptr("dst"), ptr("y"), ptr("cb"), ptr("cr"), ptr("params")
	yr, yb, yg, bg := doubles(params, 0), doubles(params, 1), doubles(params, 2), doubles(params, 3)
	bias, top := doubles(params, 4), words(params, 5)
	left, right := count(params, 6), count(params, 7)
	seen := YMM()
	VPXOR(seen, seen, seen)

	n := GP64()
	MOVQ(U32(block/lanes), n)
	loop(n, "group", func() {
		luma, b, r := YMM(), YMM(), YMM()
		VPMINUW(at(y, 0), top, luma)
		VPSRLW(right, luma, luma)
		VPSLLW(left, luma, luma)
		VMOVDQU(at(cb, 0), b)
		VMOVDQU(at(cr, 0), r)
		var with [2][2]VecVirtual // luma beside cr, luma beside cb; low, high
		for i, c := range []VecVirtual{r, b} {
			with[i] = [2]VecVirtual{YMM(), YMM()}
			VPUNPCKLWD(c, luma, with[i][0])
			VPUNPCKHWD(c, luma, with[i][1])
		}
		for ch, k := range [3]struct {
			pair   int
			matrix VecVirtual
		}{{0, yr}, {0, yg}, {1, yb}} {
			var v [2]VecVirtual
			for half := range v {
				v[half] = YMM()
				VPMADDWD(k.matrix, with[k.pair][half], v[half])
				if ch == 1 {
					t := YMM()
					VPMADDWD(bg, with[1][half], t)
					VPADDD(t, v[half], v[half])
				}
				VPADDD(bias, v[half], v[half])
				VPSRAD(U8(12), v[half], v[half])
				VPOR(v[half], seen, seen)
			}
			out := YMM()
			VPACKUSDW(v[1], v[0], out)
			VMOVDQU(out, at(dst, ch*plane))
		}
		for _, p := range []Register{y, cb, cr, dst} {
			ADDQ(U8(2*lanes), p)
		}
	})
	// Anything above the low 16 bits means below 0 or above the top.
	VPSRLD(U8(16), seen, seen)
	none := YMM()
	VPXOR(none, none, none)
	VPCMPEQD(none, seen, seen)
	bits := GP32()
	VPMOVMSKB(seen, bits)
	NOTL(bits)
	VZEROUPPER()
	Store(bits, ReturnIndex(0))
	RET()
}

// mix is (*input).mix for depths whose sums fit 16 bits.
func mix() {
	TEXT("mixAVX2", NOSPLIT, "func(dst *int16, a, b *uint16, groups int, params *int32)")
	Doc("mixAVX2 is (*input).mix in 16 bits, 16 samples a group. params: top code, weights of a and b, the middle.")
	dst, a, b, n, params := ptr("dst"), ptr("a"), ptr("b"), ptr("groups"), ptr("params")
	top, wa, wb, middle := words(params, 0), words(params, 1), words(params, 2), words(params, 3)
	loop(n, "group", func() {
		u, v := YMM(), YMM()
		VPMINUW(at(a, 0), top, u)
		VPMINUW(at(b, 0), top, v)
		VPMULLW(wa, u, u)
		VPMULLW(wb, v, v)
		VPADDW(v, u, u)
		VPSUBW(middle, u, u)
		VMOVDQU(u, at(dst, 0))
		for _, p := range []Register{a, b, dst} {
			ADDQ(U8(2*lanes), p)
		}
	})
	VZEROUPPER()
	RET()
}

// spread is (*input).spread for the same depths and halved chroma.
func spread() {
	TEXT("spreadAVX2", NOSPLIT, "func(dst, mixed *int16, groups int, params *int32)")
	Doc("spreadAVX2 is (*input).spread in 16 bits, 16 samples to 32 pixels a group, from mixed[1] on.",
		"params: even pixels' weights of this sample and the one before, odd ones' of this and the one after; left shift.")
	dst, mixed, n, params := ptr("dst"), ptr("mixed"), ptr("groups"), ptr("params")
	e0, e1, o0, o1, left := words(params, 0), words(params, 1), words(params, 2), words(params, 3), count(params, 4)
	loop(n, "group", func() {
		this := YMM()
		VMOVDQU(at(mixed, 2), this)
		weigh := func(own, other VecVirtual, disp int) VecVirtual {
			v, t := YMM(), YMM()
			VPMULLW(own, this, v)
			VPMULLW(at(mixed, disp), other, t)
			VPADDW(t, v, v)
			VPSLLW(left, v, v)
			return v
		}
		even, odd := weigh(e0, e1, 0), weigh(o0, o1, 4)
		lo, hi, out := YMM(), YMM(), YMM()
		VPUNPCKLWD(odd, even, lo)
		VPUNPCKHWD(odd, even, hi)
		VPERM2I128(U8(0x20), hi, lo, out)
		VMOVDQU(out, at(dst, 0))
		VPERM2I128(U8(0x31), hi, lo, out)
		VMOVDQU(out, at(dst, 32))
		ADDQ(U8(32), mixed)
		ADDQ(U8(64), dst)
	})
	VZEROUPPER()
	RET()
}
