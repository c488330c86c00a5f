package job

import (
	"context"
	"fmt"
	"slices"
	"sort"
	"strings"

	"lampwise/internal/caller"
	"lampwise/internal/fault"
	"lampwise/internal/lamps"
	"lampwise/internal/media"
)

// HeardBeeps is what the sound track told of the holds: docs/json.md, learn.
type HeardBeeps struct {
	Heard int `json:"heard"`
	Of    int `json:"of"` // the order's steps and its end
}

// listenTo hears the caller's beeps on a clip's sound track; none when there is
// no sound. Sound that can't be read is no reason not to learn from the light.
func listenTo(ctx context.Context, info *media.Info) ([]caller.Heard, error) {
	l, err := caller.NewListener(caller.ListenRate)
	if err != nil {
		return nil, err
	}
	if err := media.Listen(ctx, info, caller.ListenRate, l.Add); err != nil {
		if f, ok := fault.As(err); ok && f.Class == fault.Input {
			return nil, nil
		}
		return nil, err
	}
	return l.Marks(), nil
}

// calledOrder is the order that the beeps are of, among those called or learned
// on this machine; nil when they are of none.
func calledOrder(ctx context.Context, store Sets, heard []caller.Heard) (*lamps.Order, error) {
	texts, err := store.Calls(ctx)
	if err != nil {
		return nil, err
	}
	sets, err := store.Sets(ctx)
	if err != nil {
		return nil, err
	}
	for _, s := range sets {
		texts = append(texts, s.Settings.Order)
	}
	for _, text := range texts {
		o, err := lamps.ParseOrder(text, nil)
		if err != nil {
			continue
		}
		if fitsBeeps(o, heard) {
			return o, nil
		}
		if asSwitched(o); fitsBeeps(o, heard) {
			return o, nil
		}
	}
	return nil, nil
}

// fitsBeeps says whether the beeps may be of an order.
func fitsBeeps(o *lamps.Order, heard []caller.Heard) bool {
	if caller.Number(o.String()) != heard[0].Order {
		return false
	}
	for _, h := range heard {
		if h.Step > len(o.Holds) {
			return false
		}
	}
	return true
}

// nameByBeeps leaves the recording with one hold for each step of the order that
// was heard and seen, and gives the order of these holds. The hand follows the
// beep: a hold belongs to the step in whose time its middle lies.
func nameByBeeps(rec *lamps.Recording, order *lamps.Order, heard []caller.Heard) (*lamps.Order, []string, error) {
	steps := stepTimes(heard)
	byStep := map[int]int{} // the longest hold of each
	for i, h := range rec.Holds {
		s, ok := steps.at(float64(h.Middle()))
		if !ok || s >= len(order.Holds) {
			continue
		}
		if k, taken := byStep[s]; !taken || h.End-h.Start > rec.Holds[k].End-rec.Holds[k].Start {
			byStep[s] = i
		}
	}
	var keep []int
	var missing []string
	named := &lamps.Order{Lamps: order.Lamps}
	for s := range order.Holds {
		if k, ok := byStep[s]; ok {
			keep = append(keep, k)
			named.Holds = append(named.Holds, order.Holds[s])
			continue
		}
		missing = append(missing, fmt.Sprintf("%q (number %d)", order.HoldText(s), s+1))
	}
	var notes []string
	if len(missing) > 0 {
		notes = append(notes, fmt.Sprintf("no steady light was found for %s", strings.Join(missing, ", ")))
	}
	if n := len(rec.Holds) - len(keep); n > 0 {
		notes = append(notes, fmt.Sprintf("%s beside the called ones left out", plural(n, "hold")))
	}
	if err := named.Design(nil).Rank().Err(); err != nil {
		return nil, notes, err
	}
	rec.Keep(keep)
	if err := matchDimmed(rec, named); err != nil {
		return nil, notes, err
	}
	return named, notes, nil
}

// stepTimes are the beeps' steps with their times; between two that were heard,
// and after the last, the unheard ones came at even times.
type stepClock struct {
	heard []caller.Heard
	each  float64 // s from a step to the next
}

func stepTimes(heard []caller.Heard) stepClock {
	var each []float64
	for i := 1; i < len(heard); i++ {
		each = append(each, (heard[i].At-heard[i-1].At)/float64(heard[i].Step-heard[i-1].Step))
	}
	slices.Sort(each)
	return stepClock{heard, each[len(each)/2]}
}

// at is the step at a time; false before the first.
func (c stepClock) at(t float64) (int, bool) {
	i := sort.Search(len(c.heard), func(i int) bool { return c.heard[i].At > t }) - 1
	if i < 0 {
		s := c.heard[0].Step - 1 - int((c.heard[0].At-t)/c.each)
		return s, s >= 0
	}
	h := c.heard[i]
	each, most := c.each, caller.MaxStep
	if i+1 < len(c.heard) {
		next := c.heard[i+1]
		each, most = (next.At-h.At)/float64(next.Step-h.Step), next.Step-1
	}
	return min(h.Step+int((t-h.At)/each), most), true
}

func plural(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
