package lamps

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"lampwise/internal/fault"
	"lampwise/internal/picture"
	"lampwise/internal/unit"
)

// limitSet is one garage and its set, shared by the tests of honest limits.
func limitSet(t *testing.T) (*rand.Rand, *garage, *Set, madeCamera) {
	rng := rand.New(rand.NewPCG(51, 4))
	g, s, cam := madeSet(t, rng, 5, 320, 180)
	for i := range s.Mix {
		s.Mix[i] = .7
	}
	return rng, g, s, cam
}

// rightOrUnsure holds every finding to the truth: right, or refused.
func rightOrUnsure(t *testing.T, name string, r *CheckReport, stops []float64) (unsure int) {
	t.Helper()
	for i, l := range r.Lamps {
		if l.Finding == Unsure {
			unsure++
			if l.Reason == "" {
				t.Errorf("%s: %s is unsure without a reason", name, l.Name)
			}
			continue
		}
		truth := stops[i]
		if math.IsInf(truth, -1) {
			if l.Finding != Off {
				t.Errorf("%s: %s is off, found %s %+.3f", name, l.Name, l.Finding, float64(l.Stops))
			}
			continue
		}
		want := Same
		switch {
		case truth >= float64(StartingHabit.Mention):
			want = Brighter
		case truth <= -float64(StartingHabit.Mention):
			want = Darker
		}
		if l.Finding != want || math.Abs(float64(l.Stops)-truth) > max(.03, 3*float64(l.Error)) {
			t.Errorf("%s: %s is %s %+.3f ± %.3f, truth %+.3f", name, l.Name, l.Finding, float64(l.Stops), float64(l.Error), truth)
		}
	}
	return unsure
}

func TestCheckLimits(t *testing.T) {
	rng, g, s, cam := limitSet(t)
	const w, h = 320, 180
	usual := g.render(w, h, pose{x: .03, lean: .02}, nudge{})
	factors := func(stops []float64) [][3]float64 {
		f := flat(s.Mix)
		for i, v := range stops {
			for c := range 3 {
				f[i][c] *= math.Exp2(v)
			}
		}
		return f
	}
	check := func(l *Light) *CheckReport {
		r, err := s.Check(l)
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	drifted := []float64{0, .3, 0, -.3, 0}
	off := []float64{0, 0, 0, math.Inf(-1), 0}

	t.Run("as it was", func(t *testing.T) {
		r := check(cam.average(rng, mixed(usual, factors(make([]float64, 5))), 4))
		if n := rightOrUnsure(t, "as it was", r, make([]float64, 5)); n > 1 || r.Outcome == OutcomeDrift {
			t.Errorf("%d unsure, outcome %s %v", n, r.Outcome, r.Reasons)
		}
	})
	t.Run("two lamps drifted", func(t *testing.T) {
		r := check(cam.average(rng, mixed(usual, factors(drifted)), 4))
		if n := rightOrUnsure(t, "two lamps drifted", r, drifted); n > 1 || r.Outcome != OutcomeDrift {
			t.Errorf("%d unsure, outcome %s", n, r.Outcome)
		}
	})
	t.Run("a lamp off", func(t *testing.T) {
		r := check(cam.average(rng, mixed(usual, factors(off)), 4))
		rightOrUnsure(t, "a lamp off", r, off)
		if r.Lamps[3].Finding != Off || !r.Lamps[3].Act {
			t.Errorf("the tube is off, found %+v", r.Lamps[3])
		}
	})
	t.Run("8 bits", func(t *testing.T) {
		eight := cam
		eight.bits = 8
		r := check(eight.average(rng, mixed(usual, factors(drifted)), 4))
		rightOrUnsure(t, "8 bits", r, drifted)
	})
	t.Run("rolling flicker", func(t *testing.T) {
		l := mixed(usual, factors(drifted))
		for p := range w * h {
			g := float32(1 + .03*math.Sin(2*math.Pi*float64(p/w)/47))
			for c := range 3 {
				l.Pix[3*p+c] *= g
			}
		}
		r := check(cam.average(rng, l, 1))
		rightOrUnsure(t, "rolling flicker", r, drifted)
	})
	t.Run("a person walking", func(t *testing.T) {
		// The mean of frames in which the person is everywhere.
		var l *picture.Image
		for k := range 6 {
			one := mixed(g.render(w, h, pose{x: -.6 + .24*float64(k)}, nudge{}), factors(drifted))
			if l == nil {
				l = one
				continue
			}
			for i, v := range one.Pix {
				l.Pix[i] += v
			}
		}
		for i := range l.Pix {
			l.Pix[i] /= 6
		}
		rightOrUnsure(t, "a person walking", check(cam.average(rng, l, 4)), drifted)
	})
	t.Run("a card in front", func(t *testing.T) {
		l := mixed(usual, factors(drifted))
		for y := 60; y < 150; y++ {
			for x := 120; x < 200; x++ {
				for c := range 3 {
					l.Pix[3*(y*w+x)+c] = .11
				}
			}
		}
		if n := rightOrUnsure(t, "a card in front", check(cam.average(rng, l, 4)), drifted); n > 3 {
			t.Errorf("%d unsure with a card over an eighth of the picture", n)
		}
	})
	t.Run("another room", func(t *testing.T) {
		other := newGarage(rand.New(rand.NewPCG(77, 77)), 5)
		r := check(cam.shoot(rng, mixed(other.render(w, h, pose{absent: true}, nudge{dx: 40, dy: 20, degrees: 4, scale: 1.2}), factors(make([]float64, 5)))))
		if r.Outcome != OutcomeUnsure || len(r.Reasons) == 0 {
			t.Errorf("another room is %s: %v", r.Outcome, r.Reasons)
		}
	})
	t.Run("overexposed", func(t *testing.T) {
		hot := cam
		hot.gain = 40
		r := check(hot.shoot(rng, mixed(usual, factors(make([]float64, 5)))))
		if r.Outcome == OutcomeSame {
			t.Errorf("a frame that clips nearly everywhere is %s", r.Outcome)
		}
		for _, l := range r.Lamps {
			if l.Finding != Unsure {
				t.Logf("overexposed: %s %s %+.3f ± %.3f", l.Name, l.Finding, float64(l.Stops), float64(l.Error))
			}
		}
	})
	t.Run("another shape", func(t *testing.T) {
		_, err := s.Check(cam.shoot(rng, g.render(160, 120, pose{}, nudge{})[0]))
		if f, ok := fault.As(err); !ok || !strings.Contains(f.Message, "160×120") {
			t.Errorf("%v", err)
		}
		bad := cam.shoot(rng, usual[0])
		bad.Pix[7] = float32(math.NaN())
		if _, err := s.Check(bad); err == nil {
			t.Error("a picture with a NaN is checked")
		}
	})
}

// A lamp far weaker than the noise can't be judged, and its being there does
// no harm to the others.
func TestFaintLamp(t *testing.T) {
	rng := rand.New(rand.NewPCG(61, 1))
	g := newGarage(rng, 4)
	g.lamps[3].colour = g.lamps[3].colour.times(2e-4)
	cam := newCamera()
	const w, h = 320, 180
	o := mustOrder(t, "all, -key, all, -fill, all, -rim, all, -tube, all, dark")
	sep, err := Separate(g.filmed(rng, &cam, o.Design(nil), w, h, 6, pose{}, .01), o.Design(nil), SeparateOptions{Noise: cam.noise()})
	if err != nil {
		t.Fatal(err)
	}
	s := NewSet(sep)
	stops := []float64{-.3, 0, 0, 1}
	f := flat(s.Mix)
	for i, v := range stops {
		for c := range 3 {
			f[i][c] *= math.Exp2(v)
		}
	}
	r, err := s.Check(cam.average(rng, mixed(g.render(w, h, pose{x: .04}, nudge{}), f), 4))
	if err != nil {
		t.Fatal(err)
	}
	if r.Lamps[3].Finding != Unsure || !strings.Contains(r.Lamps[3].Reason, "too little light") {
		t.Errorf("the faint lamp is %+v", r.Lamps[3])
	}
	rightOrUnsure(t, "with a faint lamp", r, stops)
	if r.Lamps[0].Finding != Darker {
		t.Errorf("the key is %+v", r.Lamps[0])
	}
}

// Two lamps with the same picture can't be told apart in a check, though their
// switching was: neither is said to have drifted with a small error.
func TestCollinearLamps(t *testing.T) {
	rng := rand.New(rand.NewPCG(62, 1))
	g := newGarage(rng, 3)
	twin := g.lamps[1]
	twin.name = "twin"
	twin.at = twin.at.add(vec{.002, 0, 0})
	g.lamps = append(g.lamps, twin)
	cam := newCamera()
	const w, h = 320, 180
	o := mustOrder(t, "all, -key, all, -fill, all, -rim, all, -twin, all, dark")
	sep, err := Separate(g.filmed(rng, &cam, o.Design(nil), w, h, 6, pose{}, 0), o.Design(nil), SeparateOptions{Noise: cam.noise()})
	if err != nil {
		t.Fatal(err)
	}
	s := NewSet(sep)
	f := flat(s.Mix)
	for c := range 3 {
		f[1][c] *= math.Exp2(.4)
	}
	r, err := s.Check(cam.average(rng, mixed(g.render(w, h, pose{}, nudge{}), f), 4))
	if err != nil {
		t.Fatal(err)
	}
	for _, i := range []int{1, 3} {
		l := r.Lamps[i]
		truth := []float64{0, .4, 0, 0}[i]
		if l.Finding != Unsure && math.Abs(float64(l.Stops)-truth) > 3*float64(l.Error) {
			t.Errorf("%s: %s %+.3f ± %.3f, truth %+.1f", l.Name, l.Finding, float64(l.Stops), float64(l.Error), truth)
		}
		t.Logf("%s: %s %+.3f ± %.3f (truth %+.1f) %s", l.Name, l.Finding, float64(l.Stops), float64(l.Error), truth, l.Reason)
	}
}

// A habit is learned from earlier checks and never made stricter than at first.
func TestLearnHabit(t *testing.T) {
	rng := rand.New(rand.NewPCG(63, 1))
	names := []string{"key", "fill", "rim", "tube", "tail"}
	history := func(n int, sd float64) []map[string]unit.Stop {
		var out []map[string]unit.Stop
		for range n {
			day := map[string]unit.Stop{}
			for _, name := range names {
				day[name] = unit.Stop(sd * rng.NormFloat64())
			}
			out = append(out, day)
		}
		out[0]["key"] = .9 // one real drift
		return out
	}
	if got := StartingHabit.LearnHabit(history(4, .1)); got != StartingHabit {
		t.Errorf("four checks make a habit: %+v", got)
	}
	if got := StartingHabit.LearnHabit(history(20, .005)); got.Mention != StartingHabit.Mention || got.Lamp > .02 {
		t.Errorf("a steady set: %+v", got)
	}
	got := StartingHabit.LearnHabit(history(20, .08))
	if got.Lamp < .06 || got.Lamp > .1 || got.Mention < .15 || got.Act < 2*got.Mention-1e-9 {
		t.Errorf("a set that wanders by 0.08: %+v", got)
	}
	// Two lamps that were changed, and stay as they are since, are no habit.
	changed := history(20, .005)
	for _, day := range changed {
		day["key"] += .3
		day["tube"] -= .3
	}
	if got := StartingHabit.LearnHabit(changed); got.Mention != StartingHabit.Mention || got.Lamp > .02 {
		t.Errorf("a set of which two lamps were changed: %+v", got)
	}
}

func TestParseRegion(t *testing.T) {
	r, err := ParseRegion("face-lit=41,22.5,6,9")
	if err != nil || r.Name != FaceLit || r.X != .41 || r.Y != .225 || r.W != .06 || r.H != .09 {
		t.Errorf("%+v, %v", r, err)
	}
	for _, bad := range []string{"", "x", "=1,2,3,4", "a=1,2,3", "a=1,2,3,4,5", "a=1,2,3,x", "a=-1,2,3,4", "a=99,2,3,4", "a=1,2,0,4", "a=NaN,1,1,1", "a b=1,2,3,4", "a=1,2,3,1e9"} {
		if _, err := ParseRegion(bad); err == nil {
			t.Errorf("%q is read", bad)
		}
	}
	if n := len((Region{X: 0, Y: 0, W: .001, H: .001}).Pixels(100, 100)); n != 1 {
		t.Errorf("a tiny region has %d pixels", n)
	}
	if n := len((Region{X: .25, Y: .5, W: .5, H: .25}).Pixels(40, 20)); n != 100 {
		t.Errorf("a region of 20 × 5 pixels has %d", n)
	}
}

func FuzzParseRegion(f *testing.F) {
	for _, s := range []string{"face-lit=41,22,6,9", "a=0,0,100,100", "a=1,2,3", "=", "a=,,,", "a=1e1,1,1,1", "a=0x1,1,1,1"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		r, err := ParseRegion(s)
		if err != nil {
			return
		}
		if p := r.Pixels(64, 36); len(p) == 0 || p[0] < 0 || p[len(p)-1] >= 64*36 {
			t.Fatalf("%q: %+v", s, r)
		}
	})
}
