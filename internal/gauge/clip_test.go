package gauge

import (
	"math"
	"math/rand/v2"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// ramp is a frame whose scene runs evenly in code from 100 to top, read
// through a sensor that is full at clip, with noise of 1 code.
func ramp(bits int, top, clip float64, rng *rand.Rand) *picture.Frame {
	f := picture.NewFrame(picture.Format{Width: 640, Height: 360, Bits: bits, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft})
	unit := float64(int(1)<<bits) / 1024
	for i := range f.Y {
		code := math.Min(clip, 100+(top-100)*rng.Float64())
		f.Y[i] = uint16(math.Round((code + rng.NormFloat64()*0.7) * unit))
	}
	return f
}

func TestRecordingClipIsFoundWhereTheSensorIsFull(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, bits := range []int{8, 10, 12} {
		for _, clip := range []float64{700, 850, 925.5, 1000} {
			var c ClipFinder
			for range 3 {
				c.Add(ramp(bits, clip+30, clip, rng))
			}
			got := c.Find()
			if !got.Found || math.Abs(got.Code-clip) > 2 {
				t.Errorf("%d bits, sensor full at code %.1f: %+v", bits, clip, got)
			}
		}
	}
}

func TestNoClipIsFoundWhereNothingIsBlown(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for _, top := range []float64{500, 800, 940} {
		var c ClipFinder
		c.Add(ramp(10, top, 2000, rng))
		if got := c.Find(); got.Found || math.Abs(got.Code-top) > 6 {
			t.Errorf("an even ramp up to code %.0f: %+v", top, got)
		}
	}
	var none ClipFinder
	if got := none.Find(); got.Found {
		t.Errorf("no frames: %+v", got)
	}
}
