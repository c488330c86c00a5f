package lamps

import (
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/picture"
	"lampwise/internal/unit"
)

func TestParseTarget(t *testing.T) {
	tests := []struct {
		text string
		want Target
	}{
		{"face-lit=+0.5 ±0.1", Target{Region: "face-lit", Want: .5, Tolerance: .1}},
		{"background=-1.5", Target{Region: "background", Want: -1.5, Tolerance: .1}},
		{"background=−1,5 stops ±0,25", Target{Region: "background", Want: -1.5, Tolerance: .25}},
		{"face-lit/face-shade=2", Target{Region: "face-lit", Over: "face-shade", Want: 1, Tolerance: .1}},
		{"face-lit/face-shade=4:1 +-0.2 stop", Target{Region: "face-lit", Over: "face-shade", Want: 2, Tolerance: .2}},
		{"face-lit/background=2.5 stop", Target{Region: "face-lit", Over: "background", Want: 2.5, Tolerance: .1}},
		{"card=neutral ±0.05", Target{Region: "card", Neutral: true, Tolerance: .05}},
	}
	for _, tt := range tests {
		got, err := ParseTarget(tt.text)
		if err != nil || got != tt.want {
			t.Errorf("%q: %+v, %v", tt.text, got, err)
		}
		back, err := ParseTarget(got.String())
		if err != nil || math.Abs(float64(back.Want-got.Want)) > 1e-12 || back.Region != got.Region || back.Over != got.Over {
			t.Errorf("%q → %q → %+v, %v", tt.text, got, back, err)
		}
	}
	for _, bad := range []string{
		"", "face", "face=", "=1", "face=x", "face=1e3", "face=0x1p2", "face=NaN", "face=inf", "a/a=2", "a/b=0", "a/b=-2", "a/b=2:0",
		"a/b=neutral", "face=1 ±0", "face=1 ±-1", "face=1 ±9", "face=99", "a/b/c=2", "a b=1", "a/=1", "face=1 ±0.1 ±0.2", strings.Repeat("a", 300) + "=1",
	} {
		if got, err := ParseTarget(bad); err == nil {
			t.Errorf("%q is read as %+v", bad, got)
		} else if _, ok := fault.As(err); !ok {
			t.Errorf("%q: %v is no fault", bad, err)
		}
	}
}

func FuzzParseTarget(f *testing.F) {
	for _, s := range []string{"face-lit=+0.5 ±0.1", "a/b=2:1", "card=neutral", "a=1 +-0.1", "a/b=2 stop", "a=-", "a=±", "a/b=.:.", "=", "a=1,5"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got, err := ParseTarget(s)
		if err != nil {
			return
		}
		back, err := ParseTarget(got.String())
		if err != nil || math.Abs(float64(back.Want-got.Want)) > 1e-9 || back.Neutral != got.Neutral {
			t.Fatalf("%q → %q → %+v, %v", s, got, back, err)
		}
	})
}

// flatSet is a set whose lamps give stated light to stated regions: regions
// are columns of 8 pixels.
func flatSet(lamps []string, regions []string, light [][]float64, ambient []float64) *Set {
	w, h := 8*len(regions), minSide
	w = max(w, minSide)
	d := &Design{Lamps: lamps}
	n := len(lamps)
	for s := range n + 1 { // dark, then each lamp alone
		row := make([]float64, n)
		if s > 0 {
			row[s-1] = 1
		}
		d.Level = append(d.Level, row)
	}
	sep := &Separation{Design: d, W: w, H: h, Noise: ConstantNoise(1e-4), Inflation: 1}
	for range n + 1 {
		sep.Effective = append(sep.Effective, 10)
	}
	fill := func(values func(region int) float64) *picture.Image {
		img := picture.NewImage(w, h, picture.SpaceSceneLinear)
		for p := range w * h {
			r := min(p%w/8, len(regions)-1)
			for c := range 3 {
				img.Pix[3*p+c] = float32(values(r))
			}
		}
		return img
	}
	for i := range lamps {
		sep.Picture = append(sep.Picture, fill(func(r int) float64 { return light[i][r] }))
	}
	sep.Ambient = fill(func(r int) float64 { return ambient[r] })
	s := NewSet(sep)
	for r, name := range regions {
		s.Regions = append(s.Regions, Region{Name: name, X: float64(8*r) / float64(w), Y: 0, W: 8 / float64(w), H: 1})
	}
	return s
}

func mustTarget(t testing.TB, text string) Target {
	t.Helper()
	v, err := ParseTarget(text)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// Two lamps, two regions, no ambient: the levels follow by hand.
func TestSolveByHand(t *testing.T) {
	s := flatSet([]string{"key", "fill"}, []string{FaceLit, FaceShade}, [][]float64{{.9, 0}, {.1, .2}}, []float64{0, 0})
	sol, err := s.Solve([]Target{mustTarget(t, "face-lit=+1"), mustTarget(t, "face-shade=-1")}, SolveOptions{})
	if err != nil {
		t.Fatal(err)
	}
	// Shade: 0.2·f = 0.09 → f = 0.45. Lit: 0.9·k + 0.1·0.45 = 0.36 → k = 0.35.
	if !sol.Met || math.Abs(sol.Mix[0]-.35) > .002 || math.Abs(sol.Mix[1]-.45) > .002 {
		t.Errorf("mix %v, want 0.35 and 0.45; %+v", sol.Mix, sol.Targets)
	}
	if math.Abs(float64(sol.Levels[0].Stops)-math.Log2(.35)) > .01 {
		t.Errorf("key goes by %.3f stop", sol.Levels[0].Stops)
	}
	// As ratios, with the dimmer's steps.
	s.Lamps[0].Step, s.Lamps[1].Step = .05, .05
	sol, err = s.Solve([]Target{mustTarget(t, "face-lit/face-shade=4:1 ±0.15"), mustTarget(t, "face-shade=-1")}, SolveOptions{})
	if err != nil {
		t.Fatal(err)
	}
	for i, l := range sol.Levels {
		if k := l.Setting / .05; math.Abs(k-math.Round(k)) > 1e-6 {
			t.Errorf("lamp %d stands between two steps: %g", i, l.Setting)
		}
	}
	if !sol.Met {
		t.Errorf("not met on steps: %+v", sol.Targets)
	}
}

func TestSolveUnreachable(t *testing.T) {
	s := flatSet([]string{"key", "fill"}, []string{FaceLit, FaceShade, Background}, [][]float64{{.9, 0, .3}, {.1, .2, .1}}, []float64{.02, .02, .05})
	s.Lamps[0].Lowest, s.Lamps[0].Distance = .1, 1.2
	tests := []struct {
		targets []string
		say     string
	}{
		// Key at 0.1 gives 0.09 + …; −1.5 stops is 0.0636.
		{[]string{"face-lit=-1.5"}, "key is at its lowest level: move it from 1.2 m to"},
		{[]string{"background=-2"}, "the ambient light alone gives -1.8 stop there: shade the door"},
		{[]string{"face-shade=+1"}, "fill is at its highest level: bring it to"},
		{[]string{"face-lit=+1", "background=-1.2 ±0.05"}, "pulls against"},
	}
	for _, tt := range tests {
		var targets []Target
		for _, x := range tt.targets {
			targets = append(targets, mustTarget(t, x))
		}
		sol, err := s.Solve(targets, SolveOptions{})
		if err != nil {
			t.Fatal(err)
		}
		var reasons []string
		for _, r := range sol.Targets {
			if !r.Met {
				reasons = append(reasons, r.Reason)
			}
		}
		if sol.Met || !strings.Contains(strings.Join(reasons, "; "), tt.say) {
			t.Errorf("%v: met %v, mix %v, reasons %q, want %q", tt.targets, sol.Met, sol.Mix, reasons, tt.say)
		}
		if len(sol.Alternatives) == 0 {
			t.Errorf("%v: no alternative is offered", tt.targets)
		}
		for _, a := range sol.Alternatives {
			t.Logf("%v: %s → mix %.3v, exposure %+.2f, met %v", tt.targets, a.What, a.Mix, float64(a.Exposure), a.Met)
		}
	}
	// With exposure free to move in thirds, key at its lowest is no obstacle.
	sol, err := s.Solve([]Target{mustTarget(t, "face-lit=-1.5")}, SolveOptions{Exposure: []unit.Stop{-1, -2. / 3, -1. / 3, 1. / 3}})
	if err != nil || !sol.Met || sol.Exposure >= 0 {
		t.Errorf("with exposure: %+v, %v", sol, err)
	}
	if _, err := s.Solve([]Target{mustTarget(t, "face-lid=1")}, SolveOptions{}); err == nil || !strings.Contains(err.(*fault.Fault).Hint, "face-lit") {
		t.Errorf("a wrong region: %v", err)
	}
}

func TestSolveNeutral(t *testing.T) {
	s := flatSet([]string{"key", "rim"}, []string{Card, FaceLit}, [][]float64{{.3, .3}, {.3, .05}}, []float64{.01, .01})
	for p := range s.W * s.H { // a warm rim
		s.Picture[1].Pix[3*p] *= 1.4
		s.Picture[1].Pix[3*p+2] *= .5
	}
	sol, err := s.Solve([]Target{mustTarget(t, "card=neutral ±0.1"), mustTarget(t, "face-lit=+0.5")}, SolveOptions{})
	if err != nil || !sol.Met || sol.Mix[1] > .35 {
		t.Errorf("%+v, %v", sol, err)
	}
}

// Targets read off a random mix are met, and quickly.
func TestSolveFindsMixes(t *testing.T) {
	var longest time.Duration
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 6).Draw(t, "lamps")
		names := []string{"a", "b", "c", "d", "e", "f"}[:n]
		regions := []string{"r0", "r1", "r2", "r3", "r4", "r5", "r6"}[:n+1]
		light := make([][]float64, n)
		for i := range light {
			light[i] = rapid.SliceOfN(rapid.Float64Range(.01, 1), n+1, n+1).Draw(t, "light")
			light[i][i] += 1 // each lamp rules a region
		}
		s := flatSet(names, regions, light, rapid.SliceOfN(rapid.Float64Range(0, .05), n+1, n+1).Draw(t, "ambient"))
		mix := rapid.SliceOfN(rapid.Float64Range(.02, 1), n, n).Draw(t, "mix")
		var targets []Target
		for _, r := range s.Regions {
			targets = append(targets, Target{Region: r.Name, Want: s.Read(mix, r).Stops, Tolerance: .02})
		}
		start := time.Now()
		sol, err := s.Solve(targets, SolveOptions{})
		longest = max(longest, time.Since(start))
		if err != nil || !sol.Met {
			t.Fatalf("mix %v not found: %+v, %v", mix, sol, err)
		}
	})
	t.Logf("longest solve %v", longest)
	if longest > 300*time.Millisecond {
		t.Errorf("a solve took %v", longest)
	}
}

func TestReadings(t *testing.T) {
	s := flatSet([]string{"key", "fill"}, []string{FaceLit, FaceShade, Background}, [][]float64{{.48, .04, .06}, {.12, .16, .03}}, []float64{.02, .02, .01})
	s.Clip = 0.5
	mix := []float64{1, .5}
	lit := s.Regions[0]
	// By hand: 0.48 + 0.06 + 0.02 = 0.56.
	r := s.Read(mix, lit)
	if math.Abs(float64(r.Stops)-math.Log2(.56/colour.Grey)) > 1e-5 || r.Clipped != 1 || r.Spread > 1e-5 {
		t.Errorf("%+v", r)
	}
	l := s.ReadLamp(mix, 0, lit)
	if math.Abs(float64(l.Alone)-math.Log2(.48/.18)) > 1e-5 || math.Abs(l.Share-.48/.56) > 1e-6 || math.Abs(float64(l.Adds)-math.Log2(.56/.08)) > 1e-5 || l.Clips != 0 {
		t.Errorf("%+v", l)
	}
	q := s.Ratios(mix)
	if math.Abs(q.KeyToFill-9) > 1e-4 || math.Abs(float64(q.LitToShade)-math.Log2(.56/.14)) > 1e-5 || math.Abs(float64(q.KeyToBackground)-math.Log2(.56/.085)) > 1e-5 {
		t.Errorf("%+v", q)
	}
	most, share := s.ShareMap(mix)
	if most[0] != 0 || math.Abs(float64(share[0])-.48/.56) > 1e-5 {
		t.Errorf("share map says %d %.3f", most[0], share[0])
	}
}

// A lamp's colour against the key's, on surfaces of any colour.
func TestLampColour(t *testing.T) {
	g, _, cam, rng := smallGarage(21, 0)
	o := mustOrder(t, "all, -key, -fill, -rim, -tube, -tail, dark")
	l, err := Learn(shownHolds(rng, g.render(384, 216, pose{}, nudge{}), cam, o, nil), o, cam.noise(), LearnOptions{})
	if err != nil {
		t.Fatal(err)
	}
	s := NewSet(l.Separation)
	for i, lamp := range g.lamps {
		c, ok := s.Colour(i, 0)
		if !ok {
			t.Errorf("%s and the key never meet", lamp.name)
			continue
		}
		for j, ch := range []int{0, 2} {
			key := g.lamps[0].colour
			want := math.Log2(lamp.colour[ch] / lamp.colour[1] / (key[ch] / key[1]))
			if math.Abs(float64(c.Tint[j])-want) > .02 {
				t.Errorf("%s: tint %+.3f, truth %+.3f", lamp.name, float64(c.Tint[j]), want)
			}
		}
		t.Logf("%s: %+.0f ± %.1f mired against the key", lamp.name, float64(c.Gap), float64(c.GapError))
	}
}

// A filament's reddening: the figures of 5-lamps.md (33 mired at half light, 69
// at a quarter) hold at 2700 K; and by Planck's law the colour must follow.
func TestFilament(t *testing.T) {
	f := &Filament{Full: 2700}
	for level, want := range map[float64]float64{.5: 33, .25: 69} {
		if got := float64(f.Redder(level)); math.Abs(got-want) > .6 {
			t.Errorf("at level %g: %.1f mired redder, want %g", level, got, want)
		}
	}
	if f.Colour(1) != [3]float64{1, 1, 1} {
		t.Errorf("full: %v", f.Colour(1))
	}
	last := 0.0
	for _, level := range []float64{1, .7, .5, .3, .1, .03} {
		k := f.Colour(level)
		ratio := k[0] / k[2]
		if ratio < last || k[0] < k[2] {
			t.Errorf("level %g isn't redder than the one above: %v", level, k)
		}
		last = ratio
		// Equal luminance.
		r, g, b := colour.MustGamut("bt709").LuminanceWeights()
		rgb := f.rgb(2700)
		if y := (r*k[0]*rgb[0] + g*k[1]*rgb[1] + b*k[2]*rgb[2]) / (r*rgb[0] + g*rgb[1] + b*rgb[2]); math.Abs(y-1) > .02 {
			t.Errorf("level %g has luminance %.4f of its light", level, y)
		}
	}
}
