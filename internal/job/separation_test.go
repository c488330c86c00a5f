package job

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"lampwise/internal/fault"
	"lampwise/internal/lamps"
	"lampwise/internal/picture"
)

func TestHalfRoundTrip(t *testing.T) {
	// Every finite half float comes back as itself.
	for h := range 1 << 16 {
		if h&0x7c00 == 0x7c00 {
			continue
		}
		if got := halfOf(halfValues()[h]); got != uint16(h) {
			t.Fatalf("%#04x → %g → %#04x", h, halfValues()[h], got)
		}
	}
	// Any number lands on a nearest half.
	rng := rand.New(rand.NewPCG(1, 2))
	for range 200000 {
		v := float32(rng.NormFloat64() * math.Exp2(float64(rng.IntN(40)-30)))
		h := halfOf(v)
		e := math.Abs(float64(halfValues()[h] - v))
		for _, n := range []uint16{h - 1, h + 1} {
			if n&0x7c00 != 0x7c00 && (n^h)&0x8000 == 0 && math.Abs(float64(halfValues()[n]-v)) < e {
				t.Fatalf("%g → %g, but %g is nearer", v, halfValues()[h], halfValues()[n])
			}
		}
	}
	if v := halfValues()[halfOf(1e9)]; v != 65504 {
		t.Errorf("1e9 → %g", v)
	}
}

// someSeparation is a small made-up separation of two lamps.
func someSeparation() *lamps.Separation {
	const w, h = 40, 32
	rng := rand.New(rand.NewPCG(7, 7))
	noise := func(scale float64) *picture.Image {
		im := picture.NewImage(w, h, picture.SpaceSceneLinear)
		for i := range im.Pix {
			im.Pix[i] = float32(scale * (0.5 + 0.1*rng.NormFloat64()))
		}
		return im
	}
	s := &lamps.Separation{
		Design: &lamps.Design{Lamps: []string{"key", "fill"}, Level: [][]float64{{1, 1}, {0, 1}, {1, 0}, {1, 1}}},
		W:      w, H: h, Picture: []*picture.Image{noise(0.4), noise(0.1)}, Ambient: noise(0.01),
		Noise: lamps.ConstantNoise(0.004), Effective: []float64{10, 11, 12, 13}, Inflation: 1.5, Spare: 1,
		Blind: make([]uint16, w*h), Moving: make([]bool, w*h), Misfit: []float64{0, 1.5, 2}, Figure: []bool{true, false, true},
	}
	for i := range s.Blind {
		s.Blind[i], s.Moving[i] = uint16(i%3), i%5 == 0
	}
	return s
}

func TestSeparationIsKeptWhole(t *testing.T) {
	s := someSeparation()
	data, err := packSeparation(s)
	if err != nil {
		t.Fatal(err)
	}
	got, err := unpackSeparation(data, "x")
	if err != nil {
		t.Fatal(err)
	}
	for k, p := range append(append([]*picture.Image{}, s.Picture...), s.Ambient) {
		q := append(append([]*picture.Image{}, got.Picture...), got.Ambient)[k]
		for i, v := range p.Pix {
			// Half floats have 11 significant bits.
			if math.Abs(float64(q.Pix[i]-v)) > math.Abs(float64(v))/2048 {
				t.Fatalf("picture %d, sample %d: %g came back as %g", k, i, v, q.Pix[i])
			}
		}
	}
	again, err := packSeparation(got)
	if err != nil {
		t.Fatal(err)
	}
	if string(again) != string(data) {
		t.Error("packed again it isn't the same")
	}
	s.Picture, s.Ambient, got.Picture, got.Ambient = nil, nil, nil, nil
	if !reflect.DeepEqual(s, got) {
		t.Errorf("%+v\ncame back as\n%+v", s, got)
	}
}

func FuzzUnpackSeparation(f *testing.F) {
	data, err := packSeparation(someSeparation())
	if err != nil {
		f.Fatal(err)
	}
	f.Add(data)
	f.Add(data[:len(data)/2])
	f.Add([]byte("PK"))
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := unpackSeparation(data, "x")
		if err != nil {
			if _, ok := fault.As(err); !ok {
				t.Fatalf("not a fault: %v", err)
			}
			return
		}
		lamps.NewSet(s).PictureOf([]float64{1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1}[:len(s.Picture)])
	})
}
