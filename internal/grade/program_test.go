package grade

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// smoothTolerance is how far a program's sampled ops may lie from the exact
// path, in display signal, over recorded codes (y = 0..1). A code of 10 bits is
// 1.1e-3.
const smoothTolerance = 1e-4

// jumps lists the published curves that jump where their pieces meet, or rise
// without bound at black: linear interpolation can't follow them within one
// sample's width. Each tolerance is the next round figure over what was seen in
// this test and, with other settings, over 60 000 colours of the signal cube.
var jumps = map[string]struct {
	tolerance float64
	why       string
}{
	"log-372": {2e-2, "cube root at black, and a gap of codes where it meets the logarithm"},
	"log-445": {2e-3, "published step of 0.9 codes"},
	"log-470": {2e-4, "published step of 0.1 codes"},
	"log-500": {1e-3, "square root at black"},
}

func TestProgramFollowsTheExactPath(t *testing.T) {
	cct := 3200.0
	grades := map[string]func(*Grade){
		"starting": func(*Grade) {},
		"channels": func(g *Grade) { g.Convert.Apply = "channels" },
		"balanced": func(g *Grade) {
			g.Exposure.Stops = 1
			g.Balance = Balance{White: White{CCT: &cct}, Keep: 0.2, CAT: "CAT16"}
		},
		"bare": func(g *Grade) {
			for _, s := range []Stage{StageSplit, StageCurve, StageSaturation, StageLook} {
				g.SetOff(s, true)
			}
		},
	}
	for _, c := range colour.Curves() {
		if c.Kind != colour.KindCamera {
			continue
		}
		worst := 0.0
		for name, change := range grades {
			g := Starting(c.ID)
			change(g)
			p := mustBuild(t, g, Clip{ClipCode: 0.9})
			prog := mustProgram(t, p)
			r := rand.New(rand.NewPCG(7, 8))
			for i := range 6000 {
				y := [3]float64{r.Float64(), r.Float64(), r.Float64()}
				if i%3 == 0 { // near neutral, where pictures are
					y[1], y[2] = y[0]+0.05*(r.Float64()-0.5), y[0]+0.05*(r.Float64()-0.5)
				}
				d := furthest(p.Exact(y), prog.Colour(y))
				worst = max(worst, d)
				limit := smoothTolerance
				if j, ok := jumps[c.ID]; ok {
					limit = j.tolerance
				}
				if d > limit {
					t.Errorf("%s, %s: %.2g apart at %v", c.ID, name, d, y)
					break
				}
			}
		}
		t.Logf("%-9s program within %.1e of the exact path %s", c.ID, worst, jumps[c.ID].why)
	}
}

func furthest(a, b [3]float64) float64 {
	return max(math.Abs(a[0]-b[0]), math.Abs(a[1]-b[1]), math.Abs(a[2]-b[2]))
}

func TestStagesThatAreOffLeaveNoOp(t *testing.T) {
	kinds := func(change func(*Grade)) string {
		g := Starting("log-420")
		change(g)
		var out []string
		for _, op := range mustProgram(t, mustBuild(t, g, Clip{})).Ops {
			out = append(out, op.Kind())
		}
		return strings.Join(out, " ")
	}
	ours := " curves matrix compress matrix compress norm"
	for name, c := range map[string]struct {
		change func(*Grade)
		want   string
	}{
		"all on": {func(g *Grade) {
			g.Exposure.Stops = 1
			cdl := identityCDL()
			cdl.Slope[0] = 1.1
			g.Saturation.CDL = &cdl
		}, "curves matrix curves shift curves cdl matrix" + ours + " range lut3d"},
		"starting": {func(*Grade) {}, "range shift curves matrix" + ours + " range lut3d"},
		"no split": {func(g *Grade) { g.Split.Off = true }, "range curves matrix" + ours + " range lut3d"},
		"no curve": {func(g *Grade) { g.Curve.Off = true }, "range shift matrix" + ours + " range lut3d"},
		"no look, saturation 1": {
			func(g *Grade) { g.Look.Off, g.Saturation.Amount = true, 1 },
			"range shift curves" + ours,
		},
		"nothing but decode": {func(g *Grade) {
			for _, s := range Stages()[1:] {
				g.SetOff(s, true)
			}
		}, "range matrix"},
		// Saturation's matrix and the levels' meet and are one.
		"convert off": {func(g *Grade) { g.Convert.Off, g.Look.Off = true, true }, "range shift curves matrix"},
	} {
		if got := kinds(c.change); got != c.want {
			t.Errorf("%s: ops %q, want %q", name, got, c.want)
		}
	}
}

func TestMergedMatricesDoWhatBothDo(t *testing.T) {
	var b builder
	a := colour.Mat3{{1, 0.2, 0}, {0, 0.9, 0.1}, {0.3, 0, 1}}
	c := colour.Mat3{{0.5, 0, 0.1}, {0, 2, 0}, {0, 0.1, 1}}
	b.matrix(a, [3]float64{0.1, 0, -0.1})
	b.matrix(colour.Identity, [3]float64{})
	b.matrix(c, [3]float64{0, 0.2, 0})
	if len(b.ops) != 1 {
		t.Fatalf("%d ops", len(b.ops))
	}
	v := [3]float64{0.3, 0.5, 0.7}
	w := a.Apply(v)
	w[0] += 0.1
	w[2] -= 0.1
	w = c.Apply(w)
	w[1] += 0.2
	if d := furthest(b.ops[0].Apply(v), w); d > 1e-15 {
		t.Errorf("off by %g", d)
	}
}

func TestEncodeSettingsReachTheProgram(t *testing.T) {
	g := Starting("log-420")
	g.Encode = Encode{Bits: 8, Sub: "4:2:0", Limiter: "off", Dither: "blue", Seed: 9}
	clip := Clip{Format: picture.Format{Bits: 12, Sub: picture.Sub444, Range: colour.Full}}
	o := mustProgram(t, mustBuild(t, g, clip)).Output
	if o.Bits != 8 || o.Sub != picture.Sub420 || o.Limiter != picture.LimiterOff || o.Dither != picture.DitherBlue || o.Seed != 9 ||
		o.Matrix != colour.MatrixBT709 || o.Range != colour.Narrow {
		t.Errorf("%+v", o)
	}
	g.Encode.Off = true
	o = mustProgram(t, mustBuild(t, g, clip)).Output
	if o.Bits != 12 || o.Sub != picture.Sub444 || o.Limiter != picture.LimiterOff || o.Dither != picture.DitherNone {
		t.Errorf("off: %+v", o)
	}
	g = Starting("log-420")
	g.Decode.Range, g.Decode.Matrix = "narrow", "bt601"
	p := mustBuild(t, g, clip)
	if f := p.Format(); f.Range != colour.Narrow || f.Matrix != colour.MatrixBT601 {
		t.Errorf("overrides: %+v", f)
	}
	if in := mustProgram(t, p).Input; math.Abs(in.YSlope-876.0/1023) > 1e-15 || math.Abs(in.YOffset-64.0/1023) > 1e-15 {
		t.Errorf("input %+v", in)
	}
}
