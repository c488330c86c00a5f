package media

import (
	"fmt"
	"strconv"
	"strings"
)

// identityMatrix shows the picture as it is stored (ISO/IEC 14496-12, 8.3.2: 16.16 fixed point, last column 2.30).
var identityMatrix = [9]int32{0x10000, 0, 0, 0, 0x10000, 0, 0, 0, 0x40000000}

// parseDisplayMatrix reads ffprobe's print of it:
//
//	00000000:            0       65536           0
//	00000001:       -65536           0           0
//	00000002:            0           0  1073741824
func parseDisplayMatrix(s string) ([9]int32, error) {
	var m [9]int32
	n := 0
	for line := range strings.Lines(s) {
		_, numbers, ok := strings.Cut(line, ":")
		if !ok {
			continue
		}
		for _, f := range strings.Fields(numbers) {
			v, err := strconv.ParseInt(f, 10, 32)
			if err != nil || n == 9 {
				return m, fmt.Errorf("display matrix %q cannot be read", clip(s))
			}
			m[n] = int32(v)
			n++
		}
	}
	if n != 9 {
		return m, fmt.Errorf("display matrix has %d numbers, expected 9", n)
	}
	return m, nil
}

// rotationOf gives the clockwise turn of a matrix that is a plain quarter turn.
func rotationOf(m [9]int32) (degrees int, ok bool) {
	const one = 0x10000
	switch [4]int32{m[0], m[1], m[3], m[4]} {
	case [4]int32{one, 0, 0, one}:
		return 0, true
	case [4]int32{0, one, -one, 0}:
		return 90, true
	case [4]int32{-one, 0, 0, -one}:
		return 180, true
	case [4]int32{0, -one, one, 0}:
		return 270, true
	}
	return 0, false
}
