package lamps

import (
	"math"
	"slices"
)

// step solves β once for the present weights and variances, the three channels
// together.
func (f *robustFit) step() bool {
	a, b := f.system(stepHold)
	n := f.unknowns()
	if !invertGeneral(a, 3*n) {
		return false
	}
	next := times(a, b, 3*n)
	for c := range 3 {
		f.beta[c] = slices.Clone(next[c*n : c*n+f.k])
		for j := range f.k {
			f.sd[c][j] = math.Sqrt(max(a[(c*n+j)*(3*n+1)], 0))
		}
		if f.cross {
			f.mix[c] = [2]float64(next[c*n+f.k : c*n+n])
		}
	}
	return true
}

// system joins the channels' equations.
func (f *robustFit) system(hold float64) (a, b []float64) {
	n := f.unknowns()
	m := 3 * n
	a, b = make([]float64, m*m), make([]float64, m)
	var parts, sides [3][]float64
	inRows(3, func(from, to int) {
		for c := from; c < to; c++ {
			parts[c], sides[c] = f.equations(c, hold)
		}
	})
	for c := range 3 {
		for r := range n {
			copy(a[(c*n+r)*m+c*n:], parts[c][r*n:r*n+n])
		}
		copy(b[c*n:], sides[c])
	}
	return a, b
}

// equations builds channel c's equations a·unknowns = b, a full n×n. Each
// picture's weight is held to the present one with the deviation hold, in
// reference levels.
func (f *robustFit) equations(c int, hold float64) (a, b []float64) {
	n := f.unknowns()
	a, b = make([]float64, n*n), make([]float64, n)
	row, lever := make([]float64, n), make([]float64, n)
	for i := range f.n {
		if f.weight[i] == 0 {
			continue
		}
		w := f.weight[i] / (f.noise[3*i+c] + f.q[f.class[i]]*f.model[3*i+c])
		if f.cross {
			f.row(i, c, row)
			f.lever(i, c, lever)
		} else {
			row, lever = f.x[(3*i+c)*n:(3*i+c+1)*n], f.z[(3*i+c)*n:(3*i+c+1)*n]
		}
		wy := w * f.y[3*i+c]
		for r, z := range lever {
			b[r] += wy * z
			dst := a[r*n : r*n+n]
			wz := w * z
			for j, x := range row {
				dst[j] += wz * x
			}
		}
	}
	for j := range f.k {
		s := hold * max(f.reference[c][j], 0.05)
		a[j*n+j] += 1 / (s * s)
		b[j] += f.beta[c][j] / (s * s)
	}
	if f.cross {
		a[f.k*n+f.k] += 1 / (crossPrior * crossPrior)
		a[(f.k+1)*n+f.k+1] += 1 / (crossPrior * crossPrior)
	}
	return a, b
}

// How each round holds the weights to the last one's: a picture that tells its
// own weight to better than stepHold gets there in a round or two, one lost in
// noise stays near where it was and can't pull the others about. The
// covariance is made nearly without hold, so that it tells which is which.
const (
	stepHold = 0.05
	noHold   = 10
)

// lever writes the instruments of channel c's unknowns at bin i.
func (f *robustFit) lever(i, c int, dst []float64) {
	copy(dst, f.z[(3*i+c)*f.k:(3*i+c+1)*f.k])
	if f.cross {
		a, b := others(c)
		dst[f.k], dst[f.k+1] = f.shown[3*i+a], f.shown[3*i+b]
	}
}

// instruments fills z: the bin's own light in the reference mix, which is known
// far better than any one picture, times the picture's share of its
// neighbours' light.
func (f *robustFit) instruments() {
	k := f.k
	at := make([]int, f.gridW*f.gridH)
	for i := range at {
		at[i] = -1
	}
	for i, p := range f.place {
		at[p] = i
	}
	f.z = make([]float64, len(f.x))
	total := make([]float64, 3*f.n)
	for i := range f.n {
		for c := range 3 {
			total[3*i+c] = f.lamps(f.reference[c], i, c)
		}
	}
	const reach = 2
	inRows(f.n, func(from, to int) {
		for i := from; i < to; i++ {
			x, y := f.place[i]%f.gridW, f.place[i]/f.gridW
			var sum [3]float64
			for v := max(0, y-reach); v <= min(f.gridH-1, y+reach); v++ {
				for u := max(0, x-reach); u <= min(f.gridW-1, x+reach); u++ {
					j := at[v*f.gridW+u]
					if j < 0 || j == i {
						continue
					}
					for c := range 3 {
						sum[c] += total[3*j+c]
						z, q := f.z[(3*i+c)*k:(3*i+c+1)*k], f.x[(3*j+c)*k:(3*j+c+1)*k]
						for l := range z {
							z[l] += q[l]
						}
					}
				}
			}
			for c := range 3 {
				z := f.z[(3*i+c)*k : (3*i+c+1)*k]
				g := 0.0
				if sum[c] > 0 {
					g = max(total[3*i+c], 0) / sum[c]
				}
				for l := range z {
					z[l] *= g
				}
			}
		}
	})
}

// row writes the coefficients of channel c's unknowns at bin i.
func (f *robustFit) row(i, c int, dst []float64) {
	copy(dst, f.x[(3*i+c)*f.k:(3*i+c+1)*f.k])
	if f.cross {
		a, b := others(c)
		dst[f.k], dst[f.k+1] = f.shown[3*i+a], f.shown[3*i+b]
	}
}

// times is the product of a full n×n matrix and a vector.
func times(a, b []float64, n int) []float64 {
	out := make([]float64, n)
	for i := range n {
		for j, v := range a[i*n : i*n+n] {
			out[i] += v * b[j]
		}
	}
	return out
}
