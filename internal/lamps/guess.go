package lamps

import (
	"fmt"
	"math"
	"slices"
)

// Guess is an order read from the holds' light alone, lamps being called
// lamp-1, lamp-2 … in order of switching, until the user names them.
type Guess struct {
	Order *Order
	// Confidence is 0..1: how well light adds under this order, and how much of
	// it the pattern could have got wrong.
	Confidence float64
	Pattern    string // in words
}

// Guess tries the patterns people switch in: everything on and one lamp off at
// a time, everything off and one on at a time, one more at a time. ok is false
// when none fits.
func (r *Recording) Guess() (g Guess, ok bool) {
	n := len(r.Holds)
	if n < 3 {
		return g, false
	}
	for _, try := range []func() (Guess, bool){r.guessOff(false), r.guessOff(true), r.guessOn(false), r.guessOn(true), r.guessMore} {
		c, fits := try()
		if !fits {
			continue
		}
		p := &pairing{recording: r, order: c.Order}
		cost := p.cost(identity(n), identity(n))
		spare := n - len(c.Order.Lamps) - 1
		c.Confidence = math.Exp(-cost/8) * (1 - .5*math.Exp2(-float64(spare)))
		if c.Confidence > g.Confidence {
			g = c
		}
	}
	return g, g.Confidence > 0.2
}

// compareLight says how hold j differs from hold i: −1 darker nowhere brighter,
// 1 brighter nowhere darker, 0 the same, 2 mixed.
func (r *Recording) compareLight(i, j int) int {
	up, down := 0.0, 0.0
	for c := range cellsAcross * cellsDown {
		x, y := signatureLight(r.signatures[i][c]), signatureLight(r.signatures[j][c])
		tolerance := max(0.01*max(x, y), 4*2*math.Sqrt(max(x, y)+rootFloor)*r.sigma[c]/3)
		switch d := y - x; {
		case d > tolerance:
			up += d
		case d < -tolerance:
			down -= d
		}
	}
	switch {
	case up == 0 && down == 0:
		return 0
	case up > 5*down:
		return 1
	case down > 5*up:
		return -1
	}
	return 2
}

func lampNames(n int) []string {
	out := make([]string, n)
	for i := range out {
		out[i] = fmt.Sprintf("lamp-%d", i+1)
	}
	return out
}

// guessOff: a hold of all lamps, and others darker by one lamp each; with
// whole, the one darker than all others is dark.
func (r *Recording) guessOff(whole bool) func() (Guess, bool) {
	return func() (Guess, bool) {
		return r.guessFrom(1, 0, -1, whole, "everything on, then one lamp off at a time")
	}
}

// guessOn: a dark hold, and others brighter by one lamp each; with whole, the
// one brighter than all others is all.
func (r *Recording) guessOn(whole bool) func() (Guess, bool) {
	return func() (Guess, bool) {
		return r.guessFrom(0, 1, 1, whole, "everything off, then one lamp on at a time")
	}
}

// guessFrom reads a pattern about a base hold that returns: each other hold
// differs from the base in one direction, by one lamp; with takeWhole, a hold
// that is beyond all others is every lamp changed.
func (r *Recording) guessFrom(base, changed float64, direction int, takeWhole bool, pattern string) (Guess, bool) {
	n := len(r.Holds)
	isBase := make([]bool, n)
	lamps := 0
	lampOf := make([]int, n)
	whole := -1
	for h := range n {
		switch r.compareLight(0, h) {
		case 0:
			isBase[h] = true
		case direction:
			// The same lamp again?
			again := -1
			for k := range h {
				if !isBase[k] && r.compareLight(k, h) == 0 {
					again = lampOf[k]
				}
			}
			if again >= 0 {
				lampOf[h] = again
				continue
			}
			lampOf[h] = lamps
			lamps++
		default:
			return Guess{}, false
		}
	}
	// A hold that lies beyond every other is all lamps changed at once.
	for h := range n {
		if !takeWhole || isBase[h] || lamps < 3 {
			continue
		}
		beyond := true
		for k := range n {
			if k != h && r.compareLight(k, h) != direction && !(lampOf[k] == lampOf[h] && !isBase[k]) {
				beyond = false
			}
		}
		if beyond {
			whole = lampOf[h]
		}
	}
	if whole >= 0 {
		lamps--
	} else if takeWhole {
		return Guess{}, false
	}
	if lamps < 1 || lamps > MaxLamps {
		return Guess{}, false
	}
	o := &Order{Lamps: lampNames(lamps)}
	for h := range n {
		s := make([]float64, lamps)
		for i := range s {
			s[i] = base
		}
		switch {
		case isBase[h]:
		case lampOf[h] == whole:
			for i := range s {
				s[i] = changed
			}
		default:
			k := lampOf[h]
			if whole >= 0 && k > whole {
				k--
			}
			s[k] = changed
		}
		o.Holds = append(o.Holds, OrderHold{Setting: s})
	}
	return Guess{Order: o, Pattern: pattern}, true
}

// guessMore: each hold adds one lamp to the last, or each takes one away.
func (r *Recording) guessMore() (Guess, bool) {
	n := len(r.Holds)
	if n-1 > MaxLamps {
		return Guess{}, false
	}
	first := r.compareLight(0, 1)
	if first != 1 && first != -1 {
		return Guess{}, false
	}
	for h := 1; h < n; h++ {
		if r.compareLight(h-1, h) != first {
			return Guess{}, false
		}
	}
	o := &Order{Lamps: lampNames(n - 1)}
	for h := range n {
		s := make([]float64, n-1)
		for i := range h {
			s[i] = 1
		}
		o.Holds = append(o.Holds, OrderHold{Setting: s})
	}
	pattern := "one more lamp at a time"
	if first < 0 {
		pattern = "one lamp fewer at a time"
		slices.Reverse(o.Holds)
		// Lamps are named in the order in which they go off.
		for _, h := range o.Holds {
			slices.Reverse(h.Setting)
		}
	}
	return Guess{Order: o, Pattern: pattern}, true
}
