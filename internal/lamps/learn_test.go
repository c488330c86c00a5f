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

// shownHolds films the holds of an order, each through change.
func shownHolds(rng *rand.Rand, parts []*picture.Image, cam madeCamera, o *Order, change func(s int, factors [][3]float64, cam *madeCamera)) []Hold {
	var out []Hold
	for s, h := range o.Holds {
		f := flat(h.Setting)
		c := cam
		if change != nil {
			change(s, f, &c)
		}
		out = append(out, Hold{Start: unit.Second(2 * s), End: unit.Second(2*s + 2), Frames: 10, Mean: c.average(rng, mixed(parts, f), 10)})
	}
	return out
}

const oneOff = "all, -key, all, -fill, all, -rim, all, -tube, all, -tail, all, dark"

func TestLearnAmbientDrift(t *testing.T) {
	g, poses, cam, rng := smallGarage(11, 1)
	o := mustOrder(t, oneOff)
	for _, drift := range []float64{0, .2, -.1} {
		holds := shownHolds(rng, poses[0], cam, o, func(s int, f [][3]float64, _ *madeCamera) {
			for c := range 3 {
				f[5][c] = 1 + drift*(float64(s)/float64(len(o.Holds)-1)-.5)
			}
		})
		l, err := Learn(holds, o, cam.noise(), LearnOptions{})
		if err != nil {
			t.Fatal(err)
		}
		c := l.Constancy
		if c.Automatic != nil || c.LampDrift != "" || math.Abs(c.AmbientDrift[1]-drift) > .02 {
			t.Errorf("drift %+.2f found as %+v (%s), automatic %+v", drift, c.AmbientDrift, c, c.Automatic)
		}
		if l.Additivity > .01 {
			t.Errorf("drift %+.2f: held-out holds are off by %.4f stop", drift, float64(l.Additivity))
		}
	}
	_ = g
}

func TestLearnLampDrift(t *testing.T) {
	_, poses, cam, rng := smallGarage(11, 1)
	o := mustOrder(t, oneOff)
	holds := shownHolds(rng, poses[0], cam, o, func(s int, f [][3]float64, _ *madeCamera) {
		for c := range 3 {
			f[0][c] *= 1 - .06*(float64(s)/float64(len(o.Holds)-1)-.5)
		}
	})
	l, err := Learn(holds, o, cam.noise(), LearnOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if c := l.Constancy; c.LampDrift != "key" || math.Abs(c.LampBy+.06) > .015 {
		t.Errorf("a key that sinks by 6 %% is found as %q %+.3f, ambient %v, automatic %v", c.LampDrift, c.LampBy, c.AmbientDrift, c.Automatic)
	}
}

// A camera that keeps the picture's mean (partly) is refused, whether or not
// the order repeats itself.
func TestLearnAutomatic(t *testing.T) {
	_, poses, cam, rng := smallGarage(12, 1)
	for _, text := range []string{oneOff, "all, -key, -fill, -rim, -tube, -tail", "dark, key, fill, rim, tube, tail, all"} {
		o := mustOrder(t, text)
		all := mixed(poses[0], flat([]float64{1, 1, 1, 1, 1}))
		_, usual := signature(&Light{Image: all})
		holds := shownHolds(rng, poses[0], cam, o, func(_ int, f [][3]float64, c *madeCamera) {
			_, mean := signature(&Light{Image: mixed(poses[0], f)})
			c.gain = math.Pow(mean/usual, -.35)
		})
		l, err := Learn(holds, o, cam.noise(), LearnOptions{})
		if err != nil {
			t.Fatal(err)
		}
		err = l.Constancy.Err(holds)
		f, ok := fault.As(err)
		if !ok || f.Class != fault.Unsure || !strings.Contains(f.Message, "on automatic") {
			t.Errorf("%q: automatic exposure goes unnoticed: %s, additivity %.3f", text, l.Constancy, float64(l.Additivity))
		}
		holds = shownHolds(rng, poses[0], cam, o, nil)
		if l, err = Learn(holds, o, cam.noise(), LearnOptions{}); err != nil {
			t.Fatal(err)
		}
		if l.Constancy.Automatic != nil {
			t.Errorf("%q: a manual camera is called automatic: %+v", text, l.Constancy.Automatic)
		}
	}
}

// The level of a part setting is measured, and the dimmer's curve with it.
func TestLearnDimmer(t *testing.T) {
	g, poses, cam, rng := smallGarage(13, 1)
	o, err := ParseOrder("all, -key, all, all+key=25%, all+key=50%, all+key=75%, -fill, -rim, -tube, -tail, dark, key=50%", g.names())
	if err != nil {
		t.Fatal(err)
	}
	curve := func(v float64) float64 { return math.Pow(v, 2.2) }
	holds := shownHolds(rng, poses[0], cam, o, func(s int, f [][3]float64, _ *madeCamera) {
		for c := range 3 {
			f[0][c] = curve(o.Holds[s].Setting[0])
		}
	})
	l, err := Learn(holds, o, cam.noise(), LearnOptions{})
	if err != nil {
		t.Fatal(err)
	}
	d := l.Dimmers["key"]
	if d == nil {
		t.Fatal("no dimmer curve")
	}
	for _, p := range d.Points {
		if p.Error == 0 {
			continue
		}
		if e := math.Abs(p.Level - curve(p.Setting)); e > 4*p.Error || e > .004 {
			t.Errorf("at %.0f %%: level %.4f ± %.4f, truth %.4f", 100*p.Setting, p.Level, p.Error, curve(p.Setting))
		}
	}
	if got := d.Setting(curve(.41)); math.Abs(got-.41) > .02 {
		t.Errorf("level of 41 %% is at %.1f %%", 100*got)
	}
	if l.Additivity > .01 {
		t.Errorf("with the levels measured, held-out holds are off by %.4f stop", float64(l.Additivity))
	}
}

// Each lamp's picture against its own render, in units of the stated errors.
func TestSeparationHonest(t *testing.T) {
	for _, text := range []string{oneOff, "all, -key, -fill, -rim, -tube, -tail", "dark, key, fill, rim, tube, tail", "key+fill+rim, key+tube+tail, fill+tube, rim+tail+key, fill+tail, rim+tube, all, dark"} {
		_, poses, cam, rng := smallGarage(14, 1)
		o := mustOrder(t, text)
		index := map[string]int{"key": 0, "fill": 1, "rim": 2, "tube": 3, "tail": 4}
		level := func(s int) []float64 {
			v := make([]float64, 5)
			for i, n := range o.Lamps {
				v[index[n]] = o.Holds[s].Setting[i]
			}
			return v
		}
		holds := shownHolds(rng, poses[0], cam, o, func(s int, f [][3]float64, _ *madeCamera) {
			for i, v := range level(s) {
				f[i] = [3]float64{v, v, v}
			}
		})
		l, err := Learn(holds, o, cam.noise(), LearnOptions{})
		if err != nil {
			t.Fatal(err)
		}
		k := l.columns()
		cov := make([]float64, k*k)
		b := make([]float64, k)
		var z []float64
		for p := 0; p < l.W*l.H; p += 7 {
			if l.Blind != nil && l.Blind[p] != 0 {
				continue
			}
			for c := range 3 {
				for j := range k {
					b[j] = float64(l.image(j).Pix[3*p+c])
				}
				l.Covariance(c, b, 1, cov)
				for j := range k {
					truth := poses[0][5]
					if j < 5 {
						truth = poses[0][index[l.Design.Lamps[j]]]
					}
					z = append(z, (b[j]-float64(truth.Pix[3*p+c]))/math.Sqrt(cov[j*k+j]))
				}
			}
		}
		one, two := within(z, 1), within(z, 2)
		if math.Abs(one-.683) > .05 || math.Abs(two-.954) > .03 {
			t.Errorf("%q: %.1f %% within one standard error, %.1f %% within two", text, 100*one, 100*two)
		}
		t.Logf("%q: %.1f %% within one standard error, %.1f %% within two", text, 100*one, 100*two)
	}
}

// A sample that any hold clips has no weight, in any channel, and a lamp that
// only clipped holds tell is blind there.
func TestSeparationClipped(t *testing.T) {
	g, poses, cam, rng := smallGarage(15, 1)
	cam.clip = .5 // a careless exposure
	o := mustOrder(t, oneOff)
	l, err := Learn(shownHolds(rng, poses[0], cam, o, nil), o, cam.noise(), LearnOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if l.Blind == nil {
		t.Fatal("nothing is blind though much clips")
	}
	var worst float64
	for p := range l.W * l.H {
		if l.Blind[p] != 0 {
			continue
		}
		for j := range g.lamps {
			for c := range 3 {
				worst = max(worst, math.Abs(float64(l.Picture[j].Pix[3*p+c]-poses[0][j].Pix[3*p+c])))
			}
		}
	}
	if worst > .06 {
		t.Errorf("a pixel that counts is off by %.3f", worst)
	}
}
