package lumfile

import (
	"bufio"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"lampwise/internal/fault"
	"lampwise/internal/unit"
)

func truthDir() string {
	if dir := os.Getenv("LAMPWISE_TRUTH"); dir != "" {
		return filepath.Join(dir, "photometry")
	}
	return filepath.Join("..", "..", "..", "..", "shared", "truth", "photometry")
}

func rows(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open(filepath.Join(truthDir(), name))
	if err != nil {
		t.Skipf("%s is not here; set LAMPWISE_TRUTH to the folder of check values", name)
	}
	defer f.Close()
	var out [][]string
	for s := bufio.NewScanner(f); s.Scan(); {
		if line := s.Text(); line != "" && line[0] != '#' {
			out = append(out, strings.Split(line, ","))
		}
	}
	return out[1:]
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// Files written from closed formulas: the integral of their tables to seven
// digits, the closed form within 0.1 % (the tables' own steps), the peak exactly.
func TestLM63AgainstClosedForms(t *testing.T) {
	n := 0
	for _, r := range rows(t, "ies_expected.csv") {
		w, err := Load(filepath.Join(truthDir(), "ies", r[0]))
		if err != nil {
			t.Errorf("%v", err)
			continue
		}
		n++
		// The expectation is printed to a thousandth of a lumen.
		if got, want := float64(w.Flux()), number(t, r[2]); math.Abs(got-want) > 0.6e-3 {
			t.Errorf("%s: %.4f lm, expected %.3f", r[0], got, want)
		}
		if r[1] != "" {
			if got, want := float64(w.Flux()), number(t, r[1]); math.Abs(got/want-1) > 1e-3 {
				t.Errorf("%s: %.3f lm, closed form %.3f", r[0], got, want)
			}
		}
		if got, want := float64(w.Peak()), number(t, r[3]); math.Abs(got/want-1) > 1e-6 {
			t.Errorf("%s: peak %g cd, expected %g", r[0], got, want)
		}
		at := func(c, g unit.Degree, want float64) {
			if got := float64(w.Candela(c, g)); math.Abs(got/want-1) > 1e-4 {
				t.Errorf("%s: %g cd at C%g γ%g, expected %g", r[0], got, float64(c), float64(g), want)
			}
		}
		switch r[0] {
		case "quad_asym.ies": // I = (500 + 300·cos 2C)·cos γ, quadrilateral
			for _, c := range []unit.Degree{0, 180, 360, -180} {
				at(c, 0, 800)
			}
			for _, c := range []unit.Degree{45, 135, 225, 315} {
				at(c, 60, 250)
			}
			for _, c := range []unit.Degree{90, 270} {
				at(c, 30, 173.205)
			}
		case "beam20_gauss_20000cd.ies":
			at(77, 10, 10000)
			if b, f := float64(w.Beam(0, 0.5)), float64(w.Beam(0, 0.1)); math.Abs(b-20) > 0.2 || math.Abs(f-36.46) > 0.3 {
				t.Errorf("%s: beam %g°, field %g°", r[0], b, f)
			}
		case "cone15_1000cd.ies":
			if b := float64(w.Beam(0, 0.5)); math.Abs(b-30) > 0.2 {
				t.Errorf("%s: beam %g°", r[0], b)
			}
		}
	}
	if n != 7 {
		t.Errorf("%d files read", n)
	}
}

// Laboratories' files: the integral a kilolumen as computed independently (to
// its printed digits), the light output ratio that each file states within
// 1 % (the two 5°-sampled spots 05 and 08: within what that sampling costs,
// 2.5 %), and candela in single directions.
func TestEULUMDATAgainstIntegrals(t *testing.T) {
	n := 0
	for _, r := range rows(t, "ldt_expected.csv") {
		w, err := Load(filepath.Join(truthDir(), "ldt", r[0]))
		if err != nil {
			t.Errorf("%v", err)
			continue
		}
		n++
		lamp := number(t, r[5])
		if got := float64(w.Lamp); math.Abs(got-lamp) > 0.5 {
			t.Errorf("%s: %g lm of lamps, expected %g", r[0], got, lamp)
		}
		k := 1000 / float64(w.Lamp)
		if got, want := float64(w.Flux())*k, number(t, r[8]); math.Abs(got-want) > 0.02 {
			t.Errorf("%s: %.3f lm a kilolumen, expected %.2f", r[0], got, want)
		}
		limit := 0.01
		if strings.HasPrefix(r[0], "sample_05") || strings.HasPrefix(r[0], "sample_08") {
			limit = 0.025
		}
		if got, want := float64(w.Flux())*k/10, number(t, r[6]); math.Abs(got/want-1) > limit {
			t.Errorf("%s: light output %.2f %%, the file states %g %%", r[0], got, want)
		}
		for i, d := range [][2]unit.Degree{{0, 0}, {0, 30}, {90, 30}, {0, 60}} {
			if got, want := float64(w.Candela(d[0], d[1]))*k, number(t, r[13+i]); math.Abs(got-want) > 1e-3*math.Max(1, want) {
				t.Errorf("%s: %.3f cd a kilolumen at C%g γ%g, expected %g", r[0], got, float64(d[0]), float64(d[1]), want)
			}
		}
		if got, want := float64(w.Peak())*k, number(t, r[12]); math.Abs(got/want-1) > 1e-4 {
			t.Errorf("%s: peak %g, expected %g", r[0], got, want)
		}
	}
	if n != 11 {
		t.Errorf("%d files read", n)
	}
}

// goodIES is a small whole file; the tests break it in one place each.
const goodIES = `IESNA:LM-63-2002
[TEST] made for this test
TILT=NONE
1 -1 2 3 3 1 2 0.1 0.2 0
1 1 50
0 45 90
0 45 90
10 5 1
8 4 1
6 3 1
`

func TestLM63Versions(t *testing.T) {
	for name, c := range map[string]struct {
		text string
		want float64 // candela straight ahead
	}{
		"2002":                {goodIES, 20},
		"2019":                {strings.Replace(goodIES, "IESNA:LM-63-2002", "IES:LM-63-2019", 1), 20},
		"1995":                {strings.Replace(goodIES, "2002", "1995", 1), 20},
		"1991, ballast-lamp":  {strings.Replace(strings.Replace(goodIES, "IESNA:LM-63-2002", "IESNA91", 1), "1 1 50", "0.5 0.5 50", 1), 5},
		"1986, no heading":    {strings.Replace(goodIES, "IESNA:LM-63-2002\n", "", 1), 20},
		"ballast factor":      {strings.Replace(goodIES, "1 1 50", "0.5 7 50", 1), 10},
		"Windows line ends":   {strings.ReplaceAll(goodIES, "\n", "\r\n"), 20},
		"old line ends":       {strings.ReplaceAll(goodIES, "\n", "\r"), 20},
		"Latin-1 text":        {strings.Replace(goodIES, "made", "Leuchte f\xfcr", 1), 20},
		"commas":              {strings.Replace(goodIES, "10 5 1", "10, 5, 1", 1), 20},
		"numbers over lines":  {strings.Replace(goodIES, "0 45 90\n0 45 90\n", "0\n45 90 0\n45\n90\n", 1), 20},
		"tilt table in it":    {strings.Replace(goodIES, "TILT=NONE", "TILT=INCLUDE\n1\n3\n0 45 90\n1 0.9 0.8", 1), 20},
		"all round, unclosed": {strings.Replace(goodIES, "0 45 90\n10", "0 120 240\n10", 1), 20},
	} {
		w, err := Parse([]byte(c.text), "a.ies")
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if got := float64(w.Candela(0, 0)); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%s: %g cd", name, got)
		}
	}
	w, err := Parse([]byte(strings.Replace(goodIES, "TILT=NONE", "TILT=INCLUDE\n1\n3\n0 45 90\n1 0.9 0.8", 1)), "a.ies")
	if err != nil {
		t.Fatal(err)
	}
	if f := w.TiltFactor(67.5); math.Abs(f-0.85) > 1e-12 {
		t.Errorf("tilt of 67.5°: %g", f)
	}
	if o := w.Opening; o[0] != 0.1 || o[1] != 0.2 {
		t.Errorf("opening %v", o)
	}
	feet, err := Parse([]byte(strings.Replace(goodIES, "3 3 1 2", "3 3 1 1", 1)), "a.ies")
	if err != nil || math.Abs(float64(feet.Opening[0])-0.03048) > 1e-9 {
		t.Errorf("feet: %v, %v", feet, err)
	}
	bilateral, err := Parse([]byte(strings.Replace(goodIES, "0 45 90\n10", "90 180 270\n10", 1)), "a.ies")
	if err != nil {
		t.Fatal(err)
	}
	if a, b := bilateral.Candela(0, 0), bilateral.Candela(180, 0); a != b {
		t.Errorf("mirrored about 90–270: %g and %g cd", float64(a), float64(b))
	}
}

func TestBadLM63(t *testing.T) {
	for name, c := range map[string]struct{ old, new, code, says string }{
		"no TILT":            {"TILT=NONE\n", "", "lum-tilt", "TILT"},
		"tilt in a file":     {"TILT=NONE", "TILT=other.tlt", "lum-tilt", ":3:"},
		"type A":             {"3 3 1 2", "3 3 3 2", "lum-type", "type A"},
		"type B":             {"3 3 1 2", "3 3 2 2", "lum-type", "type B"},
		"too few values":     {"6 3 1\n", "6 3\n", "lum-short", "ends"},
		"too many values":    {"6 3 1\n", "6 3 1 1\n", "lum-long", "after"},
		"negative candela":   {"8 4 1", "8 -4 1", "lum-negative", "-4"},
		"angles fall":        {"0 45 90\n0", "0 90 45\n0", "lum-order", "45 comes after 90"},
		"planes fall":        {"0 45 90\n10", "0 90 45\n10", "lum-order", "horizontal"},
		"planes end oddly":   {"0 45 90\n10", "0 45 100\n10", "lum-order", "100"},
		"a word":             {"8 4 1", "8 four 1", "lum-number", "four"},
		"not finite":         {"8 4 1", "8 NaN 1", "lum-number", "NaN"},
		"infinite":           {"8 4 1", "8 1e999 1", "lum-number", "1e999"},
		"huge grid":          {"1 -1 2 3 3", "1 -1 2 1400 1400", "lum-many", "1400"},
		"huge count":         {"1 -1 2 3 3", "1 -1 2 99999999 3", "lum-count", "99999999"},
		"half an angle":      {"1 -1 2 3 3", "1 -1 2 3.5 3", "lum-count", "3.5"},
		"multiplier 0":       {"1 -1 2 3 3", "1 -1 0 3 3", "lum-range", "multiplier"},
		"unknown version":    {"LM-63-2002", "LM-63-2099", "lum-version", "2099"},
		"γ beyond 180":       {"0 45 90\n0", "0 45 190\n0", "lum-range", "190"},
		"γ begins elsewhere": {"0 45 90\n0", "10 45 90\n0", "lum-order", "10"},
	} {
		text := strings.Replace(goodIES, c.old, c.new, 1)
		if text == goodIES {
			t.Fatalf("%s: nothing was changed", name)
		}
		_, err := Parse([]byte(text), "a.ies")
		wantFault(t, name, err, c.code, c.says)
	}
}

func wantFault(t *testing.T, name string, err error, code, says string) {
	t.Helper()
	f, ok := fault.As(err)
	if !ok {
		t.Errorf("%s: no fault but %v", name, err)
		return
	}
	if f.Code != code || !strings.Contains(f.Message, says) || !strings.HasPrefix(f.Message, "a.") {
		t.Errorf("%s: %s: %s", name, f.Code, f.Message)
	}
}

// goodLDT is a small whole file of four C planes, both symmetries.
func goodLDT() []string {
	l := []string{"made for this test", "1", "4", "4", "90", "3", "45", "", "lamp", "", "", ""}
	l = append(l, "100", "100", "50", "90", "0", "0", "0", "0", "0", "100", "90", "1", "0", "1")
	l = append(l, "1", "LED", "500", "4000", "80", "6")
	for range 10 {
		l = append(l, "0.5")
	}
	return append(l, "0", "90", "180", "270", "0", "45", "90", "100", "50", "10", "80", "40", "8")
}

func TestEULUMDATLines(t *testing.T) {
	w, err := Parse([]byte(strings.Join(goodLDT(), "\r\n")+"\r\n"), "a.ldt")
	if err != nil {
		t.Fatal(err)
	}
	// 100 cd a kilolumen from 500 lm.
	if got := float64(w.Candela(0, 0)); got != 50 {
		t.Errorf("%g cd", got)
	}
	if got := float64(w.Candela(270, 45)); got != 20 {
		t.Errorf("C270: %g cd", got)
	}
	if w.Opening[0] != w.Opening[1] || math.Abs(float64(w.Opening[0])-0.09) > 1e-12 {
		t.Errorf("round opening %v", w.Opening)
	}
	for name, c := range map[string]struct {
		line       int
		text       string
		code, says string
	}{
		"not a number":     {2, "x", "lum-format", "neither"},
		"symmetry 9":       {3, "9", "lum-count", "symmetry"},
		"planes by threes": {4, "3", "lum-count", "3 C planes"},
		"huge":             {6, "1e9", "lum-count", "γ"},
		"no flux":          {29, "0", "lum-range", "flux"},
		"C falls":          {44, "0", "lum-order", "C angle"},
		"γ falls":          {48, "0", "lum-order", "γ"},
		"negative":         {50, "-3", "lum-negative", "-3"},
		"infinite":         {50, "Inf", "lum-number", "Inf"},
		"factor 0":         {24, "0", "lum-range", "factor"},
	} {
		l := goodLDT()
		l[c.line-1] = c.text
		_, err := Parse([]byte(strings.Join(l, "\n")), "a.ldt")
		wantFault(t, name, err, c.code, c.says)
	}
	short := goodLDT()
	_, err = Parse([]byte(strings.Join(short[:len(short)-1], "\n")), "a.ldt")
	wantFault(t, "one line short", err, "lum-short", "ends")
	_, err = Parse([]byte(strings.Join(append(short, "1"), "\n")), "a.ldt")
	wantFault(t, "one line more", err, "lum-long", "after")
	_, err = Parse([]byte("\x00\x01"), "a.ldt")
	wantFault(t, "binary", err, "lum-binary", "no text")
}

// Nothing crashes, and what is read is finite and not negative everywhere.
func FuzzParse(f *testing.F) {
	f.Add([]byte(goodIES), true)
	f.Add([]byte(strings.Replace(goodIES, "TILT=NONE", "TILT=INCLUDE\n1\n2\n0 90\n1 0.9", 1)), true)
	f.Add([]byte(strings.Join(goodLDT(), "\n")), false)
	f.Add([]byte(strings.ReplaceAll(goodIES, "\n", "\r\n")), true)
	f.Add([]byte{}, false)
	for _, dir := range []string{"ies", "ldt"} {
		files, _ := filepath.Glob(filepath.Join(truthDir(), dir, "*."+dir))
		for _, name := range files {
			if data, err := os.ReadFile(name); err == nil && len(data) < 2000 {
				f.Add(data, dir == "ies")
			}
		}
	}
	f.Fuzz(func(t *testing.T, data []byte, ies bool) {
		name := "a.ldt"
		if ies {
			name = "a.ies"
		}
		w, err := Parse(data, name)
		if err != nil {
			if _, ok := fault.As(err); !ok {
				t.Fatalf("not a fault: %v", err)
			}
			return
		}
		for _, c := range []unit.Degree{-720, -1, 0, 17, 90, 180, 271, 360, 1000} {
			for _, g := range []unit.Degree{-1, 0, 33, 90, 179.5, 180, 181} {
				if v := float64(w.Candela(c, g)); !(v >= 0) || math.IsInf(v, 0) {
					t.Fatalf("%g cd at C%g γ%g", v, float64(c), float64(g))
				}
			}
		}
		if v := float64(w.Flux()); !(v >= -1e-6) || math.IsInf(v, 0) {
			t.Fatalf("%g lm", v)
		}
	})
}
