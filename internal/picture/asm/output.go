package main

import (
	. "github.com/mmcloughlin/avo/build"
	. "github.com/mmcloughlin/avo/operand"
	. "github.com/mmcloughlin/avo/reg"
)

// finish is (*output).finish and (*output).luma for a full block.
func finish() {
	TEXT("finishAVX2", NOSPLIT, "func(y *uint16, v *int16, stride int, src, gain *uint16, noise *int16, params *int32)")
	Doc("finishAVX2 is (*output).finish and luma. v is the red row; green and blue are stride bytes on.",
		"params: twice the number of signal 0, limiter down (positive) and up; pairs (kr, kg), (kb, 0); bias; 16 less the noise's shift; shift; lowest and highest code.")
	y, v, stride, src, gain, noise, params := ptr("y"), ptr("v"), ptr("stride"), ptr("src"), ptr("gain"), ptr("noise"), ptr("params")
	zero, down, up := words(params, 0), words(params, 1), words(params, 2)
	rg, bx, bias := doubles(params, 3), doubles(params, 4), doubles(params, 5)
	noiseDown, shift := count(params, 6), count(params, 7)
	low, high := words(params, 8), words(params, 9)

	n := GP64()
	MOVQ(U32(block/lanes), n)
	loop(n, "group", func() {
		g, off, floor, ceiling := YMM(), YMM(), YMM(), YMM()
		VMOVDQU(at(gain, 0), g)
		VPMULHUW(g, zero, off)
		VPSUBUSW(down, off, floor)
		VPADDUSW(up, off, ceiling)
		var ch [3]VecVirtual
		for i := range ch {
			ch[i] = YMM()
			VPMULHUW(at(src, i*plane), g, ch[i])
			VPMINUW(ceiling, ch[i], ch[i])
			VPMAXUW(floor, ch[i], ch[i])
			VPSUBW(off, ch[i], ch[i])
		}
		VMOVDQU(ch[0], at(v, 0))
		VMOVDQU(ch[1], Mem{Base: v, Index: stride, Scale: 1})
		VMOVDQU(ch[2], Mem{Base: v, Index: stride, Scale: 2})
		none, d := YMM(), YMM()
		VPXOR(none, none, none)
		VMOVDQU(at(noise, 0), d)
		var acc [2]VecVirtual
		for half := range acc {
			acc[half] = YMM()
			t, u := YMM(), YMM()
			if half == 0 {
				VPUNPCKLWD(ch[1], ch[0], acc[half])
				VPUNPCKLWD(none, ch[2], t)
				VPUNPCKLWD(d, none, u)
			} else {
				VPUNPCKHWD(ch[1], ch[0], acc[half])
				VPUNPCKHWD(none, ch[2], t)
				VPUNPCKHWD(d, none, u)
			}
			VPMADDWD(rg, acc[half], acc[half])
			VPMADDWD(bx, t, t)
			VPADDD(t, acc[half], acc[half])
			VPADDD(bias, acc[half], acc[half])
			VPSRAD(noiseDown, u, u) // noise came in the high half
			VPADDD(u, acc[half], acc[half])
			VPSRAD(shift, acc[half], acc[half])
		}
		out := YMM()
		VPACKUSDW(acc[1], acc[0], out)
		VPMINUW(high, out, out)
		VPMAXUW(low, out, out)
		VMOVDQU(out, at(y, 0))
		for _, p := range []Register{y, v, src, gain, noise} {
			ADDQ(U8(2*lanes), p)
		}
	})
	VZEROUPPER()
	RET()
}

// filter is (*output).filter.
func filter() {
	TEXT("filterAVX2", NOSPLIT, "func(dst *int32, v *int16, groups int, params *int32)")
	Doc("filterAVX2 is (*output).filter, 16 pixels a group; v[−1] is read. params: pairs of weights of pixels 2k and 2k+1, and of 2k−1 and 2k.")
	dst, v, n, params := ptr("dst"), ptr("v"), ptr("groups"), ptr("params")
	this, before := doubles(params, 0), doubles(params, 1)
	loop(n, "group", func() {
		a, b := YMM(), YMM()
		VPMADDWD(at(v, 0), this, a)
		VPMADDWD(at(v, -2), before, b)
		VPADDD(b, a, a)
		VMOVDQU(a, at(dst, 0))
		ADDQ(U8(32), v)
		ADDQ(U8(32), dst)
	})
	VZEROUPPER()
	RET()
}

// chroma is (*output).chroma.
func chroma() {
	TEXT("chromaAVX2", NOSPLIT, "func(cb, cr *uint16, a, b, c *int32, stride int, noiseCb, noiseCr *int16, groups int, params *int32)")
	Doc("chromaAVX2 is (*output).chroma, 8 samples a group. a, b and c are the red sums of the rows; green and blue are stride bytes on.",
		"params: weights of a, b, c; Cb's of r, g, b and bias; Cr's; shift of the noise; shift; lowest and highest code.")
	cb, cr, stride := ptr("cb"), ptr("cr"), ptr("stride")
	rows := [3]GPVirtual{ptr("a"), ptr("b"), ptr("c")}
	noises := [2]GPVirtual{ptr("noiseCb"), ptr("noiseCr")}
	n, params := ptr("groups"), ptr("params")
	noiseUp, shift := count(params, 11), count(params, 12)
	low, high := XMM(), XMM()
	VPBROADCASTW(at(params, 4*13), low)
	VPBROADCASTW(at(params, 4*14), high)
	half := YMM()
	VPCMPEQD(half, half, half)
	VPSRLD(U8(31), half, half)
	VPSLLD(U8(3), half, half)
	parameter := func(i int, x VecVirtual) VecVirtual {
		v := YMM()
		VPBROADCASTD(at(params, 4*i), v)
		VPMULLD(x, v, v)
		return v
	}
	loop(n, "group", func() {
		var rgb [3]VecVirtual
		for ch := range rgb {
			sum := YMM()
			VMOVDQA(half, sum)
			for i, row := range rows {
				m := Mem{Base: row}
				if ch > 0 {
					m.Index, m.Scale = stride, uint8(ch)
				}
				t := YMM()
				VPBROADCASTD(at(params, 4*i), t)
				VPMULLD(m, t, t)
				VPADDD(t, sum, sum)
			}
			VPSRAD(U8(4), sum, sum)
			rgb[ch] = sum
		}
		for i, out := range []Register{cb, cr} {
			acc := YMM()
			VPBROADCASTD(at(params, 4*(3+4*i+3)), acc)
			for ch, x := range rgb {
				VPADDD(parameter(3+4*i+ch, x), acc, acc)
			}
			d := YMM()
			VPMOVSXWD(at(noises[i], 0), d)
			VPSLLD(noiseUp, d, d)
			VPADDD(d, acc, acc)
			VPSRAD(shift, acc, acc)
			top := XMM()
			VEXTRACTI128(U8(1), acc, top)
			VPACKUSDW(top, acc.AsX(), top)
			VPMINUW(high, top, top)
			VPMAXUW(low, top, top)
			VMOVDQU(top, at(out, 0))
		}
		for _, p := range []Register{cb, cr, noises[0], noises[1]} {
			ADDQ(U8(16), p)
		}
		for _, p := range rows {
			ADDQ(U8(32), p)
		}
	})
	VZEROUPPER()
	RET()
}

// triangular is triangularRow.
func triangular() {
	TEXT("triangularAVX2", NOSPLIT, "func(row *int16, key uint32, groups int)")
	Doc("triangularAVX2 is triangularRow, 16 pixels a group.")
	row := ptr("row")
	k := Load(Param("key"), GP32())
	n := ptr("groups")
	constant := func(x uint32) VecVirtual {
		v, t := YMM(), GP32()
		MOVL(U32(x), t)
		VMOVD(t, v.AsX())
		VPBROADCASTD(v.AsX(), v)
		return v
	}
	key := YMM()
	VMOVD(k, key.AsX())
	VPBROADCASTD(key.AsX(), key)
	step, c1, c2, bytes := constant(0x85ebca6b), constant(0x7feb352d), constant(0x846ca68b), constant(0x00ff00ff)
	// Pairs are numbered 0..7; their numbers times step advance by 8·step.
	first := GLOBL("pairs", RODATA|NOPTR)
	for i := range 8 {
		DATA(4*i, U32(i))
	}
	place, advance := YMM(), YMM()
	VPMULLD(first, step, place)
	VPSLLD(U8(3), step, advance)
	mixed := func(h VecVirtual, s uint8) {
		t := YMM()
		VPSRLD(U8(s), h, t)
		VPXOR(t, h, h)
	}
	loop(n, "group", func() {
		h := YMM()
		VPXOR(key, place, h)
		mixed(h, 16)
		VPMULLD(c1, h, h)
		mixed(h, 15)
		VPMULLD(c2, h, h)
		mixed(h, 16)
		t := YMM()
		VPSRLD(U8(8), h, t)
		VPAND(bytes, t, t)
		VPAND(bytes, h, h)
		VPADDW(t, h, h)
		VPSUBW(bytes, h, h)
		VMOVDQU(h, at(row, 0))
		VPADDD(advance, place, place)
		ADDQ(U8(32), row)
	})
	VZEROUPPER()
	RET()
}
