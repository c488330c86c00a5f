package job

import (
	"bytes"
	"math/rand/v2"
	"os"
	"runtime"
	"slices"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// TestWideSquaresAreUsed fails where the processor has AVX2 and the wide form
// would not be used, so that the comparison can't pass by leaving it out.
func TestWideSquaresAreUsed(t *testing.T) {
	info, err := os.ReadFile("/proc/cpuinfo")
	if runtime.GOARCH != "amd64" || err != nil || !buildHasWide {
		t.Skip("no amd64 Linux, or a purego build: nothing to compare the processor's features with")
	}
	if has := bytes.Contains(info, []byte(" avx2 ")); has != wideSquares {
		t.Errorf("the system says AVX2: %v, the wide form: %v", has, wideSquares)
	}
}

// TestWideSquares compares the wide with the portable form bit by bit, on
// ordinary pictures and on codes that no camera gives.
func TestWideSquares(t *testing.T) {
	if !wideSquares {
		t.Skip("this processor, or this build, has no wide form")
	}
	curve, err := colour.CurveByID("log-420")
	if err != nil {
		t.Fatal(err)
	}
	was := wideSquares
	defer func() { wideSquares = was }()
	for _, n := range []int{2, 4} {
		for _, sub := range []picture.Subsampling{picture.Sub422, picture.Sub420} {
			for _, bits := range []int{8, 10, 12} {
				for _, width := range []int{32, 34, 62, 64, 66, 70, 126, 128, 400} {
					f := picture.Format{Width: width, Height: 34, Bits: bits, Sub: sub, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft}
					wild := picture.NewFrame(f)
					rng := rand.New(rand.NewPCG(uint64(width), uint64(bits)))
					for _, p := range [][]uint16{wild.Y, wild.Cb, wild.Cr} {
						for i := range p {
							p[i] = uint16(rng.IntN(1 << bits))
						}
					}
					for name, frame := range map[string]*picture.Frame{"smooth": smoothFrame(f, 7), "wild": wild} {
						for _, clip := range []float64{0, 640} {
							l := lightDecoderBy(f, Decoding{Curve: curve}, n, clip)
							if l.fast == nil {
								t.Fatal("the fast way is not taken")
							}
							wideSquares = true
							a := l.newLight()
							l.decode(frame, a)
							wideSquares = false
							b := l.newLight()
							l.decode(frame, b)
							if !slices.Equal(a.Pix, b.Pix) || !slices.Equal(a.Clipped, b.Clipped) {
								t.Errorf("n %d, %s, %d bits, width %d, %s, clip %g: the forms differ", n, sub, bits, width, name, clip)
							}
						}
					}
				}
			}
		}
	}
}
