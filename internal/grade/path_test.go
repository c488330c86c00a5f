package grade

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// looks resolves every file name to our own look.
var looks = LUTFunc(func(string, string) (*picture.Chain, error) {
	return &picture.Chain{Ops: []picture.Op{AmberDusk()}}, nil
})

func mustBuild(t testing.TB, g *Grade, c Clip) *Path {
	t.Helper()
	p, err := Build(g, c, looks)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func mustProgram(t testing.TB, p *Path) *picture.Program {
	t.Helper()
	prog, err := p.Program()
	if err != nil {
		t.Fatal(err)
	}
	return prog
}

// A grade in which every stage is an identity, and convert is off, gives back
// the recorded signal, stage by stage.
func TestIdentitySettingsChangeNothing(t *testing.T) {
	g := defaults()
	g.Decode.Curve = "log-420"
	g.Convert.Off = true
	xy := [2]float64{colour.D65.X, colour.D65.Y}
	g.Balance.White.XY = &xy
	g.Curve.Master = [][2]float64{{-2, -2}, {2, 2}}
	cdl := identityCDL()
	g.Saturation.CDL = &cdl
	g.Look = Look{LUT: "x", Strength: 0}
	g.Encode.Limiter = "off"
	p := mustBuild(t, g, Clip{})
	y := [3]float64{0.3, 0.41, 0.55}
	for _, s := range []Stage{StageSplit, StageCurve, StageSaturation} {
		if d := furthest(p.After(s, y), y); d > 1e-12 {
			t.Errorf("after %s: %v", s, p.After(s, y))
		}
	}
	var linear [3]float64
	for i := range y {
		linear[i] = p.Curve.Decode(y[i])
	}
	for _, s := range []Stage{StageDecode, StageExposure, StageBalance} {
		if d := furthest(p.After(s, y), linear); d > 1e-12 {
			t.Errorf("after %s: %v, want %v", s, p.After(s, y), linear)
		}
	}
}

// The order of the path can't be changed: each stage's result is the next
// one's input.
func TestStagesRunInOrder(t *testing.T) {
	g := Starting("log-420")
	g.Exposure.Stops = 0.7
	cct := 4500.0
	g.Balance = Balance{White: White{CCT: &cct}, CAT: "Bradford"}
	p := mustBuild(t, g, Clip{})
	y := [3]float64{0.35, 0.42, 0.5}
	scene := p.After(StageDecode, y)
	scene = scale3(scene, math.Exp2(0.7))
	if d := furthest(p.After(StageExposure, y), scene); d > 1e-12 {
		t.Errorf("exposure: %g", d)
	}
	scene = p.balance.Apply(scene)
	if d := furthest(p.After(StageBalance, y), scene); d > 1e-12 {
		t.Errorf("balance: %g", d)
	}
	log := p.split.apply(p.encodeLog(scene))
	if d := furthest(p.After(StageSplit, y), log); d > 1e-12 {
		t.Errorf("split: %g", d)
	}
	log = p.tone.apply(log)
	if d := furthest(p.After(StageCurve, y), log); d > 1e-12 {
		t.Errorf("curve: %g", d)
	}
	log = p.saturate(log)
	if d := furthest(p.After(StageSaturation, y), log); d > 1e-12 {
		t.Errorf("saturation: %g", d)
	}
	screen := p.convert.apply(log)
	if d := furthest(p.After(StageConvert, y), screen); d > 1e-12 {
		t.Errorf("convert: %g", d)
	}
	screen = hold3(screen, 0, 1)
	lut := AmberDusk().Apply(screen)
	for i := range screen {
		screen[i] += LookStrength * (lut[i] - screen[i])
	}
	if d := furthest(p.Exact(y), screen); d > 1e-12 {
		t.Errorf("look: %g", d)
	}
	for s, want := range map[Stage]Domain{
		StageDecode: DomainScene, StageBalance: DomainScene, StageSplit: DomainLog,
		StageSaturation: DomainLog, StageConvert: DomainScreen, StageEncode: DomainScreen,
	} {
		if got := p.DomainAfter(s); got != want {
			t.Errorf("after %s: %s, want %s", s, got, want)
		}
	}
}

func TestSaturationIsAboutLuma(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		amount := rapid.Float64Range(0, 2).Draw(t, "amount")
		p := &Path{sat: amount, logHi: 10}
		v := [3]float64{rapid.Float64Range(0, 1).Draw(t, "r"), rapid.Float64Range(0, 1).Draw(t, "g"), rapid.Float64Range(0, 1).Draw(t, "b")}
		out := p.saturate(v)
		if math.Abs(luma(out)-luma(v)) > 1e-12 {
			t.Fatalf("luma changed from %v to %v", luma(v), luma(out))
		}
		for i := range v {
			if math.Abs((out[i]-luma(out))-amount*(v[i]-luma(v))) > 1e-12 {
				t.Fatalf("%v → %v at %v", v, out, amount)
			}
		}
	})
}

func TestCDLComesInlineOrFromAFile(t *testing.T) {
	want := &picture.CDL{Slope: [3]float64{1.1, 1, 0.9}, Offset: [3]float64{0.01, 0, 0}, Power: [3]float64{1, 1.1, 1}, Saturation: 0.8, Style: picture.CDLFwdNoClamp}
	g := Starting("log-420")
	cdl := CDL{Slope: want.Slope, Offset: want.Offset, Power: want.Power, Saturation: want.Saturation}
	g.Saturation.CDL = &cdl
	inline := mustBuild(t, g, Clip{})
	file := CDL{File: "a.ccc", ID: "2", Slope: [3]float64{1, 1, 1}, Power: [3]float64{1, 1, 1}, Saturation: 1}
	g.Saturation.CDL = &file
	asked := ""
	p, err := Build(g, Clip{}, LUTFunc(func(name, id string) (*picture.Chain, error) {
		if name == LookFile {
			return looks(name, id)
		}
		asked = name + " " + id
		stored := *want
		stored.Style = picture.CDLFwd
		return &picture.Chain{Ops: []picture.Op{&stored}}, nil
	}))
	if err != nil {
		t.Fatal(err)
	}
	if asked != "a.ccc 2" {
		t.Errorf("asked for %q", asked)
	}
	y := [3]float64{0.3, 0.42, 0.5}
	if a, b := inline.Exact(y), p.Exact(y); a != b {
		t.Errorf("inline %v, from the file %v", a, b)
	}
	// The CDL itself, then the amount about luma.
	v := want.Apply(inline.After(StageCurve, y))
	l := luma(v)
	for i := range v {
		v[i] = l + g.Saturation.Amount*(v[i]-l)
	}
	if d := furthest(inline.After(StageSaturation, y), v); d > 1e-12 {
		t.Errorf("off by %g", d)
	}
	g.Saturation.CDL = &CDL{File: "look.cube", Slope: [3]float64{1, 1, 1}, Power: [3]float64{1, 1, 1}, Saturation: 1}
	if _, err := Build(g, Clip{}, looks); err == nil {
		t.Error("a LUT passed for a CDL")
	}
}

func TestLookGoesPartOfTheWay(t *testing.T) {
	steps := LUTFunc(func(string, string) (*picture.Chain, error) {
		return &picture.Chain{Ops: []picture.Op{&picture.Range{Slope: 0.9, Offset: 0.05}, AmberDusk()}}, nil
	})
	for name, luts := range map[string]LUTs{"one LUT": looks, "several steps": steps} {
		at := map[float64][3]float64{}
		y := [3]float64{0.5, 0.42, 0.4}
		for _, k := range []float64{0, 0.45, 1} {
			g := Starting("log-420")
			g.Look.Strength = k
			p, err := Build(g, Clip{}, luts)
			if err != nil {
				t.Fatal(err)
			}
			at[k] = p.Exact(y)
			if d := furthest(at[k], mustProgram(t, p).Colour(y)); d > smoothTolerance {
				t.Errorf("%s at %v: the program is %g away", name, k, d)
			}
		}
		for i := range y {
			if want := at[0][i] + 0.45*(at[1][i]-at[0][i]); math.Abs(at[0.45][i]-want) > 1e-12 {
				t.Errorf("%s: channel %d at 0.45 is %v, want %v", name, i, at[0.45][i], want)
			}
		}
		if at[0] == at[1] {
			t.Errorf("%s: the look does nothing", name)
		}
	}
}

func TestFinishedPictureTakesLookAndVignetteOnly(t *testing.T) {
	g := defaults()
	g.Decode.Off = true
	for _, s := range []Stage{StageExposure, StageBalance, StageSplit, StageCurve, StageSaturation, StageConvert} {
		g.SetOff(s, true)
	}
	g.Look = Look{LUT: LookFile, Strength: 1}
	g.Vignette.Stops = 1
	p := mustBuild(t, g, Clip{Format: picture.Format{Range: colour.Narrow}})
	prog := mustProgram(t, p)
	e := [3]float64{0.2, 0.5, 0.7}
	want := AmberDusk().Apply(e)
	if got := p.Exact(e); furthest(got, want) > 1e-12 {
		t.Errorf("exact %v, want %v", got, want)
	}
	if got := prog.Colour(prog.Input.Signal(e)); furthest(got, want) > 1e-12 {
		t.Errorf("program %v, want %v", got, want)
	}
	if prog.Vignette == nil || prog.Vignette.Stops != 1 {
		t.Errorf("vignette %+v", prog.Vignette)
	}
}

func drawGrade(t *rapid.T) *Grade {
	curves := []string{"log-420", "log-433", "log-407", "log-445", "log-372", "log-500", "log-470", "acescc", "bt709"}
	g := Starting(rapid.SampledFrom(curves).Draw(t, "curve"))
	f := func(lo, hi float64, name string) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
	for _, s := range Stages()[1:] {
		g.SetOff(s, rapid.Bool().Draw(t, string(s)+" off"))
	}
	g.Exposure.Stops = f(-8, 8, "stops")
	cct, duv := f(1500, 20000, "cct"), f(-0.03, 0.03, "duv")
	g.Balance = Balance{Off: g.Balance.Off, White: White{CCT: &cct, Duv: &duv}, Keep: f(0, 1, "keep"), CAT: "CAT16"}
	g.Split.Shadow = Push{f(-60, 60, "shadow"), f(-0.02, 0.02, "shadow Duv")}
	g.Split.High = Push{f(-60, 60, "high"), f(-0.02, 0.02, "high Duv")}
	g.Split.Counter = rapid.SampledFrom([]string{"none", "shadow", "middle"}).Draw(t, "counter")
	g.Curve.Master = [][2]float64{{-3, f(-5, -2, "low")}, {0, f(-1, 1, "grey")}, {3, f(2, 6, "high point")}}
	g.Saturation.Amount = f(0, 2, "saturation")
	g.Convert.Slope, g.Convert.Toe = f(0.6, 1.8, "slope"), f(-12, -3, "toe")
	g.Convert.Apply = rapid.SampledFrom([]string{"norm", "channels"}).Draw(t, "apply")
	g.Look.Strength = f(0, 1, "strength")
	return g
}

// wild draws signals no camera records, beside those it does.
func wild(t *rapid.T, name string) float64 {
	if rapid.Bool().Draw(t, name+" special") {
		return rapid.SampledFrom([]float64{
			0, -0.1, 1, 1.1, -5, 40, 64.0 / 1023, 940.0 / 1023, 95.0 / 1023, math.Inf(1), math.Inf(-1), math.NaN(),
			math.MaxFloat64, -math.MaxFloat64, math.SmallestNonzeroFloat64, 0.0929, 0.41,
		}).Draw(t, name)
	}
	return rapid.Float64Range(-1, 2).Draw(t, name)
}

func TestNoInputGivesANaN(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, err := Build(drawGrade(t), Clip{ClipCode: rapid.SampledFrom([]float64{0, 0.9}).Draw(t, "clip")}, looks)
		if err != nil {
			t.Skip(err.Error()) // a fault, such as a counter-push that can't be
		}
		prog, err := p.Program()
		if err != nil {
			t.Fatalf("a path that was built makes no program: %v", err)
		}
		for range 20 {
			y := [3]float64{wild(t, "r"), wild(t, "g"), wild(t, "b")}
			for _, s := range Stages() {
				if v := p.After(s, y); !colour.Finite(v) {
					t.Fatalf("after %s: %v from %v", s, v, y)
				}
			}
			if v := prog.Colour(y); !colour.Finite(v) {
				t.Fatalf("program: %v from %v", v, y)
			}
		}
	})
}

// With our conversion and the limiter off, nothing falls below black, and a
// brighter neutral is never darker on the screen.
func TestNeutralsNeverTurnRound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := drawGrade(t)
		g.Decode.Curve = "log-420"
		g.Balance.Off, g.Split.Off, g.Look.Off = true, true, true
		g.Convert.Off = false
		p, err := Build(g, Clip{ClipCode: 0.9}, looks)
		if err != nil {
			t.Skip(err.Error())
		}
		last := -1.0
		for i := range 1025 {
			y := float64(i) / 1024
			v := p.Exact([3]float64{y, y, y})
			if v[1] < last-1e-12 || v[1] < 0 {
				t.Fatalf("at y %v: %v after %v", y, v, last)
			}
			last = v[1]
		}
	})
}
