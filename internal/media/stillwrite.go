package media

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"image"
	"image/png"
	"io"
	"math"
	"os"

	"lampwise/internal/fault"
	"lampwise/internal/picture"
)

// WritePNG writes a picture as RGB of 8 or 16 bits: code = value × top, to the
// nearest, clamped to 0..top (not a number becomes 0). An existing file is
// replaced once the new one is complete.
func WritePNG(path string, im *picture.Image, bits int) error {
	if bits != 8 && bits != 16 {
		return fmt.Errorf("media: a PNG of %d bits", bits)
	}
	return writeStill(path, im, func(w io.Writer) error {
		r := image.Rect(0, 0, im.W, im.H)
		if bits == 16 {
			m := image.NewNRGBA64(r)
			for i := range im.W * im.H {
				p := m.Pix[8*i : 8*i+8]
				for c := range 3 {
					binary.BigEndian.PutUint16(p[2*c:], uint16(code(im.Pix[3*i+c], 0xffff)))
				}
				p[6], p[7] = 0xff, 0xff
			}
			return png.Encode(w, m)
		}
		m := image.NewNRGBA(r)
		for i := range im.W * im.H {
			p := m.Pix[4*i : 4*i+4]
			for c := range 3 {
				p[c] = uint8(code(im.Pix[3*i+c], 0xff))
			}
			p[3] = 0xff
		}
		return png.Encode(w, m)
	})
}

// Field types and tags of a baseline RGB file (TIFF 6.0, sections 2 and 6).
const (
	tiffShort    = 3
	tiffLong     = 4
	tiffRational = 5
)

// WriteTIFF writes a picture as baseline RGB TIFF of 8 or 16 bits, not
// compressed, little endian, in one strip; codes as in WritePNG. (The library
// that reads TIFF here writes 16 bits with a transparency channel only.)
func WriteTIFF(path string, im *picture.Image, bits int) error {
	if bits != 8 && bits != 16 {
		return fmt.Errorf("media: a TIFF of %d bits", bits)
	}
	bytesPerSample := bits / 8
	size := int64(im.W) * int64(im.H) * 3 * int64(bytesPerSample)
	if size > math.MaxUint32-1024 {
		return fault.New(fault.Usage, "still-too-large", "write a PNG instead", "%s: a picture of %d × %d is too large for a TIFF", path, im.W, im.H)
	}
	return writeStill(path, im, func(w io.Writer) error {
		le := binary.LittleEndian
		// Header, then the directory, then what does not fit into it, then the samples.
		const entries = 13
		extra := uint32(8 + 2 + 12*entries + 4)
		data := extra + 6 + 8 + 8
		b := append([]byte("II*\x00"), 8, 0, 0, 0)
		b = le.AppendUint16(b, entries)
		entry := func(tag, kind uint16, count, value uint32) {
			b = le.AppendUint16(b, tag)
			b = le.AppendUint16(b, kind)
			b = le.AppendUint32(b, count)
			b = le.AppendUint32(b, value)
		}
		entry(256, tiffLong, 1, uint32(im.W))  // ImageWidth
		entry(257, tiffLong, 1, uint32(im.H))  // ImageLength
		entry(258, tiffShort, 3, extra)        // BitsPerSample
		entry(259, tiffShort, 1, 1)            // Compression: none
		entry(262, tiffShort, 1, 2)            // PhotometricInterpretation: RGB
		entry(273, tiffLong, 1, data)          // StripOffsets
		entry(277, tiffShort, 1, 3)            // SamplesPerPixel
		entry(278, tiffLong, 1, uint32(im.H))  // RowsPerStrip
		entry(279, tiffLong, 1, uint32(size))  // StripByteCounts
		entry(282, tiffRational, 1, extra+6)   // XResolution
		entry(283, tiffRational, 1, extra+6+8) // YResolution
		entry(284, tiffShort, 1, 1)            // PlanarConfiguration: chunky
		entry(296, tiffShort, 1, 1)            // ResolutionUnit: none
		b = le.AppendUint32(b, 0)              // no further directory
		for range 3 {
			b = le.AppendUint16(b, uint16(bits))
		}
		for range 2 {
			b = le.AppendUint32(le.AppendUint32(b, 1), 1)
		}
		if _, err := w.Write(b); err != nil {
			return err
		}
		row := make([]byte, 0, 3*im.W*bytesPerSample)
		for y := range im.H {
			row = row[:0]
			for _, v := range im.Pix[3*y*im.W : 3*(y+1)*im.W] {
				if bits == 16 {
					row = le.AppendUint16(row, uint16(code(v, 0xffff)))
				} else {
					row = append(row, byte(code(v, 0xff)))
				}
			}
			if _, err := w.Write(row); err != nil {
				return err
			}
		}
		return nil
	})
}

// code is the nearest code of a value.
func code(v float32, top float64) uint32 {
	x := float64(v)*top + 0.5
	if !(x > 0) {
		return 0
	}
	return uint32(min(x, top))
}

// writeStill writes a whole file under a temporary name and then renames it.
func writeStill(path string, im *picture.Image, write func(io.Writer) error) error {
	if im.W < 1 || im.H < 1 || len(im.Pix) != 3*im.W*im.H {
		return fmt.Errorf("media: a picture of %d × %d with %d numbers", im.W, im.H, len(im.Pix))
	}
	p, err := newPlace(path, true)
	if err != nil {
		return err
	}
	defer p.abandon()
	f, err := os.OpenFile(p.temp, os.O_WRONLY|os.O_TRUNC, 0)
	if err != nil {
		return storageFault(err, path)
	}
	w := bufio.NewWriterSize(f, 1<<18)
	err = write(w)
	if err == nil {
		err = w.Flush()
	}
	if closed := f.Close(); err == nil {
		err = closed
	}
	if err != nil {
		return storageFault(err, path)
	}
	return p.finish()
}
