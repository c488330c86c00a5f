package job

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"lampwise/internal/lamps"
)

// thingToDo is a piece of advice and how large the matter is, in units of what
// is worth acting on.
type thingToDo struct {
	size float64
	text string
}

// adviseOn lists what to do, the largest matter first.
func adviseOn(set *lamps.Set, r *lamps.CheckReport, c *Checked) []string {
	var all []thingToDo
	add := func(size float64, format string, args ...any) {
		all = append(all, thingToDo{size, fmt.Sprintf(format, args...)})
	}
	act := max(float64(set.Habit.Act), 1e-6)
	for i, l := range r.Lamps {
		switch l.Finding {
		case lamps.Off:
			add(100*max(l.Share, 0.01), "%s is off: switch it on, and if it stays dark look at its plug and its lamp.", l.Name)
		case lamps.Brighter, lamps.Darker:
			size := math.Abs(float64(l.Stops)) / act
			if !l.Act {
				size /= 2
			}
			add(size, "%s", turnText(set, i, l))
		case lamps.Coloured:
			size := math.Abs(float64(l.Mired)) / max(float64(set.Habit.MentionMired), 1)
			if math.IsNaN(size) {
				size = float64(l.Tint) / act
			}
			add(size, "%s has another colour%s: look at its filter, its colour setting and whether its lamp was changed.", l.Name, miredWords(float64(l.Mired)))
		case lamps.Moved:
			add(2, "%s falls differently: it was moved or turned, or its diffuser was changed. Put it back as it was, then check again.", l.Name)
		}
	}
	if m := r.Camera; r.Model != nil {
		if m.Changed && math.Abs(float64(m.Gain)) >= float64(set.Habit.Mention) {
			how := "close the exposure (stop, ISO or ND)"
			word := "brighter"
			if m.Gain < 0 {
				how, word = "open the exposure (stop, ISO or ND)", "darker"
			}
			add(math.Abs(float64(m.Gain))/act, "The camera is %.2f stop %s: %s by so much.", math.Abs(float64(m.Gain)), word, how)
		}
		if m.BalanceChanged {
			add(math.Abs(float64(m.BalanceMired))/max(float64(set.Habit.MentionMired), 1), "The camera's white balance differs%s: set it as it was.", miredWords(float64(m.BalanceMired)))
		}
	}
	if r.Camera.Inseparable && r.Model != nil {
		add(unknownCamera, "Look at the camera: stop, shutter, ISO, ND and white balance. If all are as they were, check again and say so (--camera-same); if not, set them as they were and film again. No picture tells a camera set otherwise from lamps that changed alike, with a card in it or without.")
	}
	if m := c.Camera; m.Moved {
		add(1.5, "The camera moved: %s. Put it back, or go on if the framing suits; the lamps are judged with that taken out.", movedWords(m))
	}
	if a := r.Ambient; a.Changed && a.Known {
		word := "brighter: shade the window or the door, or wait"
		if a.Stops < 0 {
			word = "darker"
		}
		add(math.Abs(float64(a.Stops))/max(4*float64(set.Habit.Ambient), 1e-6), "The ambient light is %.2f stop %s.", math.Abs(float64(a.Stops)), word)
	}
	for _, u := range c.Unknown {
		add(u.Stops/act, "Light that no lamp of the set gives, up to %.2f stop, %s of the picture: look for a lamp, a screen or a door that wasn't there.", u.Stops, placeWords(u))
	}
	slices.SortStableFunc(all, func(a, b thingToDo) int { return cmp.Compare(b.size, a.size) })
	out := []string{}
	for _, t := range all {
		out = append(out, t.text)
	}
	if r.Outcome == lamps.OutcomeUnsure {
		out = append(out, r.Reasons...)
	}
	return out
}

// unknownCamera puts a look at the camera before everything but a lamp that is
// off: what is said of the lamps hangs on it.
const unknownCamera = 10

// turnText says how to bring a lamp back: to a reading of its dimmer where its
// curve is known, else by what a region reads.
func turnText(set *lamps.Set, i int, l lamps.LampCheck) string {
	lamp, level := &set.Lamps[i], set.Mix[i]
	stops := float64(l.Stops)
	word, way := "brighter", "down"
	if stops < 0 {
		word, way = "darker", "up"
	}
	head := fmt.Sprintf("%s is %.2f stop %s", l.Name, math.Abs(stops), word)
	if lamp.Measured {
		stood := 100 * lamp.Dimmer.Setting(level)
		to := level * math.Exp2(-stops)
		if to > 1 {
			return fmt.Sprintf("%s: it can't be brought back by its dimmer (%.0f %%) alone; bring it nearer or clean it.", head, stood)
		}
		return fmt.Sprintf("%s: if its dimmer stands at %.0f %% as it did, turn it from %.0f to %.0f %%; if it was touched, back to %.0f %%.",
			head, stood, stood, 100*lamp.Dimmer.Setting(to), stood)
	}
	// The region it gives most to tells when it is back.
	best, at := 0.0, lamps.Region{}
	for _, g := range set.Regions {
		if s := set.Shares(set.Mix, g)[i]; s > best {
			best, at = s, g
		}
	}
	if best < leastShown {
		return fmt.Sprintf("%s: turn it %s a little and check again.", head, way)
	}
	return fmt.Sprintf("%s: turn it %s until %s reads %+.2f, then check again.", head, way, at.Name, float64(set.Read(set.Mix, at).Stops))
}

// leastShown is the share of a region's light from which the region shows what
// its lamp does.
const leastShown = 0.1

func miredWords(m float64) string {
	switch {
	case math.IsNaN(m) || m == 0:
		return ""
	case m > 0:
		return fmt.Sprintf(" (%.0f mired warmer)", m)
	}
	return fmt.Sprintf(" (%.0f mired colder)", -m)
}

// movedWords says how the picture moved.
func movedWords(m CheckedCamera) string {
	var parts []string
	side := func(v float64, more, less string) {
		if math.Abs(v) >= 0.5 {
			word := more
			if v < 0 {
				word = less
			}
			parts = append(parts, fmt.Sprintf("%.1f pixels %s", math.Abs(v), word))
		}
	}
	side(m.DX, "to the right", "to the left")
	side(m.DY, "down", "up")
	if math.Abs(m.Rotation) >= 0.03 {
		way := "clockwise"
		if m.Rotation < 0 {
			way = "anticlockwise"
		}
		parts = append(parts, fmt.Sprintf("turned %.2f degrees %s", math.Abs(m.Rotation), way))
	}
	if math.Abs(m.Scale-1) >= 0.001 {
		parts = append(parts, fmt.Sprintf("%.1f %% larger", 100*(m.Scale-1)))
	}
	if len(parts) == 0 {
		return "by less than a pixel"
	}
	return "the picture is " + strings.Join(parts, ", ")
}

// placeWords says where in the picture a patch lies.
func placeWords(u CheckedLight) string {
	x, y := u.X+u.W/2, u.Y+u.H/2
	across, down := "in the middle", ""
	switch {
	case x < 1.0/3:
		across = "on the left"
	case x > 2.0/3:
		across = "on the right"
	}
	switch {
	case y < 1.0/3:
		down = ", at the top"
	case y > 2.0/3:
		down = ", at the bottom"
	}
	return across + down
}

// correctionFor is the exposure and balance that bring a clip already shot
// nearest to the reference.
func correctionFor(set *lamps.Set, r *lamps.CheckReport) *Correction {
	if r.Model == nil || r.Outcome == lamps.OutcomeUnsure {
		return nil
	}
	k := set.Correct(r)
	out := &Correction{Exposure: float64(k.Exposure), Balance: [2]float64{float64(k.Balance[0]), float64(k.Balance[2])}, Left: map[string]float64{}}
	for _, l := range k.Left {
		if unsureThere(set, r, l.Region) {
			continue
		}
		if v := finite(float64(l.Stops)); v != nil {
			out.Left[l.Region] = *v
		}
	}
	return out
}

// unsureThere says that much of a region's light is from a lamp the check
// can't judge, so that nothing can be said of the region either.
func unsureThere(set *lamps.Set, r *lamps.CheckReport, region string) bool {
	g, err := set.Region(region)
	if err != nil {
		return true
	}
	const much = 0.2
	shares := set.Shares(set.Mix, g)
	for i, l := range r.Lamps {
		if l.Finding == lamps.Unsure && shares[i] > much {
			return true
		}
	}
	return false
}
