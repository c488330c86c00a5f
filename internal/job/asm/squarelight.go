package main

import (
	. "github.com/mmcloughlin/avo/build"
	. "github.com/mmcloughlin/avo/operand"
	. "github.com/mmcloughlin/avo/reg"
)

// spans says where a square's codes spread too far for its mean code's light:
// wide always, rough where the curve bends.
func (s *squares) spans(lo, hi VecVirtual) (wide, rough VecVirtual) {
	VMOVDQU(hi, s.high)
	wide, rough = YMM(), YMM()
	VPSUBD(lo, hi, wide)
	VPCMPGTD(s.number(numEven), wide, rough)
	VPCMPGTD(s.number(numReach), wide, wide)
	return wide, rough
}

// mean keeps the light of the mean code with what the codes' spread adds to
// it, and adds the squares about the curve's corner to the wide ones.
func (s *squares) mean(total, squared, wide, rough VecVirtual) {
	spread, product := YMM(), YMM()
	VPSLLD(U8(map[int]uint8{2: 2, 4: 4}[s.n]), squared, spread)
	VPMULLD(total, total, product)
	VPSUBD(product, spread, spread)
	VCVTDQ2PS(spread, spread)
	VMULPS(s.number(numBend), spread, spread)
	VMOVUPS(spread, s.bend)
	mean := s.times(total, numKY)
	VPADDD(s.number(numC), mean, mean)
	for c := range 3 {
		x, y, over := s.gather(mean, s.offsets[c]), YMM(), YMM()
		VCMPPS(U8(14), s.number(numLow), x, over) // greater
		VANDPS(rough, over, over)
		VCMPPS(U8(13), s.number(numHigh), x, y) // not less
		VANDNPS(over, y, over)
		VORPS(over, wide, wide) // about the corner
		VMOVAPS(y, over)
		VADDPS(s.number(numBase), x, y)
		VMULPS(s.bend, y, y)
		VANDPS(over, y, y)
		VADDPS(y, x, x)
		VMOVUPS(x, s.light[c])
	}
	VMOVDQU(wide, s.uneven)
}

// pixels puts the mean of each pixel's light where a square is uneven; it goes
// to the label "even" where none of the eight is.
func (s *squares) pixels(wide VecVirtual) {
	some := GP32()
	VPMOVMSKB(wide, some)
	TESTL(some, some)
	JZ(LabelRef("even"))
	var sum [3]VecVirtual
	for c := range sum {
		sum[c] = YMM()
		VXORPS(sum[c], sum[c], sum[c])
	}
	add := func(code VecVirtual, to [3]Mem) {
		m := s.times(code, numKS)
		VPADDD(s.number(numC), m, m)
		for c := range 3 {
			x := s.gather(m, to[c])
			VADDPS(x, sum[c], sum[c])
		}
	}
	if s.n == 2 {
		s.pixels2(add)
	} else {
		s.pixels4(add)
	}
	mask, share := YMM(), s.number(numShare)
	VMOVDQU(s.uneven, mask)
	for c := range 3 {
		x := YMM()
		VMULPS(share, sum[c], sum[c])
		VMOVUPS(s.light[c], x)
		VBLENDVPS(mask, sum[c], x, x)
		VMOVUPS(x, s.light[c])
	}
}

func (s *squares) pixels2(add func(code VecVirtual, to [3]Mem)) {
	for k := range 2 {
		x, y := YMM(), YMM()
		VMOVDQU(s.row(k, 0), x)
		VPSRLD(U8(16), x, y)
		VPAND(s.low, x, x)
		add(x, s.offsets)
		add(y, s.offsets)
	}
}

func (s *squares) pixels4(add func(code VecVirtual, to [3]Mem)) {
	for j := range 2 {
		for k := range 4 {
			for i := range 2 {
				var x [2]VecVirtual
				for part := range x {
					x[part] = YMM()
					VMOVDQU(s.row(k, part), x[part])
					if d := 32*j + 16*i; d > 0 {
						VPSRLQ(U8(d), x[part], x[part])
					}
				}
				add(squaresOf(x, s.low), s.halves[j])
			}
		}
	}
}

// gather looks up the light at eight places.
func (a *asm) gather(mean VecVirtual, offset Mem) VecVirtual {
	index, all, out := YMM(), YMM(), YMM()
	VPADDD(offset, mean, index)
	VPSRLD(U8(placeShift), index, index)
	VPCMPEQD(all, all, all)
	VXORPS(out, out, out)
	VGATHERDPS(all, Mem{Base: a.table, Index: index, Scale: 4}, out)
	return out
}

// squaresOf takes the low 16 bits of each 64 of two registers, in order.
func squaresOf(x [2]VecVirtual, low VecVirtual) VecVirtual {
	out := YMM()
	VSHUFPS(U8(0x88), x[1], x[0], out)
	VPERMQ(U8(0xd8), out, out)
	VPAND(low, out, out)
	return out
}
