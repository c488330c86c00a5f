package lamps

import (
	"math"
	"slices"
)

// cloud looks for daylight that was another, sharply, over a run of holds: a
// cloud that came, or came and went. It returns the ambient light's scale for
// each hold and channel, 1 at the clip's middle, and the sum of squares left of
// all channels; nil where no run explains anything.
func (m *moments) cloud(s *Separation) (scale [][3]float64, left float64) {
	n, columns := m.holds, s.columns()
	left = math.Inf(1)
	var best [3]float64
	var from, to int
	for a := 0; a < n; a++ {
		for b := a + 1; b <= n; b++ {
			if b-a == n || a == 0 && b > n/2 {
				continue // the same as its rest
			}
			var log [3]float64
			sum := 0.0
			for c := range 3 {
				x, l := minimiseTo(func(x float64) float64 {
					return m.left(c, columns, func(h int, dst []float64) {
						s.row(h, c, dst)
						if h >= a && h < b {
							dst[columns-1] *= math.Exp(x)
						}
					}, nil)
				}, cloudReach, cloudFine)
				log[c] = x
				sum += l
			}
			if sum < left {
				left, best, from, to = sum, log, a, b
			}
		}
	}
	if math.IsInf(left, 1) {
		return nil, left
	}
	middle := n / 2
	for h := range n {
		var k [3]float64
		for c := range 3 {
			k[c] = math.Exp(best[c] * (boolTo(h >= from && h < to) - boolTo(middle >= from && middle < to)))
		}
		scale = append(scale, k)
	}
	return scale, left
}

const (
	cloudReach = 1.2  // of the scale's natural logarithm: to 0.3 and 3.3 times
	cloudFine  = 1e-3 // of it
	// cloudEvidence is how much better, in units of the usual square, a sharp
	// change must explain the holds than a smooth one for it to be believed.
	cloudEvidence = driftEvidence
)

// sharp says whether a sharp change explains more than daylight's smooth course.
func (m *moments) sharp(s *Separation, cloudLeft float64, even [3]float64, time []float64, usual func(float64) float64) bool {
	smooth := m.scaledLeft(s, m.weather(s, even, time))
	return (smooth-cloudLeft)/usual(cloudLeft) > cloudEvidence
}

// scaledLeft is the sum of squares that all channels leave when the ambient
// light was as scale says (nil: as always).
func (m *moments) scaledLeft(s *Separation, scale [][3]float64) float64 {
	columns, sum := s.columns(), 0.0
	for c := range 3 {
		sum += m.left(c, columns, func(h int, dst []float64) {
			s.row(h, c, dst)
			if scale != nil {
				dst[columns-1] *= scale[h][c]
			}
		}, nil)
	}
	return sum
}

// reach of a scale over the clip, by channel, as shares.
func scaleReach(scale [][3]float64) (by [3]float64) {
	for c := range 3 {
		var v []float64
		for _, k := range scale {
			v = append(v, k[c])
		}
		last, first := v[len(v)-1], v[0]
		by[c] = slices.Max(v) - slices.Min(v)
		if last < first {
			by[c] = -by[c]
		}
	}
	return by
}
