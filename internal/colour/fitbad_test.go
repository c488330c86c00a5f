package colour

import (
	"errors"
	"math"
	"testing"

	"lampwise/internal/fault"
	"lampwise/internal/unit"

	"pgregory.net/rapid"
)

// TestFitAnything: whatever is given, there is a finite rising curve or a fault.
func TestFitAnything(t *testing.T) {
	sample := rapid.Custom(func(t *rapid.T) BracketSample {
		return BracketSample{
			Stops:   unit.Stop(rapid.OneOf(rapid.Float64Range(-12, 12), rapid.Just(math.Inf(-1)), rapid.Float64()).Draw(t, "stops")),
			Y:       rapid.Float64Range(-0.1, 1.1).Draw(t, "y"),
			Sigma:   rapid.SampledFrom([]float64{0, 1e-12, 1e-4, 0.05, 1}).Draw(t, "sigma"),
			Clipped: rapid.Bool().Draw(t, "clipped"),
		}
	})
	fitted := 0
	rapid.Check(t, func(t *rapid.T) {
		b := Bracket{Samples: rapid.SliceOfN(sample, 0, 20).Draw(t, "samples")}
		if rapid.Bool().Draw(t, "tame") {
			// Rising, all weighted: what passes the first checks.
			y := 0.05
			for i := range b.Samples {
				y += rapid.Float64Range(0, 0.1).Draw(t, "rise")
				b.Samples[i] = BracketSample{Stops: unit.Stop(rapid.Float64Range(0, 1.5).Draw(t, "step")) + unit.Stop(i) - 5, Y: y, Sigma: 1e-3}
			}
		}
		fit, err := FitCurve(b)
		if err != nil {
			if f, ok := fault.As(err); !ok || f.Code == "" {
				t.Fatalf("no fault: %v", err)
			}
			return
		}
		fitted++
		previous := math.Inf(-1)
		for s := -20.0; s < 20; s += 0.25 {
			y := fit.Curve.Encode(Grey * math.Exp2(s))
			if math.IsNaN(y) || math.IsInf(y, 0) || y < previous-1e-12 {
				t.Fatalf("fitted curve at %+.2f stops: %g after %g", s, y, previous)
			}
			previous = y
		}
		for _, p := range fit.Parameters {
			if math.IsNaN(p.Value) || math.IsInf(p.Value, 0) || math.IsNaN(p.SE) {
				t.Fatalf("%+v", p)
			}
		}
	})
	if fitted == 0 {
		t.Error("nothing was ever fitted")
	}
}

func TestFitRefusals(t *testing.T) {
	good := func() Bracket { return bracketOf(mustCurve("log-420"), -6, 0.5, 0.1/1023, 9) }
	cases := map[FitReason]func() Bracket{
		FitTooFew: func() Bracket { b := good(); b.Samples = b.Samples[:4]; return b },
		FitTooNarrow: func() Bracket {
			b := good()
			b.Samples = b.Samples[:6]
			return b
		},
		FitAllClipped: func() Bracket {
			b := good()
			for i := range b.Samples {
				b.Samples[i].Clipped = true
			}
			return b
		},
		FitFalls: func() Bracket {
			b := good()
			b.Samples[5].Y, b.Samples[9].Y = b.Samples[9].Y, b.Samples[5].Y
			return b
		},
		FitNumber: func() Bracket { b := good(); b.Samples[3].Y = math.NaN(); return b },
	}
	for reason, bracket := range cases {
		_, err := FitCurve(bracket())
		var e *FitError
		f, isFault := fault.As(err)
		if !errors.As(err, &e) || e.Reason != reason || !isFault || f.Hint == "" || f.Class != fault.Input {
			t.Errorf("%s: refused with %v", reason, err)
		}
	}
	// Everything that is no number, in every place.
	for _, wrong := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		for place := range 4 {
			b := good()
			switch place {
			case 0:
				if math.IsInf(wrong, -1) {
					continue // a capped lens
				}
				b.Samples[2].Stops = unit.Stop(wrong)
			case 1:
				b.Samples[2].Y = wrong
			case 2:
				b.Samples[2].Sigma = wrong
			case 3:
				b.StopSigma = unit.Stop(wrong)
			}
			if _, err := FitCurve(b); err == nil {
				t.Errorf("%g in place %d is fitted", wrong, place)
			}
		}
	}
	b := good()
	b.Samples[4].Sigma = 0
	if _, err := FitCurve(b); err == nil {
		t.Error("one sample without noise among others is fitted")
	}
}
