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
	squares(2)
	squares(4)
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

// squares is (*lightSquares).row2 or row4 for eight squares a group.
func squares(n int) {
	name := map[int]string{2: "squares2AVX2", 4: "squares4AVX2"}[n]
	TEXT(name, NOSPLIT, "func(args *byte)")
	Doc(name + " is (*lightSquares)." + map[int]string{2: "row2", 4: "row4"}[n] + " for whole groups of eight squares.")
	a := &asm{args: Load(Param("args"), GP64())}
	a.table = pointer(a.args, argTable)
	groups := pointer(a.args, argGroups)
	TESTQ(groups, groups)
	JZ(LabelRef("done"))
	a.low, a.ones = YMM(), YMM()
	VPCMPEQD(a.low, a.low, a.low)
	VPSRLD(U8(16), a.low, a.low)
	VPCMPEQD(a.ones, a.ones, a.ones)
	VPSRLW(U8(15), a.ones, a.ones)
	at := GP64() // the group's number
	XORQ(at, at)
	local := func() Mem { return AllocLocal(32) }
	offsets := [3]Mem{local(), local(), local()} // chroma's share of the place, of the square's mean
	halves := [2][3]Mem{}                        // and of each pair of columns, where there are two
	light := [3]Mem{local(), local(), local()}   // the light of the mean code
	bend := local()
	high, uneven := local(), local() // the square's highest code; whether it is uneven
	if n == 4 {
		for j := range halves {
			halves[j] = [3]Mem{local(), local(), local()}
		}
	}

	Label("group")
	// Chroma, as the weighted sums of codes.
	byte64, byte32 := GP64(), GP64()
	MOVQ(at, byte32)
	SHLQ(U8(5), byte32)
	MOVQ(at, byte64)
	SHLQ(U8(4), byte64) // 16 bytes a group for n = 2
	var u, v [2]VecVirtual
	sum := func(disp int) (out [2]VecVirtual) {
		if n == 2 {
			here := func(more int) VecVirtual {
				x, y := YMM(), YMM()
				VPMOVZXWD(Mem{Base: pointer(a.args, disp), Index: byte64, Scale: 1, Disp: more}, x)
				VPMOVZXWD(Mem{Base: pointer(a.args, disp+8), Index: byte64, Scale: 1, Disp: more}, y)
				VPADDD(x, y, x)
				return x
			}
			now, next := here(0), here(2)
			x := YMM() // 6·now + 2·next
			VPADDD(now, now, x)
			VPADDD(now, x, x)
			VPADDD(next, x, x)
			VPADDD(x, x, x)
			return [2]VecVirtual{x}
		}
		rows := func(more int) VecVirtual {
			x := YMM()
			for k := range 4 {
				p := pointer(a.args, disp+8*k)
				m := Mem{Base: p, Index: byte32, Scale: 1, Disp: more}
				if k == 0 {
					VMOVDQU(m, x)
				} else {
					VPADDW(m, x, x)
				}
			}
			return x
		}
		both, after := rows(0), rows(4)
		c0, c1 := with(vpand3, both, a.low), YMM()
		VPSRLD(U8(16), both, c1)
		c2 := with(vpand3, after, a.low)
		for j, c := range [2][2]VecVirtual{{c0, c1}, {c1, c2}} {
			x := YMM() // 3·c + the next
			VPADDD(c[0], c[0], x)
			VPADDD(c[0], x, x)
			VPADDD(c[1], x, x)
			out[j] = x
		}
		return out
	}
	u, v = sum(argCb), sum(argCr)
	place := func(u, v VecVirtual, to [3]Mem) {
		r := a.times(v, numRV)
		VPADDD(a.number(numCR), r, r)
		VMOVDQU(r, to[0])
		g, t := a.times(u, numGU), a.times(v, numGV)
		VPADDD(t, g, g)
		VPADDD(a.number(numCG), g, g)
		VMOVDQU(g, to[1])
		b := a.times(u, numBU)
		VPADDD(a.number(numCB), b, b)
		VMOVDQU(b, to[2])
	}
	if n == 2 {
		place(u[0], v[0], offsets)
	} else {
		uu, vv := with(vpaddd3, u[0], u[1]), with(vpaddd3, v[0], v[1])
		place(uu, vv, offsets)
		for j := range 2 {
			VPADDD(u[j], u[j], u[j])
			VPADDD(v[j], v[j], v[j])
			place(u[j], v[j], halves[j])
		}
	}

	// Luma: sum, sum of squares, highest and lowest code of each square.
	lumaAt := GP64()
	MOVQ(at, lumaAt)
	if n == 2 {
		SHLQ(U8(5), lumaAt)
	} else {
		SHLQ(U8(6), lumaAt)
	}
	row := func(k, part int) Mem {
		return Mem{Base: pointer(a.args, argLuma+8*k), Index: lumaAt, Scale: 1, Disp: 32 * part}
	}
	var total, lo, hi, squared VecVirtual
	if n == 2 {
		p, q := YMM(), YMM()
		VMOVDQU(row(0, 0), p)
		VMOVDQU(row(1, 0), q)
		total, lo, hi = with(vpaddw3, p, q), with(vpminuw3, p, q), with(vpmaxuw3, p, q)
		VPMADDWD(a.ones, total, total)
		VPMADDWD(p, p, p)
		VPMADDWD(q, q, q)
		squared = with(vpaddd3, p, q)
		t := YMM()
		VPSRLD(U8(16), lo, t)
		VPMINUW(t, lo, lo)
		VPAND(a.low, lo, lo)
		VPSRLD(U8(16), hi, t)
		VPMAXUW(t, hi, hi)
		VPAND(a.low, hi, hi)
	} else {
		var s, l, h, ss [2]VecVirtual
		for part := range 2 {
			for k := range 4 {
				x := YMM()
				VMOVDQU(row(k, part), x)
				if k == 0 {
					s[part], l[part], h[part], ss[part] = YMM(), YMM(), YMM(), YMM()
					VMOVDQA(x, s[part])
					VMOVDQA(x, l[part])
					VMOVDQA(x, h[part])
					VPMADDWD(x, x, ss[part])
					continue
				}
				VPADDW(x, s[part], s[part])
				VPMINUW(x, l[part], l[part])
				VPMAXUW(x, h[part], h[part])
				VPMADDWD(x, x, x)
				VPADDD(x, ss[part], ss[part])
			}
			VPMADDWD(a.ones, s[part], s[part])
			for _, d := range []uint8{32, 16} {
				t := YMM()
				VPSRLQ(U8(d), l[part], t)
				VPMINUW(t, l[part], l[part])
				VPSRLQ(U8(d), h[part], t)
				VPMAXUW(t, h[part], h[part])
			}
		}
		total = YMM()
		VPHADDD(s[1], s[0], total)
		VPERMQ(U8(0xd8), total, total)
		squared = YMM()
		VPHADDD(ss[1], ss[0], squared)
		VPERMQ(U8(0xd8), squared, squared)
		lo, hi = squaresOf(l, a.low), squaresOf(h, a.low)
	}
	VMOVDQU(hi, high)
	wide, rough := YMM(), YMM()
	VPSUBD(lo, hi, wide)
	VPCMPGTD(a.number(numEven), wide, rough)
	VPCMPGTD(a.number(numReach), wide, wide)

	// The light of the mean code, and what the codes' spread adds to it.
	spread, product := YMM(), YMM()
	VPSLLD(U8(map[int]uint8{2: 2, 4: 4}[n]), squared, spread)
	VPMULLD(total, total, product)
	VPSUBD(product, spread, spread)
	VCVTDQ2PS(spread, spread)
	VMULPS(a.number(numBend), spread, spread)
	VMOVUPS(spread, bend)
	mean := a.times(total, numKY)
	VPADDD(a.number(numC), mean, mean)
	for c := range 3 {
		x, y, over := a.gather(mean, offsets[c]), YMM(), YMM()
		VCMPPS(U8(14), a.number(numLow), x, over) // greater
		VANDPS(rough, over, over)
		VCMPPS(U8(13), a.number(numHigh), x, y) // not less
		VANDNPS(over, y, over)
		VORPS(over, wide, wide) // about the corner
		VMOVAPS(y, over)
		VADDPS(a.number(numBase), x, y)
		VMULPS(bend, y, y)
		VANDPS(over, y, y)
		VADDPS(y, x, x)
		VMOVUPS(x, light[c])
	}

	VMOVDQU(wide, uneven)

	// Uneven squares: the mean of each pixel's light.
	some := GP32()
	VPMOVMSKB(wide, some)
	TESTL(some, some)
	JZ(LabelRef("even"))
	var acc [3]VecVirtual
	for c := range acc {
		acc[c] = YMM()
		VXORPS(acc[c], acc[c], acc[c])
	}
	add := func(code VecVirtual, to [3]Mem) {
		m := a.times(code, numKS)
		VPADDD(a.number(numC), m, m)
		for c := range 3 {
			x := a.gather(m, to[c])
			VADDPS(x, acc[c], acc[c])
		}
	}
	if n == 2 {
		for k := range 2 {
			x, y := YMM(), YMM()
			VMOVDQU(row(k, 0), x)
			VPSRLD(U8(16), x, y)
			VPAND(a.low, x, x)
			add(x, offsets)
			add(y, offsets)
		}
	} else {
		for j := range 2 {
			for k := range 4 {
				for i := range 2 {
					var x [2]VecVirtual
					for part := range x {
						x[part] = YMM()
						VMOVDQU(row(k, part), x[part])
						if d := 32*j + 16*i; d > 0 {
							VPSRLQ(U8(d), x[part], x[part])
						}
					}
					add(squaresOf(x, a.low), halves[j])
				}
			}
		}
	}
	mask, share := YMM(), a.number(numShare)
	VMOVDQU(uneven, mask)
	for c := range 3 {
		x := YMM()
		VMULPS(share, acc[c], acc[c])
		VMOVUPS(light[c], x)
		VBLENDVPS(mask, acc[c], x, x)
		VMOVUPS(x, light[c])
	}

	Label("even")
	// R, G and B of a pixel together.
	dst := pointer(a.args, argDst)
	place3 := GP64()
	LEAQ(Mem{Base: byte32, Index: byte32, Scale: 2}, place3)
	ADDQ(dst, place3)
	var rgb [3]VecVirtual
	for c := range rgb {
		rgb[c] = YMM()
		VMOVUPS(light[c], rgb[c])
	}
	order := GLOBL("order"+name, RODATA|NOPTR)
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
		VMOVUPS(x[0], Mem{Base: place3, Disp: 32 * part})
	}

	// Clipped: the highest code with the largest of chroma's shares.
	top := YMM()
	VMOVDQU(offsets[0], top)
	VPMAXSD(offsets[1], top, top)
	VPMAXSD(offsets[2], top, top)
	h := YMM()
	VMOVDQU(high, h)
	VPMULLD(a.number(numKS), h, h)
	VPADDD(a.number(numC), h, h)
	VPADDD(h, top, top)
	VPSRLD(U8(placeShift), top, top)
	VPCMPGTD(a.number(numClip), top, top)
	upper := XMM()
	VEXTRACTI128(U8(1), top, upper)
	VPACKSSDW(upper, top.AsX(), upper)
	VPACKSSWB(upper, upper, upper)
	VPABSB(upper, upper)
	clipped := pointer(a.args, argClipped)
	VMOVQ(upper, Mem{Base: clipped, Index: at, Scale: 8})

	INCQ(at)
	DECQ(groups)
	JNZ(LabelRef("group"))
	Label("done")
	VZEROUPPER()
	RET()
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

// The three-operand instructions as values.
func vpand3(a, b, c Op)   { VPAND(a, b, c) }
func vpaddd3(a, b, c Op)  { VPADDD(a, b, c) }
func vpaddw3(a, b, c Op)  { VPADDW(a, b, c) }
func vpminuw3(a, b, c Op) { VPMINUW(a, b, c) }
func vpmaxuw3(a, b, c Op) { VPMAXUW(a, b, c) }
