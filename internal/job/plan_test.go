package job

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"lampwise/internal/light"
)

const planText = `schema = 1
title = "test"
[room]
width = 4
depth = 5
height = 2.5
[subject]
at = [2, 3]
[camera]
at = [2, 1, 1.3]
focal_mm = 35
f = 2.8
sensitivity = 800
[[circuit]]
name = "wall"
volts = 230
breaker = 6
[[lamp]]
name = "key"
kind = "panel-60"
at = [0.8, 1.8, 1.9]
level = 0.3
circuit = "wall"
[[lamp]]
name = "fill"
kind = "panel-30"
at = [3.4, 1.8, 1.3]
level = 0.5
watts = 600
circuit = "wall"
[[lamp]]
name = "tube"
kind = "tube-120"
at = [2, 4.6, 2.3]
aim = "down"
`

func planned(t *testing.T, text string) (*Planned, string) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "p.toml")
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	p, err := PlanFile(PlanRequest{File: file})
	if err != nil {
		t.Fatal(err)
	}
	return p, file
}

// The stops are those of the exposure's own formula; the mix is the lamps' sum;
// every reading says how far it may err.
func TestPlanReadings(t *testing.T) {
	p, _ := planned(t, planText)
	for _, r := range p.Readings {
		sum := 0.0
		for _, l := range p.Lamps {
			sum += l.Lux[r.Region]
		}
		if math.Abs(sum/r.Lux-1) > 1e-9 {
			t.Errorf("%s: %g lx, lamps add up to %g", r.Region, r.Lux, sum)
		}
		want := math.Log2(r.Lux*r.Reflectance/(0.18*p.Exposure.GreyLux)) + r.Corner
		if math.Abs(*r.Stops-want) > 1e-9 {
			t.Errorf("%s: %+.4f stop, expected %+.4f", r.Region, *r.Stops, want)
		}
		if r.SE != 0.5 {
			t.Errorf("%s may err by %g stop", r.Region, r.SE)
		}
	}
	if math.Abs(p.Exposure.GreyLux-122.5) > 1e-9 {
		t.Errorf("grey at %g lx", p.Exposure.GreyLux)
	}
	if k := p.Ratios; k.Key != "key" || k.Fill != "fill" || *k.KeyToFill < 1 {
		t.Errorf("ratios %+v", k)
	}
}

func TestPlanPower(t *testing.T) {
	p, _ := planned(t, planText)
	c := p.Power.Circuits[0]
	// 700 W at 230 V with the assumed power factor of 0.6: 5.07 A of 4.8 A.
	if math.Abs(c.Amperes-700/(230*0.6)) > 1e-9 || !c.Over {
		t.Errorf("%+v", c)
	}
	all := strings.Join(p.Cautions, "\n")
	for _, want := range []string{"overloaded", "No circuit is given for tube", "local codes and a licensed electrician decide", "BT.1702"} {
		if !strings.Contains(all, want) {
			t.Errorf("no caution says %q:\n%s", want, all)
		}
	}
	// Cautions stand with every plan, a harmless one too.
	q, _ := planned(t, strings.Split(planText, "[[circuit]]")[0]+"[[lamp]]\nname = \"one\"\nkind = \"bulb\"\nat = [1, 1, 2]\n")
	if len(q.Cautions) < 2 {
		t.Errorf("%v", q.Cautions)
	}
}

// Solved levels, put into the plan, read what was asked.
func TestPlanSolveHolds(t *testing.T) {
	p, _ := planned(t, planText)
	s, err := SolvePlan(p, []string{"face-lit=+0.5 ±0.1", "face-lit/face-shade=2 ±0.1"})
	if err != nil {
		t.Fatal(err)
	}
	if !s.Met {
		t.Fatalf("%+v", s.Targets)
	}
	for _, l := range s.Levels {
		for i := range p.scene.Plan.Lamps {
			if p.scene.Plan.Lamps[i].Name == l.Name {
				v := l.Level
				p.scene.Plan.Lamps[i].Level = &v
			}
		}
	}
	factor := math.Exp2(s.Exposure)
	again, err := plan(p.scene.Plan, p.File)
	if err != nil {
		t.Fatal(err)
	}
	lit, shade := again.reading(light.FaceLit), again.reading(light.FaceShade)
	if got := *lit.Stops + math.Log2(factor); math.Abs(got-0.5) > 0.1 {
		t.Errorf("face-lit reads %+.3f", got)
	}
	if got := lit.Lux / shade.Lux; math.Abs(math.Log2(got)-1) > 0.1 {
		t.Errorf("ratio %.3f", got)
	}
}

// A lamp that can't be dimmed far enough is told, with where to take it.
func TestPlanSolveMoves(t *testing.T) {
	text := strings.Replace(planText, "level = 0.3", "level = 0.3\nlowest = 0.2", 1)
	text = strings.Replace(text, "at = [0.8, 1.8, 1.9]", "at = [1.3, 2.3, 1.5]", 1)
	p, _ := planned(t, text)
	s, err := SolvePlan(p, []string{"face-lit=+1.2 ±0.1"})
	if err != nil {
		t.Fatal(err)
	}
	if !s.Met {
		t.Fatalf("%+v", s.Targets)
	}
	if len(s.Moves) == 0 && s.ND == 0 {
		for _, l := range s.Levels {
			t.Logf("%s %.3f", l.Name, l.Level)
		}
		t.Error("a lamp at its end is dimmed on")
	}
}

// A factor that was measured goes into the file, once, and moves the readings
// by itself; the rest of the file stays.
func TestKeepFactors(t *testing.T) {
	p, file := planned(t, planText)
	half := -0.5
	met := &PlanMet{Set: "garage", Lamps: []PlanLampMet{{Name: "key", Factor: &half, SE: 0.1}}}
	if err := KeepFactors(p, met); err != nil {
		t.Fatal(err)
	}
	q, err := PlanFile(PlanRequest{File: file})
	if err != nil {
		t.Fatal(err)
	}
	if off := *q.Lamps[0].Stops[light.FaceLit] - *p.Lamps[0].Stops[light.FaceLit]; math.Abs(off+0.5) > 2e-3 {
		t.Errorf("the key changed by %+.4f stop", off)
	}
	if se := q.Lamps[0].SE; math.Abs(se-math.Hypot(0.15, 0.1)) > 1e-9 {
		t.Errorf("it may err by %g stop", se)
	}
	// Again: the two add up, and the line isn't there twice.
	if err := KeepFactors(q, met); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(string(data), "measured_stops"); n != 1 || !strings.Contains(string(data), "measured_stops = -1.000") {
		t.Errorf("%d lines in:\n%s", n, data)
	}
}

// What stands before the face is told.
func TestHiddenFaceIsTold(t *testing.T) {
	told := func(thing string) bool {
		p, _ := planned(t, planText+thing)
		return strings.Contains(strings.Join(p.Notes, "\n"), "doesn't see the face")
	}
	if told("") || !told("[[thing]]\nname = \"screen\"\nat = [2, 2, 1.2]\nsize = [1, 0.05, 2]\nreflectance = 0.3\n") {
		t.Error("a screen before the face isn't told, or one is told that isn't there")
	}
}

// A wall square to camera and lamp mirrors one into the other; one that faces
// away doesn't, and neither does a face.
func TestMirrorsAreTold(t *testing.T) {
	p, _ := planned(t, planText)
	s := p.scene
	eye := s.Eye()
	lamp, _, _, _ := s.Axis(0)
	at := light.Vec{X: 1, Y: 4.5, Z: 1.2}
	half := eye.Sub(at).Unit().Add(lamp.Sub(at).Unit()).Unit() // mirrors the one into the other
	away := light.Vec{X: half.X*math.Cos(0.4) - half.Y*math.Sin(0.4), Y: half.X*math.Sin(0.4) + half.Y*math.Cos(0.4), Z: half.Z}
	for name, c := range map[string]struct {
		normal light.Vec
		body   light.Body
		want   int
	}{"square to both": {half, light.Whole, 1}, "turned away": {away, light.Whole, 0}, "a face": {half, light.Skin, 0}} {
		place := light.Place{Name: "board", At: at, Normal: c.normal, Reflectance: 0.2, Body: c.body}
		got := p.mirrored(place, s.Read(place))
		n := 0
		for _, l := range got {
			if l == p.Lamps[0].Name {
				n++
			}
		}
		if n != c.want {
			t.Errorf("%s: mirrors %v", name, got)
		}
	}
	r := PlannedReading{Mirrors: []string{p.Lamps[0].Name}}
	if d := r.doubtOf(&p.Lamps[0]); d != float64(mirrorDoubt) {
		t.Errorf("a mirrored lamp may err by %g stop", d)
	}
}

func TestCableRun(t *testing.T) {
	path, metres := cableRun(4, 5, [2]float64{3.5, 1}, [2]float64{0, 2.5}, 0)
	// To the right wall, down it, along the front, up the left: 0.5+1+4+2.5.
	if math.Abs(metres-8) > 1e-9 {
		t.Errorf("%.2f m by %v", metres, path)
	}
	if _, m := cableRun(4, 5, [2]float64{0.2, 4}, [2]float64{0, 2.5}, 0); math.Abs(m-1.7) > 1e-9 {
		t.Errorf("%.2f m", m)
	}
}

// A cable's length is told whether or not the plan is drawn.
func TestCablesAreMeasuredUndrawn(t *testing.T) {
	file := filepath.Join(t.TempDir(), "garage.toml")
	if err := os.WriteFile(file, []byte(light.Example), 0o644); err != nil {
		t.Fatal(err)
	}
	out, err := PlanFile(PlanRequest{File: file})
	if err != nil {
		t.Fatal(err)
	}
	found := 0
	for _, l := range out.Lamps {
		if l.Cable > 0 {
			found++
		}
	}
	if found == 0 {
		t.Error("no lamp of the example's plan has a cable")
	}
}

// One region in which something shines doesn't move a lamp.
func TestFactorIsRobust(t *testing.T) {
	r := func(region string, measured, off float64) PlanRegion {
		return PlanRegion{Region: region, Measured: measured, Off: off}
	}
	f, se := factorOf([]PlanRegion{r("face-lit", 0.6, -0.2), r("card", -0.9, -0.25), r("background", -1.6, 1.2), r("hair", -1, 4), r("face-shade", -4, 3)}, 0.6)
	if f == nil || *f != -0.2 || se > 0.1 {
		t.Errorf("factor %v ± %g", f, se)
	}
	if f, _ := factorOf([]PlanRegion{r("hair", -1, 0.7)}, -1); f == nil || *f != 0.7 {
		t.Errorf("hair alone: %v", f)
	}
	if f, _ := factorOf(nil, 0); f != nil {
		t.Errorf("nothing: %g", *f)
	}
}

// Mired arithmetic: a gel's shift, the gap to key and white balance, and what
// that looks like. 5600 K is 178.6 mired, 3200 K 312.5; +134 turns one into the other.
func TestPlanColours(t *testing.T) {
	text := strings.Replace(planText, "sensitivity = 800", "sensitivity = 800\nwhite_balance = 5600", 1)
	text = strings.Replace(text, "name = \"fill\"", "name = \"fill\"\ngel_mired = 134\ngel_loss_stops = 1", 1)
	p, _ := planned(t, text)
	key, fill := p.Lamps[0], p.Lamps[1]
	if key.Looks != "white" || math.Abs(*key.MiredToWhite) > 1e-9 {
		t.Errorf("key %s, %+.1f mired", key.Looks, *key.MiredToWhite)
	}
	if math.Abs(*fill.Kelvin-3199.3) > 1 || math.Abs(*fill.MiredToKey-134) > 1e-9 || fill.Looks != "orange" {
		t.Errorf("fill %.1f K, %+.1f mired, %s", *fill.Kelvin, *fill.MiredToKey, fill.Looks)
	}
	for _, v := range key.Shown {
		if math.Abs(v-1) > 0.01 {
			t.Errorf("the key shows as %v", *key.Shown)
		}
	}
	if s := fill.Shown; !(s[0] == 1 && s[1] < 0.8 && s[2] < s[1]) {
		t.Errorf("the fill shows as %v", *s)
	}
	bare, _ := planned(t, strings.Replace(planText, "sensitivity = 800", "sensitivity = 800\nwhite_balance = 5600", 1))
	if off := *fill.Stops[light.Card] - *bare.Lamps[1].Stops[light.Card]; math.Abs(off+1) > 1e-9 {
		t.Errorf("a gel of one stop takes %.4f", -off)
	}
}
