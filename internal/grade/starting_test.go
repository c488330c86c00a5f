package grade

import (
	"strings"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// Rules of the trade (common practice, no source) that the starting grade is
// held to: a strong look on the screen side sits at 40 to 50 %, curves come
// before the conversion and style after it, a vignette is soft, and the card
// stays neutral until the look.
func TestStartingGradeKeepsTheRulesOfThumb(t *testing.T) {
	for _, c := range colour.Curves() {
		if c.Kind != colour.KindCamera {
			continue
		}
		g := Starting(c.ID)
		if err := g.Check(); err != nil {
			t.Fatal(err)
		}
		if k := g.Look.Strength; k < 0.4 || k > 0.5 {
			t.Errorf("look at %v", k)
		}
		if v := g.Vignette; v.Softness < 0.5 || v.Stops <= 0 || v.Stops > 1 || v.Inner+v.Softness < 0.95 {
			t.Errorf("vignette %+v", v)
		}
		p := mustBuild(t, g, Clip{ClipCode: 0.9})
		if r := p.Split(); !r.CardNeutral {
			t.Errorf("%s: the card moves by ΔE00 %.2f: %+v", c.ID, r.CardDeltaE, r)
		}
		grey := c.Encode(colour.Grey)
		v := p.After(StageConvert, [3]float64{grey, grey, grey})
		if d := furthest(v, [3]float64{GreySignal, GreySignal, GreySignal}); d > 0.005 {
			t.Errorf("%s: grey lands at %v", c.ID, v)
		}
		convert := 0
		for i, op := range mustProgram(t, p).Ops {
			switch op.(type) {
			case *picture.Norm:
				convert = i
			case *picture.Shift:
				if convert > 0 {
					t.Error("split after the conversion")
				}
			case *picture.LUT3D:
				if convert == 0 {
					t.Error("look before the conversion")
				}
			}
		}
	}
	if order(StageCurve) > order(StageConvert) || order(StageLook) < order(StageConvert) || order(StageBalance) > order(StageSplit) {
		t.Error("the path's order is not the trade's")
	}
}

func TestNotesTellWhatWasAssumed(t *testing.T) {
	g := Starting("log-420")
	g.Look.Off = true
	p := mustBuild(t, g, Clip{CurveHint: "log-433"})
	all := strings.Join(p.Notes, "\n")
	for _, want := range []string{"log-433", "clip isn't measured"} {
		if !strings.Contains(all, want) {
			t.Errorf("%q isn't told: %s", want, all)
		}
	}
	g.Decode.Curve = "mine"
	g.Decode.Params = &CurveParams{Base: 10, LinSideSlope: 5.2, LinSideOffset: 0.05, LogSideSlope: 0.25, LogSideOffset: 0.41, LinSideBreak: 0.01}
	p = mustBuild(t, g, Clip{ClipCode: 0.9, CurveHint: "not a curve"})
	if len(p.Notes) != 1 || !strings.Contains(p.Notes[0], "primaries") {
		t.Errorf("notes: %q", p.Notes)
	}
}
