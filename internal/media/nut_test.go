package media

import (
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"testing"

	"lampwise/internal/picture"
)

type failer interface {
	Fatalf(format string, args ...any)
	Fatal(args ...any)
}

// nutRoundTrip writes three frames and reads them again.
func nutRoundTrip(t failer, f picture.Format, seed uint64, pts int64) {
	var b bytes.Buffer
	w, err := newNUTWriter(&b, f, Rational{1001, 30000}, Rational{4, 3}, Rational{30000, 1001})
	if err != nil {
		t.Fatal(err)
	}
	pf := pixelFormat{bits: f.Bits, sub: f.Sub}
	for i := range 3 {
		if err := w.begin(pts+int64(i*i), int(pf.frameBytes(f))); err != nil {
			t.Fatal(err)
		}
		if _, err := writePlanes(&b, noise(f, seed+uint64(i)), nil); err != nil {
			t.Fatal(err)
		}
	}
	r, err := newNUTReader(bytes.NewReader(b.Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	if tag, _ := nutFourCC(f); r.tag != tag || r.width != f.Width || r.height != f.Height || r.timeBase != (Rational{1001, 30000}) {
		t.Fatalf("header: %q %d×%d %v", r.tag, r.width, r.height, r.timeBase)
	}
	got := picture.NewFrame(f)
	for i := range 3 {
		at, size, err := r.next()
		if err != nil || at != pts+int64(i*i) || size != pf.frameBytes(f) {
			t.Fatalf("frame %d: timestamp %d, %d bytes, %v", i, at, size, err)
		}
		if _, err := readPlanes(r, pf, got, nil); err != nil {
			t.Fatal(err)
		}
		want := noise(f, seed+uint64(i))
		for p, planes := range [][2][]uint16{{got.Y, want.Y}, {got.Cb, want.Cb}, {got.Cr, want.Cr}} {
			for k := range planes[0] {
				if planes[0][k] != planes[1][k] {
					t.Fatalf("frame %d, plane %d, code %d: %d, want %d", i, p, k, planes[0][k], planes[1][k])
				}
			}
		}
	}
	if _, _, err := r.next(); !errors.Is(err, io.EOF) {
		t.Fatalf("after the last frame: %v", err)
	}
}

// Published check value of this CRC (polynomial 04C11DB7, start 0, not
// inverted, not reflected; the catalogue's name is CRC-32/MPEG-2 with start 0):
// the remainder of a message followed by its own CRC is zero, for any message.
func TestCRCOfAMessageWithItsCRC(t *testing.T) {
	for _, m := range []string{"", "1", "123456789", nutFileID} {
		c := nutCRC(0, []byte(m))
		if got := nutCRC(c, []byte{byte(c >> 24), byte(c >> 16), byte(c >> 8), byte(c)}); got != 0 {
			t.Errorf("%q: remainder %08x", m, got)
		}
	}
}

// ffmpeg's own NUT streams are read, headers that are damaged are refused, and nothing makes the reader panic.
func FuzzNUTReader(f *testing.F) {
	var own bytes.Buffer
	small := format(4, 2, 8, picture.Sub420)
	w, err := newNUTWriter(&own, small, Rational{1, 25}, Rational{1, 1}, Rational{25, 1})
	if err != nil {
		f.Fatal(err)
	}
	for i := range 2 {
		if err := w.begin(int64(i), 12); err != nil {
			f.Fatal(err)
		}
		if _, err := writePlanes(&own, noise(small, uint64(i)), nil); err != nil {
			f.Fatal(err)
		}
	}
	f.Add(own.Bytes())
	for _, cut := range []int{10, 30, 60, 100, 130, 150, own.Len() - 3} {
		f.Add(own.Bytes()[:cut])
	}
	for _, flip := range []int{25, 34, 40, 80, 110, 140} {
		b := bytes.Clone(own.Bytes())
		b[flip] ^= 0x41
		f.Add(b)
	}
	// Made by ffmpeg 5.1: testsrc of 16 × 16, one frame, 8-bit 4:2:0.
	if b, err := os.ReadFile(filepath.Join("testdata", "ffmpeg-one-frame.nut")); err == nil {
		f.Add(b)
	} else {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := newNUTReader(bytes.NewReader(data))
		if err != nil {
			return
		}
		total := int64(0)
		for range 100 {
			_, size, err := r.next()
			if err != nil {
				return
			}
			n, err := io.Copy(io.Discard, io.LimitReader(r, 1<<20))
			total += n
			if err != nil || n != size {
				return
			}
		}
		if total > int64(len(data))*300 {
			t.Fatalf("%d bytes out of %d", total, len(data))
		}
	})
}
