package lamps

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"lampwise/internal/unit"
)

// reason says in the room's terms why target k isn't met at q.
func (p *problem) reason(k int, q point) string {
	t := &p.targets[k]
	w := p.set.Weights(q.mix)
	if t.Neutral {
		return p.neutralReason(w, k)
	}
	need := float64(t.Want) - p.value(k, w, q.exposure)[0] // stops; above 0: brighter
	// The ambient light alone may be too much.
	dark := make([]float64, len(q.mix))
	copy(dark, p.low)
	if need < 0 && t.Over == "" {
		if v := p.value(k, p.set.Weights(dark), q.exposure)[0]; v > float64(t.Want)+float64(t.Tolerance) {
			amb := make([][3]float64, len(w))
			amb[len(w)-1] = [3]float64{1, 1, 1}
			if a := p.value(k, amb, q.exposure)[0]; a > float64(t.Want)-1 {
				return fmt.Sprintf("the ambient light alone gives %+.1f stop there: shade the door or the window", a)
			}
		}
	}
	// The lamp at its bound that could mend it with the least.
	type blocker struct {
		lamp  int
		stops float64 // by which its level would have to go beyond the bound
	}
	var best *blocker
	for i := range q.mix {
		atLow, atHigh := q.mix[i] <= p.low[i]+1e-9, q.mix[i] >= p.high[i]-1e-9
		if !atLow && !atHigh || q.mix[i] <= 0 {
			continue
		}
		stops, ok := p.beyond(k, q, i, atLow)
		if ok && (best == nil || math.Abs(stops) < math.Abs(best.stops)) {
			best = &blocker{i, stops}
		}
	}
	if best == nil {
		if other := p.rival(k, q); other >= 0 {
			return fmt.Sprintf("it pulls against %q: no mix gives both", p.targets[other])
		}
		if need > 0 {
			return "no lamp that may still go up reaches there: add light, or open the exposure"
		}
		return "no lamp that may still go down is what lights it: shade it, or close the exposure"
	}
	l := &p.set.Lamps[best.lamp]
	factor := math.Exp2(-best.stops / 2) // of the distance; light falls with its square
	distance := fmt.Sprintf("to %.2f times its distance", factor)
	if l.Distance > 0 {
		distance = fmt.Sprintf("from %.1f m to %.1f m", float64(l.Distance), float64(l.Distance)*factor)
	}
	if best.stops < 0 {
		return fmt.Sprintf("%s is at its lowest level: move it %s, or put %s of ND or a denser diffuser on it", l.Name, distance, stopWords(-best.stops))
	}
	return fmt.Sprintf("%s is at its highest level: bring it %s, take a diffuser off it, or open the exposure by %s", l.Name, distance, stopWords(best.stops))
}

// stopWords writes a number of stops to a third, which is how ND is sold.
func stopWords(s float64) string {
	thirds := max(1, math.Ceil(3*s-.05))
	if thirds == 3 {
		return "1 stop"
	}
	if math.Mod(thirds, 3) == 0 {
		return fmt.Sprintf("%.0f stops", thirds/3)
	}
	return fmt.Sprintf("%.1f stops", thirds/3)
}

// beyond is by how many stops lamp i would have to go past its bound for target
// k to be met, the others standing.
func (p *problem) beyond(k int, q point, i int, down bool) (stops float64, ok bool) {
	sign := 1.0
	if down {
		sign = -1
	}
	at := func(s float64) float64 {
		m := slices.Clone(q.mix)
		m[i] *= math.Exp2(sign * s)
		return p.value(k, p.set.Weights(m), q.exposure)[0] - float64(p.targets[k].Want)
	}
	const reach = 6.0
	a, b := at(0), at(reach)
	if a == 0 || a*b > 0 {
		return 0, false
	}
	lo, hi := 0.0, reach
	for range 40 {
		mid := (lo + hi) / 2
		if at(mid)*a > 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return sign * hi, true
}

// rival is the target that gets worse when k gets better, −1 when none does.
func (p *problem) rival(k int, q point) int {
	w := func(m []float64) [][3]float64 { return p.set.Weights(m) }
	best, at := 0.0, -1
	gradient := func(t int) []float64 {
		g := make([]float64, len(q.mix))
		base := p.value(t, w(q.mix), q.exposure)[0]
		for i := range g {
			m := slices.Clone(q.mix)
			h := 1e-4 * max(m[i], 1e-2)
			m[i] += h
			g[i] = (p.value(t, w(m), q.exposure)[0] - base) / h
		}
		return g
	}
	own := gradient(k)
	need := float64(p.targets[k].Want) - p.value(k, w(q.mix), q.exposure)[0]
	for t := range p.targets {
		if t == k || p.targets[t].Neutral {
			continue
		}
		g := gradient(t)
		dot, no, ng := 0.0, 0.0, 0.0
		for i := range g {
			dot, no, ng = dot+own[i]*g[i], no+own[i]*own[i], ng+g[i]*g[i]
		}
		// How target t moves when k moves as it should, against what t wants.
		wants := float64(p.targets[t].Want) - p.value(t, w(q.mix), q.exposure)[0]
		c := dot / math.Sqrt(no*ng+1e-30) * math.Copysign(1, need)
		if math.Abs(wants) > 1e-9 {
			c *= -math.Copysign(1, wants)
		} else {
			c = math.Abs(c)
		}
		if c > best {
			best, at = c, t
		}
	}
	if best < 0.3 {
		return -1
	}
	return at
}

// neutralReason names the lamp whose colour is most to blame.
func (p *problem) neutralReason(w [][3]float64, k int) string {
	v := p.value(k, w, 0)
	best, name := 0.0, ""
	for i, l := range p.set.Lamps {
		less := slices.Clone(w)
		less[i] = [3]float64{}
		u := p.value(k, less, 0)
		if d := outer(v) - outer(u); d > best {
			best, name = d, l.Name
		}
	}
	warm := "warm"
	if v[1] > v[0] {
		warm = "cold"
	}
	if name == "" {
		return fmt.Sprintf("the light there is too %s by %.2f stop: set the camera's white balance for it", warm, outer(v))
	}
	return fmt.Sprintf("the light there is too %s by %.2f stop, mostly from %s: put a correction filter on it, or set the camera's white balance", warm, outer(v), name)
}

// alternatives tries what else could be given up or changed.
func (p *problem) alternatives(q point, opt SolveOptions) []Alternative {
	var out []Alternative
	add := func(what string, r point, sub *problem) {
		s := sub.report(r)
		if s.cost < q.cost-1e-6 || s.Met {
			out = append(out, Alternative{What: what, Mix: r.mix, Exposure: unit.Stop(r.exposure), Met: s.Met})
		}
	}
	if len(opt.Exposure) == 0 {
		e, _ := minimise(func(e float64) float64 {
			return p.descend(point{mix: slices.Clone(q.mix), exposure: e}).cost
		}, exposureReach)
		// The third of a stop on either side, since exposure is set in thirds.
		if r := p.best([]float64{math.Floor(3*e) / 3, math.Ceil(3*e) / 3}); r.exposure != 0 {
			add(fmt.Sprintf("change the exposure by %+.2f stop", r.exposure), r, p)
		}
	}
	// Without each target in turn, when that lets all others be met.
	if len(p.targets) > 1 {
		for k, t := range p.targets {
			sub := *p
			sub.targets = slices.Delete(slices.Clone(p.targets), k, k+1)
			sub.means = slices.Delete(slices.Clone(p.means), k, k+1)
			if r := sub.best([]float64{q.exposure}); sub.report(r).Met {
				add(fmt.Sprintf("give up %q", t), r, &sub)
			}
		}
	}
	// One lamp weakened beyond its lowest.
	for i, l := range p.set.Lamps {
		if q.mix[i] > p.low[i]+1e-9 || p.low[i] <= 0 {
			continue
		}
		sub := *p
		sub.low = slices.Clone(p.low)
		sub.low[i] = 0
		r := sub.best([]float64{q.exposure})
		if r.mix[i] <= 0 || !sub.report(r).Met {
			continue
		}
		add(fmt.Sprintf("%s on %s", strings.TrimSpace(stopWords(math.Log2(p.low[i]/r.mix[i]))+" of ND"), l.Name), r, &sub)
	}
	return out
}
