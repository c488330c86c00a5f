package job

import (
	"context"
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
	"time"

	"lampwise/internal/book"
	"lampwise/internal/fault"
)

// ListedEpisode is an episode in a list: docs/json.md, episodes.
type ListedEpisode struct {
	Set     string    `json:"set"`
	Name    string    `json:"name"`
	Made    time.Time `json:"made"`
	Grade   string    `json:"grade"`
	Out     string    `json:"out"`
	Preset  string    `json:"preset"`
	Waiting int       `json:"waiting"`
	Done    int       `json:"done"`
	Aside   int       `json:"aside"`
}

// ShownEpisode is an episode with its clips.
type ShownEpisode struct {
	ListedEpisode
	Clips []ShownClip `json:"clips"`
}

// ShownClip is a clip of an episode.
type ShownClip struct {
	Number int            `json:"number"`
	File   string         `json:"file"`
	Out    string         `json:"out"`
	State  string         `json:"state"` // waiting, working, done, aside
	Step   string         `json:"step,omitempty"`
	Reason string         `json:"reason,omitempty"`
	Tries  int            `json:"tries"`
	Found  *EpisodeAnswer `json:"found"`
}

// ListEpisodes lists a set's episodes, or all, the oldest first.
func ListEpisodes(ctx context.Context, store Episodes, set string) ([]ListedEpisode, error) {
	if set != "" {
		if _, err := store.Set(ctx, set); err != nil {
			return nil, err
		}
	}
	all, err := store.Episodes(ctx, set)
	if err != nil {
		return nil, err
	}
	out := []ListedEpisode{}
	for _, e := range all {
		out = append(out, listedEpisode(e))
	}
	return out, nil
}

func listedEpisode(e book.Episode) ListedEpisode {
	l := ListedEpisode{Set: e.Set, Name: e.Name, Made: e.Made, Grade: e.Settings.Grade, Out: e.Settings.Out, Preset: e.Settings.Preset}
	l.Waiting, l.Done, l.Aside = Left(e)
	return l
}

// FindEpisode finds an episode by its name; the set may be left out where only
// one has such an episode.
func FindEpisode(ctx context.Context, store Episodes, set, name string) (book.Episode, error) {
	if set != "" {
		return store.Episode(ctx, set, name)
	}
	all, err := store.Episodes(ctx, "")
	if err != nil {
		return book.Episode{}, err
	}
	var found []book.Episode
	var names []string
	for _, e := range all {
		names = append(names, e.Name)
		if e.Name == name {
			found = append(found, e)
		}
	}
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		hint := "lampwise episodes list shows them; lampwise episodes add makes one."
		if near, ok := fault.Nearest(name, names); ok {
			hint = "Did you mean “" + near + "”? " + hint
		}
		return book.Episode{}, fault.New(fault.Usage, "episode-unknown", hint, "no episode is called %q", name)
	}
	return book.Episode{}, fault.New(fault.Usage, "episode-set", "Say which with --set.", "%d sets have an episode called %q", len(found), name)
}

// ShowEpisode says what is known of an episode's clips.
func ShowEpisode(ctx context.Context, store Episodes, set, name string) (*ShownEpisode, error) {
	e, err := FindEpisode(ctx, store, set, name)
	if err != nil {
		return nil, err
	}
	return ShownOf(e)
}

// ShownOf says what is known of an episode's clips.
func ShownOf(e book.Episode) (*ShownEpisode, error) {
	out := &ShownEpisode{ListedEpisode: listedEpisode(e), Clips: []ShownClip{}}
	for _, c := range e.Clips {
		var err error
		s := ShownClip{Number: c.Number, File: c.File, Out: c.Out, State: string(c.State), Step: c.Step, Reason: c.Reason, Tries: c.Tries}
		if s.Found, err = answerIn(c); err != nil {
			return nil, err
		}
		out.Clips = append(out.Clips, s)
	}
	return out, nil
}

func answerIn(c book.EpisodeClip) (*EpisodeAnswer, error) {
	if len(c.Answer) == 0 {
		return nil, nil
	}
	var a EpisodeAnswer
	if err := json.Unmarshal(c.Answer, &a); err != nil {
		return nil, fmt.Errorf("what was found of clip %d: %w", c.Number, err)
	}
	return &a, nil
}

// SameEpisode finds the episode that a request has made before: of the same
// set and name, and of the same clips. One of the same name with other clips is a fault.
func SameEpisode(ctx context.Context, store Episodes, r EpisodeRequest) (book.Episode, bool, error) {
	files, folder, err := episodeFiles(r.Clips)
	if err != nil {
		return book.Episode{}, false, err
	}
	name := r.Name
	if name == "" {
		name = plainName(filepath.Base(folder))
	}
	e, err := store.Episode(ctx, r.Set, name)
	if f, ok := fault.As(err); ok && f.Code == "episode-unknown" {
		return e, false, nil
	}
	if err != nil {
		return e, false, err
	}
	kept := map[string]bool{}
	for _, c := range e.Clips {
		kept[c.File] = true
	}
	// A clip that has gone since is the work's to find; one that has come is not of this episode.
	if slices.ContainsFunc(files, func(f string) bool { return !kept[f] }) {
		return e, false, fault.New(fault.Storage, "episode-exists", "Give the new clips another name with --name.", "set %s has an episode called %q of other clips", r.Set, name)
	}
	return e, true, otherSettings(e, r)
}

// otherSettings is a fault when a request names settings that an episode kept
// already hasn't got: they would be passed over.
func otherSettings(e book.Episode, r EpisodeRequest) error {
	s := e.Settings
	full := func(path string) string {
		if at, err := filepath.Abs(path); err == nil {
			return at
		}
		return path
	}
	for _, x := range []struct {
		flag  string
		other bool
		has   any
	}{
		{"grade", r.Grade != "" && full(r.Grade) != s.Grade, s.Grade},
		{"out", r.Out != "" && full(r.Out) != s.Out, s.Out},
		{"as", r.Preset != "" && r.Preset != s.Preset, s.Preset},
		{"within", r.Stops != 0 && r.Stops != s.Stops, s.Stops},
		{"within-de00", r.DE00 != 0 && r.DE00 != s.DE00, s.DE00},
	} {
		if x.other {
			return fault.New(fault.Usage, "episode-settings", "Leave it out to go on; or forget the episode (lampwise episodes forget) and add it anew, or give another --name.",
				"episode %s of set %s is kept with --%s %v", e.Name, e.Set, x.flag, x.has)
		}
	}
	return nil
}

// ComparedEpisodes are two episodes beside each other.
type ComparedEpisodes struct {
	Set   string        `json:"set"`
	A     string        `json:"a"`
	B     string        `json:"b"`
	Rows  []ComparedRow `json:"rows"`
	Notes []string      `json:"notes"`
	// Files are the pictures written, by what they show.
	Files map[string]string `json:"files"`
}

// ComparedRow is one number of both: the mean over the clips that have it.
type ComparedRow struct {
	What       string   `json:"what"`
	Unit       string   `json:"unit"`
	A          *float64 `json:"value_a"`
	B          *float64 `json:"value_b"`
	Difference *float64 `json:"difference"` // b − a
}

// CompareEpisodes sets two episodes of a set beside each other: what the set
// check found, what the regions read as recorded, what the match did, and what
// was left of a difference from the reference.
func CompareEpisodes(ctx context.Context, store Episodes, set, a, b string) (*ComparedEpisodes, error) {
	first, err := FindEpisode(ctx, store, set, a)
	if err != nil {
		return nil, err
	}
	second, err := FindEpisode(ctx, store, first.Set, b)
	if err != nil {
		return nil, err
	}
	out := &ComparedEpisodes{Set: first.Set, A: a, B: b, Rows: []ComparedRow{}, Notes: []string{}, Files: map[string]string{}}
	var order []string
	var means [2]map[string]*tally
	for i, e := range []book.Episode{first, second} {
		means[i] = map[string]*tally{}
		clips := 0
		for _, c := range e.Clips {
			found, err := answerIn(c)
			if err != nil {
				return nil, err
			}
			if found == nil {
				continue
			}
			clips++
			found.numbers(func(what, unit string, v *float64) {
				key := what + "\x00" + unit
				if !slices.Contains(order, key) {
					order = append(order, key)
				}
				if v != nil {
					if means[i][key] == nil {
						means[i][key] = &tally{}
					}
					means[i][key].add(*v)
				}
			})
		}
		if clips == 0 {
			out.Notes = append(out.Notes, "nothing was found yet of episode "+e.Name)
		}
	}
	for _, key := range order {
		what, unit := splitKey(key)
		r := ComparedRow{What: what, Unit: unit, A: means[0][key].mean(), B: means[1][key].mean()}
		if r.A != nil && r.B != nil {
			d := *r.B - *r.A
			r.Difference = &d
		}
		out.Rows = append(out.Rows, r)
	}
	return out, nil
}

// tally is a mean in the making.
type tally struct {
	n   int
	sum float64
}

func (t *tally) add(v float64) { t.n, t.sum = t.n+1, t.sum+v }

func (t *tally) mean() *float64 {
	if t == nil || t.n == 0 {
		return nil
	}
	m := t.sum / float64(t.n)
	return &m
}

func splitKey(key string) (what, unit string) {
	for i := range key {
		if key[i] == 0 {
			return key[:i], key[i+1:]
		}
	}
	return key, ""
}

// numbers gives every number of an answer that episodes are compared by.
func (a *EpisodeAnswer) numbers(visit func(what, unit string, v *float64)) {
	if c := a.Check; c != nil {
		var names []string
		for n := range c.Lamps {
			names = append(names, n)
		}
		slices.Sort(names)
		for _, n := range names {
			visit("lamp "+n, "stops from the reference", c.Lamps[n])
		}
		visit("ambient", "stops from the reference", c.Ambient)
		visit("camera's gain", "stops from the reference", c.Gain)
		visit("camera's white balance", "mired from the reference", c.Balance)
	}
	for _, r := range a.Readings {
		visit(r.Region+" as recorded", "stops from grey", r.Stops)
		visit(r.Region+" as recorded", "K", r.CCT)
	}
	if a.After != nil {
		exposure := a.Exposure
		visit("exposure by match", "stops", &exposure)
		visit("warmth taken out by match", "mired", a.Mired)
		visit("left after match", "stops", &a.After.Stops)
		visit("left after match", "ΔE00", &a.After.DE00)
	}
}
