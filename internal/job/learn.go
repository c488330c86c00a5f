package job

import (
	"context"
	"time"

	"lampwise/internal/book"
	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/grade"
	"lampwise/internal/lamps"
	"lampwise/internal/media"
	"lampwise/internal/unit"
)

// Sets is where sets are kept.
type Sets interface {
	Aliases
	KeepSet(ctx context.Context, set book.Set, pictures []byte, forgetChecks bool) (book.Set, error)
	ChangeSet(ctx context.Context, set book.Set) error
	Set(ctx context.Context, name string) (book.Set, error)
	Sets(ctx context.Context) ([]book.Set, error)
	ForgetSet(ctx context.Context, name string) error
	Pictures(ctx context.Context, set book.Set) ([]byte, error)
	KeepSetCheck(ctx context.Context, name string, c book.SetCheck) error
	SetChecks(ctx context.Context, name string, limit int) ([]book.SetCheck, error)
	KeepCall(ctx context.Context, order string, at time.Time) error
	Calls(ctx context.Context) ([]string, error)
}

// LearnRequest takes a switch clip apart.
type LearnRequest struct {
	Clip, Set string
	Order     string // empty: as the caller's beeps say, or guessed from the light
	Curve     string // empty: as said before of clips like it
	Gamut     string // empty: the curve's first
	Override  media.Override
	Regions   []lamps.Region
	Dimmers   []DimmerReading         // where the dimmers stood while the clip was filmed
	Tables    map[string]*DimmerTable // typed dimmer curves, by lamp
	Filaments map[string]unit.Kelvin  // lamps that redden when dimmed, at full
	White     colour.XY               // what the camera was balanced to; zero: not known
	Pictures  string                  // folder for the pictures; empty: none are written
	Grade     string                  // grade file they are shown through; empty: converted alone
	Overwrite bool
	Threads   int
}

// DimmerReading is what a lamp's dimmer read, 0..1.
type DimmerReading struct {
	Lamp    string
	Setting float64
}

// Learn takes a switch clip apart, keeps the set and says what each lamp does.
func Learn(ctx context.Context, store Sets, r LearnRequest, report Progress) (*LearnedSet, error) {
	if err := lamps.CheckLampName(r.Set); err != nil {
		return nil, fault.New(fault.Usage, "set-name", "Letters, digits, “_” and, inside, “-”.", "%q can't be the name of a set", r.Set)
	}
	if old, err := store.Set(ctx, r.Set); err == nil && !r.Overwrite {
		return nil, fault.New(fault.Storage, "set-exists", "Choose another name, or add --overwrite: its history of checks is then forgotten, too.",
			"a set called %q was learned from %s on %s", r.Set, old.Settings.Clip.File, old.Learned.Format(time.DateOnly))
	}
	var order *lamps.Order
	if r.Order != "" {
		var err error
		if order, err = lamps.ParseOrder(r.Order, nil); err != nil {
			return nil, err
		}
		if err := order.Design(nil).Rank().Err(); err != nil {
			return nil, err
		}
	}
	if r.Grade != "" {
		// Said before the clip is decoded, not after.
		if _, err := grade.Load(r.Grade); err != nil {
			return nil, err
		}
	}
	info, err := media.Probe(ctx, r.Clip)
	if err != nil {
		return nil, err
	}
	film, err := readSwitchClip(ctx, store, r, info, report)
	if err != nil {
		return nil, err
	}
	v, err := gradedViewer(film.decoding.Curve.ID, film.gamut.ID, r.Grade)
	if err != nil {
		return nil, err
	}
	out := &LearnedSet{Set: r.Set, Curve: film.decoding.Curve.ID, Files: map[string]string{}, Notes: []string{}, Dropped: []DroppedStretch{}}
	out.Timing = film.timing
	rec := film.recording
	for _, d := range rec.Dropped {
		out.Dropped = append(out.Dropped, DroppedStretch{float64(d.Start), float64(d.End), d.Why})
	}
	if order, err = film.name(ctx, store, r, order, out); err != nil {
		return nil, err
	}
	began := time.Now()
	set, err := film.takeApart(r, order, out)
	if err != nil {
		return nil, err
	}
	kept := film.settings(r, order, set, out)
	kept.Name, kept.Learned, kept.Changed = r.Set, time.Now(), time.Now()
	pictures, err := packSeparation(set.Separation)
	if err != nil {
		return nil, err
	}
	// From here on the numbers are those of the kept pictures, so that a set
	// says the same tomorrow and on another machine.
	if set, err = openedSet(kept, pictures); err != nil {
		return nil, err
	}
	describe(set, kept, out)
	if kept, err = store.KeepSet(ctx, kept, pictures, true); err != nil {
		return nil, err
	}
	out.Timing.Numbers = time.Since(began).Seconds()
	if r.Pictures != "" {
		if err := writeSetPictures(r.Pictures, v, set, kept, out); err != nil {
			return nil, err
		}
	}
	return out, nil
}
