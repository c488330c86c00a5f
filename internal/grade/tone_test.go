package grade

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"lampwise/internal/colour"
)

// solved is how near a solved tone scale must come to what was stated; the
// bisection ends at double precision.
const solved = 1e-9

func TestGreySignalIsBT709s(t *testing.T) {
	// BT.709-6, item 1.2: E′ = 1.099·L^0.45 − 0.099 for L ≥ 0.018.
	if want := 1.099*math.Pow(0.18, 0.45) - 0.099; math.Abs(GreySignal-want) > 1e-12 || math.Abs(want-0.409) > 5e-4 {
		t.Errorf("grey lands at %v, BT.709's camera puts it at %v", GreySignal, want)
	}
}

func drawTone(t *rapid.T) (Tone, float64) {
	slope := rapid.Float64Range(0.6, 1.8).Draw(t, "slope")
	toeStops := rapid.Float64Range(-12, -3).Draw(t, "toe")
	peak := rapid.Float64Range(0.7, 1).Draw(t, "peak")
	white := colour.Grey * math.Exp2(rapid.Float64Range(-6, 20).Draw(t, "clip stops"))
	tone, _, err := NewTone(slope, toeStops, white, peak)
	if err != nil {
		t.Skip("slope and peak that can't be")
	}
	return tone, white
}

func TestToneScaleDoesWhatIsStated(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tone, white := drawTone(t)
		if d := tone.At(colour.Grey) - GreySignal; math.Abs(d) > solved {
			t.Errorf("grey off by %g: %+v", d, tone)
		}
		if d := tone.At(tone.White) - tone.Peak; math.Abs(d) > solved {
			t.Errorf("white off by %g", d)
		}
		if tone.White < white {
			t.Errorf("white was lowered from %v to %v", white, tone.White)
		}
		const h = 1e-5
		slope := 2.4 * math.Log2(tone.At(colour.Grey*math.Exp2(h))/tone.At(colour.Grey*math.Exp2(-h))) / (2 * h)
		if math.Abs(slope-tone.Slope) > 1e-6 || math.Abs(tone.Contrast(colour.Grey)-tone.Slope) > solved {
			t.Errorf("slope at grey %v (%v), stated %v", slope, tone.Contrast(colour.Grey), tone.Slope)
		}
	})
}

func TestToneScaleRisesSmoothly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tone, _ := drawTone(t)
		if tone.At(0) != 0 || tone.At(-1) != 0 || tone.At(math.NaN()) != 0 {
			t.Fatal("no light must be black")
		}
		last, lastSlope := 0.0, math.NaN()
		const step = 0.02
		for s := -18.0; s <= 16; s += step {
			x := colour.Grey * math.Exp2(s)
			v := tone.At(x)
			if v <= last {
				t.Fatalf("falls or stands at %v stops: %v after %v (%+v)", s, v, last, tone)
			}
			last = v
			// On the ladder, contrast changes little from step to step: no kink.
			c := tone.Contrast(x)
			if math.Abs(c-lastSlope) > 0.05*max(1, c) {
				t.Fatalf("contrast jumps from %v to %v at %v stops", lastSlope, c, s)
			}
			lastSlope = c
			if p := tone.Purity(x); !(p >= 0 && p <= 1) {
				t.Fatalf("purity %v", p)
			}
		}
	})
}

// C¹ at black: with the default toe the slope in light goes to 0 with light.
func TestToneScaleMeetsBlackWithoutAStep(t *testing.T) {
	tone, note, err := NewTone(1.3, -7, 25, 1)
	if err != nil || note != "" {
		t.Fatal(err, note)
	}
	if 2*tone.Power <= 1 {
		t.Fatalf("power %v: the slope at black is infinite", tone.Power)
	}
	before := math.Inf(1)
	for x := 1e-4; x > 1e-9; x /= 2 {
		slope := tone.At(x) / x
		if slope >= before {
			t.Fatalf("the slope grows toward black at %v", x)
		}
		before = slope
	}
}

func TestSlopeTooSteepForThePeakIsAFault(t *testing.T) {
	if _, _, err := NewTone(1.8, -7, 25, 0.7); err == nil {
		t.Error("accepted")
	}
	if _, note, err := NewTone(1.3, -7, 0.3, 1); err != nil || note == "" {
		t.Errorf("a clip under the lowest white: %v, note %q", err, note)
	}
}
