package gauge

import "math"

// tally counts whole-number differences by size; the last bin takes all that
// are larger.
type tally []uint32

func (t tally) add(d int) {
	if d < 0 {
		d = -d
	}
	t[min(d, len(t)-1)]++
}

func (t tally) total() (n int) {
	for _, c := range t {
		n += int(c)
	}
	return n
}

// filter is how neighbouring samples are weighted to a difference. The weights
// sum to 0, and what changes evenly leaves no difference.
type filter struct {
	weights []float64
	gain    float64 // sum of the squared weights
}

func newFilter(weights ...float64) filter {
	f := filter{weights: weights}
	for _, w := range weights {
		f.gain += w * w
	}
	return f
}

var (
	overTime = newFilter(1, -1)     // this frame against the one before
	across   = newFilter(2, -1, -1) // see highPass
)

// highPass is the second difference across: a gradient leaves 0.
func highPass(row []uint16, x int) int {
	return 2*int(row[x]) - int(row[x-1]) - int(row[x+1])
}

// sigma is the standard deviation, in codes before rounding, of samples whose
// differences by f were tallied. It rests on the part of the differences that
// are smallest: those whose share comes nearest to core (0..1), so that edges
// and motion, which make large ones, do little. ok is false where there are
// too few differences, or most are larger than the tally tells apart. Below
// leastSigma it comes back as 0.
func (t tally) sigma(f filter, core float64) (s float64, ok bool) {
	const fewest = 30
	total := t.total()
	if total < fewest {
		return 0, false
	}
	best, at, n := 0.0, -1, 0
	for j := range len(t) - 1 {
		n += int(t[j])
		q := float64(n) / float64(total)
		if at < 0 || math.Abs(q-core) < math.Abs(best-core) {
			best, at = q, j
		}
		if q > core {
			break
		}
	}
	if float64(n) < core/2*float64(total) {
		return 0, false
	}
	if best >= f.within(leastSigma, at) {
		return 0, true
	}
	// Far from rounding the difference is as good as normal.
	wide := (float64(at) + 0.5) / (math.Sqrt2 * math.Erfinv(best))
	v := (wide*wide - (f.gain-1)/12) / f.gain
	const smooth = 1.5 // codes; above it the two agree to a thousandth
	if v > smooth*smooth {
		return math.Sqrt(v), true
	}
	lo, hi := leastSigma, 2*smooth
	for range 24 {
		mid := (lo + hi) / 2
		if f.within(mid, at) > best {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo, true
}

// leastSigma is the smallest standard deviation, in codes, that rounding lets
// one tell: below it most samples of a patch fall on one code.
const leastSigma = 0.2

// within is the chance that a difference of samples of standard deviation s,
// each rounded to a whole number from means that lie anywhere between two,
// is no larger than j. Such a difference has, at whole numbers, the density of
// the normal noise plus one uniform error for each sample; it is had from the
// characteristic function, of which the noise leaves only small arguments.
func (f filter) within(s float64, j int) float64 {
	const far, steps = 6.0, 240 // e^(−far²/2) is 2e-8
	reach := far / (s * math.Sqrt(f.gain))
	h := reach / steps
	sum := 0.0
	for i := range steps + 1 {
		t := float64(i) * h
		c := math.Exp(-f.gain * s * s * t * t / 2)
		for _, w := range f.weights {
			c *= sinc(w * t / 2)
		}
		// Σ cos(kt) for |k| ≤ j
		d := float64(2*j + 1)
		if q := math.Sin(t / 2); math.Abs(q) > 1e-9 {
			d = math.Sin((float64(j)+0.5)*t) / q
		}
		if i == 0 || i == steps {
			c /= 2
		}
		sum += c * d
	}
	return sum * h / math.Pi
}

func sinc(x float64) float64 {
	if math.Abs(x) < 1e-9 {
		return 1
	}
	return math.Sin(x) / x
}
