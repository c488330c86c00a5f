package lamps

import "math"

// spread is βᵀSβ of bin i, channel c.
func (f *robustFit) spread(beta []float64, i, c int) float64 {
	k := f.k
	m := f.s[(3*i+c)*k*k : (3*i+c+1)*k*k]
	t := 0.0
	for a := range k {
		row := m[a*k : a*k+k]
		u := 0.0
		for b, v := range row {
			u += v * beta[b]
		}
		t += u * beta[a]
	}
	return t
}

// settle computes the residuals' noise variances for the present β. They are
// held through the following rounds: were they to follow β at once, a picture
// that little tells could feed its own variance.
func (f *robustFit) settle() {
	if f.noise == nil {
		f.noise = make([]float64, 3*f.n)
	}
	inRows(f.n, func(from, to int) {
		for i := from; i < to; i++ {
			for c := range 3 {
				light := f.predict(f.beta[c], i, c)
				f.noise[3*i+c] = f.frame(c, light)/f.area[i] + f.misfit[i]*f.spread(f.beta[c], i, c) + noiseFloor
			}
		}
	})
}

// residuals returns each bin's signed residuals.
func (f *robustFit) residuals() []float64 {
	r := make([]float64, 3*f.n)
	inRows(f.n, func(from, to int) {
		for i := from; i < to; i++ {
			for c := range 3 {
				r[3*i+c] = f.y[3*i+c] - f.predict(f.beta[c], i, c)
			}
		}
	})
	return r
}

// lengths returns, for given q, each bin's squared normalised residual over
// the channels (own), and that of the sum of its neighbourhood of 3×3 bins
// (near), scaled so that both are χ² with three degrees of freedom when
// residuals are independent. A shadow that moved a little lifts near long
// before it lifts own.
func (f *robustFit) lengths(r []float64, q [classes]float64, own, near []float64) {
	w, h := f.gridW, f.gridH
	if len(f.scratch) != 8*w*h {
		f.scratch = make([]float64, 8*w*h)
	}
	u, across := f.scratch[:4*w*h], f.scratch[4*w*h:] // three channels and a count
	clear(u)
	for i, at := range f.place {
		t := 0.0
		k := q[f.class[i]]
		for c := range 3 {
			v := r[3*i+c] / math.Sqrt(f.noise[3*i+c]+k*f.model[3*i+c])
			u[4*at+c] = v
			t += v * v
		}
		u[4*at+3] = 1
		own[i] = t
	}
	for y := range h {
		row, dst := u[4*y*w:4*(y+1)*w], across[4*y*w:4*(y+1)*w]
		copy(dst, row)
		for i := 4; i < len(row); i++ {
			dst[i] += row[i-4]
			dst[i-4] += row[i]
		}
	}
	for i, at := range f.place {
		y := at / w
		s := [4]float64(across[4*at : 4*at+4])
		if y > 0 {
			for c, v := range across[4*(at-w) : 4*(at-w)+4] {
				s[c] += v
			}
		}
		if y+1 < h {
			for c, v := range across[4*(at+w) : 4*(at+w)+4] {
				s[c] += v
			}
		}
		near[i] = (s[0]*s[0] + s[1]*s[1] + s[2]*s[2]) / s[3]
	}
}

// findModel sets each class's q so that the spread of the small normalised
// residuals, own and near, has the shape that normal errors give: of the bins
// below χ²'s 60 % point, the right share lies below its 25 % point. A shape
// rather than a quantile, since a moved figure and its shadows may touch half
// the bins, and those are spread far wider. q = 0 when noise alone explains it.
func (f *robustFit) findModel(r []float64) {
	own, near := make([]float64, f.n), make([]float64, f.n)
	var q, lo, hi [classes]float64
	for k := range classes {
		lo[k], hi[k] = -12, math.Log2(maxModel)
	}
	wide := func(x []float64) (w [classes]float64) {
		var inner, outer [classes]float64
		for i, t := range x {
			if t < chi3Outer {
				outer[f.class[i]]++
				if t < chi3Quartile {
					inner[f.class[i]]++
				}
			}
		}
		for k := range w {
			if outer[k] > 0 {
				w[k] = innerShare - inner[k]/outer[k] // above 0: too wide
			} else {
				w[k] = 1 // so wide that nothing is small
			}
		}
		return w
	}
	var none [classes]bool
	for round := range 12 {
		f.lengths(r, q, own, near)
		a, b := wide(own), wide(near)
		for k := range classes {
			tooWide := max(a[k], b[k]) > 0
			switch {
			case round == 0:
				none[k] = !tooWide
			case tooWide:
				lo[k] = math.Log2(q[k])
			default:
				hi[k] = math.Log2(q[k])
			}
			if !none[k] {
				q[k] = math.Exp2((lo[k] + hi[k]) / 2)
			}
		}
	}
	f.q = q
	f.measure(r)
}

// measure fills norm for the present q.
func (f *robustFit) measure(r []float64) {
	own, near := make([]float64, f.n), make([]float64, f.n)
	f.lengths(r, f.q, own, near)
	for i := range f.norm {
		f.norm[i] = math.Sqrt(max(own[i], near[i]))
	}
}

// distrust lowers the weight of bins whose neighbours have been turned away:
// what spoilt those rarely ends at a bin's border.
func (f *robustFit) distrust() {
	w, h := f.gridW, f.gridH
	grid := make([]float64, w*h)
	for i := range grid {
		grid[i] = -1
	}
	for i, at := range f.place {
		grid[at] = f.weight[i]
	}
	const reach = 1
	for i, at := range f.place {
		x, y := at%w, at/w
		s, n := 0.0, 0.0
		for j := max(0, y-reach); j <= min(h-1, y+reach); j++ {
			for k := max(0, x-reach); k <= min(w-1, x+reach); k++ {
				if v := grid[j*w+k]; v >= 0 {
					s += v
					n++
				}
			}
		}
		f.weight[i] *= s / n
	}
}
