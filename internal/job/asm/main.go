// Command asm writes the AVX2 forms of the loops that take a clip's frames to
// working pictures:
//
//	go -C internal/job/asm run . -out ../squares_amd64.s -stubs ../squaresstub_amd64.go -pkg job
//
// (go generate ./internal/job does just that). It is a module of its own, so
// that the program itself does not depend on what generates it.
//
// Each loop computes the same numbers as its portable form in package job,
// which says what they mean; a test there compares them bit by bit.
package main

import (
	. "github.com/mmcloughlin/avo/build"
	. "github.com/mmcloughlin/avo/operand"
	. "github.com/mmcloughlin/avo/reg"
)

func main() {
	ConstraintExpr("amd64,!purego")
	newSquares(2).write()
	newSquares(4).write()
	Generate()
}

// The argument block, as squareArgs in package job.
const (
	argLuma    = 0
	argCb      = 32
	argCr      = 64
	argDst     = 96
	argClipped = 104
	argTable   = 112
	argGroups  = 120
	argNumbers = 128
)

// Numbers of the argument block, in its order.
const (
	numKY = iota
	numKS
	numC
	numRV
	numGU
	numGV
	numBU
	numCR
	numCG
	numCB
	numEven
	numReach
	numClip
	numShare // 1/n², and the rest, are float32
	numBend
	numBase
	numLow
	numHigh
)

const placeShift = 17

// asm holds what a loop needs throughout.
type asm struct {
	args, table Register
	low         VecVirtual // 0xffff in each 32 bits
	ones        VecVirtual // 1 in each 16 bits
}

// number broadcasts a number of the argument block.
func (a *asm) number(i int) VecVirtual {
	v := YMM()
	VPBROADCASTD(Mem{Base: a.args, Disp: argNumbers + 4*i}, v)
	return v
}

// times multiplies by a number of the argument block.
func (a *asm) times(v VecVirtual, i int) VecVirtual {
	out := a.number(i)
	VPMULLD(v, out, out)
	return out
}

func pointer(args Register, disp int) GPVirtual {
	p := GP64()
	MOVQ(Mem{Base: args, Disp: disp}, p)
	return p
}

func with(op func(Op, Op, Op), a, b VecVirtual) VecVirtual {
	out := YMM()
	op(a, b, out)
	return out
}

// The three-operand instructions as values.
func vpand3(a, b, c Op)   { VPAND(a, b, c) }
func vpaddd3(a, b, c Op)  { VPADDD(a, b, c) }
func vpaddw3(a, b, c Op)  { VPADDW(a, b, c) }
func vpminuw3(a, b, c Op) { VPMINUW(a, b, c) }
func vpmaxuw3(a, b, c Op) { VPMAXUW(a, b, c) }
