// Package lumfile reads what laboratories measure of a lamp: candela in the
// directions about it, as LM-63 and EULUMDAT files.
//
// Invariants: readers are strict, with stated maxima, every number finite and
// every fault told with file and line; a Web that was read gives a finite
// candela ≥ 0 in every direction. Only C planes about the lamp's axis are
// read; files of type A and B are refused.
package lumfile

import (
	"math"
	"sort"

	"lampwise/internal/unit"
)

// Maxima of a file.
const (
	maxFileBytes = 4 << 20
	maxAngles    = 1441    // of one kind: a quarter degree all round
	maxValues    = 300_000 // candela values
)

// Web is a lamp's candela in all directions: C planes about its axis, γ from it.
type Web struct {
	Format string // "LM-63-2002", "EULUMDAT", …
	Says   string // what the file says the lamp is
	Lamp   unit.Lumen
	Watts  unit.Watt
	// Tilt, when the file has one, is how the light changes with the lamp's
	// tilt from straight down: angle, factor.
	Tilt [][2]float64
	// Opening is the size of the light-giving face, 0 when not given: width
	// (C 0–180) and length (C 90–270).
	Opening [2]unit.Metre

	start, span float64   // of the stored planes: the first, and 0, 90, 180 or 360
	c           []float64 // from start, ascending
	gamma       []float64 // ascending
	candela     []float64 // plane by plane
}

// fold brings a C angle to the stored planes by the file's symmetry.
func (w *Web) fold(c float64) float64 {
	u := math.Mod(c-w.start, 360)
	if u < 0 {
		u += 360
	}
	if w.span < 360 && u > 180 {
		u = 360 - u
	}
	if w.span == 90 && u > 90 {
		u = 180 - u
	}
	return u
}

// between finds the interval of the ascending list that v lies in, and where.
func between(list []float64, v float64) (i int, t float64) {
	n := len(list)
	i = sort.SearchFloat64s(list, v)
	switch {
	case i <= 0:
		return 0, 0
	case i >= n:
		return max(0, n-2), 1
	}
	return i - 1, (v - list[i-1]) / (list[i] - list[i-1])
}

// Candela is bilinear in the angles; outside the measured γ it's 0.
func (w *Web) Candela(c, gamma unit.Degree) unit.Candela {
	g := float64(gamma)
	n := len(w.gamma)
	if g < w.gamma[0]-1e-9 || g > w.gamma[n-1]+1e-9 {
		return 0
	}
	j, t := between(w.gamma, g)
	plane := func(k int) float64 {
		row := w.candela[k*n : (k+1)*n]
		if n == 1 {
			return row[0]
		}
		return row[j] + t*(row[j+1]-row[j])
	}
	if len(w.c) == 1 {
		return unit.Candela(plane(0))
	}
	k, u := between(w.c, w.fold(float64(c)))
	a, b := plane(k), plane(k+1)
	return unit.Candela(a + u*(b-a))
}

// Peak is the largest candela stored.
func (w *Web) Peak() unit.Candela {
	most := 0.0
	for _, v := range w.candela {
		most = math.Max(most, v)
	}
	return unit.Candela(most)
}

// Flux integrates the candela over the sphere: linear between the γ angles,
// with the sine integrated exactly, and linear between the planes.
func (w *Web) Flux() unit.Lumen {
	if len(w.c) == 1 {
		return unit.Lumen(2 * math.Pi * w.zonal(0))
	}
	sum := 0.0
	for k := 1; k < len(w.c); k++ {
		sum += (w.zonal(k-1) + w.zonal(k)) / 2 * (w.c[k] - w.c[k-1])
	}
	return unit.Lumen(2 * math.Pi * sum / w.span)
}

// zonal is ∫ I(γ)·sin γ dγ of one plane.
func (w *Web) zonal(k int) float64 {
	n := len(w.gamma)
	row := w.candela[k*n : (k+1)*n]
	sum := 0.0
	for j := 1; j < n; j++ {
		a, b := w.gamma[j-1]*math.Pi/180, w.gamma[j]*math.Pi/180
		slope := (row[j] - row[j-1]) / (b - a)
		// ∫ (y + s·(x−a))·sin x dx from a to b.
		sum += row[j-1]*(math.Cos(a)-math.Cos(b)) + slope*((a-b)*math.Cos(b)+math.Sin(b)-math.Sin(a))
	}
	return sum
}

// TiltFactor is the file's factor for a lamp tilted so far from straight down;
// 1 when the file has none. Outside the table its end holds.
func (w *Web) TiltFactor(angle unit.Degree) float64 {
	if len(w.Tilt) == 0 {
		return 1
	}
	var x []float64
	for _, p := range w.Tilt {
		x = append(x, p[0])
	}
	i, t := between(x, math.Abs(float64(angle)))
	if len(x) == 1 {
		return w.Tilt[0][1]
	}
	return w.Tilt[i][1] + t*(w.Tilt[i+1][1]-w.Tilt[i][1])
}

// Beam is the full angle at whose edge the candela of plane c falls to the
// share of the peak (0.5: beam angle, 0.1: field angle); 0 when it doesn't.
func (w *Web) Beam(c unit.Degree, share float64) unit.Degree {
	limit := share * float64(w.Peak())
	const step = 0.05
	for g := 0.0; g <= 180; g += step {
		if float64(w.Candela(c, unit.Degree(g))) < limit {
			return unit.Degree(2 * g)
		}
	}
	return 0
}
