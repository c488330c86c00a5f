package lamps

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"lampwise/internal/picture"
	"lampwise/internal/unit"
)

// clipPart is a stretch of a made clip: the lamps' levels at its start and end,
// how long it lasts, and how the light gets to it.
type clipPart struct {
	levels []float64
	last   float64 // s
	fade   float64 // s of linear fade from the part before
}

// film plays parts into a recorder: parts' pictures mixed, plus flicker and
// noise that is shared between frames by rho.
type madeClip struct {
	rate    float64
	flicker float64 // amplitude, at 3.3 Hz (a beat of mains and shutter)
	rho     float64
	sway    bool // the person moves between three poses every half second
	warm    int  // lamp that starts 8 % low after each switching on and warms up, −1 none
}

func (m madeClip) film(t testing.TB, rng *rand.Rand, poses [][]*picture.Image, cam *madeCamera, parts []clipPart) *Recording {
	t.Helper()
	w, h := poses[0][0].W, poses[0][0].H
	r, err := NewRecorder(w, h, m.rate)
	if err != nil {
		t.Fatal(err)
	}
	var carried []float32
	frame := 0
	before := parts[0].levels
	since := 10.0 // of the warming lamp's switching on
	for _, p := range parts {
		n := int(math.Round(p.last * m.rate))
		for k := range n {
			now := float64(frame) / m.rate
			level := append([]float64{}, p.levels...)
			if f := p.fade * m.rate; float64(k) < f {
				for i := range level {
					level[i] = before[i] + (p.levels[i]-before[i])*float64(k)/f
				}
			}
			if m.warm >= 0 {
				since += 1 / m.rate
				if k == 0 && before[m.warm] == 0 && p.levels[m.warm] > 0 {
					since = 0
				}
				level[m.warm] *= 1 - .08*math.Exp(-since/.5)
			}
			pose := 0
			if m.sway {
				pose = frame / int(m.rate/2) % len(poses)
			}
			light := mixed(poses[pose], flat(level))
			if m.flicker > 0 {
				g := float32(1 + m.flicker*math.Sin(2*math.Pi*3.3*now))
				for i := range light.Pix {
					light.Pix[i] *= g
				}
			}
			shot := cam.shoot(rng, light)
			if m.rho > 0 {
				// Noise that hangs on, as a codec's and a denoiser's does.
				if carried == nil {
					carried = make([]float32, len(light.Pix))
				}
				for i := range shot.Pix {
					d := shot.Pix[i] - light.Pix[i]
					carried[i] = float32(m.rho)*carried[i] + float32(math.Sqrt(1-m.rho*m.rho))*d
					shot.Pix[i] = light.Pix[i] + carried[i]
				}
			}
			if err := r.Add(shot, unit.Second(now)); err != nil {
				t.Fatal(err)
			}
			frame++
		}
		before = p.levels
	}
	rec, err := r.Finish()
	if err != nil {
		t.Fatal(err)
	}
	return rec
}

func smallGarage(seed uint64, poses int) (*garage, [][]*picture.Image, madeCamera, *rand.Rand) {
	rng := rand.New(rand.NewPCG(seed, 3))
	g := newGarage(rng, 5)
	var p [][]*picture.Image
	for i := range poses {
		p = append(p, g.render(192, 108, pose{x: .01 * float64(i)}, nudge{}))
	}
	return g, p, newCamera(), rng
}

func partsOf(o *Order, each float64) []clipPart {
	var p []clipPart
	for _, h := range o.Holds {
		p = append(p, clipPart{levels: h.Setting, last: each})
	}
	return p
}

func TestRecorderFindsHolds(t *testing.T) {
	g, poses, cam, rng := smallGarage(1, 3)
	o := mustOrder(t, "all, -key, all, -fill, all, -rim, all, -tube, all, -tail, all, dark")
	rec := madeClip{rate: 25, sway: true, warm: -1}.film(t, rng, poses, &cam, partsOf(o, 1.6))
	if len(rec.Holds) != len(o.Holds) {
		t.Fatalf("%d holds of %d; dropped %v", len(rec.Holds), len(o.Holds), rec.Dropped)
	}
	for s, h := range rec.Holds {
		start, end := 1.6*float64(s), 1.6*float64(s+1)
		// The person's moves may cost an end of a hold, but never lengthen it.
		if float64(h.Start) < start-.12 || float64(h.End) > end+.12 || h.End-h.Start < 1 {
			t.Errorf("hold %d is %.2f to %.2f s, want %.2f to %.2f", s+1, h.Start, h.End, start, end)
		}
		if h.Frames < 20 {
			t.Errorf("hold %d averages %d frames of 40", s+1, h.Frames)
		}
		// The background's mean is right to its noise.
		want := mixed(poses[0], flat(o.Holds[s].Setting))
		var z []float64
		n := cam.noise()
		for y := range 30 {
			for x := 140; x < 190; x++ {
				i := 3*(y*192+x) + 1
				z = append(z, math.Abs(float64(h.Mean.Pix[i]-want.Pix[i]))/math.Sqrt(n.Variance(1, float64(want.Pix[i]))/h.Mean.Frames))
			}
		}
		if m := median(z); m < .5 || m > .9 {
			t.Errorf("hold %d: background's median error is %.2f of its stated deviation, want 0.67", s+1, m)
		}
	}
	_ = g
	truth := cam.noise()
	for c := range 3 {
		for _, x := range []float64{.01, .05, .18} {
			if r := rec.Noise.Variance(c, x) / truth.Variance(c, x); r < .8 || r > 1.35 {
				t.Errorf("noise of channel %d at %g measured at %.2f of its variance", c, x, r)
			}
		}
	}
}

// A faint lamp, a slow fade, a warm-up, flicker and noise that hangs on: the
// holds are found all the same, and what was odd is told.
func TestRecorderOddClips(t *testing.T) {
	_, poses, cam, rng := smallGarage(2, 1)
	on := []float64{1, 1, 1, 1, 1}
	noKey := []float64{0, 1, 1, 1, 1}
	t.Run("faint", func(t *testing.T) {
		// The lamp's whole light is a few thousandths of the picture's.
		faint := []float64{1, 1, 1, 1, .0}
		base := []float64{1, 1, 1, 1, .25}
		rec := madeClip{rate: 25, warm: -1}.film(t, rng, poses, &cam, []clipPart{{base, 2, 0}, {faint, 2, 0}, {base, 2, 0}})
		if len(rec.Holds) != 3 {
			t.Errorf("%d holds of 3", len(rec.Holds))
		}
	})
	t.Run("fade", func(t *testing.T) {
		rec := madeClip{rate: 25, warm: -1}.film(t, rng, poses, &cam, []clipPart{{on, 1.5, 0}, {noKey, 4.5, 3}, {on, 1.5, 0}})
		if len(rec.Holds) != 3 {
			for _, h := range rec.Holds {
				t.Logf("hold %.2f to %.2f", h.Start, h.End)
			}
			t.Fatalf("%d holds of 3; dropped %v", len(rec.Holds), rec.Dropped)
		}
		if h := rec.Holds[1]; h.Start < 4.2 {
			t.Errorf("the fade counts as a hold from %.2f s", h.Start)
		}
		if rec.Holds[1].Steady.Lead < 1 {
			t.Errorf("a fade of 3 s is told as %.2f s", rec.Holds[1].Steady.Lead)
		}
	})
	t.Run("warm-up", func(t *testing.T) {
		rec := madeClip{rate: 25, warm: 0}.film(t, rng, poses, &cam, []clipPart{{noKey, 1.5, 0}, {on, 5, 0}, {noKey, 1.5, 0}})
		if len(rec.Holds) != 3 {
			t.Fatalf("%d holds of 3; dropped %v", len(rec.Holds), rec.Dropped)
		}
		st := rec.Holds[1].Steady
		if st.Settled < .02 || st.Lead < .2 {
			t.Errorf("warm-up told as %+.3f stop over %.2f s", st.Settled, st.Lead)
		}
	})
	t.Run("flicker", func(t *testing.T) {
		rec := madeClip{rate: 25, flicker: .03, warm: -1}.film(t, rng, poses, &cam, []clipPart{{on, 2, 0}, {noKey, 2, 0}, {on, 2, 0}})
		if len(rec.Holds) != 3 {
			t.Fatalf("%d holds of 3; dropped %v", len(rec.Holds), rec.Dropped)
		}
		if rec.Flicker < .015 || rec.Flicker > .03 {
			t.Errorf("flicker of 3 %% amplitude (2.1 %% deviation) told as %.3f", rec.Flicker)
		}
	})
	t.Run("noise that hangs on", func(t *testing.T) {
		rec := madeClip{rate: 25, rho: .8, warm: -1}.film(t, rng, poses, &cam, []clipPart{{on, 4, 0}, {noKey, 4, 0}})
		if len(rec.Holds) != 2 {
			t.Fatalf("%d holds of 2; dropped %v", len(rec.Holds), rec.Dropped)
		}
		// AR(1) with ρ = 0.8: a mean is worth (1+ρ)/(1−ρ) = 9 times fewer frames.
		if rec.Correlation < 5 || rec.Correlation > 14 {
			t.Errorf("correlation %.1f, want about 9", rec.Correlation)
		}
	})
	t.Run("dark throughout", func(t *testing.T) {
		r, err := NewRecorder(192, 108, 25)
		if err != nil {
			t.Fatal(err)
		}
		for i := range 5 {
			if err := r.Add(cam.shoot(rng, poses[0][4]), unit.Second(float64(i)/25)); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := r.Finish(); err == nil || !strings.Contains(err.Error(), "only 5 frames") {
			t.Errorf("a clip of 5 frames: %v", err)
		}
	})
}

// Independent noise is measured as such, at its size.
func TestSignatureNoise(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 6))
	series := make([][]float64, 300)
	for i := range series {
		series[i] = make([]float64, signatureSize)
		for k := range series[i] {
			series[i][k] = .3 + .001*rng.NormFloat64()
		}
	}
	sigma, correlation := signatureNoise(series)
	if correlation > 1.3 {
		t.Errorf("independent noise has correlation %.2f", correlation)
	}
	if m := median(sigma) / .001; m < .9 || m > 1.15 {
		t.Errorf("noise measured at %.2f of its size", m)
	}
}

// The mean of the middle half's efficiency, by drawing.
func TestTrimEfficiency(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	const groups, n = 16, 20000
	img := picture.NewImage(n, 1, picture.SpaceSceneLinear)
	gs := make([]group, groups)
	for g := range gs {
		gs[g] = group{sum: make([]float32, 3*n), blocks: 1, frames: 1}
		for i := range gs[g].sum {
			gs[g].sum[i] = float32(rng.NormFloat64())
		}
	}
	trimmedMeans(gs, img)
	v := 0.0
	for _, x := range img.Pix {
		v += float64(x) * float64(x) / float64(len(img.Pix))
	}
	if e := 1 / (v * groups); math.Abs(e-trimEfficiency) > .02 {
		t.Errorf("efficiency %.3f, stated %.2f", e, trimEfficiency)
	}
}
