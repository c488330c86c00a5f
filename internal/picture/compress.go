package picture

import "math"

// Kind implements Op.
func (c *Compress) Kind() string { return "compress" }

// Apply implements Op. Where no channel is above zero the distance is taken
// from |max|, as published; at max = 0 the limit of that, 0, is returned.
func (c *Compress) Apply(v [3]float64) [3]float64 {
	achromatic := max(v[0], v[1], v[2])
	size := math.Abs(achromatic)
	if size == 0 {
		return [3]float64{}
	}
	for ch := range 3 {
		d := (achromatic - v[ch]) / size
		if d >= c.Threshold[ch] {
			v[ch] = total(achromatic - c.distance(ch, d)*size)
		}
	}
	return v
}

// distance compresses a distance at or above the threshold (Academy Reference
// Gamut Compression 1.3, compress() and the scale factor before it).
func (c *Compress) distance(ch int, d float64) float64 {
	threshold, power := c.Threshold[ch], c.Power
	scale := c.scale(ch)
	nd := (d - threshold) / scale
	p := math.Pow(nd, power)
	if math.IsInf(p, 1) {
		return threshold + scale
	}
	return threshold + scale*nd/math.Pow(1+p, 1/power)
}

// scale is chosen such that Limit lands on 1.
func (c *Compress) scale(ch int) float64 {
	limit, threshold := c.Limit[ch], c.Threshold[ch]
	return (limit - threshold) / math.Pow(math.Pow((1-threshold)/(limit-threshold), -c.Power)-1, 1/c.Power)
}
