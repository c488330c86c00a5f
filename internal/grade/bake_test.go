package grade

import (
	"math"
	"strings"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

func TestBakedLUTHitsItsNodesAndTellsItsError(t *testing.T) {
	p := mustBuild(t, Starting("log-420"), Clip{ClipCode: 0.9})
	frame := [][3]float64{{0.41, 0.41, 0.41}, {0.5, 0.42, 0.4}, {0.2, 0.22, 0.25}}
	last := picture.Measured{MeanDE: math.Inf(1)}
	for _, size := range []int{9, 17, 33} {
		lut, e, err := p.Bake(BakeOptions{Size: size, Levels: colour.LevelsData, Colours: frame})
		if err != nil {
			t.Fatal(err)
		}
		if err := lut.Check(); err != nil {
			t.Fatal(err)
		}
		step := 1 / float64(size-1)
		for _, n := range [][3]float64{{0, 0, 0}, {4, 4, 4}, {6, 2, 1}} {
			y := scale3(n, step)
			if d := furthest(lut.Apply(y), hold3(p.Exact(y), 0, 1)); d > 1e-12 {
				t.Errorf("size %d: node %v is off by %g", size, n, d)
			}
		}
		t.Logf("size %d: mean %.3f, max %.2f ΔE00, neutrals %.2f codes; frame %+v", size, e.Grid.MeanDE, e.Grid.MaxDE, e.Grid.Neutral, *e.Colours)
		if e.Grid.Points != (size-1)*(size-1)*(size-1) || e.Colours.Points != len(frame) {
			t.Errorf("points %d, %d", e.Grid.Points, e.Colours.Points)
		}
		// The error told is the error made: no middle of a cell is further off.
		worst := 0.0
		for i := range size - 1 {
			y := [3]float64{(float64(i) + 0.5) * step, (float64((i*7)%(size-1)) + 0.5) * step, 0.5 * step}
			worst = max(worst, deltaE(hold3(p.Exact(y), 0, 1), lut.Apply(y)))
		}
		if worst > e.Grid.MaxDE {
			t.Errorf("a cell is %v off, told %v", worst, e.Grid.MaxDE)
		}
		if e.Grid.MeanDE >= last.MeanDE || e.Grid.Neutral > last.Neutral && last.Points > 0 {
			t.Errorf("a finer grid is no nearer: %+v after %+v", e.Grid, last)
		}
		last = e.Grid
	}
	if _, _, err := p.Bake(BakeOptions{Size: 130}); err == nil {
		t.Error("size 130 accepted")
	}
}

func TestBakeReadsTheLevelsAskedFor(t *testing.T) {
	p := mustBuild(t, Starting("log-420"), Clip{})
	data, _, err := p.Bake(BakeOptions{Size: 65, Levels: colour.LevelsData})
	if err != nil {
		t.Fatal(err)
	}
	video, e, err := p.Bake(BakeOptions{Size: 65, Levels: colour.LevelsVideo})
	if err != nil {
		t.Fatal(err)
	}
	for _, code := range []float64{95, 420, 700} {
		d, v := code/1023, (code-64)/876
		a, b := data.Apply([3]float64{d, d, d}), video.Apply([3]float64{v, v, v})
		if furthest(a, b)*876 > 1 {
			t.Errorf("code %v: data %v, video %v", code, a, b)
		}
	}
	text := strings.Join(p.LUTComments(BakeOptions{Levels: colour.LevelsVideo}, e), "\n")
	for _, want := range []string{"log-420", "r7300-g8550", "video levels", "64..940", "CIEDE2000"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not in the comments:\n%s", want, text)
		}
	}
}

func TestConversionLUTIsTheConversion(t *testing.T) {
	lut, comments, err := ConversionLUT("log-420", "", 0.9, 33)
	if err != nil {
		t.Fatal(err)
	}
	g := onlyConvert("log-420", "norm")
	g.Convert.By, g.Convert.LUT = "lut", "own.cube"
	byLUT, err := Build(g, Clip{}, LUTFunc(func(string, string) (*picture.Chain, error) {
		return &picture.Chain{Ops: []picture.Op{lut}}, nil
	}))
	if err != nil {
		t.Fatal(err)
	}
	ours := mustBuild(t, onlyConvert("log-420", "norm"), Clip{ClipCode: 0.9})
	worst := 0.0
	for i := range 200 {
		y := 0.1 + 0.8*float64(i)/199
		v := [3]float64{y, y + 0.02, y - 0.01}
		worst = max(worst, deltaE(byLUT.Exact(v), hold3(ours.Exact(v), 0, 1)))
	}
	t.Logf("by LUT within ΔE00 %.2f near neutral; %s", worst, comments[3])
	if worst > 2 { // a 33³ LUT's own error, which its comments tell
		t.Errorf("the baked conversion is ΔE00 %.2f from ours", worst)
	}
}

func TestOurLookIsSmoothAndStaysInside(t *testing.T) {
	l := AmberDusk()
	if err := l.Check(); err != nil || l.Size != 33 {
		t.Fatal(err, l.Size)
	}
	for _, x := range l.Data {
		if x < 0 || x > 1 {
			t.Fatalf("value %v", x)
		}
	}
	if b, w := l.Apply([3]float64{}), l.Apply([3]float64{1, 1, 1}); b != [3]float64{} || furthest(w, [3]float64{1, 1, 1}) > 1e-12 {
		t.Errorf("black %v, white %v", b, w)
	}
	// Shadows lean to teal, middles to amber.
	if s := amberDusk([3]float64{0.2, 0.2, 0.2}); !(s[0] < s[1] && s[0] < s[2]) {
		t.Errorf("shadow %v", s)
	}
	if m := amberDusk([3]float64{0.6, 0.6, 0.6}); !(m[0] > m[1] && m[1] > m[2]) {
		t.Errorf("middle %v", m)
	}
	// Along neutral every channel rises, and its slope changes little from
	// node to node.
	last, lastSlope := amberDusk([3]float64{}), [3]float64{}
	for i := 1; i <= 256; i++ {
		x := float64(i) / 256
		v := amberDusk([3]float64{x, x, x})
		for c := range v {
			slope := (v[c] - last[c]) * 256
			if slope <= 0 {
				t.Fatalf("channel %d falls at %v", c, x)
			}
			if i > 1 && math.Abs(slope-lastSlope[c]) > 0.05 {
				t.Fatalf("channel %d: slope jumps from %v to %v at %v", c, lastSlope[c], slope, x)
			}
			lastSlope[c] = slope
		}
		last = v
	}
}

func TestLadderJoinsSceneToScreen(t *testing.T) {
	p := mustBuild(t, onlyConvert("log-420", "norm"), Clip{ClipCode: 0.9})
	clip := math.Log2(p.Curve.Decode(0.9) / colour.Grey)
	rungs := p.Ladder([]float64{-30, -3, 0, 0.1, clip})
	if r := rungs[2]; math.Abs(r.Signal-GreySignal) > 1e-6 || math.Abs(r.ScreenStops) > 1e-4 {
		t.Errorf("grey: %+v", r)
	}
	if slope := (rungs[3].ScreenStops - rungs[2].ScreenStops) / 0.1; math.Abs(slope-1.3) > 0.02 {
		t.Errorf("rungs spread by %v at grey, stated 1.3", slope)
	}
	if r := rungs[4]; math.Abs(r.Signal-1) > 1e-6 {
		t.Errorf("clip: %+v", r)
	}
	if r := rungs[0]; r.ScreenStops < -24 || math.IsInf(r.ScreenStops, 0) {
		t.Errorf("black: %+v", r)
	}
	// 7-page.md's marks: 12 % at −4.2, 2 % at −10.4 stops.
	for signal, want := range map[float64]float64{0.12: -4.2, 0.02: -10.4, 1: 3.1} {
		if got := ScreenStops(signal); math.Abs(got-want) > 0.06 {
			t.Errorf("%v lies at %v, want %v", signal, got, want)
		}
	}
}

func TestEffectsAreToldInStops(t *testing.T) {
	g := Starting("log-420")
	g.Vignette.Stops = 0.5
	g.Curve.Master = [][2]float64{{-3, -3}, {0, 0.5}, {3, 3}}
	p := mustBuild(t, g, Clip{ClipCode: 0.9})
	stops := []float64{-3, 0, 3}
	curve, err := p.Effect(StageCurve, stops)
	if err != nil {
		t.Fatal(err)
	}
	// Grey is lifted by half a scene stop; the path's slope there makes more of it.
	if e := curve[1]; e.Stops < 0.45 || e.Stops > 0.9 || e.DeltaE < 1 {
		t.Errorf("curve at grey: %+v", e)
	}
	if e := curve[0]; math.Abs(e.Stops) > 0.1 {
		t.Errorf("curve at −3: %+v", e)
	}
	vignette, err := p.Effect(StageVignette, stops)
	if err != nil || math.Abs(vignette[1].Stops+0.5) > 1e-3 {
		t.Errorf("vignette: %+v %v", vignette, err)
	}
	off, err := p.Effect(StageExposure, stops)
	if err != nil || off[1].Stops != 0 || off[1].DeltaE != 0 {
		t.Errorf("a stage that does nothing: %+v %v", off, err)
	}
	for _, s := range Stages() {
		if _, err := p.Effect(s, stops); err != nil {
			t.Errorf("%s: %v", s, err)
		}
	}
}
