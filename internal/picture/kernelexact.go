package picture

import "math/bits"

// exactly evaluates single pixels by the exact function and remembers what it
// found: the colours of a picture recur, and the function costs as much as
// some hundred look-ups. What is remembered is the function's own result, so
// the memory changes nothing but the time.
type exactly struct {
	k     *Kernel
	found []result
}

type result struct {
	key uint64 // 0 = empty
	u   [3]uint16
}

const (
	knownBits = 14
	knownFull = 1 << 63
)

func newExactly(k *Kernel) *exactly { return &exactly{k: k, found: make([]result, 1<<knownBits)} }

// at is u of the display domain for a pixel of that luma code and chroma.
func (e *exactly) at(luma uint16, cb, cr int16) [3]uint16 {
	key := knownFull | uint64(luma) | uint64(uint16(cb))<<16 | uint64(uint16(cr))<<32
	slot := &e.found[key*0x9e3779b97f4a7c15>>(64-knownBits)]
	if slot.key != key {
		slot.key = key
		slot.u, _ = e.k.plan.display.code(e.k.exact(e.k.input.exactY(int32(luma), cb, cr)))
	}
	return slot.u
}

// exactRow puts the exact result of all marked pixels into a row of the display
// domain, and clears the marks. It returns how many they were.
func exactRow[R interface{ put(x int, u [3]uint16) }](e *exactly, dst R, y []uint16, cb, cr []int16, m marks) (count int) {
	for i, marked := range m {
		m[i] = 0
		for ; marked != 0; marked &= marked - 1 {
			x := i*block + bits.TrailingZeros64(marked)
			if x >= len(y) {
				break
			}
			dst.put(x, e.at(y[x], cb[x], cr[x]))
			count++
		}
	}
	return count
}
