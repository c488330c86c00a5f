package lutfile

import (
	"math"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// tones are conversions of scene-linear light to a display signal, for LUTs
// made here to be recognised.
var tones = map[string]func(x float64) float64{
	// 0.6957 brings grey to 0.41 through 1 − e^(−kx) and BT.1886.
	"shoulder": func(x float64) float64 { return math.Pow(1-math.Exp(-0.6957*max(x, 0)), 1/2.4) },
	// The same with a toe: the lowest light is held down.
	"toe": func(x float64) float64 {
		x = max(x, 0)
		return math.Pow(1-math.Exp(-0.6957*x*(1-0.8*math.Exp(-x/0.01))), 1/2.4)
	},
	// BT.709's own OETF, which clips at 1 and so has its white just below.
	"plain": func(x float64) float64 { return min(1, colour.BT709.Encode(x)) },
}

// conversion makes a conversion LUT for a curve with its input as said.
func conversion(curve *colour.Curve, levels colour.Levels, tone func(float64) float64, size int) *picture.Chain {
	c := &picture.Curves{Axis: picture.AxisUniform, Hi: three(1)}
	s := make([]float64, size)
	for i := range s {
		x := float64(i) / float64(size-1)
		code := 1023 * x
		if levels == colour.LevelsVideo {
			code = 64 + 876*x
		}
		y := code / 1023
		if curve.Levels == colour.LevelsVideo {
			y = (code - 64) / 876
		}
		s[i] = tone(curve.Decode(y))
	}
	c.Samples = [3][]float64{s, s, s}
	return &picture.Chain{Ops: []picture.Op{c}}
}

func nodesOf(size int, f func(v [3]float64) [3]float64) *picture.Chain {
	l := &picture.LUT3D{Size: size, Hi: three(1), Interp: picture.Tetrahedral, Strength: 1}
	at := func(i int) float64 { return float64(i) / float64(size-1) }
	for b := range size {
		for g := range size {
			for r := range size {
				v := f([3]float64{at(r), at(g), at(b)})
				l.Data = append(l.Data, v[:]...)
			}
		}
	}
	return &picture.Chain{Ops: []picture.Op{l}}
}

// For every camera curve, LUTs made for each reading: the wrong one is never
// called the only plausible one, and the right one mostly is.
func TestLevelsAreRecognised(t *testing.T) {
	sure, all := 0, 0
	for _, curve := range colour.Curves() {
		if curve.Kind != colour.KindCamera {
			continue
		}
		for name, tone := range tones {
			for _, levels := range []colour.Levels{colour.LevelsData, colour.LevelsVideo} {
				for _, size := range []int{33, 65, 1024} {
					l := Levels(conversion(curve, levels, tone, size), curve)
					all++
					t.Logf("%s %s %s %d: %s %s %q", curve.ID, name, levels, size, l.Verdict, l.Leans, l.Explain)
					switch l.Verdict {
					case string(levels):
						sure++
					case "either", "neither":
						if l.Leans != "" && l.Leans != string(levels) {
							t.Errorf("%s, %s, size %d, made for %s: leans to %s: %s", curve.ID, name, size, levels, l.Leans, l.Explain)
						}
					default:
						t.Errorf("%s, %s, size %d, made for %s: %s", curve.ID, name, size, levels, l.Explain)
					}
				}
			}
		}
	}
	// 257 when this was written; the rest are coarse tables and the plain OETF,
	// where the two readings differ by less than the bounds.
	if sure < 250 || all != 288 {
		t.Errorf("%d of %d told for sure, want at least 250 of 288", sure, all)
	}
}

func curveByID(t *testing.T, id string) *colour.Curve {
	t.Helper()
	c, err := colour.CurveByID(id)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestLevelsOfOtherFiles(t *testing.T) {
	log420 := curveByID(t, "log-420")
	shoulder := tones["shoulder"]
	scaled := func(levels colour.Levels) *picture.Chain { // its output is video levels
		c := conversion(log420, levels, shoulder, 1024)
		top := c.Ops[0].(*picture.Curves).Samples[0][1023]
		c.Ops = append(c.Ops, &picture.Range{Slope: narrowSpan / top, Offset: narrowBlack})
		return c
	}
	open := func(levels colour.Levels) *picture.Chain { // goes on below black
		return conversion(log420, levels, func(x float64) float64 { return math.Copysign(shoulder(math.Abs(x)), x) }, 1024)
	}
	cube := func(levels colour.Levels) *picture.Chain {
		line := conversion(log420, levels, tones["toe"], 1024)
		return nodesOf(33, line.Apply)
	}
	for name, c := range map[string]struct {
		chain   *picture.Chain
		verdict string
		output  bool
	}{
		"data, video output":      {scaled(colour.LevelsData), "data", true},
		"video, video output":     {scaled(colour.LevelsVideo), "video", true},
		"data, open below":        {open(colour.LevelsData), "data", false},
		"video, open below":       {open(colour.LevelsVideo), "video", false},
		"data, 3-D":               {cube(colour.LevelsData), "data", false},
		"video, 3-D":              {cube(colour.LevelsVideo), "video", false},
		"a change of nothing, 2":  {nodesOf(2, func(v [3]float64) [3]float64 { return v }), "neither", false},
		"a change of nothing, 17": {nodesOf(17, func(v [3]float64) [3]float64 { return v }), "neither", false},
		"a look for the screen": {nodesOf(33, func(v [3]float64) [3]float64 {
			return [3]float64{v[0], 0.95*v[1] + 0.02, 0.9*v[2] + 0.05}
		}), "neither", false},
		"a constant":          {&picture.Chain{Ops: []picture.Op{&picture.Matrix{Offset: three(0.4)}}}, "neither", false},
		"a log to linear one": {conversion(log420, colour.LevelsData, func(x float64) float64 { return x }, 1024), "neither", false},
		"no operation at all": {&picture.Chain{}, "neither", false},
	} {
		l := Levels(c.chain, log420)
		if l.Verdict != c.verdict || l.VideoOutput != c.output || l.Explain == "" {
			t.Errorf("%s: %q, video output %v, want %q, %v: %s", name, l.Verdict, l.VideoOutput, c.verdict, c.output, l.Explain)
		}
		if l.Data.Plausible != (len(l.Data.Against) == 0) || l.Video.Plausible != (len(l.Video.Against) == 0) {
			t.Errorf("%s: plausible without a reason, or with one against: %+v", name, l)
		}
	}
}

// The figures of the classic mistake for log-420, worked out from its published
// formula: black 95 becomes (95−64)·1023/876 = 36.2, or 64 + 95·876/1023 =
// 145.3; the 90 % white, code 597.9, becomes 623.5 or 576.0, and a stop is
// 261.5·log10(2) = 78.7 codes there (to within the formula's offset of 0.01).
func TestCostOfTheMistake(t *testing.T) {
	m := Levels(&picture.Chain{}, curveByID(t, "log-420")).Mistake
	for name, c := range map[string]struct{ got, want, within float64 }{
		"black for data":  {m.ForData.BlackCode, 36.2, 0.05},
		"black for video": {m.ForVideo.BlackCode, 145.3, 0.05},
		"white for data":  {m.ForData.WhiteStops, 25.6 / 78.7, 0.01},
		"white for video": {m.ForVideo.WhiteStops, -21.9 / 78.7, 0.01},
		"grey for data":   {m.ForData.GreyStops, -0.06, 0.01},
		"grey for video":  {m.ForVideo.GreyStops, 0.05, 0.01},
	} {
		if !(math.Abs(c.got-c.want) <= c.within) {
			t.Errorf("%s: %g, want %g", name, c.got, c.want)
		}
	}
}

// What the landings are: through the identity they are the inputs themselves.
func TestLandings(t *testing.T) {
	l := Levels(&picture.Chain{}, curveByID(t, "log-420"))
	for name, c := range map[string]struct {
		got  Landing
		code float64 // published, to the code
		in   float64
	}{
		"black, data":  {l.Data.Black, 95, 95.0 / 1023},
		"black, video": {l.Video.Black, 95, 31.0 / 876},
		"grey, data":   {l.Data.Grey, 420, 420.0 / 1023},
		"white, video": {l.Video.White, 597.9, 533.9 / 876},
	} {
		if math.Abs(c.got.Code-c.code) > 0.01 || math.Abs(c.got.In-c.in) > 2e-5 || c.got.Out != three(c.got.In) || math.Abs(c.got.Luma-c.got.In) > 1e-12 {
			t.Errorf("%s: %+v, want code %g, in %g", name, c.got, c.code, c.in)
		}
	}
}
