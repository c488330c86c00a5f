package picture

import (
	"bytes"
	"encoding/json"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
)

func ramp(n int, f func(t float64) float64) []float64 {
	s := make([]float64, n)
	for i := range s {
		s[i] = f(float64(i) / float64(n-1))
	}
	return s
}

func sameCurve(s []float64) [3][]float64 { return [3][]float64{s, s, s} }

func same3(x float64) [3]float64 { return [3]float64{x, x, x} }

// allOps is one op of each kind with plain but not trivial numbers.
func allOps() []Op {
	slope, one := 5.0, 1.0
	lut := &LUT3D{Size: 3, Lo: same3(0), Hi: same3(1), Interp: Tetrahedral, Strength: 0.45}
	r := rand.New(rand.NewPCG(1, 2))
	for range 81 {
		lut.Data = append(lut.Data, r.Float64())
	}
	params := LogParams{Base: 10, LinSideSlope: 5.5, LinSideOffset: 0.05, LogSideSlope: 0.25, LogSideOffset: 0.38, LinSideBreak: 0.01, LinearSlope: &slope}
	return []Op{
		&LogOp{Style: CameraLogToLin, Params: [3]LogParams{params, params, params}},
		&Matrix{M: [3][3]float64{{0.8, 0.1, 0.1}, {0.05, 0.9, 0.05}, {0, 0.1, 0.9}}, Offset: [3]float64{0.001, 0, 0}},
		&Compress{Limit: [3]float64{1.147, 1.264, 1.312}, Threshold: [3]float64{0.815, 0.803, 0.880}, Power: 1.2},
		&Curves{Axis: AxisAsinh, Lo: same3(-0.1), Hi: same3(60), Scale: 0.02, Samples: sameCurve(ramp(64, math.Sqrt))},
		&Curves{Axis: AxisUniform, Lo: same3(-0.1), Hi: same3(1.1), Samples: sameCurve(ramp(33, func(t float64) float64 { return t*1.2 - 0.1 })), KeepHue: true},
		&Shift{Weights: [3]float64{0.2, 0.7, 0.1}, Hi: 1, Table: [3][]float64{{0, 0.01, 0}, {0, 0}, {0.02, -0.01}}},
		&Power{Style: MonCurveFwd, Exponent: same3(2.4), Offset: same3(0.055)},
		&CDL{Slope: same3(1.1), Offset: same3(-0.01), Power: same3(0.9), Saturation: 1.1, Style: CDLFwdNoClamp},
		&Range{Slope: 1, Max: &one},
		&Norm{Hi: 60, Scale: 0.001, Power: 2.2, Tone: ramp(64, math.Sqrt), Purity: ramp(16, func(t float64) float64 { return 1 - t*t })},
		&Mix{Ops: []Op{&Range{Slope: 0.9, Offset: 0.02}, lut}, Strength: 0.4},
		lut,
	}
}

func plainOutput() Output {
	return Output{Limiter: LimiterRGB, Matrix: colour.MatrixBT709, Range: colour.Narrow, Bits: 10, Sub: Sub420, Siting: SiteLeft, Dither: DitherNone, Seed: 7}
}

func allProgram() *Program {
	return &Program{
		Input: Input{YSlope: 876.0 / 1023, YOffset: 64.0 / 1023}, Ops: allOps(),
		Vignette: &Vignette{Stops: 0.7, CentreX: 0.45, CentreY: 0.4, Aspect: 1.2, Inner: 0.3, Softness: 0.9},
		Output:   plainOutput(),
		Error:    &Measured{Over: "lattice", Points: 10, MaxDE: 0.1},
	}
}

func TestProgramRoundTrip(t *testing.T) {
	p := allProgram()
	data, err := json.Marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	q, err := ReadProgram(bytes.NewReader(data), "here")
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(p, q) {
		t.Errorf("came back as %+v, was %+v", q, p)
	}
}

func TestProgramIsReadStrictly(t *testing.T) {
	good, err := json.MarshalIndent(allProgram(), "", " ")
	if err != nil {
		t.Fatal(err)
	}
	for name, edit := range map[string][2]string{
		"unknown field":   {`"limiter"`, `"limitter"`},
		"unknown op":      {`"kind": "cdl"`, `"kind": "cdx"`},
		"no kind":         {`"kind": "cdl"`, `"king": "cdl"`},
		"unknown in op":   {`"saturation"`, `"sat"`},
		"size":            {`"size": 3`, `"size": 4`},
		"size too large":  {`"size": 3`, `"size": 130`},
		"not finite":      {`"saturation": 1.1`, `"saturation": 1e999`},
		"beyond single":   {`"saturation": 1.1`, `"saturation": 1e300`},
		"wrong word":      {`"interp": "tetrahedral"`, `"interp": "nearest"`},
		"bits":            {`"bits": 10`, `"bits": 11`},
		"softness":        {`"softness": 0.9`, `"softness": 0`},
		"threshold":       {`0.815`, `1.5`},
		"schema":          {`"schema": 1`, `"schema": 2`},
		"strength":        {`"strength": 0.45`, `"strength": 1.45`},
		"trailing":        {"\n}", "\n}}"},
		"cut off":         {`"output"`, ``},
		"negative slope":  {`"slope": [`, `"slope": [-1,`},
		"axis":            {`"axis": "asinh"`, `"axis": "log"`},
		"exponent bounds": {`2.4`, `0.5`},
	} {
		text := string(good)
		i := strings.LastIndex(text, edit[0])
		if i < 0 {
			t.Fatalf("%s: %q is not in the program", name, edit[0])
		}
		text = text[:i] + edit[1] + text[i+len(edit[0]):]
		_, err := ReadProgram(strings.NewReader(text), "p.json")
		if err == nil {
			t.Errorf("%s: read without complaint", name)
			continue
		}
		f, ok := fault.As(err)
		if !ok || !strings.HasPrefix(f.Message, "p.json:") || strings.Contains(f.Message, "\n") {
			t.Errorf("%s: %v is not one line with the file", name, err)
		}
	}
}

func FuzzReadProgram(f *testing.F) {
	good, err := json.Marshal(allProgram())
	if err != nil {
		f.Fatal(err)
	}
	f.Add(good)
	f.Add([]byte(`{"schema":1,"input":{},"ops":[{"kind":"lut3d","size":129,"data":[]}],"output":{}}`))
	f.Add([]byte(`{"schema":1,"ops":[{"kind":"log","style":"log2"}],"output":{"limiter":"off","matrix":"bt709","range":"full","bits":8,"sub":"4:4:4","siting":"centre","dither":"none"}}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := ReadProgram(bytes.NewReader(data), "f")
		if err != nil {
			return
		}
		for _, v := range [][3]float64{{}, {1, 1, 1}, {-1, 0.5, 2}, {1e30, -1e30, 0}} {
			if got := p.Colour(v); !colour.Finite(got) {
				t.Errorf("%v becomes %v", v, got)
			}
		}
	})
}
