package grade

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// bruteForce finds the least Σ w/s² over all slopes on a lattice of step unit
// between the limits whose sum is right, by dynamic programming over bins and
// sums: slow, obvious, exact on its lattice.
func bruteForce(w []float64, least, most, unit float64) float64 {
	lo, hi := int(math.Round(least/unit)), int(math.Round(most/unit))
	total := int(math.Round(float64(len(w)) / unit))
	best := map[int]float64{0: 0}
	for _, x := range w {
		next := map[int]float64{}
		for sum, loss := range best {
			for k := lo; k <= hi && sum+k <= total; k++ {
				s := float64(k) * unit
				l := loss + x/(s*s)
				if old, ok := next[sum+k]; !ok || l < old {
					next[sum+k] = l
				}
			}
		}
		best = next
	}
	return best[total]
}

func loss(w, s []float64) float64 {
	sum := 0.0
	for i, x := range w {
		sum += x / (s[i] * s[i])
	}
	return sum
}

func TestDetailCurveAgainstBruteForce(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 11))
	worst := 0.0
	for trial := range 40 {
		n := 3 + trial%5
		w := make([]float64, n)
		for i := range w {
			w[i] = math.Exp(4 * r.NormFloat64())
			if r.IntN(5) == 0 {
				w[i] = 0
			}
		}
		const least, most, unit = 0.6, 1.6, 0.05
		d := DetailCurve{Lo: 0, Hi: 1, Weight: w, Least: least, Most: most, Strength: 1}
		s, err := d.Slopes()
		if err != nil {
			t.Fatal(err)
		}
		got, best := loss(w, s), bruteForce(w, least, most, unit)
		if got > best*(1+1e-9) {
			t.Errorf("%v: %v gives %g, the lattice has %g", w, s, got, best)
		}
		// The lattice's own error: half a step at the least slope, in 1/s².
		if best > 0 {
			worst = math.Max(worst, best/got-1)
			if best/got-1 > 2*unit/least {
				t.Errorf("%v: %g is below the lattice's %g by more than its step explains", w, got, best)
			}
		}
	}
	t.Logf("the lattice's optimum lies at most %.2f %% over the solver's", 100*worst)
}

// Where no limit is met the slopes are the closed form of Mai et al. 2011.
func TestDetailCurveIsTheClosedForm(t *testing.T) {
	w := []float64{1, 2, 4, 8, 3}
	d := DetailCurve{Lo: 0.1, Hi: 0.9, Weight: w, Least: 0.01, Most: 100, Strength: 1}
	s, err := d.Slopes()
	if err != nil {
		t.Fatal(err)
	}
	sum := 0.0
	for _, x := range w {
		sum += math.Cbrt(x)
	}
	for i, x := range w {
		if want := float64(len(w)) * math.Cbrt(x) / sum; math.Abs(s[i]-want) > 1e-12 {
			t.Errorf("slope %d: %.15f, closed form %.15f", i, s[i], want)
		}
	}
}

func TestDetailCurveKeepsAnchorsLimitsAndRises(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := rapid.SliceOfN(rapid.Float64Range(0, 1e6), 64, 64).Draw(t, "w")
		a := float64(rapid.IntRange(1, 63).Draw(t, "a")) / 64
		k := rapid.Float64Range(0, 1).Draw(t, "k")
		d := DetailCurve{Lo: 0, Hi: 1, Weight: w, Anchors: []float64{a}, Least: 0.7, Most: 1.5, Strength: k}
		s, err := d.Slopes()
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range []float64{0, a, 1} {
			if got := d.At(s, x); math.Abs(got-x) > 1e-9 {
				t.Fatalf("%v goes to %v", x, got)
			}
		}
		for i, x := range s {
			if x < 0.7-1e-9 || x > 1.5+1e-9 {
				t.Fatalf("slope %d is %v", i, x)
			}
		}
		if l := d.Loss(s); l > 1+1e-9 {
			t.Fatalf("loss %v: worse than straight", l)
		}
	})
}

func TestDetailCurveRefusesNonsense(t *testing.T) {
	ok := DetailCurve{Lo: 0, Hi: 1, Weight: []float64{1, 1}, Least: 0.5, Most: 2, Strength: 1}
	for name, f := range map[string]func(*DetailCurve){
		"no bins": func(d *DetailCurve) { d.Weight = nil }, "NaN": func(d *DetailCurve) { d.Weight[0] = math.NaN() },
		"ends": func(d *DetailCurve) { d.Hi = 0 }, "limits": func(d *DetailCurve) { d.Least = 1.2 },
		"strength": func(d *DetailCurve) { d.Strength = 2 }, "anchor": func(d *DetailCurve) { d.Anchors = []float64{-1} },
	} {
		d := ok
		d.Weight = []float64{1, 1}
		f(&d)
		if _, err := d.Slopes(); err == nil {
			t.Errorf("%s: taken", name)
		}
	}
}
