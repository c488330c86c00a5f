package lutfile

import (
	"bytes"
	"errors"
	"math"
	"strings"
	"testing"

	"lampwise/internal/fault"
	"lampwise/internal/picture"
)

// checkCannot holds an error to be the fault for what a format can't say.
func checkCannot(t *testing.T, err error, says string) {
	t.Helper()
	f, ok := fault.As(err)
	if !ok || f.Code != "lut-write" || f.Class != fault.Usage || f.Hint == "" || !strings.Contains(f.Message, says) {
		t.Errorf("%v: want a lut-write fault with a hint that says %q", err, says)
	}
}

func TestCubeAsWritten(t *testing.T) {
	var b bytes.Buffer
	err := WriteCubeChain(&b, &picture.Chain{
		Title: `The "night"`, Description: []string{"input curve log-420, data levels", strings.Repeat("word ", 60)}, Input: "camera", Output: "screen",
		Ops: []picture.Op{&picture.LUT3D{Size: 2, Lo: three(-0.25), Hi: three(1), Interp: picture.Trilinear, Strength: 1, Data: swapCube(three(0), three(1)).Data}},
	})
	if err != nil {
		t.Fatal(err)
	}
	const want = `TITLE "The 'night'"
# input curve log-420, data levels
# word word word word word word word word word word word word word word word word word word word word word word word word word word word word word word word word word word word word word word word word word word word word word word word word
# word word word word word word word word word word word word
# input: camera
# output: screen
# made for trilinear interpolation
LUT_3D_SIZE 2
DOMAIN_MIN -0.25 -0.25 -0.25
DOMAIN_MAX 1 1 1
` + swapRows
	if b.String() != want {
		t.Errorf("written:\n%s\nwant:\n%s", b.String(), want)
	}
}

func TestCLFAsWritten(t *testing.T) {
	var b bytes.Buffer
	half := 0.5
	err := WriteCLF(&b, &picture.Chain{
		Title: `Night & "day"`, Description: []string{"a < b"}, Input: "camera", Output: "screen",
		Ops: []picture.Op{&picture.Range{Slope: 2, Max: &half}, &picture.Power{Style: picture.MonCurveFwd, Exponent: [3]float64{2.4, 2.4, 2}, Offset: three(0.055)}},
	})
	if err != nil {
		t.Fatal(err)
	}
	const want = `<?xml version="1.0" encoding="UTF-8"?>
<ProcessList xmlns="http://www.smpte-ra.org/ns/2136-1/2024" compCLFversion="3.0" id="ID" name="Night &amp; &#34;day&#34;">
  <Id>ID</Id>
  <Description>a &lt; b</Description>
  <InputDescriptor>camera</InputDescriptor>
  <OutputDescriptor>screen</OutputDescriptor>
  <Matrix inBitDepth="32f" outBitDepth="32f">
    <Array dim="3 3">
2 0 0
0 2 0
0 0 2
    </Array>
  </Matrix>
  <Range inBitDepth="32f" outBitDepth="32f">
    <maxInValue>0.5</maxInValue>
    <maxOutValue>0.5</maxOutValue>
  </Range>
  <Exponent inBitDepth="32f" outBitDepth="32f" style="monCurveFwd">
    <ExponentParams channel="R" exponent="2.4" offset="0.055"/>
    <ExponentParams channel="G" exponent="2.4" offset="0.055"/>
    <ExponentParams channel="B" exponent="2" offset="0.055"/>
  </Exponent>
</ProcessList>
`
	got := b.String()
	id := got[strings.Index(got, "<Id>")+4 : strings.Index(got, "</Id>")]
	if len(id) != len("urn:uuid:00000000-0000-8000-8000-000000000000") || id[23] != '8' {
		t.Errorf("id %q is no version 8 UUID", id)
	}
	if got = strings.ReplaceAll(got, id, "ID"); got != want {
		t.Errorf("written:\n%s\nwant:\n%s", got, want)
	}
}

func TestWritersRefuse(t *testing.T) {
	zero, one := three(0), three(1)
	nan := math.NaN()
	good := ramp(zero, one)
	asinh := &picture.Curves{Axis: picture.AxisAsinh, Lo: zero, Hi: one, Scale: 1, Samples: good.Samples}
	hue := &picture.Curves{Axis: picture.AxisUniform, Lo: zero, Hi: one, KeepHue: true, Samples: good.Samples}
	cube := swapCube(zero, one)
	huge := &picture.LUT3D{Size: 130, Lo: zero, Hi: one, Strength: 1}
	short := &picture.LUT3D{Size: 2, Lo: zero, Hi: one, Strength: 1, Data: cube.Data[:21]}
	sick := &picture.LUT3D{Size: 2, Lo: zero, Hi: one, Strength: 1, Data: append([]float64{nan}, cube.Data[1:]...)}
	for _, c := range []struct {
		says string
		ops  []picture.Op
	}{
		{"not 0 operations", nil},
		{"not 3 operations", []picture.Op{good, cube, cube}},
		{"a 1-D LUT comes first", []picture.Op{cube, good}},
		{"one 3-D LUT, not two", []picture.Op{cube, cube}},
		{"no operation of the kind matrix", []picture.Op{&picture.Matrix{}}},
		{"this one is asinh", []picture.Op{asinh}},
		{"hue is kept", []picture.Op{hue}},
		{"of size 130", []picture.Op{huge}},
		{"with 21 numbers", []picture.Op{short}},
		{"isn't finite", []picture.Op{sick}},
		{"over 1 to 1", []picture.Op{swapCube(one, one)}},
		{"over 1 to 0", []picture.Op{ramp(one, zero)}},
		{"1 and 3 samples", []picture.Op{&picture.Curves{Axis: picture.AxisUniform, Lo: zero, Hi: one, Samples: [3][]float64{{0, 1, 2}, {0}, {0, 1, 2}}}}},
		{"isn't finite", []picture.Op{&picture.Curves{Axis: picture.AxisUniform, Lo: zero, Hi: one, Samples: [3][]float64{{0, nan}, {0, 1}, {0, 1}}}}},
		{"one input range", []picture.Op{ramp(zero, [3]float64{1, 2, 1}), cube}},
	} {
		checkCannot(t, WriteCubeChain(&bytes.Buffer{}, &picture.Chain{Ops: c.ops}), "cannot be written as a text cube: ")
		checkCannot(t, WriteCubeChain(&bytes.Buffer{}, &picture.Chain{Ops: c.ops}), c.says)
	}
	low, high := 1.0, 0.0
	for says, op := range map[string]picture.Op{
		"of the kind shift":              &picture.Shift{},
		"of the kind compress":           &picture.Compress{},
		"of the kind asinh":              asinh,
		"a half domain of 3":             &picture.Curves{Axis: picture.AxisHalf, Samples: good.Samples},
		"keeps hue over different":       &picture.Curves{Axis: picture.AxisUniform, Lo: zero, Hi: [3]float64{1, 2, 1}, KeepHue: true, Samples: good.Samples},
		"a 3-D LUT of size 130":          huge,
		"strength outside":               &picture.LUT3D{Size: 2, Lo: zero, Hi: one, Strength: 1.5, Data: cube.Data},
		"a matrix with a number":         &picture.Matrix{Offset: three(nan)},
		"a range with a number":          &picture.Range{Slope: nan},
		"a range from 1 to 0":            &picture.Range{Slope: 1, Min: &low, Max: &high},
		"no power of the style":          &picture.Power{Style: "odd"},
		"the exponent 0;":                &picture.Power{Style: picture.BasicFwd},
		"no logarithm of the style":      &picture.LogOp{Style: "odd"},
		"the base 0;":                    &picture.LogOp{Style: picture.LinToLog},
		"a CDL with slope [0 0 0], powe": &picture.CDL{},
	} {
		checkCannot(t, WriteCLF(&bytes.Buffer{}, &picture.Chain{Ops: []picture.Op{op}}), says)
	}
}

// full is a disk without room.
type full struct{}

var errFull = errors.New("no space left on device")

func (full) Write([]byte) (int, error) { return 0, errFull }

func TestWritersPassOnAFullDisk(t *testing.T) {
	ops := []picture.Op{swapCube(three(0), three(1))}
	for _, err := range []error{
		WriteCubeChain(full{}, &picture.Chain{Ops: ops}),
		WriteCLF(full{}, &picture.Chain{Ops: ops}),
		WriteCDL(full{}, Correction{CDL: identityCDL()}),
	} {
		if !errors.Is(err, errFull) {
			t.Errorf("error %v, want %v inside", err, errFull)
		}
	}
}

// Numbers too small for single precision stop the reference library's reader.
func TestTinyNumbersAreWrittenAsZero(t *testing.T) {
	var b bytes.Buffer
	if err := WriteCube(&b, &picture.Curves{Axis: picture.AxisUniform, Lo: three(-1e-90), Hi: three(1), Samples: [3][]float64{{1e-39, 1}, {-1e-300, 1}, {1.2e-38, 1}}}, nil); err != nil {
		t.Fatal(err)
	}
	const want = "LUT_1D_SIZE 2\nDOMAIN_MIN 0 0 0\nDOMAIN_MAX 1 1 1\n0 0 1.2e-38\n1 1 1\n"
	if b.String() != want {
		t.Errorf("written:\n%s\nwant:\n%s", b.String(), want)
	}
	low, high := 0.0, 1e-39
	b.Reset()
	if err := WriteCLF(&b, &picture.Chain{Ops: []picture.Op{&picture.Range{Slope: 1, Min: &low, Max: &high}}}); err != nil {
		t.Fatal(err)
	}
	c, err := ReadCLF(&b, "a.clf")
	if err != nil {
		t.Fatal(err)
	}
	if got := c.Apply([3]float64{-1, 0.5, 2}); got != three(0) {
		t.Errorf("a range of no width gives %v", got)
	}
}

// Slopes of a camera logarithm given for some channels only are written for
// all, as the reference library wants; the curve stays the same.
func TestLinearSlopeIsWrittenForAllChannels(t *testing.T) {
	slope := 6.0
	p := picture.LogParams{Base: 10, LinSideSlope: 5, LinSideOffset: 0.05, LogSideSlope: 0.25, LogSideOffset: 0.4, LinSideBreak: 0.01}
	q := p
	q.LinearSlope = &slope
	c := &picture.Chain{Ops: []picture.Op{&picture.LogOp{Style: picture.CameraLinToLog, Params: [3]picture.LogParams{p, q, p}}}}
	var b bytes.Buffer
	if err := WriteCLF(&b, c); err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(b.String(), "linearSlope="); n != 3 {
		t.Errorf("linearSlope is written %d times, want 3:\n%s", n, b.String())
	}
	got, err := ReadCLF(&b, "a.clf")
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range []float64{-0.1, 0, 0.005, 0.01, 0.2} {
		a, want := got.Apply(three(x)), c.Apply(three(x))
		for ch := range 3 {
			if math.Abs(a[ch]-want[ch]) > 1e-14 {
				t.Errorf("at %g: %v, want %v", x, a, want)
			}
		}
	}
}
