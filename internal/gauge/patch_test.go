package gauge

import (
	"math"
	"math/rand/v2"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// patchFrames are frames of one grey with noise, both in codes; part of the
// noise is a whole frame's.
func patchFrames(random *rand.Rand, n int, level, sigma, common float64) []*picture.Frame {
	var out []*picture.Frame
	for range n {
		f := picture.NewFrame(picture.Format{Width: 32, Height: 16, Bits: 10, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft})
		shift := common * random.NormFloat64()
		for i := range f.Y {
			f.Y[i] = uint16(math.Round(level + shift + sigma*random.NormFloat64()))
		}
		out = append(out, f)
	}
	return out
}

// The stated errors are those that are made: over many brackets of few frames
// the means' errors, in stated ones, have a root mean square near 1, and at most
// 1 where the part that is there for encoders is left unused.
func TestPatchErrors(t *testing.T) {
	box := Box{X: 0.25, Y: 0.25, W: 0.5, H: 0.5}
	for _, c := range []struct {
		name                    string
		frames                  int
		sigma, common, low, top float64
	}{
		{"noise of samples", 3, 4, 0, 0.7, 1.1},
		{"noise of frames, too", 3, 4, 1, 0.85, 1.15},
		{"many frames", 12, 4, 1, 0.85, 1.15},
		{"less than a code of noise", 3, 0.2, 0, 0.5, 1.15},
		{"no noise", 3, 0, 0, 0.5, 1.15},
	} {
		random := rand.New(rand.NewPCG(7, 11))
		var square, n float64
		for range 40 {
			var patches []Patch
			var levels []float64
			for i := range 12 {
				level := 100 + 70*float64(i) + random.Float64()
				levels = append(levels, level)
				patches = append(patches, ReadPatch(patchFrames(random, c.frames, level, c.sigma, c.common), box))
			}
			PatchErrors(patches)
			for i, p := range patches {
				z := (p.Mean - colour.Narrow.LumaFromCode(levels[i], 10)) / p.SE
				square, n = square+z*z, n+1
			}
		}
		if rms := math.Sqrt(square / n); rms < c.low || rms > c.top {
			t.Errorf("%s: errors are %.2f of the stated ones", c.name, rms)
		}
	}
	one := []Patch{ReadPatch(patchFrames(rand.New(rand.NewPCG(1, 1)), 1, 400, 3, 0), box)}
	if PatchErrors(one); one[0].SE != 0 {
		t.Error("an error of one frame was told")
	}
}
