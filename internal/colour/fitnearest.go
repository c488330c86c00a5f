package colour

import (
	"math"
	"slices"

	"lampwise/internal/unit"

	"gonum.org/v1/gonum/stat/distuv"
)

// largestShift is how far an exposure set by hand is taken to be off at most,
// in stops: common practice, no source (a meter and a card agree to about a third).
const largestShift = 0.5

// nearestCurves measures every camera curve against the samples, the one that
// explains them best (weighted, after the shift that suits it best) first.
// scale is the variance of a sample of weight 1, with left degrees of freedom.
func nearestCurves(fitted *Curve, data []datum, scale float64, left int) []CurveDistance {
	const chance = 0.01
	var all []CurveDistance
	var costs []float64
	candidates := slices.Clone(cameraCurves)
	for _, row := range log400aTable {
		if row.index != log400aDefaultIndex {
			candidates = append(candidates, log400a(row.index))
		}
	}
	for _, c := range candidates {
		distance := func(shift float64) (cost, rms float64) {
			factor := math.Exp2(shift)
			for _, d := range data {
				r := d.sample.Y - c.Encode(factor*d.x)
				cost += d.weight * r * d.weight * r
				rms += r * r
			}
			return cost, topCode10 * math.Sqrt(rms/float64(len(data)))
		}
		shift := leastWithin(func(shift float64) float64 { cost, _ := distance(shift); return cost }, -largestShift, largestShift)
		_, plain := distance(0)
		cost, shifted := distance(shift)
		d := CurveDistance{ID: c.ID, RMS: unit.CodeValue(plain), Shift: unit.Stop(shift), RMSShifted: unit.CodeValue(shifted)}
		if scale > 0 {
			n := float64(len(data) - 1)
			d.Plausible = distuv.F{D1: n, D2: float64(left)}.Survival(cost/n/scale) > chance
		} else {
			d.Plausible = cost == 0
		}
		// Between the samples too, evenly in stops.
		const points = 200
		low, high, sum := data[0].x, data[len(data)-1].x, 0.0
		if low <= 0 {
			low = data[1].x
		}
		for i := range points {
			x := low * math.Pow(high/low, float64(i)/(points-1))
			r := topCode10 * (fitted.Encode(x) - c.Encode(math.Exp2(shift)*x))
			sum += r * r
		}
		d.FromFit = unit.CodeValue(math.Sqrt(sum / points))
		at, _ := slices.BinarySearch(costs, cost)
		costs, all = slices.Insert(costs, at, cost), slices.Insert(all, at, d)
	}
	return all
}

// leastWithin is golden-section search for the least value of f on a..b, on
// which f has one minimum.
func leastWithin(f func(float64) float64, a, b float64) float64 {
	const golden = 0.6180339887498949 // (√5 − 1)/2
	c, d := b-golden*(b-a), a+golden*(b-a)
	fc, fd := f(c), f(d)
	for b-a > 1e-6 {
		if fc < fd {
			b, d, fd = d, c, fc
			c = b - golden*(b-a)
			fc = f(c)
		} else {
			a, c, fc = c, d, fd
			d = a + golden*(b-a)
			fd = f(d)
		}
	}
	return (a + b) / 2
}
