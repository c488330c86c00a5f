//go:build !amd64 || purego

package picture

// No wide forms of the inner loops for this processor, or none wanted.
const (
	buildHasWide  = false
	simdAvailable = false
)

type wide struct{}

func newWide(*Kernel) *wide { return nil }

func (w *worker) wideRow(out []uint16, s sums, codes []uint16, y int, gain []uint16) (exact int) {
	return w.portableRow(out, s, codes, y, gain)
}

func (*wide) chromaOut(o *output, cb, cr []uint16, rows [3]sums, weights [3]int32, noiseCb, noiseCr []int16) {
	o.chroma(cb, cr, [3][]uint64{rows[0].lanes, rows[1].lanes, rows[2].lanes}, weights, noiseCb, noiseCr)
}

func (*wide) noise(o Output, row []int16, plane, y, frame int) { o.noiseRow(row, plane, y, frame) }
