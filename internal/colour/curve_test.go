package colour

import (
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"lampwise/internal/fault"

	"pgregory.net/rapid"
)

// everyCurve is all shipped curves and log-400a at its other indices.
func everyCurve(t testing.TB) []*Curve {
	all := Curves()
	for _, row := range log400aTable {
		c, err := mustCurve("log-400a").AtExposureIndex(row.index)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, c)
	}
	return all
}

// roundTripTolerance: y → x → y, per curve. Through float64 alone it is 10⁻¹²
// (a logarithm's argument near its singularity loses digits). The overlaps of
// log-433, log-445 and log-470 cost their published step.
func roundTripTolerance(c *Curve) float64 {
	form, ok := c.LogForm()
	if !ok {
		return 1e-11
	}
	return 1e-11 + form.Step
}

func TestRoundTripFromSignal(t *testing.T) {
	for _, c := range everyCurve(t) {
		// The signals that the curve's encoding can give.
		lowest, highest := -0.2, 1.2
		switch c.ID {
		case "acescc":
			lowest = -0.35844748 // what 0 is recorded at
		case "log-500", "bt1886":
			lowest = 0
		case "pq":
			lowest = 7.309559025783966e-07
		}
		rapid.Check(t, func(t *rapid.T) {
			y := rapid.Float64Range(lowest, highest).Draw(t, "y")
			back := c.Encode(c.Decode(y))
			// Signals inside a gap of the published pieces decode to the cut.
			if gap, inside := gapOf(c, y); inside {
				if math.Abs(back-y) > gap {
					t.Fatalf("%s: %g in a gap of %g comes back as %g", c.ID, y, gap, back)
				}
				return
			}
			if math.Abs(back-y) > roundTripTolerance(c) {
				t.Fatalf("%s: y %.15g → x %.15g → y %.15g", c.ID, y, c.Decode(y), back)
			}
		})
	}
}

// gapOf says whether y lies where no light is recorded, and how wide that is.
func gapOf(c *Curve, y float64) (float64, bool) {
	a := c.Decode(y)
	up, down := c.Encode(math.Nextafter(a, 1)), c.Encode(math.Nextafter(a, -1))
	return up - down + 1e-12, up > y && down < y
}

func TestRoundTripFromLight(t *testing.T) {
	for _, c := range everyCurve(t) {
		least := -0.05
		switch c.ID {
		case "acescc", "bt1886", "pq":
			least = 0
		case "log-372":
			least = -0.0075
		}
		form, _ := c.LogForm()
		rapid.Check(t, func(t *rapid.T) {
			x := rapid.Float64Range(least, 60).Draw(t, "x")
			back := c.Decode(c.Encode(x))
			// log-445's overlap is 9·10⁻⁴ of y, worth 1.2·10⁻⁴ of light.
			tolerance := 1e-9*max(0.01, math.Abs(x)) + 0.2*form.Step
			if math.Abs(back-x) > tolerance {
				t.Fatalf("%s: x %.15g → y %.15g → x %.15g", c.ID, x, c.Encode(x), back)
			}
		})
	}
}

func TestDecodeRisesAndIsFinite(t *testing.T) {
	wild := rapid.OneOf(rapid.Float64Range(-0.5, 1.5), rapid.Float64Range(-1e3, 1e3), rapid.Float64())
	for _, c := range everyCurve(t) {
		rapid.Check(t, func(t *rapid.T) {
			a, b := wild.Draw(t, "a"), wild.Draw(t, "b")
			if a > b {
				a, b = b, a
			}
			da, db := c.Decode(a), c.Decode(b)
			if math.IsNaN(da) || math.IsInf(da, 0) || math.IsNaN(db) || math.IsInf(db, 0) {
				t.Fatalf("%s: Decode(%g) = %g, Decode(%g) = %g", c.ID, a, da, b, db)
			}
			if da > db {
				t.Fatalf("%s falls: Decode(%.17g) = %.17g, Decode(%.17g) = %.17g", c.ID, a, da, b, db)
			}
		})
		// Densely about every cut, where pieces could fall.
		previous := math.Inf(-1)
		for i := -20000; i <= 120000; i++ {
			x := c.Decode(float64(i) / 100000)
			if x < previous {
				t.Errorf("%s falls at y = %g", c.ID, float64(i)/100000)
				break
			}
			previous = x
		}
	}
}

// TestEncodeRises: light that grows is recorded no lower, but for the
// published overlaps, which Encode keeps as they are printed.
func TestEncodeRises(t *testing.T) {
	wild := rapid.OneOf(rapid.Float64Range(-0.1, 1), rapid.Float64Range(-100, 1000), rapid.Float64())
	for _, c := range everyCurve(t) {
		form, _ := c.LogForm()
		rapid.Check(t, func(t *rapid.T) {
			a, b := wild.Draw(t, "a"), wild.Draw(t, "b")
			if a > b {
				a, b = b, a
			}
			ea, eb := c.Encode(a), c.Encode(b)
			if math.IsNaN(ea) || math.IsInf(ea, 0) || math.IsNaN(eb) || math.IsInf(eb, 0) {
				t.Fatalf("%s: Encode(%g) = %g, Encode(%g) = %g", c.ID, a, ea, b, eb)
			}
			if ea > eb+form.Step+1e-15 {
				t.Fatalf("%s falls: Encode(%.17g) = %.17g, Encode(%.17g) = %.17g", c.ID, a, ea, b, eb)
			}
		})
	}
}

func TestNotANumber(t *testing.T) {
	for _, c := range everyCurve(t) {
		if y := c.Encode(math.NaN()); !math.IsNaN(y) && c.ID != "bt1886" {
			t.Errorf("%s: Encode(NaN) = %g", c.ID, y)
		}
		if x := c.Decode(math.NaN()); !math.IsNaN(x) && c.ID != "bt1886" {
			t.Errorf("%s: Decode(NaN) = %g", c.ID, x)
		}
		for _, wild := range []float64{math.Inf(1), math.Inf(-1), math.MaxFloat64, -math.MaxFloat64, math.SmallestNonzeroFloat64} {
			if math.IsNaN(c.Encode(wild)) || math.IsNaN(c.Decode(wild)) {
				t.Errorf("%s: %g gives NaN", c.ID, wild)
			}
		}
	}
}

// TestExposureIndices: log-400a's table keeps grey at code 400 for every index.
func TestExposureIndices(t *testing.T) {
	indices := mustCurve("log-400a").ExposureIndices()
	if len(indices) != 11 {
		t.Fatalf("%d exposure indices, expected 11", len(indices))
	}
	white := 0.0
	for _, index := range indices {
		c, err := mustCurve("log-400a").AtExposureIndex(index)
		if err != nil {
			t.Fatal(err)
		}
		if got := float64(c.Code10(Grey)); math.Abs(got-400) > 0.05 {
			t.Errorf("%s: grey at %.3f", c.ID, got)
		}
		if c.Decode(1) < white {
			t.Errorf("%s clips lower than the index before it", c.ID)
		}
		white = c.Decode(1)
		again, err := CurveByID(c.ID)
		if err != nil || again.Encode(0.5) != c.Encode(0.5) {
			t.Errorf("%s can't be found by its own id: %v", c.ID, err)
		}
	}
}

func TestCurveByIDFaults(t *testing.T) {
	for id, hint := range map[string]string{
		"log420":       "log-420",
		"log-42":       "log-4",
		"":             "lampwise curves",
		"log-400a@":    "@800",
		"log-400a@123": "1600",
		"log-420@800":  "log-420 alone",
	} {
		_, err := CurveByID(id)
		f, ok := fault.As(err)
		if !ok || f.Class != fault.Usage || !strings.Contains(f.Hint, hint) {
			t.Errorf("%q: %v, hint %q; expected a usage fault whose hint has %q", id, err, f.Hint, hint)
		}
	}
}

func TestSignalFromE(t *testing.T) {
	camera := mustCurve("log-420")
	slope, offset := camera.SignalFromE(Narrow)
	// 10-bit code 420 of a narrow clip is E′ = (420 − 64)/876.
	if y := slope*(420-64)/876 + offset; math.Abs(y-420.0/1023) > 1e-15 {
		t.Errorf("narrow code 420 gives y = %g", y)
	}
	if slope, offset = camera.SignalFromE(Full); slope != 1 || offset != 0 {
		t.Errorf("full range: y = %g·E + %g", slope, offset)
	}
	for _, r := range []Range{Narrow, Full} {
		if slope, offset = HLG.SignalFromE(r); slope != 1 || offset != 0 {
			t.Errorf("a curve on the signal, %s: y = %g·E + %g", r, slope, offset)
		}
	}
}

func TestNarrowPercent(t *testing.T) {
	// (420 − 64)/876 of the range.
	if got := float64(mustCurve("log-420").NarrowPercent(Grey)); math.Abs(got-40.639269) > 1e-6 {
		t.Errorf("log-420's grey is at %.6f %%", got)
	}
	if got := float64(BT709.NarrowPercent(Grey)); math.Abs(got-40.90077) > 1e-5 {
		t.Errorf("BT.709's grey is at %.6f %%", got)
	}
}

// TestCurveIDs: the ids that grades and metadata hold must not change by
// accident, and a camera's is its grey code.
func TestCurveIDs(t *testing.T) {
	want := "log-420 log-433 log-400a log-285 log-407 log-351a log-351b log-470 log-400b log-372 log-445 log-392 log-341 log-408 log-500 log-347 intermediate-344 acescct acescc bt709 bt1886 srgb hlg pq"
	var got []string
	name := regexp.MustCompile(`^log-(\d{3})[ab]?$`)
	for _, c := range Curves() {
		got = append(got, c.ID)
		if c.Kind != KindCamera {
			continue
		}
		m := name.FindStringSubmatch(c.ID)
		if m == nil {
			t.Errorf("camera curve called %q", c.ID)
			continue
		}
		if code := float64(c.Code10(Grey)); math.Abs(code-atof(m[1])) > 0.501 {
			t.Errorf("%s has its grey at %.2f", c.ID, code)
		}
		for _, g := range c.Gamuts {
			if _, err := GamutByID(g); err != nil {
				t.Errorf("%s: %v", c.ID, err)
			}
		}
	}
	if strings.Join(got, " ") != want {
		t.Errorf("curves are\n%s, expected\n%s", strings.Join(got, " "), want)
	}
}

func atof(s string) float64 {
	v := 0.0
	for _, d := range s {
		v = 10*v + float64(d-'0')
	}
	return v
}

// TestPure: the package reads and runs nothing.
func TestPure(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil || len(files) == 0 {
		t.Fatal("no files", err)
	}
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, forbidden := range []string{`"os"`, `"io"`, `"os/exec"`, `"net`, `"time"`} {
			if strings.Contains(string(text), forbidden) {
				t.Errorf("%s imports %s", name, forbidden)
			}
		}
	}
}

func BenchmarkEncode(b *testing.B) { benchmarkCurves(b, (*Curve).Encode) }
func BenchmarkDecode(b *testing.B) { benchmarkCurves(b, (*Curve).Decode) }

func benchmarkCurves(b *testing.B, f func(*Curve, float64) float64) {
	for _, id := range []string{"log-420", "log-407", "log-372", "bt1886", "srgb", "pq"} {
		c := mustCurve(id)
		b.Run(id, func(b *testing.B) {
			v, sum := 0.0, 0.0
			for b.Loop() {
				v += 0.001
				if v > 1 {
					v = 0
				}
				sum += f(c, v)
			}
			if sum == 0 {
				b.Fatal("nothing computed")
			}
		})
	}
}
