package lamps

import (
	"math"
	"math/rand/v2"
	"testing"
)

// A lamp that isn't the set's is found, with its place, and the set's own
// lamps are still read right.
func TestUnknownLight(t *testing.T) {
	found := 0
	const w, h, sets = 320, 180, 4
	for seed := range uint64(sets) {
		rng := rand.New(rand.NewPCG(31, seed))
		g, s, cam := madeSet(t, rng, 4, w, h)
		with := *g
		wall := vec{1.6, 1.2, 1.6}
		stray := madeLamp{name: "stray", at: vec{1.7, 1.3, .6}, size: .1, aim: &wall, cone: math.Cos(.7), colour: vec{.6, .8, 1}.times(.9)}
		with.lamps = append(append([]madeLamp{}, g.lamps...), stray)
		parts := with.render(w, h, pose{x: .04}, nudge{})
		// The stray's picture is the last lamp's; the ambient follows it.
		r, err := s.Check(cam.average(rng, mixed(parts, append(flat(s.Mix)[:4], [3]float64{1, 1, 1}, [3]float64{1, 1, 1})), 4))
		if err != nil {
			t.Fatal(err)
		}
		for _, u := range r.Unknown {
			t.Logf("seed %d: unknown light at %.0f %%, %.0f %%, %.0f × %.0f %%, up to %+.2f stop", seed, 100*u.X, 100*u.Y, 100*u.W, 100*u.H, float64(u.Stops))
			if u.X+u.W > .6 {
				found++
			}
		}
		for i, l := range r.Lamps {
			if l.Finding != Unsure && math.Abs(float64(l.Stops)) > .06 {
				t.Errorf("seed %d: with a stray lamp %s reads %+.3f ± %.3f (%s)", seed, s.Lamps[i].Name, float64(l.Stops), float64(l.Error), l.Finding)
			}
		}
		if r.Outcome == OutcomeSame {
			t.Errorf("seed %d: a stray lamp goes unnoticed", seed)
		}
	}
	if found < sets-1 {
		t.Errorf("the stray lamp was found %d times of %d", found, sets)
	}
}

// The correction for a clip shot with a changed exposure, white balance and
// nothing else puts every region right.
func TestCorrection(t *testing.T) {
	rng := rand.New(rand.NewPCG(41, 1))
	const w, h = 320, 180
	g, s, cam := madeSet(t, rng, 5, w, h)
	s.Regions = []Region{{Name: FaceLit, X: .46, Y: .28, W: .03, H: .05}, {Name: Background, X: .7, Y: .2, W: .2, H: .2}}
	d := day{stops: make([]float64, 5), colour: make([]float64, 5), gain: -1. / 3, moved: -1, frames: 4}
	r, err := s.Check(d.shoot(rng, g, cam, s.Mix, w, h))
	if err != nil {
		t.Fatal(err)
	}
	c := s.Correct(r)
	if math.Abs(float64(c.Exposure)-1./3) > .01 || math.Abs(float64(c.Mired)) > 2 {
		t.Errorf("%+v", c)
	}
	for _, l := range c.Left {
		if math.Abs(float64(l.Stops)) > .02 {
			t.Errorf("%s is still off by %+.3f stop", l.Region, float64(l.Stops))
		}
	}
	if math.Abs(float64(r.Camera.Gain)+1./3) > .01 || r.Outcome != OutcomeDrift {
		t.Errorf("camera %+v, outcome %s", r.Camera, r.Outcome)
	}
}
