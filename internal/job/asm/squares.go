package main

import (
	. "github.com/mmcloughlin/avo/build"
	. "github.com/mmcloughlin/avo/operand"
	. "github.com/mmcloughlin/avo/reg"
)

// squares writes (*lightSquares).row2 or row4 for eight squares a group.
type squares struct {
	asm
	n    int // pixels on a square's side: 2 or 4
	name string

	at             GPVirtual // the group's number
	byte64, byte32 GPVirtual // the group's place in chroma: 16 bytes a group for n = 2, 32 for 4
	lumaAt         GPVirtual // and in luma

	offsets [3]Mem    // chroma's share of the place, of the square's mean
	halves  [2][3]Mem // and of each pair of columns, for n = 4
	light   [3]Mem    // the light of the mean code
	bend    Mem       // what the codes' spread adds to it
	high    Mem       // the square's highest code
	uneven  Mem       // all ones where the square is uneven
}

func newSquares(n int) *squares {
	return &squares{n: n, name: map[int]string{2: "squares2AVX2", 4: "squares4AVX2"}[n]}
}

func (s *squares) write() {
	TEXT(s.name, NOSPLIT, "func(args *byte)")
	Doc(s.name + " is (*lightSquares)." + map[int]string{2: "row2", 4: "row4"}[s.n] + " for whole groups of eight squares.")
	s.args = Load(Param("args"), GP64())
	s.table = pointer(s.args, argTable)
	groups := pointer(s.args, argGroups)
	TESTQ(groups, groups)
	JZ(LabelRef("done"))
	s.constants()
	s.at = GP64()
	XORQ(s.at, s.at)
	s.locals()

	Label("group")
	s.chroma()
	total, squared, lo, hi := s.luma()
	wide, rough := s.spans(lo, hi)
	s.mean(total, squared, wide, rough)
	s.pixels(wide)
	Label("even")
	s.store()
	s.clipped()
	INCQ(s.at)
	DECQ(groups)
	JNZ(LabelRef("group"))
	Label("done")
	VZEROUPPER()
	RET()
}

func (s *squares) constants() {
	s.low, s.ones = YMM(), YMM()
	VPCMPEQD(s.low, s.low, s.low)
	VPSRLD(U8(16), s.low, s.low)
	VPCMPEQD(s.ones, s.ones, s.ones)
	VPSRLW(U8(15), s.ones, s.ones)
}

func (s *squares) locals() {
	three := func() [3]Mem { return [3]Mem{AllocLocal(32), AllocLocal(32), AllocLocal(32)} }
	s.offsets, s.light = three(), three()
	s.bend, s.high, s.uneven = AllocLocal(32), AllocLocal(32), AllocLocal(32)
	if s.n == 4 {
		s.halves = [2][3]Mem{three(), three()}
	}
}
