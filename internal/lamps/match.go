package lamps

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"lampwise/internal/fault"
)

// Mismatch says how a clip's holds and an order differ.
type Mismatch struct {
	Missing []int // holds of the order that the clip doesn't show
	Extra   []int // holds of the clip that the order doesn't have
	// Sure says that this fits far better than any other way to pair them.
	Sure bool
}

// Match pairs the holds of a recording with an order. When they don't pair one
// to one, or their light contradicts the order, the error is a fault that says
// which are missing or extra, with times, and the Mismatch is not nil.
func (r *Recording) Match(o *Order) (*Mismatch, error) {
	n, m := len(r.Holds), len(o.Holds)
	p := &pairing{recording: r, order: o}
	if n == m {
		rows, holds := identity(m), identity(n)
		as := p.bend(rows, holds)
		if as < contradicts {
			return nil, nil
		}
		// The numbers agree but the light doesn't: perhaps one was forgotten and
		// another added.
		if found := p.search(1, 1); found[0].cost < as/contradictsLess {
			return p.explain(found)
		}
		return &Mismatch{}, fault.New(fault.Unsure, "order-contradicted",
			"look at the holds' pictures and say the order as it was switched",
			"the clip has %d holds as the order has, but their light contradicts it: %s", n, p.worst(rows, holds))
	}
	missing, extra := max(m-n, 0), max(n-m, 0)
	if missing+extra > mostAstray {
		return &Mismatch{}, fault.New(fault.Unsure, "holds-count", "say the order as it was switched, or film again and wait after each switch",
			"the order has %d holds, the clip %d: %s", m, n, r.holdTimes())
	}
	return p.explain(p.search(missing, extra))
}

const (
	// contradicts is the mean normalised square of what is left of the holds'
	// light from which an order is wrong; 1 is noise and a percent of drift.
	contradicts     = 5
	mostSquare      = 25 // of one cell: a figure that moved spoils a few cells, a wrong order nearly all
	contradictsLess = 4  // how much better another pairing must be
	mostAstray      = 4
	mostPairings    = 6000
)

// explain words a mismatch; found are the pairings that fit about as well as
// the best, which comes first.
func (p *pairing) explain(found []paired) (*Mismatch, error) {
	r, o := p.recording, p.order
	mm := &Mismatch{Missing: found[0].missing, Extra: found[0].extra, Sure: len(found) == 1}
	var parts []string
	hint := "change the order to what was switched, or film that part again"
	if !mm.Sure {
		// The same number of holds may be missing in several places; light alone
		// doesn't know which lamp is which.
		var ways []string
		for _, f := range found {
			if w := p.texts(f); !slices.Contains(ways, w) {
				ways = append(ways, w)
			}
		}
		slices.Sort(ways)
		if len(ways) > 6 {
			ways = append(ways[:6], "and more")
		}
		parts = append(parts, "these fit about equally: "+strings.Join(ways, "; "))
		hint = "look at the holds' pictures to see which lamp is off in each; then " + hint
	} else {
		for _, i := range mm.Missing {
			parts = append(parts, fmt.Sprintf("no hold shows %q (number %d) %s", o.HoldText(i), i+1, p.place(i, mm)))
		}
		for _, h := range mm.Extra {
			parts = append(parts, fmt.Sprintf("the hold from %.1f to %.1f s isn't in the order", float64(r.Holds[h].Start), float64(r.Holds[h].End)))
		}
	}
	return mm, fault.New(fault.Unsure, "order-mismatch", hint, "the order has %d holds, the clip %d: %s", len(o.Holds), len(r.Holds), strings.Join(parts, "; "))
}

// holdTimes lists when the clip's holds are.
func (r *Recording) holdTimes() string {
	var t []string
	for _, h := range r.Holds {
		t = append(t, fmt.Sprintf("%.1f to %.1f", float64(h.Start), float64(h.End)))
	}
	return strings.Join(t, ", ") + " s"
}

// texts says in short what a pairing leaves out.
func (p *pairing) texts(f paired) string {
	var out, extra []string
	for _, i := range f.missing {
		out = append(out, fmt.Sprintf("%q missing", p.order.HoldText(i)))
	}
	slices.Sort(out)
	out = slices.Compact(out)
	for _, h := range slices.Sorted(slices.Values(f.extra)) {
		extra = append(extra, fmt.Sprintf("%.1f", float64(p.recording.Holds[h].Start)))
	}
	switch {
	case len(extra) == 1:
		out = append(out, "the hold at "+extra[0]+" s extra")
	case len(extra) > 1:
		last := len(extra) - 1
		out = append(out, "the holds at "+strings.Join(extra[:last], ", ")+" and "+extra[last]+" s extra")
	}
	return strings.Join(out, " and ")
}

// place says where in the clip a missing hold should have been.
func (p *pairing) place(i int, mm *Mismatch) string {
	// The last hold that was paired before it.
	before := i - 1
	for before >= 0 && slices.Contains(mm.Missing, before) {
		before--
	}
	if before < 0 {
		return "at the clip's start"
	}
	return fmt.Sprintf("after the hold that ends at %.1f s", float64(p.recording.Holds[p.pairedHold(before, mm)].End))
}

// pairedHold is the clip's hold that stands for hold i of the order.
func (p *pairing) pairedHold(i int, mm *Mismatch) int {
	k := i
	for _, m := range mm.Missing {
		if m < i {
			k--
		}
	}
	for h := range p.recording.Holds {
		if slices.Contains(mm.Extra, h) {
			continue
		}
		if k == 0 {
			return h
		}
		k--
	}
	return len(p.recording.Holds) - 1
}

// pairing weighs ways to pair holds and order by how well light adds.
type pairing struct {
	recording *Recording
	order     *Order
	// curve is, for each lamp, the power of its dimmer's reading that its light
	// is taken to follow; nil is 1 for all. What a dimmer reads is no light.
	curve []float64
}

// dimmerPowers are tried for a lamp that has part settings; dimmers lie between
// them, and what is left is too little for an order to be doubted.
var dimmerPowers = []float64{1, .5, .7, 1.4, 2, 2.8}

// bend finds the powers with which an order that pairs hold for hold fits best,
// one lamp after the other, and returns the cost.
func (p *pairing) bend(rows, holds []int) float64 {
	best := p.cost(rows, holds)
	for i := range p.order.Lamps {
		if !slices.ContainsFunc(p.order.Holds, func(h OrderHold) bool { return h.Setting[i] > 0 && h.Setting[i] < 1 }) {
			continue
		}
		if p.curve == nil {
			p.curve = make([]float64, len(p.order.Lamps))
			for j := range p.curve {
				p.curve[j] = 1
			}
		}
		at := p.curve[i]
		for _, power := range dimmerPowers {
			p.curve[i] = power
			if c := p.cost(rows, holds); c < best {
				best, at = c, power
			}
		}
		p.curve[i] = at
	}
	return best
}

type paired struct {
	missing, extra []int
	cost           float64
}

// search tries every way to leave out so many of each, and returns the best
// and those that fit about as well, but for ones that leave out the same.
func (p *pairing) search(missing, extra int) []paired {
	n, m := len(p.recording.Holds), len(p.order.Holds)
	var all []paired
	choose(m, missing, func(gone []int) bool {
		rows := without(m, gone)
		choose(n, extra, func(odd []int) bool {
			all = append(all, paired{slices.Clone(gone), slices.Clone(odd), p.cost(rows, without(n, odd))})
			return len(all) < mostPairings
		})
		return len(all) < mostPairings
	})
	slices.SortStableFunc(all, func(a, b paired) int { return compare(a.cost, b.cost) })
	out := all[:1:1]
	for _, c := range all[1:] {
		if c.cost > alikeFactor*all[0].cost+alikeMore {
			break
		}
		if !p.alike(all[0], c.missing, c.extra) {
			out = append(out, c)
		}
	}
	return out
}

// A pairing fits about as well as the best within these.
const (
	alikeFactor = 1.5
	alikeMore   = 0.3
)

// alike says whether another choice leaves out holds of the order that are
// the same as the best's: "all" for "all" is no other explanation.
func (p *pairing) alike(best paired, gone, odd []int) bool {
	if !slices.Equal(best.extra, odd) || len(best.missing) != len(gone) {
		return false
	}
	for i := range gone {
		if !p.order.Same(gone[i], best.missing[i]) {
			return false
		}
	}
	return true
}

// cost is the mean normalised square of what is left when the holds' cells
// are explained as sums of the lamps' light, with a charge for lamps that
// would give less than none.
func (p *pairing) cost(rows, holds []int) float64 {
	left, charge := p.residuals(rows, holds)
	s := 0.0
	for _, r := range left {
		for _, v := range r {
			s += min(v*v, mostSquare)
		}
	}
	return (s + charge) / float64(len(rows)*cellsAcross*cellsDown)
}

// worst names the hold that disagrees most.
func (p *pairing) worst(rows, holds []int) string {
	left, _ := p.residuals(rows, holds)
	best, at := -1.0, 0
	for i, r := range left {
		s := 0.0
		for _, v := range r {
			s += v * v
		}
		if s > best {
			best, at = s, i
		}
	}
	h := p.recording.Holds[holds[at]]
	return fmt.Sprintf("most of all the hold from %.1f to %.1f s, which should be %q", float64(h.Start), float64(h.End), p.order.HoldText(rows[at]))
}

// residuals, normalised, for each paired hold and cell.
func (p *pairing) residuals(rows, holds []int) (left [][]float64, charge float64) {
	const cells = cellsAcross * cellsDown
	r := p.recording
	n, k := len(rows), len(p.order.Lamps)+1
	d := make([]float64, n*k)
	for i, row := range rows {
		copy(d[i*k:], p.order.Holds[row].Setting)
		for j, power := range p.curve {
			d[i*k+j] = math.Pow(d[i*k+j], power)
		}
		d[i*k+k-1] = 1
	}
	// Solve by the normal equations with a trace of pull to 0, for orders that
	// have lost a lamp's only hold.
	eq := newNormal(k)
	for i := range n {
		eq.add(d[i*k:(i+1)*k], 0, 1)
	}
	for j := range k {
		eq.a[j*k+j] += 1e-6
	}
	factorise(eq.a, k)
	left = make([][]float64, n)
	for i := range left {
		left[i] = make([]float64, cells)
	}
	beta := make([]float64, k)
	for c := range cells {
		clear(beta)
		largest := 0.0
		for i, h := range holds {
			y := signatureLight(r.signatures[h][c])
			largest = max(largest, y)
			for j := range k {
				beta[j] += d[i*k+j] * y
			}
		}
		substitute(eq.a, beta, k)
		scale := math.Sqrt(sq(0.01*largest) + sq(2*math.Sqrt(largest+rootFloor)*r.sigma[c]/3))
		for j := range k {
			if z := -beta[j]/scale - 3; z > 0 {
				charge += min(z*z, mostSquare)
			}
		}
		for i, h := range holds {
			y := signatureLight(r.signatures[h][c])
			for j := range k {
				y -= d[i*k+j] * beta[j]
			}
			left[i][c] = y / scale
		}
	}
	return left, charge
}

func identity(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

// without lists 0..n−1 but for the given ones.
func without(n int, gone []int) []int {
	var out []int
	for i := range n {
		if !slices.Contains(gone, i) {
			out = append(out, i)
		}
	}
	return out
}

// choose calls f with every choice of k of 0..n−1, in order, until it returns false.
func choose(n, k int, f func([]int) bool) {
	pick := identity(k)
	for {
		if !f(pick) {
			return
		}
		i := k - 1
		for i >= 0 && pick[i] == n-k+i {
			i--
		}
		if i < 0 {
			return
		}
		pick[i]++
		for j := i + 1; j < k; j++ {
			pick[j] = pick[j-1] + 1
		}
	}
}
