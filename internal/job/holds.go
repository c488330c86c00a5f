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
	if _, err = rec.Match(order); err == nil || len(rec.Holds) <= len(order.Holds) {
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
		notes = append(notes, fmt.Sprintf("the holds %.1f to %.1f s and %.1f to %.1f s have the same light and were taken as one (somebody moved?)", float64(a.Start), float64(a.End), float64(b.Start), float64(b.End)))
		spare.Join(at)
	}
	if _, e := spare.Match(order); e != nil {
		return nil, err // as it was without joining
	}
	*rec = spare
	return notes, nil
}
