package lamps

import (
	"fmt"
	"math"
	"math/bits"
	"slices"

	"lampwise/internal/fault"
	"lampwise/internal/unit"
)

// AdviseOptions are what is known before a switch clip is filmed. The zero
// value stands for an ordinary small set.
type AdviseOptions struct {
	// Names of the lamps; lamp-1 … when nil.
	Names []string
	// Noise of one frame at working size; zero is read as 1.8 % at grey.
	Noise Noise
	// Rate in frames a second; 0 is read as 25.
	Rate float64
	// Correlation is how many frames share their noise; 0 is read as 4, what a
	// camera's noise reduction and long groups of pictures cost (common practice).
	Correlation float64
	// Light is what each lamp gives to an ordinary place of the picture at its
	// level in the mix; nil is read as equal shares of 0.2.
	Light []float64
	// Ambient light at that place; 0 is read as a tenth of the lamps' sum.
	Ambient float64
}

// Plan is one way to switch.
type Plan struct {
	Kind  string // "one on", "one off", "one off, all between", "several on"
	Order *Order
	// Deviation is the standard error of a lamp's picture at the ordinary place,
	// as a share of its light, for the mean lamp, all plans taking the same time.
	Deviation float64
	// Hold is how long each setting should be held.
	Hold unit.Second
	// Total is the clip's length, switching included.
	Total unit.Second
	// Switches is how many times a switch is thrown.
	Switches int
	// Spare is how many holds there are beyond those needed: what additivity,
	// ambient drift and a camera on automatic are found by.
	Spare int
	Why   string
}

const (
	handTime   = 1.0  // s from a hold to the next, with one switch thrown
	switchTime = 0.5  // s for each further switch
	leastHold  = 1.5  // s
	mostHold   = 8.0  // s
	wantError  = 0.01 // stops, of a region's reading from a lamp of 3 %
	wantPixels = 1600 // working pixels in a face
	wantShare  = 0.03
)

// Advise proposes switching orders for n lamps, best first: the smallest
// variance of the lamp pictures in the same time, for the noise given, among
// one on at a time, one off at a time, and several on at a time after a
// Hadamard code (S-matrix; Schechner, Nayar and Belhumeur, "Multiplexing for
// optimal lighting", IEEE PAMI 29, 2007, sections 2 to 4: several on wins
// where reading noise rules, and loses where photon noise does). A plan that
// can't check itself comes after one that can, unless it is far better.
func Advise(n int, opt AdviseOptions) ([]Plan, error) {
	if n < 1 || n > MaxLamps {
		return nil, fault.New(fault.Usage, "advise-lamps", "lamps always switched together count as one", "advice is for 1 to %d lamps, not %d", MaxLamps, n)
	}
	if opt.Names == nil {
		opt.Names = lampNames(n)
	}
	if len(opt.Names) != n || opt.Light != nil && len(opt.Light) != n {
		return nil, fault.New(fault.Usage, "advise-lamps", "", "%d lamps but %d names and %d lights", n, len(opt.Names), len(opt.Light))
	}
	if opt.Noise == (Noise{}) {
		const photon = 5.6e-5
		opt.Noise = Noise{Constant: [3]float64{4e-7, 4e-7, 4e-7}, Photon: [3]float64{photon, photon, photon}}
	}
	if opt.Rate <= 0 {
		opt.Rate = 25
	}
	if opt.Correlation < 1 {
		opt.Correlation = 4
	}
	if opt.Light == nil {
		opt.Light = make([]float64, n)
		for i := range opt.Light {
			opt.Light[i] = 0.2 / float64(n)
		}
	}
	if opt.Ambient <= 0 {
		for _, l := range opt.Light {
			opt.Ambient += l / 10
		}
	}
	plans := []Plan{
		newPlan("one on", oneOn(n), opt),
		newPlan("one off", oneOffAtATime(n), opt),
		newPlan("one off, all between", oneOffBetween(n), opt),
	}
	if n >= 3 {
		plans = append(plans, newPlan("several on", hadamard(n), opt))
	}
	rank := func(p Plan) float64 {
		d := p.Deviation
		if p.Spare == 0 {
			d *= 2 // worth as much as a clip four times as long
		}
		return d * (1 + 0.01*float64(p.Switches))
	}
	slices.SortStableFunc(plans, func(a, b Plan) int { return compare(rank(a), rank(b)) })
	plans[0].Why = why(plans)
	return plans, nil
}

// newPlan weighs a design.
func newPlan(kind string, settings [][]float64, opt AdviseOptions) Plan {
	n := len(opt.Names)
	p := Plan{Kind: kind, Order: &Order{Lamps: opt.Names}, Spare: len(settings) - n - 1}
	travel := 0.0
	for s, v := range settings {
		p.Order.Holds = append(p.Order.Holds, OrderHold{Setting: v})
		if s > 0 {
			thrown := 0
			for i := range v {
				if v[i] != settings[s-1][i] {
					thrown++
				}
			}
			p.Switches += thrown
			travel += handTime + switchTime*float64(max(thrown-1, 0))
		}
	}
	// The same filming time for all plans.
	total := 3.0 * float64(2*n+2)
	frames := max((total-travel)/float64(len(settings)), .4) * opt.Rate / opt.Correlation
	variances := planVariances(settings, frames, opt)
	for i, v := range variances[:n] {
		p.Deviation += math.Sqrt(v) / opt.Light[i] / float64(n)
	}
	// How long a hold takes to read a faint lamp in a small region.
	one := planVariances(settings, 1, opt)
	worst := 0.0
	faint := wantShare * sum(opt.Light)
	for i := range n {
		worst = max(worst, one[i])
	}
	se := math.Sqrt(worst*opt.Noise.together()/wantPixels) / faint / math.Ln2
	need := sq(se/wantError) * opt.Correlation / opt.Rate
	p.Hold = unit.Second(math.Ceil(2*min(max(need, leastHold), mostHold)) / 2)
	p.Total = unit.Second(travel) + p.Hold*unit.Second(len(settings))
	return p
}

func sum(x []float64) float64 {
	s := 0.0
	for _, v := range x {
		s += v
	}
	return s
}

// planVariances is the variance of each picture (green) at the ordinary place
// for so many independent frames a hold.
func planVariances(settings [][]float64, frames float64, opt AdviseOptions) []float64 {
	n := len(opt.Names)
	k := n + 1
	eq := newNormal(k)
	row := make([]float64, k)
	for _, v := range settings {
		copy(row, v)
		row[n] = 1
		light := opt.Ambient
		for i, x := range v {
			light += x * opt.Light[i]
		}
		eq.add(row, 0, frames/(opt.Noise.Variance(1, light)+noiseFloor))
	}
	out := make([]float64, k)
	if !factorise(eq.a, k) {
		for i := range out {
			out[i] = math.Inf(1)
		}
		return out
	}
	inv := make([]float64, k*k)
	inverseFrom(eq.a, k, inv, make([]float64, k))
	for i := range out {
		out[i] = inv[i*k+i]
	}
	return out
}

func constant(n int, v float64) []float64 {
	s := make([]float64, n)
	for i := range s {
		s[i] = v
	}
	return s
}

func single(n, i int, base, other float64) []float64 {
	s := constant(n, base)
	s[i] = other
	return s
}

// oneOn: dark, each lamp, all.
func oneOn(n int) [][]float64 {
	out := [][]float64{constant(n, 0)}
	for i := range n {
		out = append(out, single(n, i, 0, 1))
	}
	return append(out, constant(n, 1))
}

// oneOffAtATime: all, each lamp off, dark.
func oneOffAtATime(n int) [][]float64 {
	out := [][]float64{constant(n, 1)}
	for i := range n {
		out = append(out, single(n, i, 1, 0))
	}
	return append(out, constant(n, 0))
}

// oneOffBetween: all between any two, which shows what drifts; dark at the end.
func oneOffBetween(n int) [][]float64 {
	out := [][]float64{constant(n, 1)}
	for i := range n {
		out = append(out, single(n, i, 1, 0), constant(n, 1))
	}
	return append(out, constant(n, 0))
}

// hadamard: the rows of the smallest cyclic S-matrix that has a column for
// each lamp (order a prime 4m − 1, its first row the quadratic residues and 0),
// put in an order of few switches, then dark and all.
func hadamard(n int) [][]float64 {
	order := 3
	for _, o := range []int{3, 7, 11, 19} {
		if order = o; o >= n {
			break
		}
	}
	residue := make([]bool, order)
	residue[0] = true
	for i := 1; i < order; i++ {
		residue[i*i%order] = true
	}
	var rows []uint32
	for s := range order {
		r := uint32(0)
		for i := range n {
			if residue[(i+s)%order] {
				r |= 1 << i
			}
		}
		if r != 0 && !slices.Contains(rows, r) {
			rows = append(rows, r)
		}
	}
	// Nearest next, from dark.
	out := [][]float64{constant(n, 0)}
	at := uint32(0)
	for len(rows) > 0 {
		best := 0
		for i, r := range rows {
			if bits.OnesCount32(r^at) < bits.OnesCount32(rows[best]^at) {
				best = i
			}
		}
		at = rows[best]
		rows = slices.Delete(rows, best, best+1)
		v := make([]float64, n)
		for i := range v {
			v[i] = float64(at >> i & 1)
		}
		out = append(out, v)
	}
	return append(out, constant(n, 1))
}

// why says what speaks for the first plan.
func why(plans []Plan) string {
	a := plans[0]
	best := math.Inf(1)
	for _, p := range plans[1:] {
		best = min(best, p.Deviation)
	}
	gain := best / a.Deviation
	text := fmt.Sprintf("least noise in the same time, %.1f times less than the next", gain)
	if gain < 1 {
		text = fmt.Sprintf("nearly the least noise (%.0f %% more than the least)", 100*(1/gain-1))
	}
	spare := fmt.Sprintf("%d holds check", a.Spare)
	if a.Spare == 1 {
		spare = "1 hold checks"
	}
	return fmt.Sprintf("%s; a switch is thrown %d times; %s the others", text, a.Switches, spare)
}
