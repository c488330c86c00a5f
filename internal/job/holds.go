package job

import (
	"fmt"
	"math"

	"lampwise/internal/lamps"
)

// How alike two holds in a row must be to be one that a movement parted.
const (
	joinGap    = 0.3   // s between them: no hand switches twice in that
	joinCells  = 0.1   // of the picture's cells may differ
	joinChange = 0.005 // of all light
)

// matchHolds pairs the recording's holds with an order. Where the clip has
// more holds than the order, neighbours of the same light are taken as one
// hold that a movement parted, if the order then fits; notes say so.
func matchHolds(rec *lamps.Recording, order *lamps.Order) (notes []string, err error) {
	if err = matchDimmed(rec, order); err == nil || len(rec.Holds) <= len(order.Holds) {
		return nil, err
	}
	spare := *rec // Join leaves rec's own holds alone
	for len(spare.Holds) > len(order.Holds) {
		best, at := math.Inf(1), -1
		for i := range len(spare.Holds) - 1 {
			a, b := spare.Holds[i], spare.Holds[i+1]
			cells, change := spare.Alike(i)
			if float64(b.Start-a.End) > joinGap || cells > joinCells || math.Abs(change) > joinChange {
				continue
			}
			if d := cells + math.Abs(change)/joinChange; d < best {
				best, at = d, i
			}
		}
		if at < 0 {
			return nil, err
		}
		a, b := spare.Holds[at], spare.Holds[at+1]
		notes = append(notes, fmt.Sprintf("the holds %.1f to %.1f s and %.1f to %.1f s have the same light and were taken as one (somebody moved, or a lamp was switched that the order leaves out?)", float64(a.Start), float64(a.End), float64(b.Start), float64(b.End)))
		spare.Join(at)
	}
	if e := matchDimmed(&spare, order); e != nil {
		return nil, err // as it was without joining
	}
	*rec = spare
	return notes, nil
}

// matchDimmed pairs holds and order where a lamp stood at part settings, too.
// Its dimmer's curve is not known yet, and pairing takes readings for light, so
// it is tried with what dimmers commonly do: light that goes with a power of
// the reading (common practice, no source). The curve itself is measured
// afterwards.
func matchDimmed(rec *lamps.Recording, order *lamps.Order) error {
	_, err := rec.Match(order)
	if err == nil || !hasParts(order) || len(rec.Holds) != len(order.Holds) {
		return err
	}
	for power := 0.5; power <= 4; power += 0.1 {
		bent := &lamps.Order{Lamps: order.Lamps}
		for _, h := range order.Holds {
			s := make([]float64, len(h.Setting))
			for i, v := range h.Setting {
				s[i] = math.Pow(v, power)
			}
			bent.Holds = append(bent.Holds, lamps.OrderHold{Setting: s})
		}
		if _, e := rec.Match(bent); e == nil {
			return nil
		}
	}
	return err
}

// hasParts says whether a lamp stands at a part setting in any hold.
func hasParts(o *lamps.Order) bool {
	for _, h := range o.Holds {
		for _, v := range h.Setting {
			if v > 0 && v < 1 {
				return true
			}
		}
	}
	return false
}
