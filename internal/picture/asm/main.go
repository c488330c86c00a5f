// Command asm writes the AVX2 forms of the kernel's inner loops:
//
//	go -C internal/picture/asm run . -out ../simd_amd64.s -stubs ../simdstub_amd64.go -pkg picture
//
// (go generate ./internal/picture does just that). It is a module of its own,
// so that the program itself does not depend on what generates it.
//
// Each loop computes the same integers as its portable form in package
// picture, which says what they mean; a test there compares them bit by bit.
package main

import (
	. "github.com/mmcloughlin/avo/build"
	. "github.com/mmcloughlin/avo/operand"
	. "github.com/mmcloughlin/avo/reg"
)

func main() {
	ConstraintExpr("amd64,!purego")
	cube()
	input()
	mix()
	spread()
	finish()
	filter()
	chroma()
	triangular()
	Generate()
}

// block is how many pixels are worked on together, as in package picture.
const block = 64

const (
	lanes  = 16 // 16-bit numbers in a register
	plane  = 2 * block
	sixty4 = 8 // bytes in a node
)

// words broadcasts the 16-bit number at index i of a parameter list of 32-bit
// ones: its low half.
func words(params Register, i int) VecVirtual {
	v := YMM()
	VPBROADCASTW(Mem{Base: params, Disp: 4 * i}, v)
	return v
}

// doubles broadcasts the 32-bit number, or pair of 16-bit ones, at index i.
func doubles(params Register, i int) VecVirtual {
	v := YMM()
	VPBROADCASTD(Mem{Base: params, Disp: 4 * i}, v)
	return v
}

// count loads a shift count.
func count(params Register, i int) VecVirtual {
	v := XMM()
	VMOVD(Mem{Base: params, Disp: 4 * i}, v)
	return v
}

// loop runs body while n, counted down by one, is above 0.
func loop(n Register, name string, body func()) {
	TESTQ(n, n)
	JZ(LabelRef(name + "done"))
	Label(name)
	body()
	DECQ(n)
	JNZ(LabelRef(name))
	Label(name + "done")
}

func ptr(name string) GPVirtual { return Load(Param(name), GP64()).(GPVirtual) }

func at(base Register, disp int) Mem { return Mem{Base: base, Disp: disp} }
