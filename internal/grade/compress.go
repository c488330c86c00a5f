package grade

import (
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// academyCompress is the Academy Reference Gamut Compression 1.3 with its
// published parameters; they belong to AP1. Limits and thresholds are printed
// for cyan, magenta, yellow, the complements of the channels R, G, B that are
// drawn in (ACES 1.3, LMT.Academy.ReferenceGamutCompress).
var academyCompress = picture.Compress{
	Limit:     [3]float64{1.147, 1.264, 1.312},
	Threshold: [3]float64{0.815, 0.803, 0.880},
	Power:     1.2,
}

// screenThreshold is where the second compression, in BT.709's primaries,
// begins. Skin must stay untouched: the chart's two skin patches, at the
// strongest, lie at a distance of 0.69 in blue (chart24, dark skin).
const screenThreshold = 0.8

// screenCompress is the second compression, of the Academy's form, for what is
// still outside BT.709 after the first. Its limits follow from the camera's
// primaries and the balance: the largest distance that any mixture of them (no
// negative part) has in each channel, so that every light the camera recorded
// comes inside. Power as published. toAP1 is recorded scene light → AP1.
// Where a channel has nothing outside, its limit is little more than 1 and the
// compression does next to nothing there.
//
// Source: Academy Reference Gamut Compression 1.3 (its form)
func screenCompress(toAP1, toScreen colour.Mat3) picture.Compress {
	c := picture.Compress{Power: academyCompress.Power}
	for i := range c.Threshold {
		c.Threshold[i] = screenThreshold
		c.Limit[i] = 1.02
	}
	// The extreme distances lie on mixtures of two primaries.
	const steps = 256
	for zero := range 3 {
		for s := range steps + 1 {
			var v [3]float64
			v[(zero+1)%3] = float64(s) / steps
			v[(zero+2)%3] = 1 - float64(s)/steps
			v = toScreen.Apply(academyCompress.Apply(toAP1.Apply(v)))
			top := max(v[0], v[1], v[2])
			if !(top > 0) {
				continue
			}
			for i := range v {
				c.Limit[i] = max(c.Limit[i], 1.001*(top-v[i])/top)
			}
		}
	}
	for i := range c.Limit {
		c.Limit[i] = math.Min(c.Limit[i], 8)
	}
	return c
}
