package media

import (
	"bytes"
	"encoding/binary"
	"testing"
)

func box(kind string, body ...[]byte) []byte {
	inner := bytes.Join(body, nil)
	b := binary.BigEndian.AppendUint32(nil, uint32(8+len(inner)))
	return append(append(b, kind...), inner...)
}

// film is the skeleton of a file with a sound and a picture track.
func film() []byte {
	head := func() []byte { return box("tkhd", make([]byte, 84)) }
	handler := func(kind string) []byte {
		return box("mdia", box("hdlr", make([]byte, 8), []byte(kind), make([]byte, 12)))
	}
	return bytes.Join([][]byte{
		box("ftyp", []byte("qt  ")), box("mdat", make([]byte, 50)),
		box("moov", box("mvhd", make([]byte, 100)), box("trak", head(), handler("soun")), box("trak", head(), handler("vide"))),
	}, nil)
}

// The matrix that is found is the picture's, at its published place in the
// header (ISO/IEC 14496-12, 8.3.2: 40 bytes into a box of version 0).
func TestMatrixOfThePictureTrack(t *testing.T) {
	b := film()
	at, err := videoTrackMatrix(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	if want := int64(bytes.LastIndex(b, []byte("tkhd")) + 4 + 40); at != want {
		t.Errorf("at %d, want %d", at, want)
	}
}

func FuzzBoxes(f *testing.F) {
	b := film()
	f.Add(b)
	for _, cut := range []int{3, 20, 80, 200, len(b) - 1} {
		f.Add(b[:cut])
	}
	long := bytes.Clone(b)
	binary.BigEndian.PutUint32(long[bytes.Index(long, []byte("trak"))-4:], 0xfffffff0)
	f.Add(long)
	wide := append(binary.BigEndian.AppendUint32(nil, 1), "moov\xff\xff\xff\xff\xff\xff\xff\xff"...)
	f.Add(wide)
	f.Fuzz(func(t *testing.T, b []byte) {
		at, err := videoTrackMatrix(bytes.NewReader(b))
		if err == nil && (at < 0 || at+36 > int64(len(b))) {
			t.Fatalf("matrix at %d of %d bytes", at, len(b))
		}
	})
}
