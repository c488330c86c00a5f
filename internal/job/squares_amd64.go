//go:build amd64 && !purego

package job

import (
	"math"
	"unsafe"

	"golang.org/x/sys/cpu"
)

//go:generate go -C asm run . -out ../squares_amd64.s -stubs ../squaresstub_amd64.go -pkg job
//go:generate go test lampwise -run TestGeneratedCodeIsFresh -update-sums

// buildHasWide says that the wide forms are compiled in.
const buildHasWide = true

var wideSquares = cpu.X86.HasAVX2

const squareGroup = 8

// wide does as many of the row's squares as there are whole groups of, and
// says how many. A group reads one chroma sample beyond its squares.
func (s *lightSquares) wide(l *lightDecoder, r *squareRow) int {
	if !wideSquares {
		return 0
	}
	w, cw := len(r.dstRow)/3, len(r.cbRow[0])
	read := 1 // chroma samples beyond the group's own
	if s.n == 4 {
		read = 2
	}
	own := squareGroup * s.n / 2
	r.groups = min(w/squareGroup, max(cw-read, 0)/own)
	if r.groups == 0 {
		return 0
	}
	for k := range s.n {
		r.luma[k], r.cb[k], r.cr[k] = &r.lumaRow[k][0], &r.cbRow[k][0], &r.crRow[k][0]
	}
	r.dst, r.clipped, r.table = &r.dstRow[0], &r.clippedRow[0], l.light
	share := float32(1) / float32(s.n*s.n)
	r.numbers = [...]uint32{
		s.kY, s.kS, s.cY, s.rV, s.gU, s.gV, s.bU, s.cR, s.cG, s.cB, uint32(s.even), uint32(s.most), uint32(l.clip - 1),
		math.Float32bits(share), math.Float32bits(s.bend), math.Float32bits(s.base), math.Float32bits(s.low), math.Float32bits(s.high),
	}
	if s.n == 2 {
		squares2AVX2((*byte)(unsafe.Pointer(r)))
	} else {
		squares4AVX2((*byte)(unsafe.Pointer(r)))
	}
	return r.groups * squareGroup
}
