package colour

import (
	"errors"
	"math"
	"testing"

	"lampwise/internal/unit"

	"pgregory.net/rapid"
)

// TestCCTRoundTrip: out and back over the whole range. The foot is solved to
// 10⁻¹² of ln T; what is lost is rounding in u, v, which is worth more the
// hotter the source (1 mired is 3·10⁻⁵ of u, v at 100 000 K).
func TestCCTRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := rapid.Float64Range(10.001, 999.9).Draw(t, "mired")
		duv := rapid.Float64Range(-0.0499, 0.0499).Draw(t, "duv")
		k := unit.Mired(m).Kelvin()
		if curvature := 1 / locusRadius(float64(k)); duv*curvature > 0.9 || duv*curvature < -0.9 {
			t.Skip("nearer the centre of the locus's own curve than the locus: no single foot")
		}
		gotK, gotDuv, err := CCT(XYFromCCT(k, duv))
		if err != nil {
			t.Fatalf("%.1f K, Duv %.4f: %v", float64(k), duv, err)
		}
		if d := math.Abs(float64(gotK.Mired()) - m); d > 1e-6*m {
			t.Fatalf("%.1f mired, Duv %.4f comes back %.2g mired off", m, duv, d)
		}
		if math.Abs(gotDuv-duv) > 1e-9 {
			t.Fatalf("%.1f mired, Duv %.6f comes back with Duv %.9f", m, duv, gotDuv)
		}
	})
}

// locusRadius is the locus's radius of curvature at t K, by differences.
func locusRadius(t float64) float64 {
	const h = 1e-4
	a, ta := locus(t * (1 - h))
	b, tb := locus(t * (1 + h))
	turn := math.Atan2(tb.v, tb.u) - math.Atan2(ta.v, ta.u)
	turn = math.Mod(turn+3*math.Pi, 2*math.Pi) - math.Pi
	return math.Hypot(b.u-a.u, b.v-a.v) / math.Abs(turn)
}

// TestCCTAgainstOhno judges the solved foot by Ohno's own combined method
// (2013, written out from memory) on his 1 % table: 1 K, and
// 2·10⁻⁵ of Duv, from 2000 to 10 000 K, |Duv| ≤ 0.03. His paper claims 1 K for
// 2600 to 7000 K.
func TestCCTAgainstOhno(t *testing.T) {
	worst := 0.0
	for k := 2000.0; k <= 10000; k *= 1.013 {
		for duv := -0.03; duv <= 0.0301; duv += 0.005 {
			c := XYFromCCT(unit.Kelvin(k), duv)
			gotK, gotDuv, err := CCT(c)
			if err != nil {
				t.Fatalf("%.0f K, Duv %.3f: %v", k, duv, err)
			}
			ohnoK, ohnoDuv := ohnoCombined(c)
			d := math.Abs(float64(gotK) - ohnoK)
			if k <= 7000 {
				worst = max(worst, d)
			}
			limit := 1.0
			if k > 7000 {
				limit = 3
			}
			if d > limit || math.Abs(gotDuv-ohnoDuv) > 2e-5 {
				t.Errorf("%.0f K, Duv %.3f: %.2f K %.6f, combined method %.2f K %.6f", k, duv, float64(gotK), gotDuv, ohnoK, ohnoDuv)
			}
		}
	}
	t.Logf("largest difference up to 7000 K: %.2f K", worst)
}

func ohnoCombined(c XY) (k, duv float64) {
	p := c.uv()
	table := locusTable()
	m, least := 0, math.Inf(1)
	distance := func(i int) float64 { return math.Hypot(table[i].at.u-p.u, table[i].at.v-p.v) }
	for i := range table {
		if d := distance(i); d < least {
			m, least = i, d
		}
	}
	t0, t1, t2 := table[m-1].t, table[m].t, table[m+1].t
	d0, d1, d2 := distance(m-1), distance(m), distance(m+1)
	a, b := table[m-1].at, table[m+1].at
	l := math.Hypot(b.u-a.u, b.v-a.v)
	x := (d0*d0 - d2*d2 + l*l) / (2 * l)
	k = (t0 + (t2-t0)*x/l) * 0.99991
	sign := math.Copysign(1, p.v-(a.v+(b.v-a.v)*x/l))
	duv = sign * math.Sqrt(max(0, d0*d0-x*x))
	if math.Abs(duv) < 0.002 {
		return k, duv
	}
	den := (t2 - t1) * (t0 - t2) * (t1 - t0)
	qa := (t0*(d2-d1) + t1*(d0-d2) + t2*(d1-d0)) / den
	qb := -(t0*t0*(d2-d1) + t1*t1*(d0-d2) + t2*t2*(d1-d0)) / den
	qc := -(d0*(t2-t1)*t1*t2 + d1*(t0-t2)*t0*t2 + d2*(t1-t0)*t0*t1) / den
	k = -qb / (2 * qa)
	return k, sign * (qa*k*k + qb*k + qc)
}

// TestDaylight: the CIE's own illuminants come out of the daylight formula
// at their temperatures × 1.4388/1.4380 (the constant changed after they
// were fixed; CIE 15, from memory). Their printed x, y are those of
// their spectra, which miss the formula by up to 1.3·10⁻⁴ in y.
func TestDaylight(t *testing.T) {
	for _, want := range []struct {
		nominal unit.Kelvin
		at      XY
	}{
		{5000, XY{0.34570, 0.35850}},
		{5500, XY{0.33243, 0.34744}},
		{6500, XY{0.3127, 0.3290}},
		{7500, XY{0.29903, 0.31488}},
	} {
		got := Daylight(want.nominal * 1.4388 / 1.4380)
		if math.Abs(got.X-want.at.X) > 5e-5 || math.Abs(got.Y-want.at.Y) > 1.5e-4 {
			t.Errorf("daylight of %.0f K: %.5f, %.5f; expected %v", float64(want.nominal), got.X, got.Y, want.at)
		}
	}
}

// TestDaylightRunsOn: beyond the CIE's limits the locus goes on without a jump.
func TestDaylightRunsOn(t *testing.T) {
	for _, end := range []unit.Kelvin{daylightLowest, daylightHighest} {
		a, b := Daylight(end*(1-1e-9)), Daylight(end*(1+1e-9))
		if math.Hypot(a.X-b.X, a.Y-b.Y) > 1e-7 {
			t.Errorf("daylight jumps at %.0f K from %v to %v", float64(end), a, b)
		}
	}
	for k := unit.Kelvin(1200); k < 90000; k *= 1.05 {
		if got, _, err := CCT(Daylight(k)); err != nil || math.Abs(float64(got.Mired()-k.Mired())) > 3.5 {
			t.Errorf("daylight of %.0f K reads %.0f K (%v)", float64(k), float64(got), err)
		}
	}
}

func TestNoCCT(t *testing.T) {
	for _, c := range []struct {
		name     string
		at       XY
		hue      [2]float64 // degrees, a wide bracket round what the eye calls it
		least    float64    // purity
		dominant [2]float64
	}{
		{"cyan tube", XY{0.17, 0.33}, [2]float64{160, 210}, 0.4, [2]float64{485, 495}},
		{"red tail lamp", XY{0.69, 0.30}, [2]float64{0, 25}, 0.9, [2]float64{615, 640}},
		{"green", XY{0.3, 0.6}, [2]float64{120, 140}, 0.6, [2]float64{540, 555}},
		{"magenta", XY{0.32, 0.15}, [2]float64{290, 330}, 0.5, [2]float64{-570, -530}},
		{"deep blue", XY{0.15, 0.06}, [2]float64{250, 275}, 0.9, [2]float64{460, 470}},
	} {
		_, _, err := CCT(c.at)
		var e *NoCCTError
		if !errors.As(err, &e) {
			t.Errorf("%s has a colour temperature: %v", c.name, err)
			continue
		}
		if h := float64(e.Hue); h < c.hue[0] || h > c.hue[1] {
			t.Errorf("%s: hue %.1f, expected %v", c.name, h, c.hue)
		}
		if e.Purity < c.least || e.Purity > 1.001 {
			t.Errorf("%s: purity %.3f, expected %.1f to 1", c.name, e.Purity, c.least)
		}
		if d := float64(e.Dominant); d < c.dominant[0] || d > c.dominant[1] {
			t.Errorf("%s: dominant wavelength %.1f, expected %v", c.name, d, c.dominant)
		}
		if e.Error() == "" {
			t.Errorf("%s: nothing is said", c.name)
		}
	}
	for _, c := range []XY{{}, {0.3, 0}, {math.NaN(), 0.3}, {0.3, math.Inf(1)}, {0.3, -0.1}} {
		if _, _, err := CCT(c); err == nil {
			t.Errorf("%v has a colour temperature", c)
		}
	}
}

// TestDuvEdge: the refusal begins at |Duv| 0.05 and nowhere else.
func TestDuvEdge(t *testing.T) {
	for _, duv := range []float64{-0.0501, -0.0499, 0.0499, 0.0501} {
		_, _, err := CCT(XYFromCCT(4000, duv))
		if refused := err != nil; refused != (math.Abs(duv) > DuvLargest) {
			t.Errorf("Duv %.4f: %v", duv, err)
		}
	}
}

// TestTintOnTheLocus: a spectrum colour has purity 1 and its own wavelength.
func TestTintOnTheLocus(t *testing.T) {
	for w := unit.Nanometre(450); w <= 650; w += 5 {
		tint := TintOf(Observer(w).XY())
		if math.Abs(tint.Purity-1) > 1e-9 || math.Abs(float64(tint.Dominant-w)) > 1e-6 {
			t.Errorf("%.0f nm: purity %.6f, dominant %.3f", float64(w), tint.Purity, float64(tint.Dominant))
		}
	}
	if tint := TintOf(D65); tint != (Tint{}) {
		t.Errorf("white has tint %+v", tint)
	}
}
