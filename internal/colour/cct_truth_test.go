package colour

import (
	"math"
	"testing"

	"lampwise/internal/unit"
)

// TestObserverSums holds the typed table to the sums that CIE 15:2004 prints
// under its table T.4, which has the same functions rounded to six places
// from 380 to 780 nm.
func TestObserverSums(t *testing.T) {
	var sum XYZ
	for _, bar := range observer[4:] {
		for k := range sum {
			sum[k] += math.Round(bar[k]*1e6) / 1e6
		}
	}
	for k, want := range (XYZ{21.371524, 21.371327, 21.371540}) {
		if math.Abs(sum[k]-want) > 1e-9 {
			t.Errorf("column %d sums to %.6f, printed is %.6f", k, sum[k], want)
		}
	}
}

// TestLocus: planckian_locus.csv was computed by a reference library from the
// same observer at 1 nm; 5 nm steps and its six digits explain 3·10⁻⁶. At
// 1000 K light still rises where the sum ends (780 nm), and 5 nm weigh that
// end more: 10⁻⁵ there, 0.03 K.
func TestLocus(t *testing.T) {
	rows := truthCSV(t, "planckian_locus.csv")
	worst := 0.0
	for _, r := range rows {
		k, duv := number(t, r["T"]), number(t, r["duv"])
		got, want := XYFromCCT(unit.Kelvin(k), duv), XY{number(t, r["x"]), number(t, r["y"])}
		u := got.uv()
		tolerance := 3e-6
		if k < 1500 {
			tolerance = 1e-5
		}
		for _, d := range []float64{got.X - want.X, got.Y - want.Y, u.u - number(t, r["u"]), u.v - number(t, r["v"])} {
			worst = max(worst, math.Abs(d))
			if math.Abs(d) > tolerance {
				t.Errorf("%g K, Duv %g: x, y %.6f, %.6f u, v %.6f, %.6f; expected %v %v %v %v", k, duv, got.X, got.Y, u.u, u.v, r["x"], r["y"], r["u"], r["v"])
				break
			}
		}
		gotK, gotDuv, err := CCT(want)
		if err != nil {
			t.Errorf("%g K, Duv %g: %v", k, duv, err)
			continue
		}
		// Six digits of x, y are worth this many mired and Duv.
		if math.Abs(float64(gotK.Mired()-unit.Kelvin(k).Mired())) > 0.03 || math.Abs(gotDuv-duv) > 2e-6 {
			t.Errorf("%g K, Duv %g comes back as %.2f K, %.6f", k, duv, float64(gotK), gotDuv)
		}
	}
	t.Logf("%d points, largest difference %.1e", len(rows), worst)
}

// TestIlluminants: published temperatures are rounded (and FL ones nominal):
// 10 K and 2·10⁻⁴; the reference library's own results are met to 1 K and 10⁻⁵
// (their last printed digit is 0.1 K and 10⁻⁵).
func TestIlluminants(t *testing.T) {
	rows := truthCSV(t, "illuminants_cct.csv")
	if len(rows) != 28 {
		t.Fatalf("%d illuminants, expected 28", len(rows))
	}
	worst, worstDuv := 0.0, 0.0
	for _, r := range rows {
		k, duv, err := CCT(XY{number(t, r["x"]), number(t, r["y"])})
		if err != nil {
			t.Errorf("%s: %v", r["illuminant"], err)
			continue
		}
		if d := math.Abs(float64(k) - number(t, r["cct_cie"])); d > 10 {
			t.Errorf("%s: %.1f K, published %s", r["illuminant"], float64(k), r["cct_cie"])
		}
		d, dd := math.Abs(float64(k)-number(t, r["cct_calc"])), math.Abs(duv-number(t, r["duv_calc"]))
		worst, worstDuv = max(worst, d), max(worstDuv, dd)
		if d > 1 || dd > 1.5e-5 {
			t.Errorf("%s: %.1f K, Duv %.5f; reference library %s, %s", r["illuminant"], float64(k), duv, r["cct_calc"], r["duv_calc"])
		}
	}
	t.Logf("largest difference from the reference library %.2f K, Duv %.1e", worst, worstDuv)
}

// TestLampWhites: ANSI C78.377's nominal points. Their x, y have four digits.
func TestLampWhites(t *testing.T) {
	rows := truthCSV(t, "ansi_c78_377.csv")
	if len(rows) != 8 {
		t.Fatalf("%d nominal points, expected 8", len(rows))
	}
	for _, r := range rows {
		k, duv, err := CCT(XY{number(t, r["x"]), number(t, r["y"])})
		if err != nil {
			t.Errorf("%s: %v", r["nominal"], err)
			continue
		}
		if math.Abs(float64(k)-number(t, r["cct_target"])) > 3 || math.Abs(duv-number(t, r["duv_target"])) > 1e-4 {
			t.Errorf("%s: %.1f K, Duv %.5f; target %s, %s", r["nominal"], float64(k), duv, r["cct_target"], r["duv_target"])
		}
		if math.Abs(float64(k)-number(t, r["cct_calc"])) > 0.6 || math.Abs(duv-number(t, r["duv_calc"])) > 1.5e-5 {
			t.Errorf("%s: %.1f K, Duv %.5f; reference library %s, %s", r["nominal"], float64(k), duv, r["cct_calc"], r["duv_calc"])
		}
	}
}
