package main

import (
	. "github.com/mmcloughlin/avo/build"
	. "github.com/mmcloughlin/avo/operand"
	. "github.com/mmcloughlin/avo/reg"
)

// luma gives the sum, the sum of squares, and the lowest and the highest code
// of each square.
func (s *squares) luma() (total, squared, lo, hi VecVirtual) {
	s.lumaAt = GP64()
	MOVQ(s.at, s.lumaAt)
	if s.n == 2 {
		SHLQ(U8(5), s.lumaAt)
		return s.luma2()
	}
	SHLQ(U8(6), s.lumaAt)
	return s.luma4()
}

// row is a row of a square's codes; a row of eight squares of 4 has two parts.
func (s *squares) row(k, part int) Mem {
	return Mem{Base: pointer(s.args, argLuma+8*k), Index: s.lumaAt, Scale: 1, Disp: 32 * part}
}

func (s *squares) luma2() (total, squared, lo, hi VecVirtual) {
	p, q := YMM(), YMM()
	VMOVDQU(s.row(0, 0), p)
	VMOVDQU(s.row(1, 0), q)
	total, lo, hi = with(vpaddw3, p, q), with(vpminuw3, p, q), with(vpmaxuw3, p, q)
	VPMADDWD(s.ones, total, total)
	VPMADDWD(p, p, p)
	VPMADDWD(q, q, q)
	squared = with(vpaddd3, p, q)
	t := YMM()
	VPSRLD(U8(16), lo, t)
	VPMINUW(t, lo, lo)
	VPAND(s.low, lo, lo)
	VPSRLD(U8(16), hi, t)
	VPMAXUW(t, hi, hi)
	VPAND(s.low, hi, hi)
	return total, squared, lo, hi
}

func (s *squares) luma4() (total, squared, lo, hi VecVirtual) {
	var sum, l, h, ss [2]VecVirtual
	for part := range 2 {
		for k := range 4 {
			x := YMM()
			VMOVDQU(s.row(k, part), x)
			if k == 0 {
				sum[part], l[part], h[part], ss[part] = YMM(), YMM(), YMM(), YMM()
				VMOVDQA(x, sum[part])
				VMOVDQA(x, l[part])
				VMOVDQA(x, h[part])
				VPMADDWD(x, x, ss[part])
				continue
			}
			VPADDW(x, sum[part], sum[part])
			VPMINUW(x, l[part], l[part])
			VPMAXUW(x, h[part], h[part])
			VPMADDWD(x, x, x)
			VPADDD(x, ss[part], ss[part])
		}
		VPMADDWD(s.ones, sum[part], sum[part])
		for _, d := range []uint8{32, 16} {
			t := YMM()
			VPSRLQ(U8(d), l[part], t)
			VPMINUW(t, l[part], l[part])
			VPSRLQ(U8(d), h[part], t)
			VPMAXUW(t, h[part], h[part])
		}
	}
	total = YMM()
	VPHADDD(sum[1], sum[0], total)
	VPERMQ(U8(0xd8), total, total)
	squared = YMM()
	VPHADDD(ss[1], ss[0], squared)
	VPERMQ(U8(0xd8), squared, squared)
	return total, squared, squaresOf(l, s.low), squaresOf(h, s.low)
}
