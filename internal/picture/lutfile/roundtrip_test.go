package lutfile

import (
	"bytes"
	"math"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"lampwise/internal/picture"
)

// What is written as a cube reads back as the same ops, to the last bit.
func TestCubeRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := &picture.Chain{
			Title:       clean(rapid.StringMatching(`[a-zA-Zäß ]{0,20}`).Draw(t, "title")),
			Description: []string{"a comment"},
		}
		shape := rapid.IntRange(1, 3).Draw(t, "shape")
		if shape != 2 {
			c.Ops = append(c.Ops, drawCurves(t))
		}
		if shape != 1 {
			l := drawCube(t)
			l.Interp = picture.Tetrahedral // the format's own, see ReadCube
			c.Ops = append(c.Ops, l)
		}
		if shape == 3 {
			a, b := c.Ops[0].(*picture.Curves), c.Ops[1].(*picture.LUT3D)
			a.Lo, a.Hi, b.Lo, b.Hi = three(a.Lo[0]), three(a.Hi[0]), three(b.Lo[0]), three(b.Hi[0])
			c.Title = ""
		}
		var b bytes.Buffer
		if err := WriteCubeChain(&b, c); err != nil {
			t.Fatal(err)
		}
		text := b.String()
		got, err := ReadCube(&b, "written.cube")
		if err != nil {
			t.Fatalf("%v in\n%s", err, text)
		}
		if !reflect.DeepEqual(got, c) {
			t.Fatalf("%+v became %+v by\n%s", c, got, text)
		}
	})
}

// A LUT3D's strength is worked into the nodes; inside the domain the colours
// stay the same, to rounding.
func TestStrengthIsWorkedIn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawCube(t)
		l.Strength = rapid.Float64Range(0, 1).Draw(t, "strength")
		var asCube, asCLF bytes.Buffer
		if err := WriteCube(&asCube, l, nil); err != nil {
			t.Fatal(err)
		}
		if err := WriteCLF(&asCLF, &picture.Chain{Ops: []picture.Op{l}}); err != nil {
			t.Fatal(err)
		}
		cube, err := ReadCube(&asCube, "a.cube")
		if err != nil {
			t.Fatal(err)
		}
		cube.Ops[0].(*picture.LUT3D).Interp = l.Interp
		clf, err := ReadCLF(&asCLF, "a.clf")
		if err != nil {
			t.Fatal(err)
		}
		var in [3]float64
		for ch := range in {
			in[ch] = l.Lo[ch] + (l.Hi[ch]-l.Lo[ch])*rapid.Float64Range(0, 1).Draw(t, "in")
		}
		want := l.Apply(in)
		near(t, "cube", cube.Apply(in), want)
		near(t, "clf", clf.Apply(in), want)
	})
}

// roundingTolerance is absolute: numbers here are below 10, and a LUT's slope
// (at most 3 a step of 1/12 of a domain at least 0.3 wide, 120) times a few
// steps of double precision at 4.
const roundingTolerance = 1e-12

func near(t *rapid.T, what string, got, want [3]float64) {
	for ch := range 3 {
		if !(math.Abs(got[ch]-want[ch]) <= roundingTolerance*max(1, math.Abs(want[ch]))) {
			t.Fatalf("%s: %v, want %v", what, got, want)
		}
	}
}

// What is written as Common LUT Format computes the same when read back, and
// writing it again gives the same file.
func TestCLFRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := &picture.Chain{Title: "t", Description: []string{"<d> & \"e\""}, Input: "i", Output: "o"}
		for range rapid.IntRange(0, 4).Draw(t, "ops") {
			c.Ops = append(c.Ops, drawOp(t))
		}
		var b bytes.Buffer
		if err := WriteCLF(&b, c); err != nil {
			t.Fatal(err)
		}
		text := b.String()
		got, err := ReadCLF(&b, "written.clf")
		if err != nil {
			t.Fatalf("%v in\n%s", err, text)
		}
		if got.Title != c.Title || !reflect.DeepEqual(got.Description, c.Description) || got.Input != c.Input || got.Output != c.Output {
			t.Fatalf("%+v became %+v", c, got)
		}
		var again bytes.Buffer
		if err := WriteCLF(&again, got); err != nil {
			t.Fatal(err)
		}
		if again.String() != text {
			t.Fatalf("written again:\n%s\nfirst:\n%s", again.String(), text)
		}
		if len(c.Ops) == 1 { // a chain magnifies rounding without end
			in := drawColour(t)
			near(t, c.Ops[0].Kind(), got.Apply(in), c.Apply(in))
		}
	})
}

// Ops the format says in the same words come back as the same op, to the last bit.
func TestCLFRoundTripOfEqualOps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		op := drawOp(t)
		switch o := op.(type) {
		case *picture.Curves:
			o.Lo, o.Hi = three(0), three(1)
		case *picture.LUT3D:
			o.Lo, o.Hi = three(0), three(1)
		case *picture.Range:
			o.Slope, o.Offset = 1, 0
			if o.Min == nil && o.Max == nil {
				t.Skip("an empty range has no words of its own")
			}
		}
		var b bytes.Buffer
		if err := WriteCLF(&b, &picture.Chain{Ops: []picture.Op{op}}); err != nil {
			t.Fatal(err)
		}
		got, err := ReadCLF(&b, "written.clf")
		if err != nil {
			t.Fatal(err)
		}
		if len(got.Ops) != 1 || !reflect.DeepEqual(got.Ops[0], op) {
			t.Fatalf("%+v became %+v", op, got.Ops[0])
		}
	})
}

func TestHalfDomainRoundTrip(t *testing.T) {
	c := &picture.Curves{Axis: picture.AxisHalf, Lo: three(-maxHalf), Hi: three(maxHalf), KeepHue: true}
	for ch := range c.Samples {
		c.Samples[ch] = make([]float64, halfCodes)
		for i := range c.Samples[ch] {
			if x := picture.HalfValue(uint16(i)); finite(x) {
				c.Samples[ch][i] = math.Cbrt(x) * float64(ch+1)
			}
		}
	}
	var b bytes.Buffer
	if err := WriteCLF(&b, &picture.Chain{Ops: []picture.Op{c}}); err != nil {
		t.Fatal(err)
	}
	got, err := ReadCLF(&b, "written.clf")
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(got.Ops[0], picture.Op(c)) {
		t.Error("a half domain did not come back as it was")
	}
}

func TestCDLRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := Correction{ID: "cc1", Description: []string{"one", "<two>"}, Input: "log-420", Viewing: "on the bench", CDL: drawCDL(t)}
		c.CDL.Style = picture.CDLFwd
		var b bytes.Buffer
		if err := WriteCDL(&b, c); err != nil {
			t.Fatal(err)
		}
		got, err := ReadCDL(&b, "written.cc")
		if err != nil {
			t.Fatal(err)
		}
		if len(got) != 1 || !reflect.DeepEqual(got[0], c) {
			t.Fatalf("%+v became %+v", c, got)
		}
	})
}

// Every legal file of the official set computes the same after being written
// and read again.
func TestLegalFilesRoundTrip(t *testing.T) {
	for _, row := range table(t, truth(t, "lut", "expected_clf_cube.csv")) {
		if row[2] != "0.25" { // one colour a file will do
			continue
		}
		c, err := Load(truth(t, "lut", row[0]))
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if err := WriteCLF(&b, c); err != nil {
			t.Errorf("%s: %v", row[0], err)
			continue
		}
		got, err := ReadCLF(&b, row[0])
		if err != nil {
			t.Error(err)
			continue
		}
		v := numbersOf(t, row[2:5])
		a, want := got.Apply([3]float64(v)), c.Apply([3]float64(v))
		for ch := range 3 {
			if guarded(a[ch], want[ch]) > 1e-9 { // up to eleven ops, some of them steep
				t.Errorf("%s: %v, want %v", row[0], a, want)
			}
		}
	}
}
