package lamps

import (
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
	class        []int                              // room or figure
	misfit       []float64                          // how much more than s the pictures may err (≥ 1): ghosts
	model        []float64                          // variance of y for q = 1
	gridW, gridH int
	place        []int // of each bin in the grid
	block        []int // spatial block of each bin, for honest errors
	blocks       int

	// cross allows a white balance that moved before the camera's matrix, so
	// that channels mix: today's light, its other channels subtracted in
	// unknown shares, is then the lamps' sum. The other channels are taken as
	// the fit itself explains them (shown), not as they were recorded: what a
	// codec or a shadow does to one channel it does to all three, and a
	// recorded channel would explain its neighbour's errors, and with them
	// the light itself, better than any lamp.
	cross    bool
	straight bool      // the white balance is known not to have moved: never cross
	shown    []float64 // n·3
	coarse   bool      // q was set, not found: the whole picture is a little off
	scratch  []float64
	left     []bool       // bins left out of a trial
	sd       [3][]float64 // of β by the equations alone
	q        [classes]float64
	noise    []float64     // variance of each bin and channel by noise alone
	beta     [3][]float64  // of the pictures, before mixing of channels
	mix      [3][2]float64 // shares of the other two channels, in rising order, that are taken off
	weight   []float64     // 0..1 for each bin
	norm     []float64     // length of each bin's normalised residual, its own or its neighbourhood's, the larger
	cov      []float64     // (3k)²; channel-major
	// blockShare is the share by which a block's light may be off as a whole.
	blockShare [places]float64
	ok         bool
}

const (
	// tukeyCut is where the biweight on the length of a three-channel residual
	// reaches 0. A low one: what it costs in efficiency for normal errors
	// (TestTukeyEfficiency) is less than what half-spoilt bins would cost.
	tukeyCut        = 4.0
	tukeyEfficiency = 0.82
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
		s += f.mix[c][0]*f.shown[3*i+a] + f.mix[c][1]*f.shown[3*i+b]
	}
	return s
}

// show renews shown from the present unknowns.
func (f *robustFit) show() {
	if !f.cross {
		return
	}
	m := f.mixing()
	f.shown = make([]float64, 3*f.n)
	inRows(f.n, func(from, to int) {
		for i := from; i < to; i++ {
			v := m.Apply([3]float64{f.lamps(f.beta[0], i, 0), f.lamps(f.beta[1], i, 1), f.lamps(f.beta[2], i, 2)})
			copy(f.shown[3*i:3*i+3], v[:])
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
	f.take(start)
	for c := range f.sd {
		f.sd[c] = make([]float64, f.k)
	}
	for round := range rounds {
		f.show()
		if round == 0 || round == unsettled {
			f.settle()
		}
		r := f.residuals()
		if round <= unsettled && !f.coarse {
			f.findModel(r)
		} else {
			f.measure(r)
		}
		f.weigh()
		before := f.beta
		if !f.step() {
			return false
		}
		if round > unsettled && f.moved(before) < 1 {
			break
		}
	}
	return true
}

// take sets the unknowns from one row a channel: the pictures' weights, and
// with cross the shares after them (0 when the row ends before).
func (f *robustFit) take(rows [3][]float64) {
	for c := range 3 {
		f.beta[c] = slices.Clone(rows[c][:f.k])
		f.mix[c] = [2]float64{}
		if f.cross && len(rows[c]) == f.k+2 {
			f.mix[c] = [2]float64(rows[c][f.k:])
		}
	}
}

// rows are the present unknowns, as take wants them.
func (f *robustFit) rows() (rows [3][]float64) {
	for c := range 3 {
		rows[c] = append(slices.Clone(f.beta[c]), f.mix[c][:]...)
	}
	return rows
}

// weigh gives each bin its weight from norm.
func (f *robustFit) weigh() {
	for i, r := range f.norm {
		f.weight[i] = tukeyWeight(r)
	}
	f.distrust()
	for i, l := range f.left {
		if l {
			f.weight[i] = 0
		}
	}
}

// broaden takes the case in which the whole picture is a little off, as when a
// figure moves in light that comes from everywhere: what then agrees to the
// noise may do so by chance. When too few of the bins agree, but most would
// with a model term of a few per cent, that is taken and the fit done again.
func (f *robustFit) broaden() bool {
	if f.explained() >= enoughExplained {
		return true
	}
	r := f.residuals()
	own, near := make([]float64, f.n), make([]float64, f.n)
	lo, hi := -12.0, math.Log2(broadest)
	var q [classes]float64
	at := func(x float64) float64 {
		for k := range q {
			q[k] = max(f.q[k], math.Exp2(x))
		}
		f.lengths(r, q, own, near)
		for i, v := range near {
			own[i] = max(own[i], v/2)
		}
		return quantile(own, broadShare)
	}
	if at(hi) > chi3Broad {
		return true // not a little off: much of it is something else
	}
	for range 16 {
		if mid := (lo + hi) / 2; at(mid) > chi3Broad {
			lo = mid
		} else {
			hi = mid
		}
	}
	at(hi)
	f.q, f.coarse = q, true
	return f.run(f.rows(), 20)
}

const (
	enoughExplained = 0.6
	broadest        = 900  // q: three per cent of the light
	broadShare      = 0.65 // of the bins must be within χ²'s own point for it
	chi3Broad       = 3.282541
)

// unsettled is the round until which variances and q follow.
const unsettled = 4

// converged is the change of every weight below which rounds end, a tenth of
// the accuracy wanted of a level.
const converged = 2e-4

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
