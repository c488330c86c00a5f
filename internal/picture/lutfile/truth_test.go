package lutfile

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"lampwise/internal/fault"
	"lampwise/internal/picture"
)

// truth finds a file of published check values or skips, naming what is missing.
func truth(t testing.TB, path ...string) string {
	t.Helper()
	dir := os.Getenv("LAMPWISE_TRUTH")
	if dir == "" {
		root, err := filepath.Abs(".")
		if err != nil {
			t.Fatal(err)
		}
		for {
			if _, err := os.Stat(filepath.Join(root, "go.mod")); err == nil {
				break
			}
			up := filepath.Dir(root)
			if up == root {
				t.Fatal("no go.mod above the test")
			}
			root = up
		}
		dir = filepath.Join(root, "..", "shared", "truth")
	}
	full := filepath.Join(append([]string{dir}, path...)...)
	if _, err := os.Stat(full); err != nil {
		t.Skipf("missing: %s", full)
	}
	return full
}

func table(t testing.TB, path string) [][]string {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows[1:]
}

func numbersOf(t testing.TB, fields []string) []float64 {
	t.Helper()
	out := make([]float64, len(fields))
	for i, s := range fields {
		x, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		out[i] = x
	}
	return out
}

// guarded is the error measure of the CLF implementation guide, "Finishing
// Tier, Tolerances": relative above 0.1, absolute (of 0.1) below.
func guarded(got, want float64) float64 {
	return math.Abs(got-want) / max(math.Abs(want), 0.1)
}

const (
	// guideTolerance is the guide's: 1 part in 500.
	guideTolerance = 0.002
	// ourTolerance is what the reference library's single precision explains
	// in a short chain: 1e-6 is 8 of its steps at 1.
	ourTolerance = 1e-6
	// singleSteps is how many times further off than our arithmetic rounded to
	// single precision after every op the library may be: inside an op it rounds
	// several times, and its pow and log are approximations.
	singleSteps = 8
)

// singly is the chain with every op's result rounded to single precision.
func singly(c *picture.Chain, v [3]float64) [3]float64 {
	for _, op := range c.Ops {
		v = op.Apply(v)
		for ch := range v {
			v[ch] = float64(float32(v[ch]))
		}
	}
	return v
}

func TestResultsAgainstReferenceLibrary(t *testing.T) {
	rows := table(t, truth(t, "lut", "expected_clf_cube.csv"))
	chains := map[string]*picture.Chain{}
	worst := map[string]float64{}
	loosest := 0.0
	for _, row := range rows {
		name, interp := row[0], row[1]
		key := name + " " + interp
		chain := chains[key]
		if chain == nil {
			var err error
			chain, err = Load(truth(t, "lut", filepath.FromSlash(name)))
			if err != nil {
				t.Fatal(err)
			}
			for _, op := range chain.Ops {
				if l, ok := op.(*picture.LUT3D); ok {
					switch interp {
					case "lin":
						l.Interp = picture.Trilinear
					case "tet":
						l.Interp = picture.Tetrahedral
					}
				}
			}
			chains[key] = chain
		}
		v := numbersOf(t, row[2:])
		got := chain.Apply([3]float64(v[:3]))
		single := singly(chain, [3]float64(v[:3]))
		for ch := range 3 {
			e := guarded(got[ch], v[3+ch])
			worst[key] = max(worst[key], e)
			limit := min(guideTolerance, max(ourTolerance, singleSteps*guarded(single[ch], got[ch])))
			loosest = max(loosest, limit)
			if e > limit {
				t.Errorf("%s: %v channel %d: %.9g, want %.9g (error %.2g)", key, v[:3], ch, got[ch], v[3+ch], e)
			}
		}
	}
	for key, e := range worst {
		t.Logf("%-40s %.1e", key, e)
	}
	t.Logf("loosest tolerance used: %.1e", loosest)
	if len(rows) != 1880 || len(chains) != 47 {
		t.Errorf("%d rows of %d files, want 1880 of 47", len(rows), len(chains))
	}
}

func TestLegalFilesLoad(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(truth(t, "lut", "clf"), "*.clf"))
	if err != nil || len(files) != 30 {
		t.Fatalf("%d legal files, want 30 (%v)", len(files), err)
	}
	for _, path := range files {
		chain, err := Load(path)
		if err != nil {
			t.Error(err)
			continue
		}
		if err := picture.CheckOps(chain.Ops); err != nil {
			t.Errorf("%s: %v", path, err)
		}
	}
}

// What each file of the official illegal set must be refused for.
var illegal = map[string]struct {
	line int // 0 = the file as a whole
	code string
	says string
}{
	"array_bad_dimension.clf":              {5, "lut-dim", `has 10 numbers`},
	"array_bad_value.clf":                  {7, "lut-number", `"P" is not a number`},
	"array_missing_values.clf":             {5, "lut-count", `9 numbers were expected, 3 found`},
	"array_too_many_values.clf":            {9, "lut-count", `a number too many; 9 expected`},
	"cdl_bad_power.clf":                    {8, "lut-param", `<Power> is 0`},
	"cdl_bad_sat.clf":                      {11, "lut-count", `<Saturation>: a number too many; 1 expected`},
	"cdl_bad_slope.clf":                    {6, "lut-count", `<Slope>: 3 numbers were expected, 2 found`},
	"cdl_bad_style.clf":                    {4, "lut-style", `unknown style "invalid_cdl_style"`},
	"cdl_missing_offset.clf":               {5, "lut-param", `no <Offset>`},
	"cdl_missing_power.clf":                {5, "lut-param", `no <Power>`},
	"cdl_missing_slope.clf":                {5, "lut-param", `no <Slope>`},
	"exponent_bad_param.clf":               {5, "lut-param", `an offset, which the style basicFwd doesn't have`},
	"exponent_bad_value.clf":               {5, "lut-param", `the exponent 0.99; 1 to 10 was expected`},
	"indexMap_test2.clf":                   {16, "lut-element", `<IndexMap> has no place in <LUT3D>`},
	"log_bad_param.clf":                    {5, "lut-param", `linSideBreak or linearSlope, which the style linToLog doesn't have`},
	"log_bad_style.clf":                    {4, "lut-style", `unknown style "invalidStyle"`},
	"log_bad_version.clf":                  {6, "lut-version", `<Log> needs version 3`},
	"log_missing_breakpnt.clf":             {5, "lut-param", `no linSideBreak`},
	"lut1d_half_domain_missing_values.clf": {7, "lut-dim", `a half domain has 65536 entries, not 32`},
	"lut1d_half_domain_set_false.clf":      {6, "lut-clf", `halfDomain="false"`},
	"lut1d_raw_half_set_false.clf":         {6, "lut-clf", `rawHalfs="false"`},
	"lut3d_unequal_size.clf":               {5, "lut-dim", `"N N N 3" was expected`},
	"matrix_end_missing.clf":               {5, "lut-xml", `element <Matrix> closed by </ProcessList>`},
	"process_list_bad_version.clf":         {2, "lut-version", `"three" is not a version`},
	"process_list_higher_version.clf":      {2, "lut-version", `3.2 is newer than 3.0`},
	"process_list_missing.clf":             {1, "lut-kind", `begins with <Matrix>`},
	"range_bad_noclamp.clf":                {4, "lut-style", `two values only`},
	"range_bad_values.clf":                 {4, "lut-clf", `minInValue 0.9411764705882353 and maxInValue 0.9411764705882353`},
	"range_empty.clf":                      {4, "lut-empty", `<Range> is empty`},
	"range_nonmatching_clamp.clf":          {5, "lut-clf", `one pair and its two values differ`},
	"transform_bad_outdepth.clf":           {4, "lut-depth", `outBitDepth is "16d"`},
	"transform_bitdepth_mismatch.clf":      {10, "lut-depth", `takes 32f but the node before (line 3) gives 16f`},
	"transform_corrupted_tag.clf":          {12, "lut-xml", `closed by </ProcessList1111>`},
	"transform_element_end_missing.clf":    {12, "lut-truncated", `ends inside <ProcessList> (line 2)`},
	"transform_empty.clf":                  {2, "lut-empty", `no process node`},
	"transform_id_empty.clf":               {2, "lut-clf", `the id of <ProcessList> is empty`},
	"transform_missing.clf":                {0, "lut-empty", `no XML element`},
	"transform_missing_id.clf":             {2, "lut-clf", `<ProcessList> has no id`},
	"transform_missing_inbitdepth.clf":     {4, "lut-depth", `no inBitDepth`},
	"transform_missing_outbitdepth.clf":    {4, "lut-depth", `no outBitDepth`},
	"unknown_elements.clf":                 {34, "lut-element", `<B> is no process node`},
}

func TestIllegalFilesAreRefused(t *testing.T) {
	dir := truth(t, "lut", "clf", "illegal")
	files, err := filepath.Glob(filepath.Join(dir, "*.clf"))
	if err != nil || len(files) != 41 || len(illegal) != 41 {
		t.Fatalf("%d illegal files and %d reasons, want 41 (%v)", len(files), len(illegal), err)
	}
	for _, path := range files {
		want, ok := illegal[filepath.Base(path)]
		if !ok {
			t.Errorf("%s: no reason listed", path)
			continue
		}
		_, err := Load(path)
		checkFault(t, err, path, want.line, want.code, want.says)
	}
}

// checkFault holds an error to be the user's, at a line of the named file,
// with the code and the words.
func checkFault(t *testing.T, err error, name string, line int, code, says string) {
	t.Helper()
	f, ok := fault.As(err)
	if !ok {
		t.Errorf("%s: error is %v, want a fault", name, err)
		return
	}
	where := name + ": "
	if line > 0 {
		where = fmt.Sprintf("%s:%d: ", name, line)
	}
	if !strings.HasPrefix(f.Message, where) || !strings.Contains(f.Message, says) || strings.ContainsAny(f.Message, "\n\r") || len(f.Message) > 1000 {
		t.Errorf("%q: want it to begin with %q and say %q, on one line", f.Message, where, says)
	}
	if f.Code != code || f.Class != fault.Input || f.Hint == "" {
		t.Errorf("%s: code %s, class %d, hint %q; want code %s, class %d and a hint", f.Message, f.Code, f.Class, f.Hint, code, fault.Input)
	}
}

// checkHint holds a fault's hint to say something.
func checkHint(t *testing.T, err error, says string) {
	t.Helper()
	f, ok := fault.As(err)
	if !ok || !strings.Contains(f.Hint, says) {
		t.Errorf("%v: want a hint that says %q, have %+v", err, says, f)
	}
}
