package lamps

import (
	"math"
	"testing"
)

// told is what explain makes of levels measured to ±0.003 stop; the last is the
// ambient light's.
func told(levels []float64) *explanation {
	src := make([]source, len(levels))
	cov := make([]float64, 9*len(levels)*len(levels))
	for i, v := range levels {
		src[i] = source{stops: [3]float64{v, v, v}, use: [3]bool{true, true, true}, weights: [3]float64{.2, .7, .1}, ambient: i == len(levels)-1}
		for c := range 3 {
			cov[(3*i+c)*3*len(levels)+3*i+c] = 3 * sq(.003)
		}
	}
	return explain(src, cov, StartingHabit, CheckOptions{})
}

// TestGainBesideAStep: three of five lamps that drifted by a tenth with a camera
// two thirds of a stop brighter look much like a camera that is 0.6 stop brighter
// and lamps that wander. Whatever is said of the gain, the truth is within two of
// its errors; of a step as such it is known well.
func TestGainBesideAStep(t *testing.T) {
	const step = 2. / 3
	e := told([]float64{step - .1, step, step - .1, step - .1, step - .01, step + .7})
	if !e.cameraChanged || math.Abs(e.gain-.6) > .03 {
		t.Fatalf("a gain of %+.3f ± %.3f: the case is another", e.gain, e.gainError)
	}
	if math.Abs(e.gain-step) > 2.05*e.gainError {
		t.Errorf("the gain is told as %+.3f ± %.3f, and is %+.3f", e.gain, e.gainError, step)
	}
	for i, truth := range []float64{-.1, 0, -.1, -.1, -.01} {
		if math.Abs(e.level[i]-truth) > 2.05*e.levelError[i] {
			t.Errorf("lamp %d is told as %+.3f ± %.3f, and is %+.3f", i, e.level[i], e.levelError[i], truth)
		}
	}
	if e := told([]float64{step - .02, step, step + .02, step - .01, step - .01, step + .7}); e.gainError > .02 || math.Abs(e.gain-step) > .02 {
		t.Errorf("a step alone is told as %+.3f ± %.3f", e.gain, e.gainError)
	}
}
