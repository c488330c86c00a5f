package lamps

import (
	"math"
	"testing"

	"lampwise/internal/picture"
)

func TestJoin(t *testing.T) {
	hold := func(v float32, frames int) (Hold, []float64) {
		l := &Light{Image: picture.NewImage(96, 56, picture.SpaceSceneLinear), Frames: float64(frames) / 2}
		for p := range l.Pix {
			l.Pix[p] = v
		}
		s, _ := signature(l)
		return Hold{Start: 0, End: 1, Frames: frames, Mean: l}, s
	}
	r := &Recording{sigma: make([]float64, signatureSize)}
	for _, x := range []struct {
		v float32
		n int
	}{{0.1, 10}, {0.2, 10}, {0.203, 30}, {0.1, 10}} {
		h, s := hold(x.v, x.n)
		r.Holds, r.signatures = append(r.Holds, h), append(r.signatures, s)
	}
	if cells, change := r.Alike(0); cells != 1 || math.Abs(change-1) > 1e-6 {
		t.Errorf("0.1 and 0.2: %g of the cells differ, the light changes by %g", cells, change)
	}
	if cells, change := r.Alike(1); cells != 0 || math.Abs(change-0.015) > 1e-4 {
		t.Errorf("0.2 and 0.203: %g of the cells differ, the light changes by %g", cells, change)
	}
	r.Join(1)
	if len(r.Holds) != 3 || len(r.signatures) != 3 {
		t.Fatalf("%d holds, %d signatures", len(r.Holds), len(r.signatures))
	}
	h := r.Holds[1]
	if h.Frames != 40 || h.Mean.Frames != 20 || math.Abs(float64(h.Mean.Pix[0])-(0.2*10+0.203*30)/40) > 1e-6 {
		t.Errorf("joined: %d frames, %g effective, light %g", h.Frames, h.Mean.Frames, h.Mean.Pix[0])
	}
}
