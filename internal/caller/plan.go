package caller

import (
	"fmt"
	"math"
	"strings"
)

// Hold is one setting of the lamps to be called.
type Hold struct {
	Text    string    // as an order writes it: "-key"
	Setting []float64 // by lamp: 0 off, 1 on, between them the dimmer's reading
}

// Step is one call: what to switch, and when.
type Step struct {
	Hold   string  `json:"hold"`   // as the order writes it; "" at the end
	Say    string  `json:"say"`    // "key off"
	Ready  float64 `json:"ready"`  // s from the start: when it is said
	Now    float64 `json:"now"`    // s from the start: when it beeps, and is switched
	Number int     `json:"number"` // the mark's step
}

// Plan is a whole schedule.
type Plan struct {
	Order  string  `json:"order"`
	Number int     `json:"order_number"`
	Steps  []Step  `json:"steps"`
	Length float64 `json:"length"` // s
}

// Times of a schedule, s (common practice, no source).
const (
	leadTime  = 5.0 // to get from the keyboard to the switches
	sayTime   = 2.0 // from the words to the beep
	LeastHold = 2.0
	MostHold  = 30.0
	tailTime  = 1.0
)

// Make plans the calls of an order: each hold lasts so many s from its beep to
// the next.
func Make(order string, lamps []string, holds []Hold, hold float64) (*Plan, error) {
	if len(holds) == 0 || len(holds) > MaxStep {
		return nil, fmt.Errorf("caller: %d holds", len(holds))
	}
	if !(hold >= LeastHold && hold <= MostHold) {
		return nil, fmt.Errorf("caller: a hold of %g s", hold)
	}
	p := &Plan{Order: order, Number: Number(order)}
	for i, h := range holds {
		now := leadTime + float64(i)*hold
		say := ""
		if i > 0 {
			say = change(lamps, holds[i-1].Setting, h.Setting)
		} else {
			say = first(lamps, h.Setting)
		}
		p.Steps = append(p.Steps, Step{Hold: h.Text, Say: say, Ready: now - sayTime, Now: now, Number: i})
	}
	end := leadTime + float64(len(holds))*hold
	p.Steps = append(p.Steps, Step{Say: "done", Ready: end, Now: end, Number: len(holds)})
	p.Length = math.Ceil(end + MarkLength + tailTime)
	return p, nil
}

// Marks are the plan's beeps.
func (p *Plan) Marks() []Timed {
	var out []Timed
	for _, s := range p.Steps {
		out = append(out, Timed{Mark{s.Number, p.Number}, s.Now})
	}
	return out
}

// change says what is switched between two settings.
func change(lamps []string, before, after []float64) string {
	var off, on []string
	for i, l := range lamps {
		switch {
		case before[i] == after[i]:
		case after[i] == 0:
			off = append(off, l+" off")
		case after[i] == 1 && before[i] == 0:
			on = append(on, l+" on")
		case after[i] == 1:
			on = append(on, l+" back to where it stood")
		default:
			on = append(on, fmt.Sprintf("%s to %.4g %%", l, 100*after[i]))
		}
	}
	all := append(off, on...)
	if len(all) == 0 {
		return "leave it as it is"
	}
	return strings.Join(all, ", ")
}

// first says how the lamps stand to begin with.
func first(lamps []string, setting []float64) string {
	on, off := 0, 0
	for _, v := range setting {
		switch v {
		case 0:
			off++
		case 1:
			on++
		}
	}
	switch {
	case on == len(lamps):
		return "all on"
	case off == len(lamps):
		return "all off"
	}
	return change(lamps, make([]float64, len(lamps)), setting) + ", the others off"
}
