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
// Gamut Compression 1.3, compress() and the scale factor before it). With
// n = (d − threshold)/scale it is threshold + scale·n/(1 + n^power)^(1/power);
// here n^power is taken apart so that the scale, two powers of its own, is
// needed only beyond all numbers.
func (c *Compress) distance(ch int, d float64) float64 {
	limit, threshold := c.Limit[ch], c.Threshold[ch]
	whole := power(limit-threshold, -c.Power)
	p := power(d-threshold, c.Power) * (power(1-threshold, -c.Power) - whole)
	if math.IsInf(p, 1) {
		return threshold + c.scale(ch)
	}
	return threshold + (d-threshold)*power(1+p, -1/c.Power)
}

// power is x^p for x ≥ 0, within a few units in the last place for the
// exponents here: a third of math.Pow's time, and every cell of a baked table
// is tried by this.
func power(x, p float64) float64 { return math.Exp(p * math.Log(x)) }

// scale is chosen such that Limit lands on 1.
func (c *Compress) scale(ch int) float64 {
	limit, threshold := c.Limit[ch], c.Threshold[ch]
	return (limit - threshold) / math.Pow(math.Pow((1-threshold)/(limit-threshold), -c.Power)-1, 1/c.Power)
}
