package lamps

import (
	"math/rand/v2"
	"slices"
	"testing"

	"lampwise/internal/picture"
)

// movedPlainly is moved, pixel by pixel.
func movedPlainly(img *picture.Image, spread []float32) []bool {
	var by [spreadLevels][]float64
	for p := 0; p < len(spread); p += 3 {
		l := spreadLevel(img, p)
		by[l] = append(by[l], float64(spread[p]))
	}
	out := make([]bool, len(spread))
	for p := range out {
		like := by[spreadLevel(img, p)]
		if len(like) < leastSpread {
			continue
		}
		s, n := 0.0, 0.0
		for dy := -1; dy <= 1; dy++ {
			for dx := -1; dx <= 1; dx++ {
				if x, y := p%img.W+dx, p/img.W+dy; x >= 0 && x < img.W && y >= 0 && y < img.H {
					s += float64(spread[y*img.W+x])
					n++
				}
			}
		}
		out[p] = s/n > movedTimes*median(slices.Clone(like))
	}
	return out
}

// TestMoved compares the quick way with the plain one, to the last pixel.
func TestMoved(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	for _, size := range [][2]int{{32, 32}, {33, 41}, {70, 34}} {
		img := picture.NewImage(size[0], size[1], picture.SpaceSceneLinear)
		for i := range img.Pix {
			img.Pix[i] = float32(0.001 + rng.Float64()*float64(1+i%3))
		}
		spread := make([]float32, size[0]*size[1])
		for p := range spread {
			d := float32(rng.NormFloat64())
			if p%size[0] > size[0]/2 && rng.IntN(3) == 0 {
				d *= 8
			}
			spread[p] = d * d
		}
		want := movedPlainly(img, spread)
		if n := len(slices.DeleteFunc(slices.Clone(want), func(m bool) bool { return !m })); n < 10 || n > len(want)*9/10 {
			t.Fatalf("%d of %d pixels moved: nothing to compare", n, len(want))
		}
		if got := moved(img, spread); !slices.Equal(got, want) {
			t.Errorf("%d×%d: the ways differ", size[0], size[1])
		}
	}
}

// TestKeptPictures: a recorder that keeps the pictures' memory finds what one
// that copies them does.
func TestKeptPictures(t *testing.T) {
	const w, h, rate = 64, 36, 25.0
	record := func(keep bool) *Recording {
		rng := rand.New(rand.NewPCG(3, 3))
		r, err := NewRecorder(w, h, rate)
		if err != nil {
			t.Fatal(err)
		}
		l := &Light{Image: picture.NewImage(w, h, picture.SpaceSceneLinear), Frames: 1}
		for f := range 150 {
			for i := range l.Pix {
				l.Pix[i] = float32((0.1 + 0.2*float64(f/50%2)*float64(i%(3*w))/(3*w)) * (1 + 0.01*rng.NormFloat64()))
			}
			add := r.Add
			switch {
			case !r.Whole():
				add = r.Skim
			case keep:
				add = r.Keep
			}
			if err := add(l, 0); err != nil {
				t.Fatal(err)
			}
		}
		out, err := r.Finish()
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	a, b := record(false), record(true)
	if len(a.Holds) != 3 || len(b.Holds) != len(a.Holds) || a.Noise != b.Noise || a.Correlation != b.Correlation {
		t.Fatalf("%d holds and noise %v; kept: %d and %v", len(a.Holds), a.Noise, len(b.Holds), b.Noise)
	}
	for i := range a.Holds {
		if !slices.Equal(a.Holds[i].Mean.Pix, b.Holds[i].Mean.Pix) {
			t.Errorf("hold %d differs", i)
		}
	}
}
