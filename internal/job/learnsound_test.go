package job

import (
	"testing"

	"lampwise/internal/caller"
	"lampwise/internal/lamps"
	"lampwise/internal/picture"
	"lampwise/internal/unit"
)

func heardAt(steps []int, each float64) (out []caller.Heard) {
	for _, s := range steps {
		out = append(out, caller.Heard{Mark: caller.Mark{Step: s, Order: 99}, At: 10 + each*float64(s)})
	}
	return out
}

// TestStepClock: a time belongs to the last beep before it, whether that was
// heard or not.
func TestStepClock(t *testing.T) {
	for _, heard := range [][]int{{0, 1, 2, 3, 4, 5, 6}, {0, 1, 4, 5}, {2, 3}, {0, 6}} {
		c := stepTimes(heardAt(heard, 4))
		for step := range 8 {
			for _, later := range []float64{0.5, 2, 3.5} {
				if got, ok := c.at(10 + 4*float64(step) + later); !ok || got != step {
					t.Errorf("heard %v: %.1f s after step %d is told as step %d", heard, later, step, got)
				}
			}
		}
		if s, ok := c.at(5); ok {
			t.Errorf("heard %v: a time before the first step is told as step %d", heard, s)
		}
	}
}

// recordingOf is a recording of holds with the light of two lamps and the
// ambient, each "from, to, key, fill".
func recordingOf(t *testing.T, holds [][4]float64) *lamps.Recording {
	t.Helper()
	const w, h = 64, 36
	const rate = 10.0
	r, err := lamps.NewRecorder(w, h, rate)
	if err != nil {
		t.Fatal(err)
	}
	end := holds[len(holds)-1][1]
	at := 0
	for frame := range int(end * rate) {
		now := float64(frame) / rate
		for at+1 < len(holds) && now >= holds[at+1][0] {
			at++
		}
		im := picture.NewImage(w, h, picture.SpaceSceneLinear)
		for p := range w * h {
			x, y := float64(p%w)/w, float64(p/w)/h
			v := 0.02 + holds[at][2]*0.3*(1-x)*(1-0.3*y) + holds[at][3]*0.2*x*(0.5+0.5*y)
			noise := 0.001 * float64((p*7919+frame*104729)%1000-500) / 500
			im.Set(p%w, p/w, [3]float64{v + noise, v + noise, v + noise})
		}
		if err := r.Add(&lamps.Light{Image: im, Frames: 1}, unit.Second(now)); err != nil {
			t.Fatal(err)
		}
	}
	rec, err := r.Finish()
	if err != nil {
		t.Fatal(err)
	}
	return rec
}

// TestNameByBeeps: the hand follows the beep by up to half a hold; a hold that
// wasn't called is left out, and one that was called and not switched is no
// reason to learn a lamp wrongly.
func TestNameByBeeps(t *testing.T) {
	order, err := lamps.ParseOrder("all, -key, all, -fill, all, dark", nil)
	if err != nil {
		t.Fatal(err)
	}
	heard := func(steps ...int) (out []caller.Heard) {
		for _, s := range steps {
			out = append(out, caller.Heard{Mark: caller.Mark{Step: s, Order: 99}, At: 4 * float64(s)})
		}
		return out
	}
	good := [][4]float64{{0, 4.8, 1, 1}, {4.8, 9, 0, 1}, {9, 12.6, 1, 1}, {12.6, 17, 1, 0}, {17, 20.8, 1, 1}, {20.8, 24, 0, 0}}
	rec := recordingOf(t, good)
	named, notes, err := nameByBeeps(rec, order, heard(0, 1, 2, 4, 5))
	if err != nil || named.String() != order.String() || len(rec.Holds) != len(order.Holds) || len(notes) != 0 {
		t.Errorf("%v, %v, %v, %d holds", named, notes, err, len(rec.Holds))
	}
	// Both lamps for a moment off between two calls.
	extra := [][4]float64{{0, 4.8, 1, 1}, {4.8, 9, 0, 1}, {9, 12.6, 1, 1}, {12.6, 15.4, 1, 0}, {15.4, 16.4, 0, 0}, {16.4, 20.8, 1, 1}, {20.8, 24, 0, 0}}
	rec = recordingOf(t, extra)
	named, notes, err = nameByBeeps(rec, order, heard(0, 1, 2, 3, 4, 5, 6))
	if err != nil || named.String() != order.String() || len(notes) != 1 {
		t.Errorf("%v, %v, %v", named, notes, err)
	}
	// The fill was called and never switched.
	forgot := [][4]float64{{0, 4.8, 1, 1}, {4.8, 9, 0, 1}, {9, 20.8, 1, 1}, {20.8, 24, 0, 0}}
	rec = recordingOf(t, forgot)
	if named, _, err := nameByBeeps(rec, order, heard(0, 1, 2, 3, 4, 5, 6)); err == nil {
		t.Errorf("learned as %v", named)
	}
}
