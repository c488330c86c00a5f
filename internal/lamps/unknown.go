package lamps

import (
	"math"

	"lampwise/internal/unit"
)

// Bounds of unknown light.
const (
	leastAdded   = 0.12 // stops over what the set explains
	leastUnknown = 0.04 // of the picture's bins, in one piece
	mostRough    = 0.2  // how much the added share may jump between neighbours
)

// findUnknown looks for light that the set doesn't have: a piece of the room
// that is brighter than any mix explains, by a share that changes gently over
// whatever surfaces are there. A thing that was moved or a new shirt changes
// with the surfaces; and a shadow's old place is bounded by the mix itself.
func (s *Set) findUnknown(r *CheckReport, f *robustFit) []UnknownLight {
	w, h := f.gridW, f.gridH
	added := make([]float64, w*h)
	for i := range added {
		added[i] = math.NaN()
	}
	full := s.mostLight(f)
	for i, p := range f.place {
		if f.class[i] == figure || f.left != nil && f.left[i] || f.norm[i] < tukeyCut {
			continue
		}
		var is, model, most float64
		up := true
		for c := range 3 {
			y, m := f.y[3*i+c], f.predict(f.beta[c], i, c)
			is, model, most = is+y, model+m, most+full[3*i+c]
			up = up && y > m
		}
		if !up || model <= 0 {
			continue
		}
		// Where lamps are shaded in the reference, their light come back isn't unknown.
		if v := math.Log2(is / model); v > leastAdded && is > 1.02*most {
			added[p] = v
		}
	}
	var out []UnknownLight
	done := make([]bool, w*h)
	for p := range added {
		if done[p] || math.IsNaN(added[p]) {
			continue
		}
		piece := flood(added, done, p, w, h)
		if float64(len(piece)) < leastUnknown*float64(f.n) || roughness(added, piece, w, h) > mostRough {
			continue
		}
		u := UnknownLight{Share: float64(len(piece)) / float64(w*h)}
		x0, y0, x1, y1 := w, h, 0, 0
		for _, q := range piece {
			x0, x1 = min(x0, q%w), max(x1, q%w+1)
			y0, y1 = min(y0, q/w), max(y1, q/w+1)
			u.Stops = max(u.Stops, unit.Stop(added[q]))
		}
		side := float64(binSide(s.W))
		u.X, u.Y = float64(x0)*side/float64(s.W), float64(y0)*side/float64(s.H)
		u.W, u.H = float64(x1-x0)*side/float64(s.W), float64(y1-y0)*side/float64(s.H)
		out = append(out, u)
	}
	return out
}

// mostLight is, for each bin and channel, the most that the set's lamps at
// today's weights could give there if nothing shaded any of them: each
// picture's largest share of the reference's light in the bins around, times
// the bin's own light.
func (s *Set) mostLight(f *robustFit) []float64 {
	w, h := f.gridW, f.gridH
	const reach = 14
	n := s.columns()
	// The surface's own lightness is taken from the reference's light over the
	// unshaded illumination about; both only matter as a bound.
	share := make([][]float64, n)
	for k := range n {
		share[k] = make([]float64, w*h)
	}
	total := make([]float64, w*h)
	for i, p := range f.place {
		t := max(f.lamps(f.reference[1], i, 1), 1e-9)
		total[p] = t
		for k := range n {
			share[k][p] = max(f.beta[1][k]*f.x[(3*i+1)*f.k+k], 0) / t
		}
	}
	out := make([]float64, 3*f.n)
	top := make([][]float64, n)
	for k := range n {
		top[k] = largestAbout(share[k], w, h, reach)
	}
	for i, p := range f.place {
		sum := 0.0
		for k := range n {
			sum += top[k][p]
		}
		for c := range 3 {
			out[3*i+c] = sum * max(f.lamps(f.reference[c], i, c), 0)
		}
	}
	return out
}

// largestAbout is the largest value within reach, along rows then columns.
func largestAbout(v []float64, w, h, reach int) []float64 {
	a, b := make([]float64, len(v)), make([]float64, len(v))
	for y := range h {
		for x := range w {
			m := 0.0
			for k := max(0, x-reach); k <= min(w-1, x+reach); k++ {
				m = max(m, v[y*w+k])
			}
			a[y*w+x] = m
		}
	}
	for y := range h {
		for x := range w {
			m := 0.0
			for k := max(0, y-reach); k <= min(h-1, y+reach); k++ {
				m = max(m, a[k*w+x])
			}
			b[y*w+x] = m
		}
	}
	return b
}

// flood gathers the marked bins joined to start.
func flood(v []float64, done []bool, start, w, h int) []int {
	piece := []int{start}
	done[start] = true
	for i := 0; i < len(piece); i++ {
		p := piece[i]
		for _, d := range [4][2]int{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
			x, y := p%w+d[0], p/w+d[1]
			if x < 0 || y < 0 || x >= w || y >= h {
				continue
			}
			if q := y*w + x; !done[q] && !math.IsNaN(v[q]) {
				done[q] = true
				piece = append(piece, q)
			}
		}
	}
	return piece
}

// roughness is the median jump between neighbours over the median value.
func roughness(v []float64, piece []int, w, h int) float64 {
	var jumps, values []float64
	for _, p := range piece {
		values = append(values, v[p])
		for _, q := range [2]int{p + 1, p + w} {
			if q < w*h && q/w <= p/w+1 && (q != p+1 || q%w != 0) && !math.IsNaN(v[q]) {
				jumps = append(jumps, math.Abs(v[q]-v[p]))
			}
		}
	}
	if len(jumps) == 0 {
		return math.Inf(1)
	}
	return median(jumps) / median(values)
}
