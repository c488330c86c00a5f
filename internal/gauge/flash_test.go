package gauge

import (
	"math"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
	"lampwise/internal/unit"
)

var flashFormat = picture.Format{Width: 96, Height: 54, Bits: 10, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft}

// show runs a sequence in which part of the picture's area has the linear
// colour that at gives for each time; the rest is dark grey.
func show(rate, seconds, area float64, peak unit.CandelaPerSquareMetre, at func(t float64) [3]float64) Flashes {
	k := NewFlash(peak)
	var v Viewer
	f := flat(flashFormat, colour.BT1886, [3]float64{0.02, 0.02, 0.02})
	for i := range int(rate * seconds) {
		t := float64(i) / rate
		fill(f, colour.BT1886, Box{0, 0, area, 1}, at(t))
		f.Index, f.Time = i, t
		k.Add(v.Look(f))
	}
	return k.Result()
}

// square is a light that changes between two luminances n times a second.
func square(hz, lo, hi, peak float64) func(t float64) [3]float64 {
	return func(t float64) [3]float64 {
		l := lo
		if math.Mod(t*hz+1e-9, 1) < 0.5 {
			l = hi
		}
		return [3]float64{l / peak, l / peak, l / peak}
	}
}

// The recommendation's limits, each just kept and just broken.
func TestFlashesAtTheLimitsOfBT1702(t *testing.T) {
	const peak = 200.0
	for _, c := range []struct {
		name string
		got  Flashes
		bad  bool
		red  bool
	}{
		{"4 flashes a second of 30 cd/m² over half the picture", show(50, 3, 0.5, peak, square(4, 20, 50, peak)), true, false},
		{"3 flashes a second", show(50, 3, 0.5, peak, square(3, 20, 50, peak)), false, false},
		{"5 a second at 60 frames", show(60, 3, 0.5, peak, square(5, 20, 50, peak)), true, false},
		{"12.5 a second at 25 frames", show(25, 3, 0.5, peak, square(12.5, 20, 50, peak)), true, false},
		{"a change of 18 cd/m²", show(50, 3, 0.5, peak, square(5, 20, 38, peak)), false, false},
		{"a change of 22 cd/m²", show(50, 3, 0.5, peak, square(5, 20, 42, peak)), true, false},
		{"23 % of the picture", show(50, 3, 0.23, peak, square(5, 20, 80, peak)), false, false},
		{"28 % of the picture", show(50, 3, 0.28, peak, square(5, 20, 80, peak)), true, false},
		{"darker picture at 165, contrast under 1/17", show(50, 3, 0.5, peak, square(5, 165, 180, peak)), false, false},
		{"darker picture at 165, contrast over 1/17", show(50, 3, 0.5, peak, square(5, 165, 195, peak)), true, false},
		{"darker picture at 150, change of 22", show(50, 3, 0.5, peak, square(5, 150, 172, peak)), true, false},
		{"three flashes and no more", show(50, 4, 0.5, peak, func(t float64) [3]float64 {
			if t < 1 {
				return square(3, 20, 80, peak)(t)
			}
			return [3]float64{0.1, 0.1, 0.1}
		}), false, false},
		{"a slow fade up and down, once a second", show(50, 4, 1, peak, func(t float64) [3]float64 {
			l := 0.3 + 0.25*math.Sin(2*math.Pi*t)
			return [3]float64{l, l, l}
		}), false, false},
		{"red and blue by turns, alike in luminance, 6 a second", show(60, 3, 0.5, peak, func(t float64) [3]float64 {
			if math.Mod(t*6+1e-9, 1) < 0.5 {
				return [3]float64{0.2, 0.004, 0.004}
			}
			return [3]float64{0.004, 0.004, 0.2 * 0.2126 / 0.0722}
		}), false, true},
		{"pale red by turns with grey, 6 a second", show(60, 3, 0.5, peak, func(t float64) [3]float64 {
			if math.Mod(t*6+1e-9, 1) < 0.5 {
				return [3]float64{0.2, 0.12, 0.12}
			}
			return [3]float64{0.137, 0.137, 0.137}
		}), false, false},
		{"a still", show(25, 3, 1, peak, func(float64) [3]float64 { return [3]float64{0.5, 0.5, 0.5} }), false, false},
	} {
		var general, red bool
		for _, p := range c.got.Problems {
			general, red = general || p.Kind == "flashes", red || p.Kind == "flashes-red"
		}
		if general != c.bad || red != c.red {
			t.Errorf("%s: %+v", c.name, c.got)
		}
	}
	// The same signal on a dimmer display has changes too small to count.
	if r := show(50, 3, 0.5, 80, square(5, 20, 42, 200)); len(r.Problems) > 0 {
		t.Errorf("on a display of 80 cd/m²: %+v", r)
	}
}

func TestFlashDrill(t *testing.T) {
	const clean, planted = 20, 6
	drill(t, "change of luminance, cd/m²", flashChange, clean, planted, func(n uint64, size float64) (bool, float64, float64) {
		r := newRand(n)
		lo, hz := 10+60*r.Float64(), []float64{4, 5, 6.25, 12.5}[n%4]
		noise := 0.5 * r.Float64()
		got := show(25, 2.2, 0.4, 200, func(t float64) [3]float64 {
			c := square(hz, lo, lo+size, 200)(t)
			for i := range c {
				c[i] += noise / 200 * r.NormFloat64()
			}
			return c
		})
		// Clean is a flicker of two thirds of the limit.
		if size == 0 {
			got = show(25, 2.2, 0.4, 200, square(hz, lo, lo+flashChange*2/3, 200))
		}
		return len(got.Problems) > 0, size, 0
	})
}
