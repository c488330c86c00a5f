package job

import (
	"context"
	"time"

	"lampwise/internal/book"
	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/lamps"
	"lampwise/internal/unit"
)

// setSchema is the version of a kept set's settings.
const setSchema = 1

// OpenSet reads a kept set with its pictures, its thresholds learned from its
// history of checks.
func OpenSet(ctx context.Context, store Sets, name string) (*lamps.Set, book.Set, error) {
	kept, err := store.Set(ctx, name)
	if err != nil {
		return nil, kept, err
	}
	data, err := store.Pictures(ctx, kept)
	if err != nil {
		return nil, kept, err
	}
	set, err := openedSet(kept, data)
	if err != nil {
		return nil, kept, err
	}
	checks, err := store.SetChecks(ctx, name, historyRead)
	if err != nil {
		return nil, kept, err
	}
	set.Habit = habitOf(checks)
	return set, kept, nil
}

const (
	// historyRead is how many checks back thresholds are learned from.
	historyRead = 200
	// oneOccasion is how soon after another a check says nothing new of how far
	// lamps move by themselves: it finds them as they were left.
	oneOccasion = 6 * time.Hour
)

// habitOf learns how far a set's lamps move by themselves, from the first check
// of each occasion that could judge a lamp; checks come oldest first. One that
// found a lamp to act on counts, too: the deviation is a median.
func habitOf(checks []book.SetCheck) lamps.Habit {
	var changes []map[string]unit.Stop
	var last time.Time
	for _, c := range checks {
		if len(c.Changes) == 0 { // no lamp could be judged
			continue
		}
		if again := c.When.Sub(last) < oneOccasion; !last.IsZero() && again {
			last = c.When
			continue
		}
		last = c.When
		day := map[string]unit.Stop{}
		for name, v := range c.Changes {
			day[name] = unit.Stop(v)
		}
		changes = append(changes, day)
	}
	return lamps.StartingHabit.LearnHabit(changes)
}

// openedSet joins a set's settings and the bytes of its pictures.
func openedSet(kept book.Set, pictures []byte) (*lamps.Set, error) {
	bad := func(format string, args ...any) error {
		return fault.New(fault.Input, "set-format", "Learn the set again.", "set "+kept.Name+": "+format, args...)
	}
	s := kept.Settings
	if s.Schema != setSchema {
		return nil, bad("its settings are of version %d; this lampwise reads %d", s.Schema, setSchema)
	}
	sep, err := unpackSeparation(pictures, "set "+kept.Name)
	if err != nil {
		return nil, err
	}
	if len(s.Lamps) != len(sep.Design.Lamps) {
		return nil, bad("settings of %d lamps for %d lamp pictures", len(s.Lamps), len(sep.Design.Lamps))
	}
	set := lamps.NewSet(sep)
	if set.Primaries, err = colour.GamutByID(s.Clip.Gamut); err != nil {
		return nil, err
	}
	if s.Clip.White != nil {
		set.White = colour.XY{X: s.Clip.White[0], Y: s.Clip.White[1]}
	}
	set.Clip = s.Clip.ClipLight
	sep.Design.Lamps = nil
	for i, l := range s.Lamps {
		lamp, err := openLamp(l, set)
		if err != nil {
			return nil, err
		}
		set.Lamps[i], set.Mix[i] = lamp, l.Level
		sep.Design.Lamps = append(sep.Design.Lamps, l.Name) // a lamp may have been named since
		sep.Design.Filament = append(sep.Design.Filament, lamp.Filament)
	}
	for _, r := range s.Regions {
		if !(r.X >= 0 && r.Y >= 0 && r.W > 0 && r.H > 0 && r.X+r.W <= 1+1e-9 && r.Y+r.H <= 1+1e-9) {
			return nil, bad("region %q lies outside the picture", r.Name)
		}
		g := lamps.Region{Name: r.Name, X: r.X, Y: r.Y, W: r.W, H: r.H}
		if len(r.Mask) > 0 {
			var ok bool
			if g.Mask, ok = maskOf(r.Mask, set.W*set.H); !ok {
				return nil, bad("the mask of region %q is of another picture", r.Name)
			}
		}
		if len(g.Pixels(set.W, set.H)) == 0 {
			return nil, bad("region %q is empty", r.Name)
		}
		set.Regions = append(set.Regions, g)
	}
	return set, nil
}

func openLamp(l book.SetLamp, set *lamps.Set) (lamps.Lamp, error) {
	out := lamps.Lamp{Name: l.Name, Measured: l.Measured, Lowest: l.Lowest, Highest: l.Highest, Distance: unit.Metre(l.Distance), Step: l.Step}
	if err := lamps.CheckLampName(l.Name); err != nil {
		return out, err
	}
	if !(l.Level >= 0 && l.Level <= 1 && l.Lowest >= 0 && l.Highest >= 0 && l.Highest <= 1 && l.Step >= 0 && l.Step <= 1) {
		return out, fault.New(fault.Input, "set-format", "Learn the set again.", "lamp %s has numbers out of range", l.Name)
	}
	if len(l.Dimmer) > 0 {
		var points []lamps.DimmerPoint
		for i, p := range l.Dimmer {
			q := lamps.DimmerPoint{Setting: p[0], Level: p[1]}
			if i < len(l.Errors) {
				q.Error = l.Errors[i]
			}
			points = append(points, q)
		}
		var err error
		if out.Dimmer, err = lamps.NewDimmer(points); err != nil {
			return out, err
		}
	}
	if l.Filament > 0 {
		out.Filament = &lamps.Filament{Full: unit.Kelvin(l.Filament), Primaries: set.Primaries, White: set.White}
	}
	return out, nil
}

func keepLamp(l *lamps.Lamp, level float64) book.SetLamp {
	out := book.SetLamp{Name: l.Name, Level: level, Measured: l.Measured, Lowest: l.Lowest, Highest: l.Highest, Distance: float64(l.Distance), Step: l.Step}
	if l.Dimmer != nil {
		for _, p := range l.Dimmer.Points {
			out.Dimmer = append(out.Dimmer, [2]float64{p.Setting, p.Level})
			out.Errors = append(out.Errors, p.Error)
		}
	}
	if l.Filament != nil {
		out.Filament = float64(l.Filament.Full)
	}
	return out
}
