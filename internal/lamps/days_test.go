package lamps

import (
	"flag"
	"math/rand/v2"
	"strings"
	"testing"

	"lampwise/internal/picture"
)

var (
	daysFlag = flag.Int("days", 24, "generated days to check")
	seedFlag = flag.Uint64("seed", 1, "seed of the generated days")
	dumpFlag = flag.Bool("dump", false, "print every lamp's numbers")
	sayFlag  = flag.Bool("say", false, "print every generated day that went wrong")
	heldFlag = flag.Bool("camera-same", false, "the camera is set as it was, and that is said")
	codeFlag = flag.String("coded", "", "send the generated days through an encoder: intra10 or long8")
)

// madeSet films and separates a garage.
func madeSet(t testing.TB, rng *rand.Rand, lamps, w, h int) (*garage, *Set, madeCamera) {
	g := newGarage(rng, lamps)
	cam := newCamera()
	text := "all"
	for _, n := range g.names() {
		text += ", -" + n + ", all"
	}
	d := mustOrder(t, text+", dark").Design(nil)
	sep, err := Separate(g.filmed(rng, &cam, d, w, h, 12, pose{}, .01), d, SeparateOptions{Noise: cam.noise()})
	if err != nil {
		t.Fatal(err)
	}
	s := NewSet(sep)
	for i := range s.Mix {
		s.Mix[i] = .4 + .6*rng.Float64()
	}
	return g, s, cam
}

// codedSet films a garage's switch clip through an encoder.
func (c coding) codedSet(t testing.TB, rng *rand.Rand, lamps, w, h int) (*garage, *Set, madeCamera, float64) {
	g := newGarage(rng, lamps)
	cam := newCamera()
	text := "all"
	for _, n := range g.names() {
		text += ", -" + n + ", all"
	}
	o := mustOrder(t, text+", dark")
	poses := make([][]*picture.Image, 3)
	for i := range poses {
		const sway = .01
		poses[i] = g.render(w, h, pose{x: sway * (2*rng.Float64() - 1), lean: sway * (2*rng.Float64() - 1)}, nudge{})
	}
	var light *picture.Image
	l, rec, err := c.learn(t, rng, &cam, o, 20, func(hold, frame int) *picture.Image {
		if frame == 0 {
			light = mixed(poses[rng.IntN(len(poses))], flat(o.Holds[hold].Setting))
		}
		return light
	})
	if err != nil {
		t.Logf("a switch clip is refused: %v", err)
		return nil, nil, cam, 0
	}
	s := NewSet(l.Separation)
	for i := range s.Mix {
		s.Mix[i] = .4 + .6*rng.Float64()
	}
	return g, s, cam, rec.Correlation
}

// TestDays checks generated days against what was put into them. The normal run
// has two sets' days; docs/accuracy.md has the command for hundreds.
func TestDays(t *testing.T) {
	const w, h, eachSet = 320, 180, 12
	sc := score{moved: map[Finding]int{}}
	var c coding
	switch *codeFlag {
	case "intra10":
		c = intra10(1)
	case "long8":
		c = long8(1)
	}
	for made := 0; made < *daysFlag; {
		rng := rand.New(rand.NewPCG(*seedFlag, uint64(made)))
		lamps := 3 + rng.IntN(5)
		var g *garage
		var s *Set
		var cam madeCamera
		correlation := 1.
		if *codeFlag != "" {
			needEncoder(t)
			if g, s, cam, correlation = c.codedSet(t, rng, lamps, w, h); s == nil {
				made++
				continue
			}
		} else {
			g, s, cam = madeSet(t, rng, lamps, w, h)
		}
		for k := 0; k < eachSet && made < *daysFlag; k++ {
			made++
			d := drawDay(rng, lamps)
			if *heldFlag {
				d.gain, d.balance = 0, 0
			}
			var today *Light
			if *codeFlag != "" {
				light, cam := d.light(g, cam, s.Mix, w, h)
				today = c.today(t, rng, &cam, correlation, 20, func(int) *picture.Image { return light })
			} else {
				today = d.shoot(rng, g, cam, s.Mix, w, h)
			}
			r, err := s.CheckWith(today, CheckOptions{CameraSame: *heldFlag})
			if err != nil {
				t.Fatal(err)
			}
			if wrong := sc.add(&d, r, s.Habit, g); len(wrong) > 0 && *sayFlag {
				t.Logf("day %d (%d lamps, moved %d, gain %+.2f, balance %+.0f, ambient %+.2f, %+v %+v, explained %.2f): %s", made, lamps, d.moved, d.gain, d.balance, d.ambient, d.pose, d.nudge, r.Explained, strings.Join(wrong, "; "))
			}
		}
	}
	t.Log("\n" + sc.table())
	if share := float64(sc.wrong) / float64(sc.lamps); share > mostWrong {
		t.Errorf("%.2f %% of the lamps are judged wrongly and surely", 100*share)
	}
	if share := float64(sc.refused) / float64(sc.lamps); *codeFlag == "" && share > mostRefused {
		t.Errorf("%.0f %% of the lamps are refused", 100*share)
	}
}

// mostWrong is the share of wrong confident verdicts that may be; mostRefused
// bounds refusals on days that no encoder touched, so that a check that refuses
// everything doesn't pass.
const (
	mostWrong   = 0.01
	mostRefused = 0.35
)
