package unit

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

func TestStops(t *testing.T) {
	if f := Stop(3).Factor(); f != 8 {
		t.Errorf("3 stops are × %g", f)
	}
	if s := StopsOf(0.25); s != -2 {
		t.Errorf("a quarter is %g stops", float64(s))
	}
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.Float64Range(-20, 20).Draw(t, "s")
		if back := float64(StopsOf(Stop(s).Factor())); math.Abs(back-s) > 1e-12 {
			t.Fatalf("%g comes back %g", s, back)
		}
	})
}

// TestMired holds shifts to the check values mired.csv: exact arithmetic to its
// printed digits; conversion filters' nominal shifts within 1.5 mired.
func TestMired(t *testing.T) {
	dir := os.Getenv("LAMPWISE_TRUTH")
	if dir == "" {
		dir = filepath.Join("..", "..", "..", "shared", "truth")
	}
	f, err := os.Open(filepath.Join(dir, "mired.csv"))
	if err != nil {
		t.Skip("mired.csv is not here; set LAMPWISE_TRUTH to the folder of check values")
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) < 34 {
		t.Fatalf("mired.csv has %d rows", len(rows))
	}
	for _, row := range rows[1:] {
		number := func(i int) float64 {
			v, err := strconv.ParseFloat(row[i], 64)
			if err != nil {
				t.Fatal(err)
			}
			return v
		}
		from, to, exact := Kelvin(number(2)), Kelvin(number(3)), number(5)
		shift := float64(from.ShiftTo(to))
		// The rows "result of shift" print the temperature to 0.01 K.
		if math.Abs(shift-exact) > 1.1e-3 {
			t.Errorf("%v: %.4f mired", row, shift)
		}
		if back := float64(from.Shifted(Mired(exact))); math.Abs(back-float64(to)) > 0.1 {
			t.Errorf("%v: shifted to %.2f K", row, back)
		}
		if row[4] != "" && math.Abs(shift-number(4)) > 1.5 {
			t.Errorf("%v: %.2f mired, nominal %s", row, shift, row[4])
		}
	}
}

func TestLight(t *testing.T) {
	// 1000 cd at 2 m: 250 lx; a grey card there has 250·0.18/π cd/m².
	e := Candela(1000).Illuminance(2)
	if e != 250 {
		t.Errorf("%g lx", float64(e))
	}
	if l := float64(e.Luminance(0.18)); math.Abs(l-14.3239) > 1e-4 {
		t.Errorf("%g cd/m²", l)
	}
}

func TestSmall(t *testing.T) {
	for name, pair := range map[string][2]float64{
		"mm":      {float64(Metre(1.5).Millimetre()), 1500},
		"m":       {float64(Millimetre(35).Metre()), 0.035},
		"radian":  {float64(Degree(180).Radian()), math.Pi},
		"degree":  {float64(Radian(math.Pi / 2).Degree()), 90},
		"period":  {float64(Hertz(50).Period()), 0.02},
		"hertz":   {float64(Second(0.02).Hertz()), 50},
		"ampere":  {float64(Watt(230).Ampere(230, 0.5)), 2},
		"percent": {Percent(18).Fraction(), 0.18},
		"mired":   {float64(Kelvin(5000).Mired()), 200},
		"kelvin":  {float64(Mired(200).Kelvin()), 5000},
	} {
		if pair[0] != pair[1] {
			t.Errorf("%s: %g, expected %g", name, pair[0], pair[1])
		}
	}
}
