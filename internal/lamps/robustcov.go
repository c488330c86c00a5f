package lamps

import (
	"math"
	"slices"
)

// covariance fills cov by the sandwich with blocks: bread from the
// equations' matrix, filling from the scores summed over spatial blocks, so that
// residuals that hang together (a shadow's edge, a figure's rim) count as the
// few observations they are. To it comes what the fit can have swallowed: a
// block's light may be off as a whole by a small share (a shadow of the
// ambient light over all that a small lamp reaches), whose size is that of the
// blocks' own mean residuals.
func (f *robustFit) covariance() bool {
	bread, _ := f.system(noHold)
	n := f.unknowns()
	m := 3 * n
	if !invertGeneral(bread, m) {
		return false
	}
	full := f.sandwich(bread)
	// The weights fall with the residual, so the equations' own matrix claims
	// more information than the biweight has; half their covariance on top
	// brings the errors of generated days to what is stated (TestDays).
	for i := range m {
		for j := range m {
			full[i*m+j] += (bread[i*m+j] + bread[j*m+i]) / 4
		}
	}
	k := f.k
	f.cov = make([]float64, 9*k*k)
	for c := range 3 {
		for a := range k {
			for d := range 3 {
				for b := range k {
					f.cov[(c*k+a)*3*k+d*k+b] = full[(c*n+a)*m+d*n+b]
				}
			}
		}
	}
	f.ok = true
	return true
}

// sandwich is bread·filling·breadᵀ over all unknowns, the filling being the
// data's scores summed over spatial blocks.
func (f *robustFit) sandwich(bread []float64) []float64 {
	n := f.unknowns()
	m := 3 * n
	blocks := f.blocks * places
	scores := make([]float64, blocks*m)
	light := make([]float64, blocks*m) // Σ w·row·y: the score of a block brighter by 1
	var up, down [3][]float64          // Σ w·r·y and Σ w·y² of each block
	for c := range 3 {
		up[c], down[c] = make([]float64, blocks), make([]float64, blocks)
	}
	row := make([]float64, n)
	for i := range f.n {
		if f.weight[i] == 0 {
			continue
		}
		at := f.where(i)*f.blocks + f.block[i]
		for c := range 3 {
			w := f.weight[i] / (f.noise[3*i+c] + f.q[f.class[i]]*f.model[3*i+c])
			f.lever(i, c, row)
			y := f.predict(f.beta[c], i, c)
			r := f.y[3*i+c] - y
			up[c][at] += w * r * y
			down[c][at] += w * y * y
			g, l := scores[at*m+c*n:], light[at*m+c*n:]
			for a, z := range row {
				g[a] += w * z * r
				l[a] += w * z * y
			}
		}
	}
	for k := range places {
		var u, d [3][]float64
		for c := range 3 {
			u[c], d[c] = up[c][k*f.blocks:(k+1)*f.blocks], down[c][k*f.blocks:(k+1)*f.blocks]
		}
		f.blockShare[k] = max(leastSwallowed[k], swallowed(u, d))
		if f.coarse {
			// What the whole picture is off by hangs together over blocks.
			f.blockShare[k] = max(f.blockShare[k], coarseTogether*math.Sqrt(f.widest(k))*responseError)
		}
	}
	meat := make([]float64, m*m)
	for b := range blocks {
		g, l := scores[b*m:(b+1)*m], light[b*m:(b+1)*m]
		e := f.blockShare[b/f.blocks] * f.blockShare[b/f.blocks]
		for i := range g {
			if g[i] == 0 && l[i] == 0 {
				continue
			}
			for j := 0; j <= i; j++ {
				meat[i*m+j] += g[i]*g[j] + e*l[i]*l[j]
			}
		}
	}
	for i := range m {
		for j := range i {
			meat[j*m+i] = meat[i*m+j]
		}
	}
	half := make([]float64, m*m) // bread·meat
	for i := range m {
		for l := range m {
			if v := bread[i*m+l]; v != 0 {
				for j := range m {
					half[i*m+j] += v * meat[l*m+j]
				}
			}
		}
	}
	full := make([]float64, m*m)
	for i := range m {
		for j := range m {
			for l := range m {
				full[i*m+j] += half[i*m+l] * bread[j*m+l]
			}
		}
	}
	return full
}

// coarseTogether is the share of a coarse model term that all bins of a block
// are off by together; it brings the errors of generated days to what is stated.
const coarseTogether = 0.5

// leastSwallowed is the least share by which a block's light may be off: in
// the room, and on the figure.
var leastSwallowed = [places]float64{0.00025, 0.0075}

// swallowed is the deviation of the blocks' relative residuals beyond what
// their noise explains, from their median square.
func swallowed(up, down [3][]float64) float64 {
	var squares, noises []float64
	for c := range up {
		for b, d := range down[c] {
			if d > 0 {
				r := up[c][b] / d
				squares = append(squares, r*r)
				noises = append(noises, 1/d)
			}
		}
	}
	if len(squares) < 10 {
		return 0
	}
	return math.Sqrt(max(0, median(squares)/chiSquareMedian-median(noises)))
}

// places are the room and the figure, whatever the light.
const places = 2

func (f *robustFit) where(i int) int {
	if f.class[i] == figure {
		return 1
	}
	return 0
}

// widest is the largest model term of the room's or the figure's classes.
func (f *robustFit) widest(place int) float64 {
	if place == 1 {
		return f.q[figure]
	}
	return slices.Max(f.q[room:figure])
}
