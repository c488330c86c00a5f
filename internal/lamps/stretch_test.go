package lamps

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"lampwise/internal/picture"
	"lampwise/internal/unit"
)

func TestSortingNetwork(t *testing.T) {
	// By the 0–1 principle a network that sorts every sequence of zeros and ones
	// sorts everything (Knuth 3, 5.3.4, theorem Z).
	for n := range mostGroups + 1 {
		network := sortingNetwork(n)
		for bits := range 1 << n {
			v := bits
			for _, e := range network {
				if v>>e.low&1 == 1 && v>>e.high&1 == 0 {
					v ^= 1<<e.low | 1<<e.high
				}
			}
			ones := 0
			for b := bits; b > 0; b &= b - 1 {
				ones++
			}
			if v != (1<<ones-1)<<(n-ones) {
				t.Fatalf("%d numbers: %b comes out as %b", n, bits, v)
			}
		}
	}
}

func TestRankOrdersAsNumbersDo(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.SliceOfN(rapid.Float32(), 2, 2).Draw(t, "numbers")
		for _, x := range v {
			if got := ofRank(rankOf(x)); math.Float32bits(got) != math.Float32bits(x) {
				t.Fatalf("%g comes back as %g", x, got)
			}
		}
		if v[0] < v[1] && rankOf(v[0]) >= rankOf(v[1]) {
			t.Fatalf("%g and %g have ranks %d and %d", v[0], v[1], rankOf(v[0]), rankOf(v[1]))
		}
	})
	if !slices.IsSorted([]int32{rankOf(float32(math.Inf(-1))), rankOf(-1), rankOf(0), rankOf(1), rankOf(float32(math.Inf(1)))}) {
		t.Error("ranks don't rise")
	}
}

func TestFloorLog2(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := math.Exp2(rapid.Float64Range(-1000, 1000).Draw(t, "octaves"))
		for _, parts := range []int{2, 4} {
			got := float64(floorLog2(x, parts)) / float64(parts)
			if lo, hi := math.Exp2(got), math.Exp2(got+1/float64(parts)); x < lo*(1-1e-12) || x >= hi*(1+1e-12) {
				t.Fatalf("%g lies outside %g to %g, its %d parts", x, lo, hi, parts)
			}
		}
	})
	for octave := -5; octave <= 5; octave++ {
		if got := floorLog2(math.Exp2(float64(octave)), 4); got != 4*octave {
			t.Errorf("2^%d is put at %d quarters", octave, got)
		}
	}
}

// TestRecorderKeepsFewPictures: what is kept of a steady clip doesn't grow with
// its length, but for a signature a frame.
func TestRecorderKeepsFewPictures(t *testing.T) {
	const w, h = 64, 36
	r, err := NewRecorder(w, h, 25)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	light := &Light{Image: picture.NewImage(w, h, picture.SpaceSceneLinear), Frames: 1}
	kept := func() int {
		n := len(r.free) + len(r.waiting) + len(r.closed)
		if r.open != nil {
			n += len(r.open.groups)
		}
		return n
	}
	after := map[int]int{}
	for frame := range 3001 {
		for i := range light.Pix {
			light.Pix[i] = 0.2 + 0.003*float32(rng.NormFloat64())
		}
		add := r.Add
		if !r.Whole() {
			add = r.Skim
		}
		if err := add(light, unit.Second(float64(frame)/25)); err != nil {
			t.Fatal(err)
		}
		if frame%1000 == 0 {
			after[frame] = kept()
		}
	}
	// Blocks that wait to settle, and the open hold's groups.
	if most := mostGroups + int(settleTime/blockTime) + 4; after[1000] > most || after[3000] > after[1000] {
		t.Errorf("pictures kept: %d after 1000 frames, %d after 3000; at most %d", after[1000], after[3000], most)
	}
}

// TestWideRows compares the wide with the portable form, bit by bit, and fails
// where the processor has AVX2 and the wide form would not be used.
func TestWideRows(t *testing.T) {
	if !wideRows {
		t.Skip("this processor, or this build, has no wide form")
	}
	defer func() { wideRows = true }()
	const w, h = 37, 5
	rng := rand.New(rand.NewPCG(3, 4))
	for n := 1; n <= mostGroups; n++ {
		make1 := func() (groups []group) {
			rng := rand.New(rand.NewPCG(uint64(n), 1))
			for range n {
				g := group{sum: make([]float32, 3*w*h), frames: 1}
				for i := range g.sum {
					g.sum[i] = float32(rng.NormFloat64())
				}
				groups = append(groups, g)
			}
			return groups
		}
		var out [2]*picture.Image
		var moving [2][]bool
		for i := range out {
			wideRows = i == 0
			out[i] = picture.NewImage(w, h, picture.SpaceSceneLinear)
			moving[i] = trimmedMeans(make1(), out[i])
		}
		if !slices.Equal(out[0].Pix, out[1].Pix) || !slices.Equal(moving[0], moving[1]) {
			t.Errorf("%d groups: the forms differ", n)
		}
	}
	for n := range 40 {
		a, b := make([]float32, n), make([]float32, n)
		for i := range a {
			a[i], b[i] = rng.Float32(), rng.Float32()
		}
		c := slices.Clone(a)
		wideRows = true
		addTo(a, b)
		addEach(c, b)
		if !slices.Equal(a, c) {
			t.Errorf("%d numbers: sums differ", n)
		}
	}
}
