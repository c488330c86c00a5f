package picture

import (
	"fmt"
	"math"
)

// Norm is a tone scale applied to a whole colour by its norm, the largest
// channel n = max(R, G, B):
//
//	out = Tone(n) · (1 + Purity(n)·(g(in/n) − 1)),  g(r) = r^(1/Power) for r > 0, else 0
//
// so the largest channel becomes Tone(n), and the others lie on the straight
// line between their ratio to it and white. With Power 2.4 the result is a
// BT.1886 display signal, and the line is straight in that signal, where a
// skin's hue stays put on it (in light it would turn to pink). Purity 1 keeps
// the channels' ratios of light, 0 makes the colour neutral. Both functions
// are sampled evenly in asinh(n/Scale) from 0 to Hi, with linear interpolation
// and the end values held. n ≤ 0 gives Tone's first sample.
type Norm struct {
	Hi     float64   `json:"hi"`
	Scale  float64   `json:"scale"`
	Power  float64   `json:"power"`
	Tone   []float64 `json:"tone"`
	Purity []float64 `json:"purity"`
}

// Kind implements Op.
func (n *Norm) Kind() string { return "norm" }

// Apply implements Op.
func (n *Norm) Apply(v [3]float64) [3]float64 {
	top := max(v[0], v[1], v[2])
	if !(top > 0) {
		return [3]float64{n.Tone[0], n.Tone[0], n.Tone[0]}
	}
	t := math.Asinh(top/n.Scale) / math.Asinh(n.Hi/n.Scale)
	tone, purity := sampleAt(n.Tone, t), sampleAt(n.Purity, t)
	for ch, x := range v {
		v[ch] = total(tone * (1 + purity*(math.Pow(max(x/top, 0), 1/n.Power)-1)))
	}
	return v
}

func sampleAt(s []float64, t float64) float64 {
	i, f := placeEven(t, len(s))
	if f == 0 { // the next sample may not exist
		return s[i]
	}
	return s[i]*(1-f) + s[i+1]*f
}

// Check implements Checker.
func (n *Norm) Check() error {
	for _, s := range [][]float64{n.Tone, n.Purity} {
		if len(s) < 2 || len(s) > MaxSamples {
			return fmt.Errorf("%d samples; 2 to %d are allowed", len(s), MaxSamples)
		}
		if err := finite("samples", s...); err != nil {
			return err
		}
	}
	return positive("hi, scale or power", n.Hi, n.Scale, n.Power)
}
