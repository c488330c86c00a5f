package lutfile

import (
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"lampwise/internal/picture"
)

// The eight corners of a 3-D LUT of size 2 that swaps red and blue.
const swapRows = "0 0 0\n0 0 1\n0 1 0\n0 1 1\n1 0 0\n1 0 1\n1 1 0\n1 1 1\n"

func swapCube(lo, hi [3]float64) *picture.LUT3D {
	return &picture.LUT3D{
		Size: 2, Lo: lo, Hi: hi, Interp: picture.Tetrahedral, Strength: 1,
		Data: []float64{0, 0, 0, 0, 0, 1, 0, 1, 0, 0, 1, 1, 1, 0, 0, 1, 0, 1, 1, 1, 0, 1, 1, 1},
	}
}

func ramp(lo, hi [3]float64) *picture.Curves {
	return &picture.Curves{Axis: picture.AxisUniform, Lo: lo, Hi: hi, Samples: [3][]float64{{0, 0.25, 1}, {0, 0.5, 1}, {0, 0.75, 1}}}
}

const rampRows = "0 0 0\n0.25 0.5 0.75\n1 1 1\n"

func TestCubeIsRead(t *testing.T) {
	zero, one := three(0), three(1)
	for name, c := range map[string]struct {
		text string
		want picture.Chain
	}{
		"3-D": {"LUT_3D_SIZE 2\n" + swapRows, picture.Chain{Ops: []picture.Op{swapCube(zero, one)}}},
		"1-D": {"LUT_1D_SIZE 3\n" + rampRows, picture.Chain{Ops: []picture.Op{ramp(zero, one)}}},
		"title and comments": {
			"# made for the repair lessons\n#\nTITLE \"Pegboard night\"\n# second\nLUT_1D_SIZE 3\n0 0 0\n# not at the head\n0.25 0.5 0.75\n1 1 1\n",
			picture.Chain{Title: "Pegboard night", Description: []string{"made for the repair lessons", "second"}, Ops: []picture.Op{ramp(zero, one)}},
		},
		"domain": {
			"LUT_3D_SIZE 2\nDOMAIN_MIN -0.5 0 1e-1\nDOMAIN_MAX 2 3.5 +1E0\n" + swapRows,
			picture.Chain{Ops: []picture.Op{swapCube([3]float64{-0.5, 0, 0.1}, [3]float64{2, 3.5, 1})}},
		},
		"domain, upper end only": {"DOMAIN_MAX 2 2 2\nLUT_1D_SIZE 3\n" + rampRows, picture.Chain{Ops: []picture.Op{ramp(zero, three(2))}}},
		"1-D range":              {"LUT_1D_SIZE 3\nLUT_1D_INPUT_RANGE -1 4\n" + rampRows, picture.Chain{Ops: []picture.Op{ramp(three(-1), three(4))}}},
		"3-D range":              {"LUT_3D_SIZE 2\nLUT_3D_INPUT_RANGE 0 1.5\n" + swapRows, picture.Chain{Ops: []picture.Op{swapCube(zero, three(1.5))}}},
		"both": {
			"LUT_1D_SIZE 3\nLUT_1D_INPUT_RANGE -1 4\nLUT_3D_SIZE 2\nLUT_3D_INPUT_RANGE 0 2\n" + rampRows + "\n" + swapRows,
			picture.Chain{Ops: []picture.Op{ramp(three(-1), three(4)), swapCube(zero, three(2))}},
		},
		"both, sizes in the other order": {
			"LUT_3D_SIZE 2\nLUT_1D_SIZE 3\n" + rampRows + swapRows,
			picture.Chain{Ops: []picture.Op{ramp(zero, one), swapCube(zero, one)}},
		},
		"both, a domain that changes nothing": {
			"LUT_3D_SIZE 2\nLUT_1D_SIZE 3\nDOMAIN_MIN 0 0 0\nDOMAIN_MAX 1 1 1\n" + rampRows + swapRows,
			picture.Chain{Ops: []picture.Op{ramp(zero, one), swapCube(zero, one)}},
		},
		"byte order mark, CR LF, tabs, blanks around": {
			"\ufeff\r\n  LUT_1D_SIZE\t3  \r\n \t0\t0 0 \r\n\r\n.25 5e-1\t75.E-2\r\n1 1 1",
			picture.Chain{Ops: []picture.Op{ramp(zero, one)}},
		},
		"CR":                         {"LUT_1D_SIZE 3\r0 0 0\r0.25 0.5 0.75\r1 1 1\r", picture.Chain{Ops: []picture.Op{ramp(zero, one)}}},
		"lower case":                 {"title plain words\nlut_1d_size 3\n" + rampRows, picture.Chain{Title: "plain words", Ops: []picture.Op{ramp(zero, one)}}},
		"comments after numbers":     {"LUT_1D_SIZE 3 # three\n0 0 0 # black\n0.25 0.5 0.75\n1 1 1# white\n", picture.Chain{Ops: []picture.Op{ramp(zero, one)}}},
		"title in another encoding":  {"TITLE \"caf\xe9\"\nLUT_1D_SIZE 3\n" + rampRows, picture.Chain{Title: "caf\ufffd", Ops: []picture.Op{ramp(zero, one)}}},
		"title with terminal orders": {"TITLE \"a\x1b[2Jb\"\nLUT_1D_SIZE 3\n" + rampRows, picture.Chain{Title: "a[2Jb", Ops: []picture.Op{ramp(zero, one)}}},
	} {
		got, err := ReadCube(strings.NewReader(c.text), "a.cube")
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if !reflect.DeepEqual(*got, c.want) {
			t.Errorf("%s: %+v, want %+v", name, *got, c.want)
		}
	}
}

// badFile is text that must be refused, at a line, with a code and a reason.
type badFile struct {
	text string
	line int
	code string
	says string
}

var badCubes = map[string]badFile{
	"empty":                   {"", 0, "lut-empty", "empty"},
	"blank":                   {" \n\n", 0, "lut-empty", "no look-up table"},
	"words":                   {"dear garage,\n", 1, "lut-keyword", `"dear"`},
	"binary":                  {"\x89PNG\r\n\x1a\n\x00\x00\x00", 0, "lut-binary", "binary"},
	"zero byte later":         {"LUT_1D_SIZE 3\n" + strings.Repeat("# the lantern key\n", 50) + "0 0\x000\n", 52, "lut-binary", "zero byte"},
	"UTF-16, marked":          {"\xff\xfeL\x00U\x00T\x00", 0, "lut-encoding", "UTF-16"},
	"UTF-16, other order":     {"\xfe\xff\x00L\x00U", 0, "lut-encoding", "UTF-16"},
	"UTF-16, unmarked":        {"L\x00U\x00T\x00", 0, "lut-encoding", "UTF-16"},
	"unknown keyword":         {"LUT_3D_SZIE 2\n" + swapRows, 1, "lut-keyword", `"LUT_3D_SZIE"`},
	"keyword of another kind": {"LUT_2D_SIZE 2\n", 1, "lut-keyword", "unknown keyword"},
	"keyword twice":           {"LUT_1D_SIZE 3\nLUT_1D_SIZE 3\n" + rampRows, 2, "lut-keyword", "again (first on line 1)"},
	"keyword after numbers":   {"LUT_1D_SIZE 3\n" + rampRows + "DOMAIN_MAX 2 2 2\n", 5, "lut-keyword", "after the first row"},
	"no size":                 {"TITLE \"x\"\n0 0 0\n", 2, "lut-size", "numbers before any"},
	"title only":              {"TITLE \"x\"\n", 0, "lut-empty", "no look-up table"},
	"size 1":                  {"LUT_3D_SIZE 1\n0 0 0\n", 1, "lut-size", "2 to 129 was expected"},
	"size 130":                {"LUT_3D_SIZE 130\n", 1, "lut-size", "130; 2 to 129"},
	"huge size":               {"LUT_3D_SIZE 99999999999999999999\n", 1, "lut-size", "one whole number"},
	"huge 1-D size":           {"LUT_1D_SIZE 65537\n", 1, "lut-size", "65537; 2 to 65536"},
	"negative size":           {"LUT_1D_SIZE -3\n", 1, "lut-size", "-3; 2 to 65536"},
	"three sizes":             {"LUT_3D_SIZE 2 2 2\n" + swapRows, 1, "lut-size", "one whole number"},
	"no rows":                 {"LUT_1D_SIZE 3\n# end\n", 2, "lut-count", "ends before its numbers"},
	"row short":               {"LUT_1D_SIZE 3\n0 0 0\n0.5 0.5\n1 1 1\n", 3, "lut-count", "3 numbers were expected, 2 found"},
	"row long":                {"LUT_1D_SIZE 3\n0 0 0\n0.5 0.5 0.5 1\n1 1 1\n", 3, "lut-count", "3 numbers were expected, 4 found"},
	"row missing":             {"LUT_3D_SIZE 2\n" + swapRows[:36], 7, "lut-count", "ends after 6 rows; LUT_3D_SIZE 2 needs 8"},
	"row too many":            {"LUT_3D_SIZE 2\n" + swapRows + "1 1 1\n", 10, "lut-count", "a row too many; LUT_3D_SIZE 2 needs 8"},
	"row too many, both":      {"LUT_1D_SIZE 3\nLUT_3D_SIZE 2\n" + rampRows + swapRows + "1 1 1\n", 14, "lut-count", "LUT_1D_SIZE 3 and LUT_3D_SIZE 2 needs 11"},
	"NaN":                     {"LUT_1D_SIZE 3\n0 0 0\nnan 0 0\n1 1 1\n", 3, "lut-number", `"nan" is not a finite number`},
	"NaN inside":              {"LUT_1D_SIZE 3\n0 NaN 0\n", 2, "lut-number", `"NaN" is not a finite number`},
	"infinity":                {"LUT_1D_SIZE 3\n0 0 0\n0 -inf 0\n1 1 1\n", 3, "lut-number", `"-inf" is not a finite number`},
	"too large":               {"LUT_1D_SIZE 3\n0 0 1e39\n", 2, "lut-number", "too large"},
	"overflow":                {"LUT_1D_SIZE 3\n0 0 1e999\n", 2, "lut-number", "too large"},
	"hexadecimal":             {"LUT_1D_SIZE 3\n0 0 0x1p-1\n", 2, "lut-number", "not a number"},
	"underscores":             {"LUT_1D_SIZE 3\n0 0 1_0\n", 2, "lut-number", "not a number"},
	"sign only":               {"LUT_1D_SIZE 3\n0 - 0\n", 2, "lut-number", `"-" is not a number`},
	"decimal commas":          {"LUT_1D_SIZE 3\n0,5 0,5 0,5\n", 2, "lut-number", "decimals need a point"},
	"one column":              {"LUT_1D_SIZE 3\n0\n0.5\n1\n", 2, "lut-count", "3 numbers were expected, 1 found"},
	"domain falls":            {"LUT_1D_SIZE 3\nDOMAIN_MIN 0 2 0\n" + rampRows, 2, "lut-cube", "channel 2 runs from 2 to 1"},
	"domain of no width":      {"LUT_1D_SIZE 3\nLUT_1D_INPUT_RANGE 1 1\n" + rampRows, 2, "lut-cube", "from 1 to 1"},
	"domain too narrow":       {"LUT_1D_SIZE 3\nLUT_1D_INPUT_RANGE 0 1e-44\n" + rampRows, 2, "lut-cube", "must rise"},
	"domain short":            {"LUT_1D_SIZE 3\nDOMAIN_MAX 1 1\n" + rampRows, 2, "lut-count", "DOMAIN_MAX: 3 numbers were expected, 2 found"},
	"domain infinite":         {"LUT_1D_SIZE 3\nDOMAIN_MAX 1 inf 1\n" + rampRows, 2, "lut-number", "not a finite number"},
	"domain and range":        {"LUT_1D_SIZE 3\nDOMAIN_MAX 1 1 1\nLUT_1D_INPUT_RANGE 0 1\n" + rampRows, 3, "lut-cube", "in two ways"},
	"domain of which table":   {"LUT_1D_SIZE 3\nLUT_3D_SIZE 2\nDOMAIN_MAX 2 2 2\n" + rampRows + swapRows, 3, "lut-cube", "which of the two tables"},
	"range without its table": {"LUT_1D_SIZE 3\nLUT_3D_INPUT_RANGE 0 1\n" + rampRows, 2, "lut-cube", "without LUT_3D_SIZE"},
	"1-D range, 3-D table":    {"LUT_3D_SIZE 2\nLUT_1D_INPUT_RANGE 0 1\n" + swapRows, 2, "lut-cube", "without LUT_1D_SIZE"},
	"long line":               {"LUT_1D_SIZE 3\n0 0 0" + strings.Repeat(" ", MaxLineBytes) + "\n", 2, "lut-line", "longer than 4096"},
	"odd sign":                {"LUT_1D_SIZE 3\n;comment\n", 2, "lut-text", `";"`},
}

func TestBadCubeIsRefused(t *testing.T) {
	for name, c := range badCubes {
		t.Run(name, func(t *testing.T) {
			_, err := ReadCube(strings.NewReader(c.text), "looks/bad.cube")
			checkFault(t, err, "looks/bad.cube", c.line, c.code, c.says)
		})
	}
}

func TestCubeKeywordSuggestion(t *testing.T) {
	_, err := ReadCube(strings.NewReader("LUT_3D_SZIE 2\n"), "a.cube")
	checkHint(t, err, "did you mean LUT_3D_SIZE?")
}

// The two dialect files of the truth set that the reference library refuses
// but that can mean one thing only; what they mean is worked out by hand.
func TestOddDialects(t *testing.T) {
	demo, err := Load(truth(t, "lut", "cube", "odd", "lib_range_demo.cube"))
	if err != nil {
		t.Fatal(err)
	}
	// Three samples 0, 1.5, 3 over 0..3: no change inside, held outside.
	for x, want := range map[float64]float64{-1: 0, 0.4: 0.4, 2.2: 2.2, 5: 3} {
		if got := demo.Apply(three(x))[1]; math.Abs(got-want) > 1e-12 {
			t.Errorf("lib_range_demo at %g: %g, want %g", x, got, want)
		}
	}
	shaper, err := Load(truth(t, "lut", "cube", "odd", "lib_shaper_3d.cube"))
	if err != nil {
		t.Fatal(err)
	}
	if len(shaper.Ops) != 2 || shaper.Title != "LUT3D with My Shaper" || len(shaper.Description) != 4 {
		t.Fatalf("lib_shaper_3d: %+v", shaper)
	}
	// The shaper's last sample is 1.6476816; in the cube over −0.1..3 that is
	// 1.1275365 cells from 0, on the grey axis between node 1 (1.45 1.45 1.45 in
	// all but the corners) and node 2; read off the file's rows 14 and 27.
	cube := shaper.Ops[1].(*picture.LUT3D)
	node := func(i int) float64 { return cube.Data[3*(i+3*i+9*i)] }
	part := (1.6476816+0.1)/3.1*2 - 1
	want := node(1) + part*(node(2)-node(1))
	if got := shaper.Apply(three(3))[0]; math.Abs(got-want) > 1e-9 {
		t.Errorf("lib_shaper_3d at 3: %g, want %g", got, want)
	}
}

func TestFileSizeIsBounded(t *testing.T) {
	for _, name := range []string{"big.cube", "big.clf"} {
		path := filepath.Join(t.TempDir(), name)
		f, err := os.Create(path)
		if err != nil {
			t.Fatal(err)
		}
		if err := f.Truncate(MaxFileBytes + 1); err != nil {
			t.Fatal(err)
		}
		if err := f.Close(); err != nil {
			t.Fatal(err)
		}
		_, err = Load(path)
		checkFault(t, err, path, 0, "lut-too-large", "the most a look-up file may have is 256")
	}
	// A stream without a size is cut off as well.
	_, err := ReadCube(endless{}, "stream")
	checkFault(t, err, "stream", 0, "lut-too-large", "more than 256 MiB")
}

// endless is comments without end.
type endless struct{}

func (endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = '#'
		if i%64 == 63 {
			p[i] = '\n'
		}
	}
	return len(p), nil
}
