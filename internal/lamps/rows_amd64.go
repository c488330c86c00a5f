//go:build amd64 && !purego

package lamps

import "golang.org/x/sys/cpu"

var wideRows = cpu.X86.HasAVX2

// rowGroup is how many numbers the wide instructions do at once.
const rowGroup = 8

// addAVX2 adds groups of eight numbers to sum.
//
//go:noescape
func addAVX2(sum, pix *float32, groups int)

// exchangeAVX2 puts the smaller numbers of each pair in low, the larger in high.
//
//go:noescape
func exchangeAVX2(low, high *float32, groups int)

// addTo adds a picture's samples to others.
func addTo(sum, pix []float32) {
	sum = sum[:len(pix)]
	n := 0
	if wideRows && len(pix) >= rowGroup {
		addAVX2(&sum[0], &pix[0], len(pix)/rowGroup)
		n = len(pix) / rowGroup * rowGroup
	}
	addEach(sum[n:], pix[n:])
}

// exchangeRows sorts each pair of two rows' finite numbers; false where there is
// no wide form to do it with.
func exchangeRows(low, high []float32) bool {
	if !wideRows {
		return false
	}
	high = high[:len(low)]
	n := len(low) / rowGroup * rowGroup
	if n > 0 {
		exchangeAVX2(&low[0], &high[0], n/rowGroup)
	}
	for i := n; i < len(low); i++ {
		if low[i] > high[i] {
			low[i], high[i] = high[i], low[i]
		}
	}
	return true
}
