package media

import (
	"encoding/binary"
	"io"
	"math"
	"unsafe"

	"lampwise/internal/picture"
)

// littleEndian is true where a uint16 lies in memory as it does in the pipe.
var littleEndian = binary.NativeEndian.Uint16([]byte{1, 0}) == 1

// rawBytes shows samples as the bytes they lie in.
func rawBytes(p []uint16) []byte {
	if len(p) == 0 {
		return nil
	}
	return unsafe.Slice((*byte)(unsafe.Pointer(&p[0])), 2*len(p))
}

// readPlanes fills the frame's planes from one raw frame. scratch is kept by the caller between frames.
func readPlanes(r io.Reader, pf pixelFormat, f *picture.Frame, scratch []byte) ([]byte, error) {
	need := func(n int) []byte {
		if cap(scratch) < n {
			scratch = make([]byte, n)
		}
		return scratch[:n]
	}
	switch pf.layout {
	case planar, planarA:
		for _, p := range [][]uint16{f.Y, f.Cb, f.Cr} {
			if pf.bits > 8 {
				if _, err := io.ReadFull(r, rawBytes(p)); err != nil {
					return scratch, err
				}
				if !littleEndian {
					swapBytes(p)
				}
				continue
			}
			b := need(len(p))
			if _, err := io.ReadFull(r, b); err != nil {
				return scratch, err
			}
			expand(p, b)
		}
		if pf.layout == planarA {
			b := need(len(f.Y) * max(1, (pf.bits+7)/8))
			if _, err := io.ReadFull(r, b); err != nil {
				return scratch, err
			}
		}
	case biplanar:
		b := need(max(len(f.Y), 2*len(f.Cb)))
		if _, err := io.ReadFull(r, b[:len(f.Y)]); err != nil {
			return scratch, err
		}
		expand(f.Y, b)
		b = b[:2*len(f.Cb)]
		if _, err := io.ReadFull(r, b); err != nil {
			return scratch, err
		}
		for i := range f.Cb {
			f.Cb[i], f.Cr[i] = uint16(b[2*i]), uint16(b[2*i+1])
		}
	case biplanarHi:
		// The code stands in the upper bits, the lower ones are zero: a shift loses nothing.
		shift := 16 - pf.bits
		b := need(2 * max(len(f.Y), 2*len(f.Cb)))
		if _, err := io.ReadFull(r, b[:2*len(f.Y)]); err != nil {
			return scratch, err
		}
		for i := range f.Y {
			f.Y[i] = binary.LittleEndian.Uint16(b[2*i:]) >> shift
		}
		b = b[:4*len(f.Cb)]
		if _, err := io.ReadFull(r, b); err != nil {
			return scratch, err
		}
		for i := range f.Cb {
			f.Cb[i] = binary.LittleEndian.Uint16(b[4*i:]) >> shift
			f.Cr[i] = binary.LittleEndian.Uint16(b[4*i+2:]) >> shift
		}
	case packedUYVY, packedYUYV:
		y, c := 1, 0
		if pf.layout == packedYUYV {
			y, c = 0, 1
		}
		cw, _ := f.ChromaSize()
		b := need(4 * cw)
		for row := range f.Height {
			if _, err := io.ReadFull(r, b); err != nil {
				return scratch, err
			}
			luma := f.Y[row*f.Width : (row+1)*f.Width]
			for i := range cw {
				q := b[4*i : 4*i+4]
				luma[2*i] = uint16(q[y])
				if 2*i+1 < f.Width {
					luma[2*i+1] = uint16(q[y+2])
				}
				f.Cb[row*cw+i], f.Cr[row*cw+i] = uint16(q[c]), uint16(q[c+2])
			}
		}
	}
	return scratch, nil
}

// writePlanes writes the planes of a frame as one raw planar frame.
func writePlanes(w io.Writer, f *picture.Frame, scratch []byte) ([]byte, error) {
	for _, p := range [][]uint16{f.Y, f.Cb, f.Cr} {
		b := scratch
		switch {
		case f.Bits > 8 && littleEndian:
			b = rawBytes(p)
		case f.Bits > 8:
			if cap(scratch) < 2*len(p) {
				scratch = make([]byte, 2*len(p))
			}
			b = scratch[:2*len(p)]
			for i, v := range p {
				binary.LittleEndian.PutUint16(b[2*i:], v)
			}
		default:
			if cap(scratch) < len(p) {
				scratch = make([]byte, len(p))
			}
			b = scratch[:len(p)]
			narrow(b, p)
		}
		if _, err := w.Write(b); err != nil {
			return scratch, err
		}
	}
	return scratch, nil
}

// expand puts 8-bit codes into 16-bit samples, value for value, four at a time.
func expand(dst []uint16, src []byte) {
	src = src[:len(dst)]
	if littleEndian {
		raw := rawBytes(dst)
		for len(src) >= 4 && len(raw) >= 8 {
			v := uint64(binary.LittleEndian.Uint32(src))
			v = (v | v<<16) & 0x0000ffff0000ffff
			v = (v | v<<8) & 0x00ff00ff00ff00ff
			binary.LittleEndian.PutUint64(raw, v)
			src, raw = src[4:], raw[8:]
		}
		dst = dst[len(dst)-len(src):]
	}
	for i, c := range src {
		dst[i] = uint16(c)
	}
}

// narrow is expand's inverse; codes above 255 (a caller's fault) are clamped, not wrapped.
func narrow(dst []byte, src []uint16) {
	dst = dst[:len(src)]
	if littleEndian {
		raw := rawBytes(src)
		for len(dst) >= 8 && len(raw) >= 16 {
			v, w := binary.LittleEndian.Uint64(raw), binary.LittleEndian.Uint64(raw[8:])
			if (v|w)&0xff00ff00ff00ff00 != 0 {
				for i, c := range src[len(src)-len(dst):][:8] {
					dst[i] = byte(min(c, 255))
				}
			} else {
				v, w = (v|v>>8)&0x0000ffff0000ffff, (w|w>>8)&0x0000ffff0000ffff
				binary.LittleEndian.PutUint64(dst, (v|v>>16)&0xffffffff|(w|w>>16)<<32)
			}
			dst, raw = dst[8:], raw[16:]
		}
		src = src[len(src)-len(dst):]
	}
	for i, v := range src {
		dst[i] = byte(min(v, 255))
	}
}

func swapBytes(p []uint16) {
	for i, v := range p {
		p[i] = v<<8 | v>>8
	}
}

// fit gives the frame planes of the format, keeping those it has where they fit.
func fit(f *picture.Frame, format picture.Format) {
	f.Format = format
	cw, ch := format.ChromaSize()
	f.Y = sized(f.Y, format.Width*format.Height)
	f.Cb = sized(f.Cb, cw*ch)
	f.Cr = sized(f.Cr, cw*ch)
}

func sized(p []uint16, n int) []uint16 {
	if cap(p) < n {
		return make([]uint16, n)
	}
	return p[:n]
}

// floatRow puts little endian floats into every third place of dst.
func floatRow(dst []float32, src []byte) {
	for x := range len(src) / 4 {
		dst[3*x] = math.Float32frombits(binary.LittleEndian.Uint32(src[4*x:]))
	}
}
