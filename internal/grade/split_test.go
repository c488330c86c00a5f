package grade

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
)

func plainSplit(shadow, middle, high Push) Split {
	s := defaults().Split
	s.Shadow, s.Middle, s.High = shadow, middle, high
	return s
}

func buildSplit(t testing.TB, s Split, curve, gamut string) *split {
	t.Helper()
	c, err := colour.CurveByID(curve)
	if err != nil {
		t.Fatal(err)
	}
	sp, err := newSplit(s, c, colour.MustGamut(gamut))
	if err != nil {
		t.Fatal(err)
	}
	return sp
}

func TestWeightsAreAPartitionOfUnityWithAContinuousSlope(t *testing.T) {
	s := buildSplit(t, plainSplit(Push{Mired: 5}, Push{}, Push{}), "log-420", "r7300-g8550")
	const h = 1e-6
	var before [3]float64
	for i := range 4001 {
		l := -0.2 + 1.5*float64(i)/4000
		w, up := s.weights(l), s.weights(l+h)
		sum, slope := 0.0, [3]float64{}
		for j := range w {
			if w[j] < 0 || w[j] > 1 {
				t.Fatalf("weight %v at %v", w, l)
			}
			sum += w[j]
			slope[j] = (up[j] - w[j]) / h
			// A step of 1.5/4000 can change a smooth step's slope by 6/width² of it.
			if width := s.centres[1] - s.centres[0]; i > 0 && math.Abs(slope[j]-before[j]) > 8/(width*width)*1.5/4000 {
				t.Fatalf("slope of weight %d jumps by %v at %v", j, slope[j]-before[j], l)
			}
		}
		before = slope
		if math.Abs(sum-1) > 1e-15 {
			t.Fatalf("weights at %v sum to %v", l, sum)
		}
	}
	for i, c := range s.centres {
		if s.weights(c)[i] != 1 {
			t.Errorf("weight of %s at its centre is %v", rangeNames[i], s.weights(c)[i])
		}
	}
}

// At a range's centre a neutral must be moved by exactly the mired and Duv
// asked for. Luma is taken back in log, which leaves the channels' ratios
// alone in the curve's logarithmic part up to its offset (log-420: x + 0.01),
// hence the tolerance in stops well above the toe.
func TestPushMovesANeutralByItsMiredAndDuv(t *testing.T) {
	for _, gamut := range []string{"r7300-g8550", "bt2020"} {
		for _, p := range []Push{{Mired: 10}, {Mired: -20}, {Duv: 0.004}, {Mired: 15, Duv: -0.006}} {
			g := colour.MustGamut(gamut)
			s := buildSplit(t, plainSplit(Push{}, Push{}, p), "log-420", gamut)
			l := s.centres[2]
			v := s.apply([3]float64{l, l, l})
			for i := range v {
				v[i] = s.curve.Decode(v[i])
			}
			m0, d0 := miredOf(t, g.W)
			m1, d1 := miredOf(t, xyOf(g, v))
			if math.Abs(m1-m0-p.Mired) > 0.02*math.Abs(p.Mired)+0.05 || math.Abs(d1-d0-p.Duv) > 1e-4 {
				t.Errorf("%s: push %+v moved by %.2f mired, Duv %.5f", gamut, p, m1-m0, d1-d0)
			}
		}
	}
}

func TestSplitKeepsLumaAndBlack(t *testing.T) {
	s := buildSplit(t, plainSplit(Push{-30, 0.004}, Push{10, 0}, Push{40, -0.01}), "log-420", "r7300-g8550")
	rapid.Check(t, func(t *rapid.T) {
		var v [3]float64
		for i := range v {
			v[i] = rapid.Float64Range(-0.5, 1.5).Draw(t, "y")
		}
		out := s.apply(v)
		if d := math.Abs(luma(out) - luma(v)); d > 1e-14 {
			t.Fatalf("luma changed by %g", d)
		}
	})
	if d := s.shift(s.curve.Encode(0)); math.Abs(d[0])+math.Abs(d[2]) > 1e-12 {
		t.Errorf("zero light is tinted: %v", d)
	}
}

func TestCounterPushLeavesMeanChromaInPlace(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		push := func(name string) Push {
			return Push{
				Mired: rapid.Float64Range(-12, 12).Draw(t, name+" mired"),
				Duv:   rapid.Float64Range(-0.002, 0.002).Draw(t, name+" Duv"),
			}
		}
		s := plainSplit(push("shadow"), push("middle"), push("high"))
		s.Counter = rapid.SampledFrom([]string{"shadow", "middle"}).Draw(t, "counter")
		c, _ := colour.CurveByID("log-420")
		sp, err := newSplit(s, c, colour.MustGamut("r7300-g8550"))
		if err != nil {
			t.Fatal(err)
		}
		mean := sp.meanShift(Spread{s.Spread[0], s.Spread[1]})
		for _, m := range mean {
			if math.Abs(m)*1023 > 1e-6 { // codes of 10 bits
				t.Fatalf("mean shift %v", mean)
			}
		}
	})
}

// The mean over the spread is the mean over any picture whose luma is spread
// so: checked on colours, not on the shift's own sum.
func TestCounterPushBalancesAPicture(t *testing.T) {
	s := plainSplit(Push{}, Push{}, Push{Mired: 15})
	s.Counter = "shadow"
	with := buildSplit(t, s, "log-420", "r7300-g8550")
	s.Counter = "none"
	without := buildSplit(t, s, "log-420", "r7300-g8550")
	var meanWith, meanWithout [3]float64
	const n = 20000
	for i := range n {
		// Stops by the normal distribution's quantiles, colours by a fixed pattern.
		z := math.Sqrt2 * math.Erfinv(2*(float64(i)+0.5)/n-1)
		l := with.curve.Encode(colour.Grey * math.Exp2(s.Spread[0]+s.Spread[1]*z))
		a, b := 0.05*math.Sin(float64(i)), 0.04*math.Cos(1.7*float64(i))
		v := [3]float64{l + a, l, l + b}
		for c := range v {
			v[c] += l - luma([3]float64{l + a, l, l + b}) // luma l
		}
		x, y := with.apply(v), without.apply(v)
		for c := range v {
			meanWith[c] += (x[c] - v[c]) / n * 1023
			meanWithout[c] += (y[c] - v[c]) / n * 1023
		}
	}
	// The solver's spread ends at 4 widths and is summed in steps.
	for c := range meanWith {
		if math.Abs(meanWith[c]) > 0.001*math.Abs(meanWithout[c])+1e-4 {
			t.Errorf("mean shift in codes: %v with the counter-push, %v without", meanWith, meanWithout)
		}
	}
}

func TestSpreadIsSummedFinelyEnough(t *testing.T) {
	s := plainSplit(Push{}, Push{}, Push{Mired: 15})
	s.Counter = "shadow"
	sp := buildSplit(t, s, "log-420", "r7300-g8550")
	coarse := sp.pushes[0]
	// Twice as fine, by the trapezium rule, with the solved push in place.
	var mean [3]float64
	const n = 2 * (spreadSteps - 1)
	for i := range n + 1 {
		z := spreadEnd * (2*float64(i)/n - 1)
		v := sp.shift(sp.curve.Encode(colour.Grey * math.Exp2(s.Spread[0]+z*s.Spread[1])))
		for c := range mean {
			mean[c] += math.Exp(-z*z/2) * v[c] / (n / 2 / spreadEnd) / math.Sqrt(2*math.Pi)
		}
	}
	// One mired of the counter-push is worth this much mean shift.
	if err := sp.setPush(0, Push{coarse.Mired + 1, coarse.Duv}); err != nil {
		t.Fatal(err)
	}
	per := sp.meanShift(Spread{s.Spread[0], s.Spread[1]})
	if d := mean[2] / per[2]; math.Abs(d) > 1e-3 {
		t.Errorf("twice as many steps would move the push by %v mired", d)
	}
}

func TestSplitSaysWhetherTheCardStaysNeutral(t *testing.T) {
	for _, c := range []struct {
		middle, high float64
		neutral      bool
	}{{0, 20, true}, {20, 0, false}} {
		g := Starting("log-420")
		g.Look.Off = true
		g.Split.Middle.Mired, g.Split.High.Mired = c.middle, c.high
		p, err := Build(g, Clip{}, nil)
		if err != nil {
			t.Fatal(err)
		}
		r := p.Split()
		if r.CardNeutral != c.neutral || r.Counter != "shadow" || r.CardMired != c.middle {
			t.Errorf("middle %v, high %v: %+v", c.middle, c.high, r)
		}
		if r.Pushes[0].Mired >= 0 {
			t.Errorf("a warm push wants a cool counter-push, got %+v", r.Pushes[0])
		}
	}
}

func TestCounterPushThatCannotBeIsAFault(t *testing.T) {
	s := plainSplit(Push{}, Push{Mired: 80}, Push{})
	s.Counter, s.Spread = "high", [2]float64{-4, 0.5} // nothing of the picture is high
	c, _ := colour.CurveByID("log-420")
	_, err := newSplit(s, c, colour.MustGamut("r7300-g8550"))
	if f, ok := fault.As(err); !ok || f.Code != "grade-counter" {
		t.Errorf("got %v", err)
	}
}
