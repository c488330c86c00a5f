package main

import (
	. "github.com/mmcloughlin/avo/build"
	. "github.com/mmcloughlin/avo/operand"
	. "github.com/mmcloughlin/avo/reg"
)

// chroma keeps chroma's share of each channel's place.
func (s *squares) chroma() {
	s.byte64, s.byte32 = GP64(), GP64()
	MOVQ(s.at, s.byte32)
	SHLQ(U8(5), s.byte32)
	MOVQ(s.at, s.byte64)
	SHLQ(U8(4), s.byte64)
	if s.n == 2 {
		u, v := s.chroma2(argCb), s.chroma2(argCr)
		s.share(u, v, s.offsets)
		return
	}
	u, v := s.chroma4(argCb), s.chroma4(argCr)
	uu, vv := with(vpaddd3, u[0], u[1]), with(vpaddd3, v[0], v[1])
	s.share(uu, vv, s.offsets)
	for j := range 2 {
		VPADDD(u[j], u[j], u[j])
		VPADDD(v[j], v[j], v[j])
		s.share(u[j], v[j], s.halves[j])
	}
}

// chroma2 is the weighted sum of the codes of squares of 2, one plane's.
func (s *squares) chroma2(disp int) VecVirtual {
	here := func(more int) VecVirtual {
		x, y := YMM(), YMM()
		VPMOVZXWD(Mem{Base: pointer(s.args, disp), Index: s.byte64, Scale: 1, Disp: more}, x)
		VPMOVZXWD(Mem{Base: pointer(s.args, disp+8), Index: s.byte64, Scale: 1, Disp: more}, y)
		VPADDD(x, y, x)
		return x
	}
	now, next := here(0), here(2)
	x := YMM() // 6·now + 2·next
	VPADDD(now, now, x)
	VPADDD(now, x, x)
	VPADDD(next, x, x)
	VPADDD(x, x, x)
	return x
}

// chroma4 is the weighted sums of each pair of columns of squares of 4.
func (s *squares) chroma4(disp int) (out [2]VecVirtual) {
	rows := func(more int) VecVirtual {
		x := YMM()
		for k := range 4 {
			p := pointer(s.args, disp+8*k)
			m := Mem{Base: p, Index: s.byte32, Scale: 1, Disp: more}
			if k == 0 {
				VMOVDQU(m, x)
			} else {
				VPADDW(m, x, x)
			}
		}
		return x
	}
	both, after := rows(0), rows(4)
	c0, c1 := with(vpand3, both, s.low), YMM()
	VPSRLD(U8(16), both, c1)
	c2 := with(vpand3, after, s.low)
	for j, c := range [2][2]VecVirtual{{c0, c1}, {c1, c2}} {
		x := YMM() // 3·c + the next
		VPADDD(c[0], c[0], x)
		VPADDD(c[0], x, x)
		VPADDD(c[1], x, x)
		out[j] = x
	}
	return out
}

// share keeps what chroma adds to the places of R, G and B.
func (s *squares) share(u, v VecVirtual, to [3]Mem) {
	r := s.times(v, numRV)
	VPADDD(s.number(numCR), r, r)
	VMOVDQU(r, to[0])
	g, t := s.times(u, numGU), s.times(v, numGV)
	VPADDD(t, g, g)
	VPADDD(s.number(numCG), g, g)
	VMOVDQU(g, to[1])
	b := s.times(u, numBU)
	VPADDD(s.number(numCB), b, b)
	VMOVDQU(b, to[2])
}
