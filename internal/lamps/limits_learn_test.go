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

// What a switch clip can't tell is refused by name, and what it tells wrongly
// is not told at all.

// wantUnsure holds an error to be a fault of that class whose text has all of
// the words.
func wantUnsure(t *testing.T, err error, words ...string) {
	t.Helper()
	f, ok := fault.As(err)
	if !ok || f.Class != fault.Unsure {
		t.Fatalf("no refusal: %v", err)
	}
	for _, w := range words {
		if !strings.Contains(f.Message+" "+f.Hint, w) {
			t.Errorf("%q doesn't say %q", f.Message+" · "+f.Hint, w)
		}
	}
}

// pictureErrors is, for each lamp, the median error of its picture where it
// gives at least a tenth of the light, in stops.
func pictureErrors(s *Separation, parts []*picture.Image) []float64 {
	all := mixed(parts, flat([]float64{1, 1, 1, 1, 1}))
	var out []float64
	for k := range s.Picture {
		var e []float64
		for i, is := range s.Picture[k].Pix {
			if was := parts[k].Pix[i]; was > .1*all.Pix[i] && was > .01 && is > 0 {
				e = append(e, math.Abs(math.Log2(float64(is/was))))
			}
		}
		out = append(out, median(e))
	}
	return out
}

func TestLearnLimits(t *testing.T) {
	_, poses, cam, rng := smallGarage(21, 1)
	parts := poses[0]
	o := mustOrder(t, oneOff)

	t.Run("lamps never switched apart", func(t *testing.T) {
		o := mustOrder(t, "all, -key -fill, all, -rim, all, -tube, all, -tail, all, dark")
		_, err := Learn(shownHolds(rng, parts, cam, o, nil), o, cam.noise(), LearnOptions{})
		wantUnsure(t, err, "key", "fill")
	})
	t.Run("white balance on automatic", func(t *testing.T) {
		// Each hold is balanced half of the way to its own mean.
		usual := meanRGB(mixed(parts, flat([]float64{1, 1, 1, 1, 1})))
		holds := shownHolds(rng, parts, cam, o, func(_ int, f [][3]float64, c *madeCamera) {
			m := meanRGB(mixed(parts, f))
			warm := .5 * math.Log2(m[0]/m[2]*usual[2]/usual[0]) * miredPerStop
			c.balance = balanceMatrix(-warm)
		})
		l, err := Learn(holds, o, cam.noise(), LearnOptions{})
		if err != nil {
			t.Fatal(err)
		}
		wantUnsure(t, l.Constancy.Err(holds), "on automatic", "white balance")
	})
	t.Run("a manual camera with a dim dark hold", func(t *testing.T) {
		// Seven stops under grey an 8-bit code is coarse, and every hold errs by
		// its own share of a step.
		dim := cam
		dim.bits = 8
		for range 3 {
			holds := shownHolds(rng, parts, dim, o, func(_ int, f [][3]float64, _ *madeCamera) {
				for c := range 3 {
					f[5][c] = .04
				}
			})
			for h := range holds {
				step := float32(1 + .03*rng.NormFloat64())
				for i, v := range holds[h].Mean.Pix {
					if v < .18/64 {
						holds[h].Mean.Pix[i] = v * step
					}
				}
			}
			l, err := Learn(holds, o, cam.noise(), LearnOptions{})
			if err != nil {
				t.Fatal(err)
			}
			if err := l.Constancy.Err(holds); err != nil {
				t.Error(err)
			}
		}
	})
	t.Run("a lamp that warms up", func(t *testing.T) {
		// The fill comes to its full light as the clip goes on.
		holds := shownHolds(rng, parts, cam, o, func(s int, f [][3]float64, _ *madeCamera) {
			for c := range 3 {
				f[1][c] *= 1 - .15*math.Exp(-float64(s)/4)
			}
		})
		l, err := Learn(holds, o, cam.noise(), LearnOptions{})
		if err != nil {
			t.Fatal(err)
		}
		if l.Constancy.Automatic != nil || l.Constancy.LampDrift != "fill" {
			t.Errorf("a fill that warms up is taken for %s", l.Constancy)
		}
	})
	t.Run("daylight that changes", func(t *testing.T) {
		// Not evenly: a cloud over half of the clip.
		holds := shownHolds(rng, parts, cam, o, func(s int, f [][3]float64, _ *madeCamera) {
			for c := range 3 {
				f[5][c] = 1.1 - .2/(1+math.Exp(-(float64(s)-5)/2))
			}
		})
		l, err := Learn(holds, o, cam.noise(), LearnOptions{})
		if err != nil {
			t.Fatal(err)
		}
		for k, e := range pictureErrors(l.Separation, parts) {
			if e > .03 {
				t.Errorf("%s is off by %.3f stop", o.Lamps[k], e)
			}
		}
		if l.Constancy.Automatic != nil || l.Constancy.AmbientDrift == [3]float64{} {
			t.Errorf("daylight that changes is taken for %q", l.Constancy)
		}
	})
	t.Run("a sharp cloud", func(t *testing.T) {
		// It comes within the clip and stays, or comes and goes.
		for _, over := range [][2]int{{4, 12}, {3, 8}, {6, 12}} {
			holds := shownHolds(rng, parts, cam, o, func(s int, f [][3]float64, _ *madeCamera) {
				for c := range 3 {
					f[5][c] = 1 - .3*boolTo(s >= over[0] && s < over[1])
				}
			})
			l, err := Learn(holds, o, cam.noise(), LearnOptions{})
			if err != nil {
				t.Fatal(err)
			}
			for k, e := range pictureErrors(l.Separation, parts) {
				t.Logf("holds %d to %d: %s is off by %.4f stop", over[0], over[1], o.Lamps[k], e)
				if e > .03 {
					t.Errorf("holds %d to %d: %s is off by %.3f stop", over[0], over[1], o.Lamps[k], e)
				}
			}
			if l.Constancy.Automatic != nil || l.Constancy.AmbientDrift == [3]float64{} {
				t.Errorf("a cloud over holds %d to %d is taken for %q", over[0], over[1], l.Constancy)
			}
		}
	})
	t.Run("a dimmer whose light is no share of what it reads", func(t *testing.T) {
		order := mustOrder(t, "all, -key, all, key=50%, all, -fill, all, -rim, all, -tube, all, -tail, all, dark")
		var p []clipPart
		for _, h := range order.Holds {
			levels := append([]float64{}, h.Setting...)
			levels[0] = math.Pow(levels[0], 2.2)
			p = append(p, clipPart{levels: levels, last: 1.2})
		}
		rec := madeClip{rate: 25, warm: -1}.film(t, rng, poses, &cam, p)
		if _, err := rec.Match(order); err != nil {
			t.Error(err)
		}
	})
}

// meanRGB is a picture's mean.
func meanRGB(p *picture.Image) (m [3]float64) {
	for i, v := range p.Pix {
		m[i%3] += float64(v) / float64(len(p.Pix)/3)
	}
	return m
}

// A region's stated error holds the head that moved between the holds: readings
// of a face learned in several poses scatter by what is stated.
func TestRegionErrorsKnowTheHead(t *testing.T) {
	const w, h = 320, 180
	var inside, all float64
	for seed := range 4 {
		rng := rand.New(rand.NewPCG(uint64(seed), 71))
		g := newGarage(rng, 3)
		cam := newCamera()
		o := mustOrder(t, "all, -key, all, -fill, all, -rim, all, dark")
		sep, err := Separate(g.filmed(rng, &cam, o.Design(nil), w, h, 10, pose{}, .04), o.Design(nil), SeparateOptions{Noise: cam.noise()})
		if err != nil {
			t.Fatal(err)
		}
		s := NewSet(sep)
		still := g.render(w, h, pose{}, nudge{})
		for _, r := range []Region{{Name: FaceLit, X: .44, Y: .28, W: .04, H: .08}, {Name: FaceShade, X: .52, Y: .28, W: .04, H: .08}} {
			for i := range g.lamps {
				got := s.ReadLamp(s.Mix, i, r)
				var light float64
				px := r.Pixels(w, h)
				for _, p := range px {
					for c, k := range s.luma() {
						light += k * float64(still[i].Pix[3*p+c]) / float64(len(px))
					}
				}
				if light < .002 {
					continue
				}
				e := float64(got.Alone - unit.StopsOf(light/.18))
				all++
				inside += boolTo(math.Abs(e) < 2*float64(got.Error))
			}
		}
	}
	t.Logf("%.0f of %.0f readings of a moving head lie within two stated errors", inside, all)
	if inside < .75*all {
		t.Errorf("only %.0f of %.0f readings of a moving head lie within two stated errors", inside, all)
	}
}

// A switch clip and two days that really went through an encoder of 8 bits,
// 4:2:0 and a long group of pictures: what is told is right, or left open.
func TestLongGOP(t *testing.T) {
	needEncoder(t)
	rng := rand.New(rand.NewPCG(5, 0))
	c := long8(2)
	const w, h, lamps = 320, 180, 4
	g, s, cam, correlation := c.codedSet(t, rng, lamps, w, h)
	if s == nil {
		t.Fatal("the switch clip is refused")
	}
	drifted := []float64{.3, 0, 0, -.25}
	for _, stops := range [][]float64{make([]float64, lamps), drifted} {
		d := day{stops: stops, colour: make([]float64, lamps), moved: -1, pose: pose{x: .03, lean: .01}}
		light, day := d.light(g, cam, s.Mix, w, h)
		r, err := s.Check(c.today(t, rng, &day, correlation, 20, func(int) *picture.Image { return light }))
		if err != nil {
			t.Fatal(err)
		}
		if n := rightOrUnsure(t, "long GOP", r, stops); n > lamps/2 {
			t.Errorf("%d of %d lamps are unsure: %v", n, lamps, r.Reasons)
		}
		if math.Abs(float64(r.Camera.Gain)) > .05 {
			t.Errorf("the camera is said to have changed by %+.2f", float64(r.Camera.Gain))
		}
		for _, l := range r.Lamps {
			t.Logf("%s %s %+.3f ± %.3f", l.Name, l.Finding, float64(l.Stops), float64(l.Error))
		}
	}
}
