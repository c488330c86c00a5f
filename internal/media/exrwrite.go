package media

import (
	"bufio"
	"encoding/binary"
	"io"
	"math"

	"lampwise/internal/picture"
)

// WriteEXR writes an image's numbers as they are, 32-bit floats, uncompressed,
// with BT.709's primaries named. For scene light 0.18 is grey.
//
// Source: OpenEXR File Layout (openexr.com, "Technical Introduction" and "File
// Layout"): magic number, version 2, attributes, table of offsets, one block a row.
func WriteEXR(path string, im *picture.Image) error {
	return writeStill(path, im, func(w io.Writer) error {
		b := bufio.NewWriter(w)
		head := exrHead(im.W, im.H)
		_, _ = b.Write(head)
		row := 8 + 3*4*im.W
		first := uint64(len(head) + 8*im.H)
		for y := range im.H {
			_ = binary.Write(b, binary.LittleEndian, first+uint64(y*row))
		}
		block := make([]byte, row)
		for y := range im.H {
			binary.LittleEndian.PutUint32(block, uint32(y))
			binary.LittleEndian.PutUint32(block[4:], uint32(row-8))
			for i, c := range []int{2, 1, 0} { // channels by name: B, G, R
				for x := range im.W {
					binary.LittleEndian.PutUint32(block[8+4*(i*im.W+x):], math.Float32bits(im.Pix[3*(y*im.W+x)+c]))
				}
			}
			_, _ = b.Write(block)
		}
		return b.Flush()
	})
}

// exrHead is the magic number, the version and the attributes.
func exrHead(w, h int) []byte {
	le := binary.LittleEndian
	out := le.AppendUint32(nil, 20000630)
	out = le.AppendUint32(out, 2)
	add := func(name, kind string, data []byte) {
		out = append(append(append(append(out, name...), 0), kind...), 0)
		out = append(le.AppendUint32(out, uint32(len(data))), data...)
	}
	ints := func(v ...int32) (b []byte) {
		for _, x := range v {
			b = le.AppendUint32(b, uint32(x))
		}
		return b
	}
	floats := func(v ...float32) (b []byte) {
		for _, x := range v {
			b = le.AppendUint32(b, math.Float32bits(x))
		}
		return b
	}
	var channels []byte
	for _, name := range []string{"B", "G", "R"} {
		channels = append(append(channels, name...), 0)
		channels = append(channels, ints(2, 0, 1, 1)...) // FLOAT, not "linear" perceptually, sampled at each pixel
	}
	add("channels", "chlist", append(channels, 0))
	add("chromaticities", "chromaticities", floats(0.64, 0.33, 0.30, 0.60, 0.15, 0.06, 0.3127, 0.3290)) // ITU-R BT.709-6, items 1.3 and 1.4
	add("compression", "compression", []byte{0})
	add("dataWindow", "box2i", ints(0, 0, int32(w-1), int32(h-1)))
	add("displayWindow", "box2i", ints(0, 0, int32(w-1), int32(h-1)))
	add("lineOrder", "lineOrder", []byte{0})
	add("pixelAspectRatio", "float", floats(1))
	add("screenWindowCenter", "v2f", floats(0, 0))
	add("screenWindowWidth", "float", floats(1))
	return append(out, 0)
}
