//go:build !amd64 || purego

package picture

// No wide forms of the inner loops for this processor, or none wanted.
const (
	buildHasWide  = false
	simdAvailable = false
)

type wide struct{}

func newWide(*Kernel) *wide { return nil }

func (*wide) chromaIn(in *input, dst []int16, spare []int32, plane []uint16, y int) {
	in.chroma(dst, spare, plane, y)
}

func (*wide) rowIn(in *input, dst []pixels, y []uint16, cb, cr []int16, m marks) {
	in.row(dst, y, cb, cr, m)
}

func (*wide) step(s step, dst, src []pixels, m marks) { s.row(dst, src, m) }

func (*wide) rowOut(o *output, y []uint16, s sums, src []pixels, gain []uint16, noise []int16) {
	o.row(y, s, src, gain, noise)
}

func (*wide) chromaOut(o *output, cb, cr []uint16, rows [3]sums, weights [3]int32, noiseCb, noiseCr []int16) {
	o.chroma(cb, cr, rows, weights, noiseCb, noiseCr)
}

func (*wide) noise(o Output, row []int16, plane, y, frame int) { o.noiseRow(row, plane, y, frame) }
