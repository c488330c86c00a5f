package lutfile

import (
	"bytes"
	"io"
	"math"
	"testing"

	"lampwise/internal/picture"
)

// wave is a cube whose numbers need all their digits.
func wave(size int) *picture.LUT3D {
	return nodesOf(size, func(v [3]float64) [3]float64 {
		return [3]float64{math.Sqrt(v[0]), math.Sin(v[1] + v[0]/7), v[2] * v[2] / 3}
	}).Ops[0].(*picture.LUT3D)
}

func BenchmarkCube65(b *testing.B) {
	l := wave(65)
	var text bytes.Buffer
	if err := WriteCube(&text, l, nil); err != nil {
		b.Fatal(err)
	}
	b.Run("write", func(b *testing.B) {
		b.SetBytes(int64(text.Len()))
		for b.Loop() {
			if err := WriteCube(io.Discard, l, nil); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("read", func(b *testing.B) {
		b.SetBytes(int64(text.Len()))
		b.ReportAllocs()
		for b.Loop() {
			if _, err := ReadCube(bytes.NewReader(text.Bytes()), "a.cube"); err != nil {
				b.Fatal(err)
			}
		}
	})
}

func BenchmarkCLF65(b *testing.B) {
	var text bytes.Buffer
	if err := WriteCLF(&text, &picture.Chain{Ops: []picture.Op{wave(65)}}); err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(text.Len()))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := ReadCLF(bytes.NewReader(text.Bytes()), "a.clf"); err != nil {
			b.Fatal(err)
		}
	}
}
