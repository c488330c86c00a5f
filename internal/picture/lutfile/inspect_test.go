package lutfile

import (
	"encoding/json"
	"math"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"lampwise/internal/picture"
)

func TestInspectKinds(t *testing.T) {
	line, cube := ramp(three(-1), three(2)), swapCube(three(0), three(1.5))
	for want, ops := range map[string][]picture.Op{
		"1-D LUT":                  {line},
		"3-D LUT":                  {cube},
		"1-D LUT before a 3-D LUT": {line, cube},
		"CDL":                      {identityCDL()},
		"operations":               {&picture.Matrix{M: identity}, cube},
	} {
		in := Inspect(&picture.Chain{Ops: ops})
		if in.Kind != want || len(in.Parts) != len(ops) {
			t.Errorf("%q with %d parts, want %q", in.Kind, len(in.Parts), want)
		}
		if _, err := json.Marshal(in); err != nil {
			t.Errorf("%s: %v", want, err)
		}
	}
	in := Inspect(&picture.Chain{Ops: []picture.Op{line, cube}})
	want := []Part{{Kind: "curves", Size: 3}, {Kind: "lut3d", Size: 2, Interp: picture.Tetrahedral}}
	if !reflect.DeepEqual(in.Parts, want) || in.Lo != three(-1) || in.Hi != three(2) {
		t.Errorf("%+v", in)
	}
}

func TestInspectIdentity(t *testing.T) {
	same := func(v [3]float64) [3]float64 { return v }
	for name, c := range map[string]struct {
		chain  *picture.Chain
		is     bool
		change float64
	}{
		"nothing":           {&picture.Chain{}, true, 0},
		"identity cube":     {nodesOf(17, same), true, 0},
		"printed cube":      {nodesOf(33, func(v [3]float64) [3]float64 { return [3]float64{math.Round(v[0]*1e6) / 1e6, v[1], v[2]} }), true, 0},
		"lifted by a code":  {nodesOf(5, func(v [3]float64) [3]float64 { return [3]float64{v[0], v[1] + 1.0/1023, v[2]} }), false, 1},
		"red and blue swap": {&picture.Chain{Ops: []picture.Op{swapCube(three(0), three(1))}}, false, 1023},
	} {
		in := Inspect(c.chain)
		if in.Identity != c.is || math.Abs(in.LargestChange-c.change) > 1e-3 {
			t.Errorf("%s: identity %v, change %g codes; want %v, %g", name, in.Identity, in.LargestChange, c.is, c.change)
		}
	}
}

func TestInspectNeutral(t *testing.T) {
	// Green falls from 0.8 at 0.5 to 0.6 at 0.75; red and blue rise throughout.
	falls := &picture.Curves{Axis: picture.AxisUniform, Hi: three(1), Samples: [3][]float64{
		{0, 0.25, 0.5, 0.75, 1}, {0, 0.4, 0.8, 0.6, 1}, {0, 0.25, 0.5, 0.75, 1},
	}}
	n := Inspect(&picture.Chain{Ops: []picture.Op{falls}}).Neutral
	if n.Rises != [3]bool{true, false, true} || n.LumaRises || math.Abs(n.LargestFall-0.2) > 1e-9 || math.Abs(n.FallAt-0.75) > 1e-9 {
		t.Errorf("%+v", n)
	}
	if math.Abs(n.Spread-0.3) > 1e-3 || math.Abs(n.SpreadAt-0.5) > 1e-3 {
		t.Errorf("spread %g at %g, want 0.3 at 0.5", n.Spread, n.SpreadAt)
	}
	// Luma may rise where one channel doesn't.
	small := &picture.Matrix{M: [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, -0.1}}, Offset: [3]float64{0, 0, 0.1}}
	if n := Inspect(&picture.Chain{Ops: []picture.Op{small}}).Neutral; n.Rises != [3]bool{true, true, false} || !n.LumaRises {
		t.Errorf("%+v", n)
	}
	// A neutral conversion has no shift; a warm one has the CIEDE2000 of its tint:
	// 0.5 0.5 0.4 is b* above the grey line, and more of it for a stronger tint.
	plain := &picture.Power{Style: picture.BasicFwd, Exponent: three(0.8)}
	if n := Inspect(&picture.Chain{Ops: []picture.Op{plain}}).Neutral; n.Shift > 0.01 || n.Spread > 1e-12 {
		t.Errorf("a neutral chain has a shift of %g, spread %g", n.Shift, n.Spread)
	}
	last := 0.0
	for _, blue := range []float64{0.98, 0.9, 0.8} {
		warm := &picture.Matrix{M: [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, blue}}}
		n := Inspect(&picture.Chain{Ops: []picture.Op{warm}}).Neutral
		if !(n.Shift > last+0.5) || n.ShiftAt <= 0 {
			t.Errorf("blue × %g: shift %g at %g, want above %g", blue, n.Shift, n.ShiftAt, last+0.5)
		}
		last = n.Shift
	}
}

func TestInspectOutputs(t *testing.T) {
	// Of the 8 nodes those with red 1 go over in red, those with blue 0 under in blue.
	c := nodesOf(2, func(v [3]float64) [3]float64 { return [3]float64{1.5 * v[0], v[1], v[2] - 0.25*(1-v[2])} })
	o := Inspect(c).Outputs
	want := Outputs{Lowest: [3]float64{0, 0, -0.25}, Highest: [3]float64{1.5, 1, 1}, Below: 0.5, Above: 0.5}
	if o != want {
		t.Errorf("%+v, want %+v", o, want)
	}
}

// Whatever a chain is, what is said of it is finite and in order.
func TestInspectIsTotal(t *testing.T) {
	curve := curveByID(t, "log-420")
	rapid.Check(t, func(t *rapid.T) {
		c := &picture.Chain{}
		for range rapid.IntRange(0, 3).Draw(t, "ops") {
			c.Ops = append(c.Ops, drawOp(t))
		}
		in, l := Inspect(c), Levels(c, curve)
		for _, v := range []any{in, l} {
			if _, err := json.Marshal(v); err != nil { // refuses NaN and infinities
				t.Fatal(err)
			}
		}
		for ch := range 3 {
			if in.Outputs.Lowest[ch] > in.Outputs.Highest[ch] {
				t.Fatalf("%+v", in.Outputs)
			}
		}
		if in.Neutral.LargestFall > slack && in.Neutral.Rises == [3]bool{true, true, true} {
			t.Fatalf("%+v", in.Neutral)
		}
		if ok := l.Data.Plausible && !l.Video.Plausible; ok != (l.Verdict == "data") {
			t.Fatalf("%+v", l)
		}
	})
}
