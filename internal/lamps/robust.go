package lamps

import (
	"fmt"
	"math"
	"slices"
)

// robustFit explains binned light y as Σ β·x with unknown β for each channel,
// where x (the lamp pictures) is itself uncertain with known covariance, and a
// part of the bins has nothing to do with the lamps (a figure that moved, a
// new thing in the picture).
//
// It is an M-estimate with Tukey's biweight on residuals normalised by all that
// is known to move them: the frame's noise, the pictures' noise carried through
// β, and a model term (alignment, response) whose size q is found from the
// bulk of the residuals. The three channels of a bin share one weight.
//
// Noise in x would bend every level towards 0, and the ambient's most
// (regression dilution). So each bin's equations are multiplied not by its own
// x but by an instrument z made of its neighbours' (Fuller, Measurement Error
// Models, 1987, section 1.4): as large where the lamp shines, and with noise
// of its own. Then β is right whatever the size of the noise, and the noise
// model is needed for the weights alone.
type robustFit struct {
	k int // columns
	n int // bins
	// Three channels a bin: x is n·3·k, y and the variances n·3, s is n·3·k².
	x, y, s []float64
	z       []float64 // instruments, as x
	// reference is the weight of each picture that is expected, by channel.
	reference    [3][]float64
	frame        func(c int, light float64) float64 // variance of y for one pixel
	area         []float64                          // independent pixels behind each bin
	misfit       []float64                          // how much more than s the pictures may err (≥ 1): ghosts
	model        []float64                          // variance of y for q = 1
	gridW, gridH int
	place        []int // of each bin in the grid
	block        []int // spatial block of each bin, for honest errors
	blocks       int

	// cross lets a part of each channel's light come from the other two: a
	// white balance that moved before the camera's matrix. The two unknown
	// shares of a channel follow its pictures in the equations.
	cross bool

	sd     [3][]float64 // of β by the equations alone
	q      float64
	noise  []float64     // variance of each bin and channel by noise alone
	beta   [3][]float64  // of the pictures, before mixing of channels
	mix    [3][2]float64 // shares of the other two channels, in rising order
	pure   []float64     // light of each bin and channel before mixing (n·3), with cross
	weight []float64     // 0..1 for each bin
	own    []float64     // length of each bin's normalised residual over its three channels
	norm   []float64     // length of each bin's normalised residual, its own or its neighbourhood's, the larger
	cov    []float64     // (3k)²; channel-major
	// blockShare is the share by which a block's light may be off as a whole.
	blockShare float64
	ok         bool
}

const (
	// tukeyCut is where the biweight on the length of a three-channel residual
	// reaches 0: 95 % efficiency for normal errors in three dimensions
	// (computed: TestTukeyEfficiency).
	tukeyCut = 5.5
	// chi3Quartile is the 25 % point of χ² with 3 degrees of freedom.
	chi3Quartile = 1.212533
	// chi3Outer is its 60 % point; innerShare the share of what lies below it
	// that lies below the quartile.
	chi3Outer  = 2.946166
	innerShare = .25 / .6
	// maxModel bounds q: beyond it the frame isn't of this set.
	maxModel = 1e6
)

func tukeyWeight(r float64) float64 {
	if r >= tukeyCut {
		return 0
	}
	u := r / tukeyCut
	u = 1 - u*u
	return u * u
}

// lamps is Σ β·x of bin i, channel c.
func (f *robustFit) lamps(beta []float64, i, c int) float64 {
	x := f.x[(3*i+c)*f.k : (3*i+c+1)*f.k]
	s := 0.0
	for j, b := range beta {
		s += b * x[j]
	}
	return s
}

// others are the two channels beside c, in rising order.
func others(c int) (int, int) {
	switch c {
	case 0:
		return 1, 2
	case 1:
		return 0, 2
	}
	return 0, 1
}

// predict is what the fit expects of bin i, channel c, for the pictures'
// factors beta.
func (f *robustFit) predict(beta []float64, i, c int) float64 {
	s := f.lamps(beta, i, c)
	if f.cross {
		a, b := others(c)
		s += f.mix[c][0]*f.pure[3*i+a] + f.mix[c][1]*f.pure[3*i+b]
	}
	return s
}

// purify fills pure from the present β.
func (f *robustFit) purify() {
	if f.pure == nil {
		f.pure = make([]float64, 3*f.n)
	}
	inRows(f.n, func(from, to int) {
		for i := from; i < to; i++ {
			for c := range 3 {
				f.pure[3*i+c] = f.lamps(f.beta[c], i, c)
			}
		}
	})
}

// unknowns is the number of unknowns of a channel.
func (f *robustFit) unknowns() int {
	if f.cross {
		return f.k + 2
	}
	return f.k
}

// crossPrior is the deviation, before measuring, of the share of a channel
// that comes from another after a change of white balance.
const crossPrior = 0.1

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

// lengths returns, for a given q, each bin's squared normalised residual over
// the channels (own), and that of the sum of its neighbourhood of 3×3 bins
// (near), scaled so that both are χ² with three degrees of freedom when
// residuals are independent. A shadow that moved a little lifts near long
// before it lifts own.
func (f *robustFit) lengths(r []float64, q float64, own, near []float64) {
	w, h := f.gridW, f.gridH
	u := make([]float64, 4*w*h) // three channels and a count
	for i, at := range f.place {
		t := 0.0
		for c := range 3 {
			v := r[3*i+c] / math.Sqrt(f.noise[3*i+c]+q*f.model[3*i+c])
			u[4*at+c] = v
			t += v * v
		}
		u[4*at+3] = 1
		own[i] = t
	}
	for i, at := range f.place {
		x, y := at%w, at/w
		var s [4]float64
		for j := max(0, y-1); j <= min(h-1, y+1); j++ {
			for k := max(0, x-1); k <= min(w-1, x+1); k++ {
				for c := range s {
					s[c] += u[4*(j*w+k)+c]
				}
			}
		}
		near[i] = (s[0]*s[0] + s[1]*s[1] + s[2]*s[2]) / s[3]
	}
}

// findModel sets q so that the spread of the small normalised residuals, own
// and near, has the shape that normal errors give: of the bins below χ²'s 60 %
// point, the right share lies below its 25 % point. A shape rather than a
// quantile, since a moved figure and its shadows may touch half the bins, and
// those are spread far wider. q = 0 when noise alone explains it.
func (f *robustFit) findModel(r []float64) {
	own, near := make([]float64, f.n), make([]float64, f.n)
	wide := func(x []float64) float64 {
		inner, outer := 1e-9, 1e-9
		for _, t := range x {
			if t < chi3Outer {
				outer++
				if t < chi3Quartile {
					inner++
				}
			}
		}
		return innerShare - inner/outer // above 0: too wide
	}
	excess := func(q float64) float64 {
		f.lengths(r, q, own, near)
		return max(wide(own), wide(near))
	}
	f.q = 0
	if excess(0) > 0 {
		lo, hi := -20.0, math.Log2(maxModel)
		for range 20 {
			mid := (lo + hi) / 2
			if excess(math.Exp2(mid)) > 0 {
				lo = mid
			} else {
				hi = mid
			}
		}
		f.q = math.Exp2((lo + hi) / 2)
	}
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

// step solves β once for the present weights and variances.
func (f *robustFit) step() bool {
	if f.cross {
		f.purify()
	}
	ok := [3]bool{}
	var next [3][]float64
	n := f.unknowns()
	inRows(3, func(from, to int) {
		for c := from; c < to; c++ {
			a, b := f.equations(c, stepHold)
			if !invertGeneral(a, n) {
				continue
			}
			next[c], ok[c] = times(a, b, n), true
			for j := range f.k {
				f.sd[c][j] = math.Sqrt(max(a[j*n+j], 0))
			}
		}
	})
	if !ok[0] || !ok[1] || !ok[2] {
		return false
	}
	for c := range 3 {
		f.beta[c] = next[c][:f.k]
		if f.cross {
			f.mix[c] = [2]float64(next[c][f.k:])
		}
	}
	if f.cross {
		f.purify()
	}
	return true
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
		w := f.weight[i] / (f.noise[3*i+c] + f.q*f.model[3*i+c])
		f.row(i, c, row)
		f.lever(i, c, lever)
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
		dst[f.k], dst[f.k+1] = f.pure[3*i+a], f.pure[3*i+b]
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
		dst[f.k], dst[f.k+1] = f.pure[3*i+a], f.pure[3*i+b]
	}
}

// expect takes the weights that are expected.
func (f *robustFit) expect(reference [3][]float64) {
	f.reference = reference
	f.instruments()
}

// run iterates the biweight from the start β to convergence; false when the
// unknowns can't be told apart.
func (f *robustFit) run(start [3][]float64, rounds int) bool {
	f.weight = make([]float64, f.n)
	f.norm = make([]float64, f.n)
	for c := range 3 {
		f.beta[c] = slices.Clone(start[c])
	}
	for c := range f.sd {
		f.sd[c] = make([]float64, f.k)
	}
	for round := range rounds {
		if round == 0 || round == unsettled {
			f.settle()
		}
		r := f.residuals()
		if round <= unsettled {
			f.findModel(r)
		} else {
			f.measure(r)
		}
		for i, r := range f.norm {
			f.weight[i] = tukeyWeight(r)
		}
		f.distrust()
		before := f.beta
		if !f.step() {
			return false
		}
		if debugPrint {
			fmt.Printf("%d q %.3f expl %.3f", round, f.q, f.explained())
			for j := range f.k {
				fmt.Printf(" %.4f", f.beta[1][j])
			}
			fmt.Println()
		}
		if round > unsettled && f.moved(before) < 1 {
			break
		}
	}
	return true
}

// unsettled is the round until which variances and q follow.
const unsettled = 4

// converged is the change of every weight below which rounds end, a tenth of
// the accuracy wanted of a level.
const converged = 2e-4

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

// moved is the largest change of β between two rounds, in units of what is
// worth another round: converged, or a tenth of the weight's own uncertainty.
func (f *robustFit) moved(before [3][]float64) float64 {
	m := 0.0
	for c := range 3 {
		for j, b := range f.beta[c] {
			m = max(m, math.Abs(b-before[c][j])/max(converged, f.sd[c][j]/10))
		}
	}
	return m
}

// covariance fills cov by the sandwich with blocks: bread from the
// equations' matrix, filling from the scores summed over spatial blocks, so that
// residuals that hang together (a shadow's edge, a figure's rim) count as the
// few observations they are. To it comes what the fit can have swallowed: a
// block's light may be off as a whole by a small share (a shadow of the
// ambient light over all that a small lamp reaches), whose size is that of the
// blocks' own mean residuals.
func (f *robustFit) covariance() bool {
	k, n := f.k, f.unknowns()
	var bread [3][]float64
	for c := range 3 {
		bread[c], _ = f.equations(c, noHold)
		if !invertGeneral(bread[c], n) {
			return false
		}
	}
	m := 3 * n
	scores := make([]float64, f.blocks*m)
	light := make([]float64, f.blocks*m) // Σ w·row·y: the score of a block brighter by 1
	var up, down [3][]float64            // Σ w·r·y and Σ w·y² of each block
	for c := range 3 {
		up[c], down[c] = make([]float64, f.blocks), make([]float64, f.blocks)
	}
	row := make([]float64, n)
	for i := range f.n {
		if f.weight[i] == 0 {
			continue
		}
		at := f.block[i]
		for c := range 3 {
			w := f.weight[i] / (f.noise[3*i+c] + f.q*f.model[3*i+c])
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
	f.blockShare = swallowed(up, down)
	meat := make([]float64, m*m)
	for b := range f.blocks {
		g, l := scores[b*m:(b+1)*m], light[b*m:(b+1)*m]
		e := f.blockShare * f.blockShare
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
		c, a := i/n, i%n
		for j := range m {
			for l := range n {
				half[i*m+j] += bread[c][a*n+l] * meat[(c*n+l)*m+j]
			}
		}
	}
	full := make([]float64, m*m)
	for j := range m {
		c, b := j/n, j%n
		for i := range m {
			for l := range n {
				full[i*m+j] += half[i*m+c*n+l] * bread[c][b*n+l]
			}
		}
	}
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

// leastSwallowed is the least share by which a block's light may be off.
const leastSwallowed = 0.001

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
		return leastSwallowed
	}
	v := median(squares)/chiSquareMedian - median(noises)
	return max(leastSwallowed, math.Sqrt(max(v, 0)))
}
