package gauge

import (
	"math"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
	"lampwise/internal/unit"
)

// Made by colour-science 0.4 (contrast_sensitivity_function_Barten1999, the
// example that reproduces figure 31 of Report BT.2246-4 at ten luminances from
// 0.01 to 100 cd/m²), which prints seven places.
var bt2246 = []float64{0.0207396, 0.0133019, 0.0089256, 0.0064202, 0.0050275, 0.0041933, 0.0035573, 0.0030095, 0.0025803, 0.0022897}

func TestJustNoticeableStepsOfBT2246(t *testing.T) {
	for i, want := range bt2246 {
		l := math.Pow(10, -2+4*float64(i)/9)
		if got := minimumContrast(l); math.Abs(got-want) > 2e-7 {
			t.Errorf("%.4g cd/m²: %.7f, want %.7f", l, got, want)
		}
		// The table is interpolated in logarithms.
		if got := JustNoticeable(unit.CandelaPerSquareMetre(l)); math.Abs(got/want-1) > 1e-3 {
			t.Errorf("%.4g cd/m², by table: %.7f, want %.7f", l, got, want)
		}
	}
	// The library's other printed value: S at 4 cycles a degree, 60° and
	// 20 cd/m² with a pupil of 2.1 mm is 360.869; here the pupil follows the light.
	if s := contrastSensitivity(4, 20); s < 300 || s > 400 {
		t.Errorf("S(4, 20) = %g", s)
	}
	last := math.Inf(1)
	for x := -5.0; x < 5; x += 0.01 {
		c := JustNoticeable(unit.CandelaPerSquareMetre(math.Pow(10, x)))
		if c > last+1e-12 || !(c > 0) {
			t.Fatalf("at 10^%.2f cd/m² the threshold rises to %g", x, c)
		}
		last = c
	}
}

func TestVisibleStepsOfAReferenceDisplay(t *testing.T) {
	d := colour.Display1886{White: 100, Black: 0.01}
	most := map[int]float64{}
	for _, bits := range []int{8, 10, 12} {
		screen := func(code int) unit.CandelaPerSquareMetre {
			return unit.CandelaPerSquareMetre(d.EOTF(colour.Narrow.LumaFromCode(float64(code), bits)))
		}
		k := 1 << (bits - 8)
		for _, s := range VisibleSteps(16*k, 235*k, screen) {
			if s.Luminance > 1 {
				most[bits] = max(most[bits], s.JND)
			}
		}
	}
	// A power law's step is 2.4/(876·(E′ + b)) of the light at 10 bits, b the
	// display's lift: four times that at 8, a quarter at 12. Above 1 cd/m²
	// eight bits show, twelve don't.
	lw, lb := math.Pow(d.White, 1/2.4), math.Pow(d.Black, 1/2.4)
	e := d.InverseEOTF(1) + lb/(lw-lb)
	if want := 2.4 / (876 * e) / JustNoticeable(1); math.Abs(most[10]/want-1) > 0.03 {
		t.Errorf("10 bits at 1 cd/m²: %.3f just noticeable steps, by hand %.3f", most[10], want)
	}
	if !(most[8] > 3 && most[12] < 1) || math.Abs(most[8]/most[10]-4) > 0.4 || math.Abs(most[10]/most[12]-4) > 0.2 {
		t.Errorf("largest steps %v", most)
	}
	t.Logf("largest steps above 1 cd/m² in just noticeable ones: %v", most)
	if StepVisibility(0, 0) != 0 || StepVisibility(5, 5) != 0 {
		t.Error("no step is visible")
	}
}

func TestBandingRiskOfSmoothArea(t *testing.T) {
	area := []float64{0.1, 0.2, 0.3, 0}
	jnd := []float64{2, 2, 0.5, 9}
	if got := BandingRisk(area, jnd, []float64{0, 0, 0, 0}); math.Abs(got-0.5) > 1e-12 {
		t.Errorf("%g", got)
	}
	if got := BandingRisk(area, jnd, []float64{0.6, 0, 0, 0}); math.Abs(got-1.0/3) > 1e-12 {
		t.Errorf("dithered: %g", got)
	}
	if got := BandingRisk(nil, nil, nil); got != 0 {
		t.Errorf("nothing: %g", got)
	}
}

func TestNoiseThroughAFunctionAgainstTrials(t *testing.T) {
	weights := [3]float64{0.2126, 0.7152, 0.0722}
	r := newRand(55)
	for name, f := range map[string]func(c [3]float64) [3]float64{
		"matrix and power": func(c [3]float64) [3]float64 {
			c = colour.Mat3{{1.6, -0.5, -0.1}, {-0.2, 1.4, -0.2}, {0.05, -0.4, 1.35}}.Apply(c)
			for i := range c {
				c[i] = math.Pow(max(c[i], 0), 1/2.4)
			}
			return c
		},
		"identity": func(c [3]float64) [3]float64 { return c },
		"flat":     func([3]float64) [3]float64 { return [3]float64{0.5, 0.5, 0.5} },
	} {
		at, sigma := [3]float64{0.4, 0.35, 0.3}, [3]float64{0.01, 0.006, 0.012}
		got := PassNoise(f, at, sigma, weights, 1e-6)
		const n = 60000
		var sum, square [4]float64
		for range n {
			c := at
			for i := range c {
				c[i] += sigma[i] * r.NormFloat64()
			}
			o := f(c)
			v := [4]float64{o[0], o[1], o[2], weights[0]*o[0] + weights[1]*o[1] + weights[2]*o[2]}
			for i, x := range v {
				sum[i] += x
				square[i] += x * x
			}
		}
		want := [4]float64{got.Sigma[0], got.Sigma[1], got.Sigma[2], got.Luma}
		for i := range want {
			m := sum[i] / n
			sd := math.Sqrt(max(0, square[i]/n-m*m))
			// A standard deviation of n trials errs by 1/√(2n); four of these, and rounding.
			if math.Abs(sd-want[i]) > 4*sd/math.Sqrt(2*n)+0.005*sd+1e-7 {
				t.Errorf("%s, %d: %.6f, %d trials %.6f", name, i, want[i], n, sd)
			}
		}
	}
	twice := PassNoise(func(c [3]float64) [3]float64 { return [3]float64{4 * c[0], 4 * c[1], 4 * c[2]} }, [3]float64{}, [3]float64{1, 1, 1}, weights, 1e-6)
	once := PassNoise(func(c [3]float64) [3]float64 { return c }, [3]float64{}, [3]float64{1, 1, 1}, weights, 1e-6)
	if cost, ok := NoiseCost(twice, once); !ok || math.Abs(float64(cost)-2) > 1e-9 {
		t.Errorf("four times the noise costs %v stops", cost)
	}
	if _, ok := NoiseCost(OutputNoise{}, once); ok {
		t.Error("no noise has a cost")
	}
}

func TestSmoothAreaByLevel(t *testing.T) {
	f := picture.NewFrame(format709)
	r := newRand(66)
	for i := range f.Y {
		x := i % f.Width
		switch {
		case x < 80: // a wall that shades off slowly, with noise
			f.Y[i] = uint16(400 + x/4 + r.IntN(5))
		default: // a pegboard
			f.Y[i] = uint16(200 + 300*((x/6+i/f.Width/6)%2))
		}
	}
	var s Smooth
	var v Viewer
	s.Add(v.Look(f))
	got := s.Result()
	if math.Abs(got.Share-0.5) > 0.05 {
		t.Errorf("%.2f of the picture is smooth, want 0.5", got.Share)
	}
	in := 0.0
	for i := 400 * smoothLevels / 1024; i <= 424*smoothLevels/1024; i++ {
		in += got.Area[i]
	}
	if math.Abs(in-got.Share) > 1e-9 {
		t.Errorf("at the wall's levels %.3f of %.3f", in, got.Share)
	}
}
