package demo

import (
	"context"
	"errors"
	"io"
	"testing"

	"lampwise/internal/media"
	"lampwise/internal/picture"
)

// readLinear reads frames first..last of a clip and gives their mean as
// scene-linear camera RGB, 3 values a pixel; chroma is held from its co-sited
// sample to the pixel beside it.
func readLinear(t *testing.T, path string, c *Camera, first, last int) []float64 {
	t.Helper()
	r, err := media.OpenReader(context.Background(), path, media.ReadOptions{Start: first, Count: last - first + 1})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	f := picture.NewFrame(r.Format())
	var sum []float64
	n := 0
	for {
		err := r.Next(f)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if sum == nil {
			sum = make([]float64, 3*f.Width*f.Height)
		}
		addLinear(sum, f, c)
		n++
	}
	for i := range sum {
		sum[i] /= float64(n)
	}
	return sum
}

// addLinear decodes a frame in float64, in the plain way.
func addLinear(sum []float64, f *picture.Frame, c *Camera) {
	m := f.Matrix.ToRGB()
	slope, offset := c.Curve.SignalFromE(f.Range)
	cw, _ := f.ChromaSize()
	for y := range f.Height {
		for x := range f.Width {
			k := y*cw + x/2
			e := m.Apply([3]float64{
				f.Range.LumaFromCode(float64(f.Y[y*f.Width+x]), f.Bits),
				f.Range.ChromaFromCode(float64(f.Cb[k]), f.Bits),
				f.Range.ChromaFromCode(float64(f.Cr[k]), f.Bits),
			})
			for i, v := range e {
				sum[3*(y*f.Width+x)+i] += c.Curve.Decode(slope*v + offset)
			}
		}
	}
}
