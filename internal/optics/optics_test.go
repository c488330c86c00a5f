package optics

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"lampwise/internal/unit"

	"pgregory.net/rapid"
)

// table reads the rows of numbers of one of the published tables; rows under a
// comment that holds head belong to that part ("" = the first part).
func table(t *testing.T, name, part string) [][]string {
	t.Helper()
	dir := os.Getenv("LAMPWISE_TRUTH")
	if dir == "" {
		dir = filepath.Join("..", "..", "..", "shared", "truth")
	}
	data, err := os.ReadFile(filepath.Join(dir, name))
	if err != nil {
		t.Skipf("%s is not here; set LAMPWISE_TRUTH to the folder of check values", name)
	}
	text := string(data)
	if part != "" {
		_, after, ok := strings.Cut(text, part)
		if !ok {
			t.Fatalf("%s has no part %q", name, part)
		}
		text = after
	}
	var rows [][]string
	for _, line := range strings.Split(text, "\n") {
		if strings.HasPrefix(line, "#") && len(rows) > 0 {
			break // the next part
		}
		if line == "" || line[0] == '#' {
			continue
		}
		r, err := csv.NewReader(strings.NewReader(line)).Read()
		if err != nil {
			t.Fatal(err)
		}
		rows = append(rows, r)
	}
	return rows
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// halfDigit is half of the last printed digit of the tables' distances.
const halfDigit = 0.5e-4

func TestDepthOfFieldTables(t *testing.T) {
	rows := table(t, "optics.csv", "")
	seen := 0
	for _, r := range rows[1:] {
		f, n, c, s := unit.Millimetre(number(t, r[0])), number(t, r[1]), unit.Millimetre(number(t, r[2])), unit.Metre(number(t, r[3]))
		d := DepthOfField(f, n, c, s)
		for i, got := range []unit.Metre{Hyperfocal(f, n, c), d.Near, d.Far, d.Total()} {
			// The hyperfocal distance is printed to a millimetre; a far limit near the
			// hyperfocal distance is large, so it's held to by its digits.
			tol := halfDigit * 1.02
			if i == 0 {
				tol = 0.5e-3 * 1.02
			}
			if want := number(t, r[4+i]); math.Abs(float64(got)-want) > tol {
				t.Errorf("%v: value %d is %.5f", r, i, float64(got))
			}
		}
		seen++
	}
	if seen < 14 {
		t.Errorf("%d rows of depth of field", seen)
	}
}

func TestAngleOfViewTables(t *testing.T) {
	seen := 0
	for _, r := range table(t, "optics.csv", "# angle of view") {
		f := unit.Millimetre(number(t, r[3]))
		s := Sensor{unit.Millimetre(number(t, r[1])), unit.Millimetre(number(t, r[2]))}
		for i, across := range []unit.Millimetre{s.Width, s.Height, s.Diagonal()} {
			if got, want := float64(AngleOfView(across, f)), number(t, r[4+i]); math.Abs(got-want) > 0.5e-3*1.02 {
				t.Errorf("%v: %.4f°, not %g°", r, got, want)
			}
		}
		seen++
	}
	if seen < 10 {
		t.Errorf("%d rows of angle of view", seen)
	}
}

// sixDigits is half a unit of the sixth digit, to which the table prints.
const sixDigits = 5e-6

func TestExposureTables(t *testing.T) {
	for _, r := range table(t, "exposure.csv", "")[1:] {
		ev := number(t, r[0])
		// Any settings of that exposure value: f/1 for 2^-EV s at 100.
		s := Settings{N: 1, Time: unit.Second(math.Exp2(-ev)), S: 100}
		for i, got := range []float64{float64(s.Lux(FlatC)), float64(s.Lux(HemisphereC)), float64(s.Luminance(ReflectedK)), float64(s.Luminance(14))} {
			if want := number(t, r[1+i]); math.Abs(got/want-1) > sixDigits {
				t.Errorf("%v: value %d is %g", r, i, got)
			}
		}
		if math.Abs(s.EV100()-ev) > 1e-12 {
			t.Errorf("EV %g comes back %g", ev, s.EV100())
		}
	}
}

// Worked values of ISO 2720's forms, as printed in the handbooks that
// photometry-examples.json lists.
func TestExposureExamples(t *testing.T) {
	s := Settings{N: 2.8, Time: 0.02, S: 800}
	for name, pair := range map[string][2]float64{
		"lux for f/2.8, 1/50 s, ISO 800, flat":       {float64(s.GreyLux()), 122.5},
		"the same, hemisphere":                       {float64(s.Lux(HemisphereC)), 166.6},
		"the same, reflected":                        {float64(s.Luminance(ReflectedK)), 6.125},
		"grey implied by K 12.5, C 250":              {ImpliedGrey(ReflectedK, FlatC), 0.15707963267948966},
		"180° at 25/s":                               {float64(ShutterTime(180, 25)), 0.02},
		"ND 0.9":                                     {float64(StopsOfDensity(0.9)), 2.989735285398626},
		"EV100 of f/8, 1/250 s, ISO 400":             {(Settings{N: 8, Time: 0.004, S: 400}).EV100(), 11.9657842},
		"luminance for f/8, 1 s, ISO 100":            {float64(Settings{N: 8, Time: 1, S: 100}.Luminance(12.5)), 8},
		"illuminance for f/8, 1 s, ISO 100":          {float64(Settings{N: 8, Time: 1, S: 100}.Lux(250)), 160},
		"angle of 1/50 s at 25/s":                    {float64(ShutterAngle(0.02, 25)), 180},
		"24/s safe at 50 Hz: second time's angle":    {float64(SafeTimes(50, 24)[1].Angle), 172.8},
		"f-number for four times the light":          {s.FNumberFor(4 * s.GreyLux()), 5.6},
		"grey card under the grey light":             {float64(s.Stops(s.GreyLux(), GreyCard)), 0},
		"white of 72 % under it":                     {float64(s.Stops(s.GreyLux(), 0.72)), 2},
		"ND of 3 stops takes 3 stops":                {float64(Settings{N: 2.8, Time: 0.02, S: 800, Density: DensityOf(3)}.Stops(122.5, GreyCard)), -3},
		"a lens of half the light: T 4 from f/2.828": {TStop(4/math.Sqrt2, 0.5), 4},
	} {
		if math.Abs(pair[0]-pair[1]) > 1e-7*math.Max(1, math.Abs(pair[1])) {
			t.Errorf("%s: %.9g, expected %.9g", name, pair[0], pair[1])
		}
	}
	// The pair of constants reads 0.20 stop under an 18 % card.
	if gap := math.Log2(ImpliedGrey(ReflectedK, FlatC) / GreyCard); math.Abs(gap+0.1965) > 1e-4 {
		t.Errorf("implied grey is %.4f stop from 18 %%", gap)
	}
	for _, k := range []float64{ReflectedK} {
		if k < LeastK || k > MostK {
			t.Errorf("K = %g is outside ISO 2720's range", k)
		}
	}
	if FlatC < LeastFlatC || FlatC > MostFlatC || HemisphereC < LeastHemisphereC || HemisphereC > MostHemisphereC {
		t.Error("C is outside ISO 2720's ranges")
	}
}

// A blurred point at a limit of the depth of field is as wide as the circle.
func TestBlurAtTheLimits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := unit.Millimetre(rapid.Float64Range(8, 200).Draw(t, "f"))
		n := rapid.Float64Range(1, 22).Draw(t, "N")
		c := unit.Millimetre(rapid.Float64Range(0.002, 0.05).Draw(t, "c"))
		s := unit.Metre(rapid.Float64Range(0.5, 20).Draw(t, "s"))
		d := DepthOfField(f, n, c, s)
		if !(d.Near < s && s < d.Far) {
			t.Fatalf("%g m is not between %g and %g", s, d.Near, d.Far)
		}
		for _, limit := range []unit.Metre{d.Near, d.Far} {
			if b := BlurDisc(f, n, s, limit); s < Hyperfocal(f, n, c)*0.999 && math.Abs(float64(b/c)-1) > 1e-6 {
				t.Fatalf("blur at %g m is %g mm, the circle %g mm", limit, b, c)
			}
		}
		// Framing at the focused distance, told two ways.
		a, b := Framed(36, f, s), SeenAt(36, f, s, s)
		if math.Abs(float64(a/b)-1) > 1e-9 {
			t.Fatalf("framed %g m and %g m", a, b)
		}
	})
}

// Exposures of a raised sine, summed by brute force, differ as Ripple says.
func TestRippleAgainstSums(t *testing.T) {
	for _, exposure := range []float64{0.02, 0.01, 1.0 / 48, 1.0 / 60, 0.004, 0.0005} {
		least, most := math.Inf(1), 0.0
		const starts, steps = 400, 4000
		for i := range starts {
			sum := 0.0
			for k := range steps {
				at := float64(i)/starts*0.01 + (float64(k)+0.5)/steps*exposure
				sum += 1 + math.Cos(2*math.Pi*100*at)
			}
			least, most = math.Min(least, sum), math.Max(most, sum)
		}
		want := math.Log2(most / least)
		if got := float64(Ripple(unit.Second(exposure), 50)); math.Abs(got-want) > 1e-3*math.Max(1, want) {
			t.Errorf("%g s: %.4f stop, summed %.4f", exposure, got, want)
		}
	}
}

func TestSafeTimes(t *testing.T) {
	angles := func(mains, rate unit.Hertz) string {
		var out []string
		for _, s := range SafeTimes(mains, rate) {
			out = append(out, strconv.FormatFloat(float64(s.Angle), 'f', 1, 64))
		}
		return strings.Join(out, " ")
	}
	for _, c := range []struct {
		mains, rate unit.Hertz
		want        string
	}{
		{50, 25, "90.0 180.0 270.0 360.0"},
		{50, 24, "86.4 172.8 259.2 345.6"},
		{60, 24, "72.0 144.0 216.0 288.0 360.0"},
		{60, 30, "90.0 180.0 270.0 360.0"},
		{50, 50, "180.0 360.0"},
		{50, 120, ""},
	} {
		if got := angles(c.mains, c.rate); got != c.want {
			t.Errorf("%g Hz, %g/s: %s", c.mains, c.rate, got)
		}
	}
	if _, ok := NearestSafe(0.001, 50, 120); ok {
		t.Error("a safe time longer than the frame")
	}
	if s, ok := NearestSafe(1.0/48, 50, 24); !ok || s.Pulses != 2 {
		t.Errorf("1/48 s at 50 Hz: %+v", s)
	}
}

func TestNonsenseIsNaN(t *testing.T) {
	if d := DepthOfField(50, 2.8, 0.02, 0.04); !math.IsNaN(float64(d.Near)) {
		t.Errorf("nearer than the focal length: %+v", d)
	}
	if b := BlurDisc(50, 2.8, 0.04, 1); !math.IsNaN(float64(b)) {
		t.Errorf("blur %g", float64(b))
	}
	if w := Framed(36, 50, 0.05); !math.IsNaN(float64(w)) {
		t.Errorf("framed %g", float64(w))
	}
	if b := BlurDisc(50, 2, 2, unit.Metre(math.Inf(1))); math.Abs(float64(b)-50.0*50/2/1950) > 1e-12 {
		t.Errorf("blur of infinity %g mm", float64(b))
	}
}
