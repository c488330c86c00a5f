package picture

import (
	"fmt"
	"math"
)

// Norm is a tone scale applied to a whole colour by its norm, the largest
// channel n = max(R, G, B):
//
//	out = Light(n) · (1 + Purity(n)·(in/n − 1))
//
// so the largest channel becomes Light(n), and the others keep their place on
// the straight line between that and white: hue is kept in linear light.
// Purity 1 keeps the channels' ratios, 0 makes the colour neutral. Both
// functions are sampled evenly in asinh(n/Scale) from 0 to Hi, with linear
// interpolation and the end values held. n ≤ 0 gives Light's first sample.
type Norm struct {
	Hi     float64   `json:"hi"`
	Scale  float64   `json:"scale"`
	Light  []float64 `json:"light"`
	Purity []float64 `json:"purity"`
}

// Kind implements Op.
func (n *Norm) Kind() string { return "norm" }

// Apply implements Op.
func (n *Norm) Apply(v [3]float64) [3]float64 {
	top := max(v[0], v[1], v[2])
	if !(top > 0) {
		return [3]float64{n.Light[0], n.Light[0], n.Light[0]}
	}
	t := math.Asinh(top/n.Scale) / math.Asinh(n.Hi/n.Scale)
	light, purity := sampleAt(n.Light, t), sampleAt(n.Purity, t)
	for ch, x := range v {
		v[ch] = total(light * (1 + purity*(x/top-1)))
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
	for _, s := range [][]float64{n.Light, n.Purity} {
		if len(s) < 2 || len(s) > MaxSamples {
			return fmt.Errorf("%d samples; 2 to %d are allowed", len(s), MaxSamples)
		}
		if err := finite("samples", s...); err != nil {
			return err
		}
	}
	return positive("hi or scale", n.Hi, n.Scale)
}
