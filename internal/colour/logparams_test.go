package colour

import (
	"math"
	"testing"

	"lampwise/internal/fault"
)

// TestParamsBack: a shipped curve made again from its own Common LUT Format
// numbers is the same curve down to where the form holds; below the break it
// may differ by the published step, since the format lets the pieces meet.
func TestParamsBack(t *testing.T) {
	for _, c := range everyCurve(t) {
		form, ok := c.LogForm()
		if !ok || c.ID == "log-372" || c.ID == "log-500" {
			continue // their logarithm is the upper part of the curve alone
		}
		again, err := CurveFromParams("again", form.Params)
		if err != nil {
			t.Errorf("%s: %v", c.ID, err)
			continue
		}
		back, ok := again.CLF()
		if !ok || back.LinSideBreak != form.Params.LinSideBreak || back.LogSideSlope != form.Params.LogSideSlope {
			t.Errorf("%s: its numbers come back as %+v", c.ID, back)
		}
		for _, x := range sceneLights() {
			if x < form.From {
				continue
			}
			allowed := 1e-13 * max(1, math.Abs(c.Encode(x)))
			if x <= form.Params.LinSideBreak {
				allowed += form.Step
			}
			if d := math.Abs(again.Encode(x) - c.Encode(x)); d > allowed {
				t.Errorf("%s: at %g it is %.3g off, the published step explains %.3g", c.ID, x, d, form.Step)
				break
			}
		}
	}
	// The upper parts of the two curves that are of no such form.
	for id, x := range map[string]float64{"log-372": 0.5, "log-500": 0.18} {
		c := mustCurve(id)
		if _, ok := c.CLF(); ok {
			t.Errorf("%s claims to be of the form", id)
		}
		form, ok := c.LogForm()
		if !ok {
			t.Fatalf("%s has no logarithm", id)
		}
		upper, err := CurveFromParams("upper", form.Params)
		if err != nil {
			t.Fatal(err)
		}
		if d := math.Abs(upper.Encode(x) - c.Encode(x)); d > 1e-14 {
			t.Errorf("%s: upper part is %g off", id, d)
		}
	}
}

func TestParamsFaults(t *testing.T) {
	good := LogParams{Base: 10, LinSideSlope: 1, LinSideOffset: 0.01, LogSideSlope: 0.25, LogSideOffset: 0.6, LinSideBreak: 0.01}
	if _, err := CurveFromParams("good", good); err != nil {
		t.Fatal(err)
	}
	number := func(v float64) *float64 { return &v }
	for name, change := range map[string]func(*LogParams){
		"base 0":              func(p *LogParams) { p.Base = 0 },
		"base 1":              func(p *LogParams) { p.Base = 1 },
		"base below 1, falls": func(p *LogParams) { p.Base = 0.5 },
		"NaN":                 func(p *LogParams) { p.LogSideOffset = math.NaN() },
		"Inf":                 func(p *LogParams) { p.LinSideOffset = math.Inf(1) },
		"falls":               func(p *LogParams) { p.LogSideSlope = -0.25 },
		"flat":                func(p *LogParams) { p.LogSideSlope = 0 },
		"no logarithm":        func(p *LogParams) { p.LinSideBreak = -0.01 },
		"linSideSlope 0":      func(p *LogParams) { p.LinSideSlope = 0 },
		"flat line":           func(p *LogParams) { p.LinearSlope = number(0) },
		"falling line":        func(p *LogParams) { p.LinearSlope = number(-1) },
		"no line":             func(p *LogParams) { p.LinearSlope = number(math.NaN()) },
		"beyond computing":    func(p *LogParams) { p.LinSideSlope = 1e-310 },
	} {
		p := good
		change(&p)
		_, err := CurveFromParams("mine", p)
		if f, ok := fault.As(err); !ok || f.Class != fault.Input {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// FuzzParams: whatever numbers a file holds, the curve is refused or it is
// finite and rises both ways.
func FuzzParams(f *testing.F) {
	for _, c := range cameraCurves {
		if form, ok := c.LogForm(); ok {
			p, slope := form.Params, 0.0
			if p.LinearSlope != nil {
				slope = *p.LinearSlope
			}
			f.Add(p.Base, p.LinSideSlope, p.LinSideOffset, p.LogSideSlope, p.LogSideOffset, p.LinSideBreak, slope, 0.2, 0.5)
		}
	}
	f.Add(1.0000000001, 1e300, -1e-300, 1e-300, 1e300, 1.0, 0.0, -1e308, 1e308)
	f.Fuzz(func(t *testing.T, base, linSlope, linOffset, logSlope, logOffset, cut, slope, a, b float64) {
		p := LogParams{base, linSlope, linOffset, logSlope, logOffset, cut, nil}
		if slope != 0 {
			p.LinearSlope = &slope
		}
		c, err := CurveFromParams("fuzzed", p)
		if err != nil {
			if _, ok := fault.As(err); !ok {
				t.Fatalf("no fault: %v", err)
			}
			return
		}
		if math.IsNaN(a) || math.IsNaN(b) || math.IsInf(a, 0) || math.IsInf(b, 0) {
			return
		}
		if a > b {
			a, b = b, a
		}
		for name, f := range map[string]func(float64) float64{"Encode": c.Encode, "Decode": c.Decode} {
			fa, fb := f(a), f(b)
			if math.IsNaN(fa) || math.IsNaN(fb) || math.IsInf(fa, 0) || math.IsInf(fb, 0) {
				t.Fatalf("%+v: %s(%g) = %g, %s(%g) = %g", p, name, a, fa, name, b, fb)
			}
			// Where the numbers are extreme the two pieces meet only to rounding.
			if fa > fb+1e-9*max(1, math.Abs(fa)) {
				t.Fatalf("%+v: %s falls from %g at %g to %g at %g", p, name, fa, a, fb, b)
			}
		}
	})
}
