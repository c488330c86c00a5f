package job

import (
	"context"
	"strings"
	"time"

	"lampwise/internal/book"
	"lampwise/internal/fault"
	"lampwise/internal/lamps"
)

// ListedSet is a set in a list: docs/json.md, sets.
type ListedSet struct {
	Name    string    `json:"name"`
	Learned time.Time `json:"learned"`
	Clip    string    `json:"clip"`
	Lamps   []string  `json:"lamps"`
	Regions []string  `json:"regions"`
	Size    int64     `json:"bytes"`
	Checks  int       `json:"checks"`
}

// ListSets lists the sets.
func ListSets(ctx context.Context, store Sets) ([]ListedSet, error) {
	sets, err := store.Sets(ctx)
	if err != nil {
		return nil, err
	}
	out := []ListedSet{}
	for _, s := range sets {
		checks, err := store.SetChecks(ctx, s.Name, mostChecks)
		if err != nil {
			return nil, err
		}
		l := ListedSet{Name: s.Name, Learned: s.Learned, Clip: s.Settings.Clip.File, Size: s.Size, Checks: len(checks), Lamps: []string{}, Regions: []string{}}
		for _, x := range s.Settings.Lamps {
			l.Lamps = append(l.Lamps, x.Name)
		}
		for _, x := range s.Settings.Regions {
			l.Regions = append(l.Regions, x.Name)
		}
		out = append(out, l)
	}
	return out, nil
}

// mostChecks bounds a history that is shown or exported.
const mostChecks = 10000

// ShownSet is a set with all it says: docs/json.md, sets show.
type ShownSet struct {
	*LearnedSet
	Learned time.Time    `json:"learned"`
	File    string       `json:"clip"`
	Checks  []ShownCheck `json:"checks"`
	Habit   CheckedHabit `json:"thresholds"`
}

// ShownCheck is a line of a set's history.
type ShownCheck struct {
	When    time.Time          `json:"when"`
	File    string             `json:"file"`
	Verdict string             `json:"verdict"`
	Changes map[string]float64 `json:"changes_stops"`
}

// ShowSet says what is known of a set; with a folder its
// pictures are written there, through a grade where one is named.
func ShowSet(ctx context.Context, store Sets, name, pictures, graded string) (*ShownSet, error) {
	set, kept, err := OpenSet(ctx, store, name)
	if err != nil {
		return nil, err
	}
	checks, err := store.SetChecks(ctx, name, mostChecks)
	if err != nil {
		return nil, err
	}
	l := &LearnedSet{Set: name, Curve: kept.Settings.Clip.Curve, Files: map[string]string{}, Notes: append([]string{}, kept.Settings.Notes...), Additivity: kept.Settings.Additivity, Dropped: []DroppedStretch{}}
	describe(set, kept, l)
	out := &ShownSet{LearnedSet: l, Learned: kept.Learned, File: kept.Settings.Clip.File, Checks: []ShownCheck{}, Habit: CheckedHabit{float64(set.Habit.Mention), float64(set.Habit.Act), len(checks)}}
	for _, c := range checks {
		out.Checks = append(out.Checks, ShownCheck{c.When, c.File, c.Verdict, c.Changes})
	}
	if pictures != "" {
		v, err := gradedViewer(l.Curve, kept.Settings.Clip.Gamut, graded)
		if err != nil {
			return nil, err
		}
		return out, writeSetPictures(pictures, v, set, kept, l)
	}
	return out, nil
}

// RenameLamps gives lamps other names, "lamp-1=key".
func RenameLamps(ctx context.Context, store Sets, name string, pairs []string) (book.Set, error) {
	kept, err := store.Set(ctx, name)
	if err != nil {
		return kept, err
	}
	var names []string
	for _, l := range kept.Settings.Lamps {
		names = append(names, l.Name)
	}
	change := map[string]string{}
	for _, p := range pairs {
		from, to, ok := strings.Cut(p, "=")
		if !ok {
			return kept, fault.New(fault.Usage, "rename", "For example lamp-1=key.", "%q is no pair of names", p)
		}
		if err := knownLamp(names, from); err != nil {
			return kept, err
		}
		if err := lamps.CheckLampName(to); err != nil {
			return kept, err
		}
		change[from] = to
	}
	seen := map[string]bool{}
	for i := range kept.Settings.Lamps {
		l := &kept.Settings.Lamps[i]
		if to, ok := change[l.Name]; ok {
			l.Name = to
		}
		if seen[l.Name] {
			return kept, fault.New(fault.Usage, "rename", "Each lamp needs a name of its own.", "two lamps would be called %q", l.Name)
		}
		seen[l.Name] = true
	}
	renamed := func(item string) string {
		lamp, rest, _ := strings.Cut(item, "=")
		if to, ok := change[lamp]; ok {
			lamp = to
		}
		if rest != "" {
			return lamp + "=" + rest
		}
		return lamp
	}
	for h := range kept.Settings.Holds {
		for i, on := range kept.Settings.Holds[h].On {
			kept.Settings.Holds[h].On[i] = renamed(on)
		}
	}
	if o, err := lamps.ParseOrder(kept.Settings.Order, nil); err == nil {
		for i, n := range o.Lamps {
			if to, ok := change[n]; ok {
				o.Lamps[i] = to
			}
		}
		kept.Settings.Order = o.String()
	}
	kept.Settings.Guessed, kept.Changed = false, time.Now()
	return kept, store.ChangeSet(ctx, kept)
}

// KeepDimmer keeps a typed dimmer curve of a lamp. Where the lamp stood in the
// clip is read anew by it, so its picture at full changes while the mix stays.
func KeepDimmer(ctx context.Context, store Sets, name, lamp string, t *DimmerTable) (*lamps.Set, error) {
	set, kept, err := OpenSet(ctx, store, name)
	if err != nil {
		return nil, err
	}
	if err := useTables(set, map[string]*DimmerTable{lamp: t}); err != nil {
		return nil, err
	}
	for i := range set.Lamps {
		kept.Settings.Lamps[i] = keepLamp(&set.Lamps[i], set.Mix[i])
	}
	kept.Changed = time.Now()
	pictures, err := packSeparation(set.Separation)
	if err != nil {
		return nil, err
	}
	_, err = store.KeepSet(ctx, kept, pictures, false)
	return set, err
}
