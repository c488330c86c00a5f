package job

import (
	"context"
	"fmt"
	"strings"

	"lampwise/internal/caller"
	"lampwise/internal/fault"
	"lampwise/internal/lamps"
)

// name says what was on in each hold: as the order given says, by the caller's
// beeps where there is none or it doesn't fit, or else guessed from the light.
func (f *film) name(ctx context.Context, store Sets, r LearnRequest, order *lamps.Order, out *LearnedSet) (*lamps.Order, error) {
	rec := f.recording
	if order != nil {
		joined, err := matchHolds(rec, order)
		if err == nil {
			f.notes = append(f.notes, joined...)
			return order, nil
		}
		heard, e := listenTo(ctx, f.info)
		if e != nil {
			return nil, e
		}
		if len(heard) >= 2 && fitsBeeps(order, heard) {
			if named, e := f.byBeeps(order, heard, out); e == nil {
				return named, nil
			}
		}
		sheet, _ := writeHoldSheet(r.Pictures, f)
		return nil, f.mismatchFault(inClip(err, r.Clip), sheet)
	}
	heard, err := listenTo(ctx, f.info)
	if err != nil {
		return nil, err
	}
	if len(heard) >= 2 {
		called, err := calledOrder(ctx, store, heard)
		if err != nil {
			return nil, err
		}
		if called != nil {
			named, err := f.byBeeps(called, heard, out)
			if err == nil {
				return named, nil
			}
			sheet, _ := writeHoldSheet(r.Pictures, f)
			return nil, f.mismatchFault(inClip(err, r.Clip), sheet)
		}
		f.notes = append(f.notes, fmt.Sprintf("%s heard, of an order that was not called on this computer: say it with --order to have the lamps named", plural(len(heard), "beep")))
	}
	g, ok := rec.Guess()
	if !ok {
		sheet, _ := writeHoldSheet(r.Pictures, f)
		return nil, f.mismatchFault(fault.New(fault.Unsure, "order-unknown", `Say what was switched, for example --order "all, -key, all, -fill, dark"`,
			"%s: has %s, and the order in which lamps were switched can't be read from their light", r.Clip, plural(len(rec.Holds), "hold")), sheet)
	}
	out.Guess = &GuessedOrder{Pattern: g.Pattern, Confidence: g.Confidence}
	return g.Order, nil
}

func (f *film) byBeeps(order *lamps.Order, heard []caller.Heard, out *LearnedSet) (*lamps.Order, error) {
	named, notes, err := nameByBeeps(f.recording, order, heard)
	if err != nil {
		return nil, err
	}
	out.Beeps = &HeardBeeps{Heard: len(heard), Of: len(order.Holds) + 1}
	f.notes = append(f.notes, notes...)
	return named, nil
}

// mismatchFault is an order that doesn't go with the clip, with the pictures
// that show it.
func (f *film) mismatchFault(err error, sheet string) error {
	said, ok := fault.As(err)
	if !ok {
		return err
	}
	g := *said
	g.Err = holdsFound(f.decoding.Curve.ID, f.recording, said)
	g.Hint = strings.TrimSuffix(g.Hint, ".") + ". "
	if sheet == "" {
		g.Hint += "With --pictures FOLDER the holds' pictures, with their times, are written there"
	} else {
		g.Hint += "The holds' pictures, with their times, are in " + sheet
	}
	return &g
}
