package lamps

import (
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// begin searches for a start, with and without mixing of the channels by the
// camera's white balance, and runs the fit from the better one.
func (f *robustFit) begin() bool {
	start, loss := f.search(f.reference)
	f.take(start)
	if f.straight {
		return f.run(start, 30) && f.broaden()
	}
	f.cross = true
	f.show()
	mixed, mixedLoss := f.search(f.reference)
	if loss-mixedLoss > crossWorth {
		start = mixed
	} else {
		f.cross = false
	}
	return f.run(start, 30) && f.broaden()
}

// balanceMoved says whether the camera's white balance explains the lamps'
// colours better than that they changed by themselves.
func (s *Set) balanceMoved(f *robustFit) bool {
	src, cov := s.sources(f)
	e := newExplanation(len(src))
	e.explainColour(src, cov, s.Habit, false)
	return e.balanceChanged
}

// crossWorth is the share of bins that mixing must explain anew: without need
// of it, it costs accuracy.
const crossWorth = 0.03

// mixing is the matrix by which the camera's white balance mixes the lamps'
// light: the inverse of what is taken off.
func (f *robustFit) mixing() colour.Mat3 {
	m := colour.Identity
	if f.cross {
		for c := range 3 {
			a, b := others(c)
			m[c][a], m[c][b] = -f.mix[c][0], -f.mix[c][1]
		}
		m = m.Inverse()
	}
	return m
}

// model is the picture that the fit explains today's by. A lamp that falls
// differently is drawn by its picture, bent.
func (s *Set) model(f *robustFit, moved int) *picture.Image {
	weights := make([][3]float64, s.columns())
	for j := range weights {
		for c := range 3 {
			weights[j][c] = f.beta[c][j]
		}
	}
	m := s.sum(weights)
	if moved >= 0 {
		s.addBend(m, f, moved)
	}
	if f.cross {
		mix := f.mixing()
		for p := 0; p < len(m.Pix); p += 3 {
			v := mix.Apply([3]float64{float64(m.Pix[p]), float64(m.Pix[p+1]), float64(m.Pix[p+2])})
			for c := range 3 {
				m.Pix[p+c] = float32(v[c])
			}
		}
	}
	return m
}

// addBend adds a bent lamp's departure from its picture.
func (s *Set) addBend(m *picture.Image, f *robustFit, moved int) {
	b, side, k := f.bendOf(moved), binSide(s.W), s.columns()
	src := s.Picture[moved].Pix
	inRows(s.H, func(from, to int) {
		for y := from; y < to; y++ {
			for x := range s.W {
				shape := b.shapes(min(y/side, f.gridH-1)*f.gridW+min(x/side, f.gridW-1), f.gridW)
				p := 3 * (y*s.W + x)
				for c := range 3 {
					t := 0.0
					for r, v := range shape {
						t += v * f.beta[c][k+r]
					}
					m.Pix[p+c] += float32(t) * src[p+c]
				}
			}
		}
	})
}

// near says whether two movements differ by less than a tenth of a pixel.
func (s Similarity) near(o Similarity, w int) bool {
	const pixels = 0.1
	half := float64(w) / 2
	return math.Abs(s.DX-o.DX) < pixels && math.Abs(s.DY-o.DY) < pixels &&
		math.Abs(s.Rotation-o.Rotation)*half < pixels && math.Abs(s.Scale-o.Scale)*half < pixels
}

// usable says which pixels may speak: seen today, not clipped nor next to a
// clipped one, then or now, and known in every lamp picture.
func (s *Set) usable(today *Light, seen []bool) []bool {
	bad := make([]bool, s.W*s.H)
	if today.Clipped != nil {
		copy(bad, today.Clipped)
	}
	for p, m := range s.Blind {
		if m != 0 {
			bad[p] = true
		}
	}
	bad = grown(bad, s.W, s.H, clippedGrow)
	out := make([]bool, len(bad))
	for p := range out {
		out[p] = seen[p] && !bad[p]
	}
	return out
}

// starts gives β for the reference mix at the gain that fits best.
func (s *Set) starts(f *robustFit) [3][]float64 {
	var start [3][]float64
	w := s.Weights(s.Mix)
	for c := range 3 {
		start[c] = make([]float64, f.k)
		for j := range start[c] {
			start[c][j] = w[j][c]
		}
		var ratios []float64
		for i := range f.n {
			if p := f.predict(start[c], i, c); p > 0 {
				ratios = append(ratios, f.y[3*i+c]/p)
			}
		}
		g := median(ratios)
		if !(g > 0) {
			g = 1
		}
		for j := range start[c] {
			start[c][j] *= g
		}
	}
	return start
}

// explained is the share of bins that the fit kept.
func (f *robustFit) explained() float64 {
	n, all := 0, 0
	for i, r := range f.norm {
		if f.left != nil && f.left[i] {
			continue
		}
		all++
		if r < tukeyCut {
			n++
		}
	}
	return float64(n) / float64(max(all, 1))
}
