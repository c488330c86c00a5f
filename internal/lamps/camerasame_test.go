package lamps

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Lamps that drifted alike by a third of a stop look like a camera set otherwise. A picture
// can't tell; to have looked at the camera does. To say so wrongly, of a camera
// that was set otherwise, is noticed where everything changed alike.
func TestCheckCameraSame(t *testing.T) {
	const w, h = 320, 180
	rng := rand.New(rand.NewPCG(61, 2))
	g, s, cam := madeSet(t, rng, 4, w, h)
	for i := range s.Mix {
		s.Mix[i] = .6
	}
	parts := g.render(w, h, pose{x: .03, lean: .02}, nudge{})
	shot := func(stops []float64, ambient, gain float64) *Light {
		f := flat(s.Mix)
		for i, v := range append(stops, ambient) {
			for c := range 3 {
				f[i][c] *= math.Exp2(v)
			}
		}
		cam := cam
		cam.gain *= math.Exp2(gain)
		return cam.average(rng, mixed(parts, f), 4)
	}
	check := func(l *Light, same bool) *CheckReport {
		r, err := s.CheckWith(l, CheckOptions{CameraSame: same})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	stops := []float64{1. / 3, 1. / 3, .2, 0}
	alike := shot(stops, -.4, 0)
	free, held := check(alike, false), check(alike, true)
	if !free.Camera.Inseparable {
		t.Errorf("two of four lamps up alike, and one up otherwise: taken for told apart from the camera, gain %+.3f", float64(free.Camera.Gain))
	}
	if held.Camera.Inseparable || math.Abs(float64(held.Camera.Gain)) > .02 {
		t.Errorf("the camera is the same, and yet: inseparable %v, gain %+.3f", held.Camera.Inseparable, float64(held.Camera.Gain))
	}
	if rightOrUnsure(t, "camera the same", held, stops) > rightOrUnsure(t, "camera unknown", free, stops)-2 {
		t.Error("to know the camera's settings told little more")
	}
	changed := shot(make([]float64, 4), 0, 1./3)
	if r := check(changed, false); math.Abs(float64(r.Camera.Gain)-1./3) > .02 {
		t.Errorf("a camera a third of a stop brighter: gain %+.3f", float64(r.Camera.Gain))
	}
	if r := check(changed, true); r.Outcome != OutcomeUnsure || r.Lamps[0].Finding != Unsure {
		t.Errorf("a camera that was set otherwise, said to be the same, passes: %s, %s", r.Outcome, r.Lamps[0].Finding)
	}
}
