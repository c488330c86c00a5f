package picture

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"lampwise/internal/colour"
)

// boxesWithin is what the mean of codes may differ by from the mean of RGB:
// single precision of the picture both are written into, for values up to 2.
const boxesWithin = 2.0 / (1 << 23)

// The pixels one by one judge the sums.
func TestBoxesAreTheMeanOfTheirPixels(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		format := Format{
			Width: rapid.IntRange(1, 23).Draw(t, "width"), Height: rapid.IntRange(1, 19).Draw(t, "height"),
			Bits:  rapid.SampledFrom([]int{8, 10, 12, 16}).Draw(t, "bits"),
			Sub:   rapid.SampledFrom([]Subsampling{Sub444, Sub422, Sub420}).Draw(t, "sub"),
			Range: rapid.SampledFrom([]colour.Range{colour.Narrow, colour.Full}).Draw(t, "range"), Matrix: colour.MatrixBT709,
			Siting: rapid.SampledFrom([]Siting{SiteLeft, SiteTopLeft, SiteCentre}).Draw(t, "siting"),
		}
		f := NewFrame(format)
		code := rapid.Uint16Range(0, uint16(1<<format.Bits-1))
		for _, plane := range [][]uint16{f.Y, f.Cb, f.Cr} {
			for i := range plane {
				plane[i] = code.Draw(t, "code")
			}
		}
		k := rapid.IntRange(1, 6).Draw(t, "k")
		got := f.Boxes(k)
		if got.W != max(1, f.Width/k) || got.H != max(1, f.Height/k) {
			t.Fatalf("%d×%d of %d×%d by %d", got.W, got.H, f.Width, f.Height, k)
		}
		for y := range got.H {
			for x := range got.W {
				var want [3]float64
				n := 0.0
				for j := y * k; j < min((y+1)*k, f.Height); j++ {
					for i := x * k; i < min((x+1)*k, f.Width); i++ {
						v := f.RGB(i, j)
						for ch := range want {
							want[ch] += v[ch]
						}
						n++
					}
				}
				for ch, v := range got.At(x, y) {
					if math.Abs(v-want[ch]/n) > boxesWithin {
						t.Fatalf("box %d, %d channel %d: %v, want %v", x, y, ch, v, want[ch]/n)
					}
				}
			}
		}
	})
}

func BenchmarkBoxes(b *testing.B) {
	f := NewFrame(Format{Width: 1920, Height: 1080, Bits: 10, Sub: Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: SiteLeft})
	for i := range f.Y {
		f.Y[i] = uint16(64 + i%800)
	}
	for b.Loop() {
		f.Boxes(2)
	}
}
