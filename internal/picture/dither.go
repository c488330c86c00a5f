package picture

// Dither is the noise added before a value is rounded to a code, so that a
// smooth ramp does not band.
type Dither string

// The dithers. Both noises have a triangular distribution of ±1 code: the
// mean error and the error's variance then do not depend on the signal
// (common practice; proved by Wannamaker et al., Proc. AES 1992, from memory).
const (
	DitherNone       Dither = "none"
	DitherTriangular Dither = "triangular" // white, new in each frame
	DitherBlue       Dither = "blue"       // a tile without low frequencies, moved in each frame
)

// noiseUnit is one output code in the units of the noise.
const noiseUnit = 256

// The planes, as the noise tells them apart.
const (
	planeY = iota
	planeCb
	planeCr
)

// noiseRow fills row with the dither of sample row y of a plane, in units of
// 1/noiseUnit code, within ±(noiseUnit − 1).
func (o Output) noiseRow(row []int16, plane, y, frame int) {
	key := noiseKey(o.Seed, plane, frame)
	switch o.Dither {
	case DitherTriangular:
		triangularRow(row, o.rowKey(plane, y, frame))
	case DitherBlue:
		blueRow(row, int(key&0xffff), y+int(key>>16))
	default:
		clear(row)
	}
}

// rowKey is what triangular dither makes a row of a plane of.
func (o Output) rowKey(plane, y, frame int) uint32 {
	return mix32(noiseKey(o.Seed, plane, frame) + uint32(y)*0x9e3779b9)
}

// triangularRow gives each pair of neighbours one 32-bit hash of the row's key
// and the pair's number. The sum of two of its bytes is triangular.
func triangularRow(row []int16, key uint32) {
	n := len(row) &^ 1
	for x := 0; x < n; x += 2 {
		h := mix32(key ^ uint32(x>>1)*0x85ebca6b)
		s := h&0x00ff00ff + h>>8&0x00ff00ff
		row[x] = int16(s&0xffff) - 255
		row[x+1] = int16(s>>16) - 255
	}
	if n < len(row) {
		h := mix32(key ^ uint32(n>>1)*0x85ebca6b)
		row[n] = int16(h&0xff+h>>8&0xff) - 255
	}
}

func noiseKey(seed uint32, plane, frame int) uint32 {
	return mix32(mix32(mix32(seed+0x9e3779b9)+uint32(frame)) + uint32(plane))
}

// mix32 is a bijection of 32-bit integers in which each input bit reaches each
// output bit about evenly: the multiply and xor-shift construction with the
// constants of Ellis and Wellons, "hash prospector", lowbias32 (from memory;
// the test measures what is relied on: mean, variance and correlation).
func mix32(x uint32) uint32 {
	x ^= x >> 16
	x *= 0x7feb352d
	x ^= x >> 15
	x *= 0x846ca68b
	x ^= x >> 16
	return x
}
