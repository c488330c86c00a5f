package job

import (
	"math"
	"sync"

	"lampwise/internal/picture"
)

// halfOf rounds a number to the nearest half float (IEEE 754 binary16), ties to
// even; what is too large becomes the largest finite one.
func halfOf(v float32) uint16 {
	const largest = 65504
	v = max(-largest, min(v, largest))
	b := math.Float32bits(v)
	sign := uint16(b >> 16 & 0x8000)
	a := b & 0x7fffffff
	if a < 113<<23 { // below the smallest normal half, 2^−14
		// A step is 2^−24 there; adding ½ brings the float's last bit onto it.
		return sign | uint16(math.Float32bits(math.Float32frombits(a)+0.5)-math.Float32bits(0.5))
	}
	a += 0xfff + a>>13&1 - 112<<23
	return sign | uint16(a>>13)
}

// halfValues is the number of each half float.
var halfValues = sync.OnceValue(func() *[1 << 16]float32 {
	t := new([1 << 16]float32)
	for i := range t {
		t[i] = float32(picture.HalfValue(uint16(i)))
	}
	return t
})
