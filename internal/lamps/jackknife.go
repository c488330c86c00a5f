package lamps

import (
	"math"
	"slices"
	"sync"
)

// What a camera, a codec or a flickering lamp does wrong hangs together in
// other ways than by neighbourhood: along rows, which a rolling shutter reads
// one after the other; along columns; and over all places of one level, which
// a wrong curve or coarse codes bend alike. Blocks of a picture know nothing
// of that. So the bins are parted in each of these ways in turn, and each
// lamp's error is the largest of the grouped jackknife's (Efron and Tibshirani,
// An Introduction to the Bootstrap, 1993, section 11.5). A group is left out in
// one step, with the weights held: leaveOut, which weighs anew, is dearer.
const (
	rowBands    = 9
	columnBands = 12
	levelBands  = 8
)

// spreadOut widens cov by the jackknife over rows, columns and levels.
func (f *robustFit) spreadOut() {
	light := make([]float64, f.n)
	for i := range f.n {
		for c := range 3 {
			light[i] += f.lamps(f.beta[c], i, c)
		}
	}
	sorted := slices.Clone(light)
	slices.Sort(sorted)
	rows, columns, levels := make([]int, f.n), make([]int, f.n), make([]int, f.n)
	for i, p := range f.place {
		rows[i] = p / f.gridW * rowBands / f.gridH
		columns[i] = p % f.gridW * columnBands / f.gridW
		at, _ := slices.BinarySearch(sorted, light[i])
		levels[i] = at * levelBands / f.n
	}
	var found [3][]float64 // (3k)², channel-major
	var wait sync.WaitGroup
	for k, p := range []struct {
		of     []int
		groups int
	}{{rows, rowBands}, {columns, columnBands}, {levels, levelBands}} {
		wait.Go(func() { found[k] = f.grouped(p.of, p.groups) })
	}
	wait.Wait()
	for _, v := range found {
		f.widen(v)
	}
}

// widen raises each weight's variance to at least that of v, correlations
// kept, and then that of each picture's contrast of red and blue with green.
// Channels err together, so that a contrast is known far better than either;
// errors of chroma alone don't show in the weights' own variances.
func (f *robustFit) widen(v []float64) {
	k := f.k
	m := 3 * k
	for a := range m {
		if own := f.cov[a*(m+1)]; v[a*(m+1)] > own && own > 0 {
			g := math.Sqrt(v[a*(m+1)] / own)
			for b := range m {
				f.cov[a*m+b] *= g
				f.cov[b*m+a] *= g
			}
		}
	}
	for j := range k {
		contrast := func(cov []float64, c int) float64 {
			p, q := c*k+j, k+j
			x, y := 1/f.beta[c][j], 1/f.beta[1][j]
			return x*x*cov[p*m+p] + y*y*cov[q*m+q] - 2*x*y*cov[p*m+q]
		}
		for _, c := range [2]int{0, 2} {
			if f.beta[c][j] == 0 || f.beta[1][j] == 0 {
				continue
			}
			if more := contrast(v, c) - contrast(f.cov, c); more > 0 {
				f.cov[(c*k+j)*(m+1)] += more * f.beta[c][j] * f.beta[c][j]
			}
		}
	}
}

// grouped is the jackknife's covariance of the weights, channel-major, when the
// bins are parted into groups (of has each bin's).
func (f *robustFit) grouped(of []int, groups int) []float64 {
	k := f.k
	m := 3 * k
	shifts := make([]float64, groups*m)
	for c := range 3 {
		f.leaveGroups(c, of, groups, shifts)
	}
	out := make([]float64, m*m)
	used := 0.0
	for g := range groups {
		d := shifts[g*m : (g+1)*m]
		some := false
		for a, x := range d {
			some = some || x != 0
			for b, y := range d {
				out[a*m+b] += x * y
			}
		}
		used += boolTo(some)
	}
	for a := range out {
		out[a] *= (used - 1) / max(used, 1)
	}
	return out
}

// leaveGroups writes how channel c's weights move when each group is left out.
func (f *robustFit) leaveGroups(c int, of []int, groups int, shifts []float64) {
	n, k := f.unknowns(), f.k
	a, s := make([]float64, groups*n*n), make([]float64, groups*n)
	row, lever := make([]float64, n), make([]float64, n)
	for i := range f.n {
		if f.weight[i] == 0 {
			continue
		}
		g := of[i]
		w := f.weight[i] / (f.noise[3*i+c] + f.q[f.class[i]]*f.model[3*i+c])
		f.row(i, c, row)
		f.lever(i, c, lever)
		r := w * (f.y[3*i+c] - f.predict(f.beta[c], i, c))
		for l, z := range lever {
			s[g*n+l] += r * z
			dst := a[(g*n+l)*n : (g*n+l+1)*n]
			wz := w * z
			for j, x := range row {
				dst[j] += wz * x
			}
		}
	}
	whole := make([]float64, n*n)
	for j := range k {
		h := noHold * max(f.reference[c][j], 0.05)
		whole[j*n+j] = 1 / (h * h)
	}
	for j := k; j < n; j++ {
		whole[j*n+j] = 1 / (crossPrior * crossPrior)
	}
	for g := range groups {
		for i, v := range a[g*n*n : (g+1)*n*n] {
			whole[i] += v
		}
	}
	all := slices.Clone(whole)
	if !invertGeneral(all, n) {
		return
	}
	for g := range groups {
		rest := slices.Clone(whole)
		for i, v := range a[g*n*n : (g+1)*n*n] {
			rest[i] -= v
		}
		if !invertGeneral(rest, n) {
			continue
		}
		gone, near := times(rest, s[g*n:(g+1)*n], n), times(all, s[g*n:(g+1)*n], n)
		for j := range k {
			// A lamp that shines in one group alone can't do without it: what
			// little is left elsewhere says nothing of the error it has here.
			d := gone[j]
			if rest[j*n+j] > leastRest*all[j*n+j] {
				if other := math.Sqrt(leastRest) * near[j]; math.Abs(other) < math.Abs(d) {
					d = other
				}
			}
			shifts[g*3*k+c*k+j] = d
		}
	}
}

// leastRest is by what factor a lamp's variance may grow when a group is left out.
const leastRest = 4

// banded is how far, as a share of the light, the rows of the room stand off
// the fit one against the other, beyond what their bins' own scatter explains:
// a lamp's flicker under a rolling shutter. Which of the rows show the usual
// light can't be told, and the biweight takes to those that agree among
// themselves; so the whole light is unsure by as much.
func (f *robustFit) banded() float64 {
	rows := make([][]float64, f.gridH)
	for i, p := range f.place {
		if f.class[i] == figure || f.left != nil && f.left[i] {
			continue
		}
		var is, fit float64
		for c := range 3 {
			is, fit = is+f.y[3*i+c], fit+f.predict(f.beta[c], i, c)
		}
		if is > 0 && fit > 0 {
			rows[p/f.gridW] = append(rows[p/f.gridW], math.Log(is/fit))
		}
	}
	var middles, own []float64
	for _, r := range rows {
		if len(r) < fewestInRow {
			continue
		}
		m := median(r)
		middles = append(middles, m)
		for i := range r {
			r[i] = math.Abs(r[i] - m)
		}
		const medianOverMean = math.Pi / 2 // variance of the median over that of the mean, normal errors
		own = append(own, sq(median(r)/normalQuartile)*medianOverMean/float64(len(r)))
	}
	if len(middles) < 2*rowBands {
		return 0
	}
	m := median(middles)
	for i := range middles {
		middles[i] = math.Abs(middles[i] - m)
	}
	return math.Sqrt(max(0, sq(median(middles)/normalQuartile)-median(own)))
}

const fewestInRow = 12

// doubtAll adds an error that all of the light shares.
func (f *robustFit) doubtAll(share float64) {
	m := 3 * f.k
	for a := range m {
		for b := range m {
			f.cov[a*m+b] += share * share * f.beta[a/f.k][a%f.k] * f.beta[b/f.k][b%f.k]
		}
	}
}
