package lamps

import (
	"math"
	"slices"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/unit"
)

// SolveOptions are what else may change.
type SolveOptions struct {
	// Exposure lists the changes of exposure the camera's settings allow, in
	// stops (ISO steps, stop, ND); nil leaves exposure alone.
	Exposure []unit.Stop
}

// Solution is the mix that comes nearest to the targets.
type Solution struct {
	Mix          []float64
	Exposure     unit.Stop
	Levels       []SolvedLevel
	Targets      []SolvedTarget
	Met          bool // every target is within its tolerance
	Alternatives []Alternative
	cost         float64
}

// SolvedLevel is one lamp of the solution.
type SolvedLevel struct {
	Name    string
	Level   float64   // of its full light
	Setting float64   // of its dimmer, 0..1
	Stops   unit.Stop // against the present mix; −Inf when it goes off
	// Sure says that the dimmer's curve was measured, so that Setting may be told.
	Sure bool
}

// SolvedTarget is one target before and after.
type SolvedTarget struct {
	Target
	Before, Got unit.Stop // as Want; for neutral the stops between the outer channels
	Met         bool
	Reason      string // why not, in the room's terms
}

// Alternative is another way, and what it costs.
type Alternative struct {
	What     string
	Mix      []float64
	Exposure unit.Stop
	Met      bool
}

// Weights of the solve's wishes beside the targets.
const (
	solvePull     = 0.03 // deviations for a lamp that goes from off to full
	exposurePull  = 0.1  // for a stop of exposure
	mostTargets   = 64
	solveRounds   = 60
	metSlack      = 1e-3 // of a tolerance
	exposureReach = 4.0  // stops, for the alternatives
)

// Solve finds the levels that bring the targets nearest, in units of their
// tolerances, by bounded Levenberg–Marquardt steps from several starts, with a
// weak pull to the present mix; then on the dimmers' steps.
func (s *Set) Solve(targets []Target, opt SolveOptions) (*Solution, error) {
	if len(targets) == 0 || len(targets) > mostTargets {
		return nil, fault.New(fault.Usage, "targets-count", `give at least one, for example "face-lit=+0.5"`, "%d targets", len(targets))
	}
	p := &problem{set: s, targets: targets}
	for i := range s.Lamps {
		l := &s.Lamps[i]
		if l.Lowest < 0 || l.Lowest > l.highest() {
			return nil, fault.New(fault.Input, "lamp-range", "the lowest level must be below the highest", "lamp %s has levels from %g to %g", l.Name, l.Lowest, l.highest())
		}
		p.low, p.high = append(p.low, l.Lowest), append(p.high, l.highest())
	}
	for _, t := range targets {
		if t.Tolerance <= 0 {
			return nil, fault.New(fault.Usage, "target-tolerance", "", "target %s has no tolerance", t)
		}
		var m [2][][3]float64
		for i, name := range []string{t.Region, t.Over} {
			if name == "" {
				continue
			}
			r, err := s.Region(name)
			if err != nil {
				return nil, err
			}
			m[i], _ = s.regionMeans(r)
		}
		p.means = append(p.means, m)
	}
	exposures := []float64{0}
	for _, e := range opt.Exposure {
		if e != 0 {
			exposures = append(exposures, float64(e))
		}
	}
	best := p.best(exposures)
	best.mix = p.onSteps(best)
	out := p.report(best)
	if !out.Met {
		for k := range out.Targets {
			if !out.Targets[k].Met {
				out.Targets[k].Reason = p.reason(k, best)
			}
		}
		out.Alternatives = p.alternatives(best, opt)
	}
	return out, nil
}

// problem is the solve's data: what each target's regions read from each picture.
type problem struct {
	set       *Set
	targets   []Target
	means     [][2][][3]float64
	low, high []float64
}

// point is a mix and an exposure, with its cost.
type point struct {
	mix      []float64
	exposure float64
	cost     float64
}

// value reads target k: stops from grey, stops between two regions, or for
// neutral the two stops red and blue differ from green.
func (p *problem) value(k int, weights [][3]float64, exposure float64) (v [2]float64) {
	t := &p.targets[k]
	rgb := combined(p.means[k][0], weights)
	const least = 1e-7
	if t.Neutral {
		g := max(rgb[1], least)
		return [2]float64{math.Log2(max(rgb[0], least) / g), math.Log2(max(rgb[2], least) / g)}
	}
	l := math.Log2(max(p.set.luminance(rgb), least))
	if t.Over != "" {
		return [2]float64{l - math.Log2(max(p.set.luminance(combined(p.means[k][1], weights)), least))}
	}
	return [2]float64{l - math.Log2(colour.Grey) + exposure}
}

// residuals of all targets, in tolerances, then the pulls.
func (p *problem) residuals(mix []float64, exposure float64) []float64 {
	w := p.set.Weights(mix)
	var r []float64
	for k := range p.targets {
		t := &p.targets[k]
		v := p.value(k, w, exposure)
		if t.Neutral {
			r = append(r, v[0]/float64(t.Tolerance), v[1]/float64(t.Tolerance))
		} else {
			r = append(r, (v[0]-float64(t.Want))/float64(t.Tolerance))
		}
	}
	for i, m := range mix {
		r = append(r, solvePull*(m-p.set.Mix[i]))
	}
	return append(r, exposurePull*exposure)
}

func squares(r []float64) float64 {
	s := 0.0
	for _, v := range r {
		s += v * v
	}
	return s
}

// best solves for each exposure from several starts.
func (p *problem) best(exposures []float64) point {
	best := point{cost: math.Inf(1)}
	n := len(p.low)
	starts := [][]float64{slices.Clone(p.set.Mix)}
	for _, f := range []float64{.05, .3, .8} {
		s := make([]float64, n)
		for i := range s {
			s[i] = p.low[i] + f*(p.high[i]-p.low[i])
		}
		starts = append(starts, s)
	}
	for _, e := range exposures {
		for _, s := range starts {
			if q := p.descend(point{mix: slices.Clone(s), exposure: e}); q.cost < best.cost-1e-12 {
				best = q
			}
		}
	}
	return best
}

// descend walks from q to the nearest least cost inside the bounds.
func (p *problem) descend(q point) point {
	n := len(q.mix)
	for i := range q.mix {
		q.mix[i] = min(max(q.mix[i], p.low[i]), p.high[i])
	}
	r := p.residuals(q.mix, q.exposure)
	q.cost = squares(r)
	lambda := 1e-3
	jac := make([][]float64, n)
	for range solveRounds {
		free := make([]int, 0, n)
		grad := make([]float64, n)
		for i := range n {
			h := 1e-5 * max(q.mix[i], 1e-2)
			if q.mix[i]+h > p.high[i] {
				h = -h
			}
			m := slices.Clone(q.mix)
			m[i] += h
			jac[i] = p.residuals(m, q.exposure)
			for k := range r {
				jac[i][k] = (jac[i][k] - r[k]) / h
				grad[i] += jac[i][k] * r[k]
			}
			// A lamp at a bound stays there when it would go beyond.
			if q.mix[i] <= p.low[i] && grad[i] > 0 || q.mix[i] >= p.high[i] && grad[i] < 0 {
				continue
			}
			free = append(free, i)
		}
		if len(free) == 0 {
			break
		}
		improved := false
		for range 12 {
			eq := newNormal(len(free))
			for a, i := range free {
				for b, j := range free[:a+1] {
					for k := range r {
						eq.a[a*len(free)+b] += jac[i][k] * jac[j][k]
					}
				}
				eq.a[a*len(free)+a] += lambda * (eq.a[a*len(free)+a] + 1e-6)
				eq.b[a] = -grad[i]
			}
			step, ok := eq.solve()
			if !ok {
				lambda *= 10
				continue
			}
			m := slices.Clone(q.mix)
			for a, i := range free {
				m[i] = min(max(m[i]+step[a], p.low[i]), p.high[i])
			}
			next := p.residuals(m, q.exposure)
			if c := squares(next); c < q.cost {
				improved = q.cost-c > 1e-10*(1+q.cost)
				q.mix, q.cost, r = m, c, next
				lambda = max(lambda/5, 1e-9)
				break
			}
			lambda *= 4
		}
		if !improved {
			break
		}
	}
	return q
}

// onSteps puts lamps whose dimmers have steps on them, walking step by step to
// the least cost.
func (p *problem) onSteps(q point) []float64 {
	mix := slices.Clone(q.mix)
	step := func(i, k int) float64 {
		l := &p.set.Lamps[i]
		return min(max(l.Dimmer.Level(float64(k)*l.Step), p.low[i]), p.high[i])
	}
	at := make([]int, len(mix))
	any := false
	for i := range mix {
		if l := &p.set.Lamps[i]; l.Step > 0 {
			any = true
			at[i] = int(math.Round(l.Dimmer.Setting(mix[i]) / l.Step))
			mix[i] = step(i, at[i])
		}
	}
	if !any {
		return mix
	}
	cost := squares(p.residuals(mix, q.exposure))
	for range 200 {
		better := false
		for i := range mix {
			if p.set.Lamps[i].Step <= 0 {
				continue
			}
			for _, d := range []int{-1, 1} {
				k := at[i] + d
				if k < 0 || float64(k)*p.set.Lamps[i].Step > 1+1e-9 {
					continue
				}
				m := slices.Clone(mix)
				m[i] = step(i, k)
				if c := squares(p.residuals(m, q.exposure)); c < cost-1e-12 {
					mix, cost, at[i], better = m, c, k, true
				}
			}
		}
		if !better {
			break
		}
	}
	return mix
}

// report reads the solution off a point.
func (p *problem) report(q point) *Solution {
	out := &Solution{Mix: q.mix, Exposure: unit.Stop(q.exposure), Met: true, cost: q.cost}
	for i, l := range p.set.Lamps {
		out.Levels = append(out.Levels, SolvedLevel{
			Name: l.Name, Level: q.mix[i], Setting: l.Dimmer.Setting(q.mix[i]),
			Stops: unit.StopsOf(q.mix[i] / p.set.Mix[i]), Sure: l.Measured,
		})
	}
	before, after := p.set.Weights(p.set.Mix), p.set.Weights(q.mix)
	for k, t := range p.targets {
		was, got := p.value(k, before, 0), p.value(k, after, q.exposure)
		r := SolvedTarget{Target: t, Before: unit.Stop(was[0]), Got: unit.Stop(got[0])}
		limit := float64(t.Tolerance) * (1 + metSlack)
		if t.Neutral {
			r.Before, r.Got = unit.Stop(outer(was)), unit.Stop(outer(got))
			r.Met = math.Abs(got[0]) <= limit && math.Abs(got[1]) <= limit
		} else {
			r.Met = math.Abs(got[0]-float64(t.Want)) <= limit
		}
		out.Met = out.Met && r.Met
		out.Targets = append(out.Targets, r)
	}
	return out
}

// outer is the stops between the outermost of red, green (0) and blue.
func outer(v [2]float64) float64 { return max(v[0], v[1], 0) - min(v[0], v[1], 0) }
