package job

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
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

// An exported set is one zip archive: set.json, pictures.lamps and checks.json.
const (
	exportSet      = "set.json"
	exportPictures = "pictures.lamps"
	exportChecks   = "checks.json"
	exportKind     = "lampwise set"
	exportForm     = 1
	mostExport     = 1 << 30 // bytes
)

// exportedSet is set.json of an exported set.
type exportedSet struct {
	Kind     string           `json:"kind"`
	Form     int              `json:"form"`
	Name     string           `json:"name"`
	Learned  time.Time        `json:"learned"`
	Changed  time.Time        `json:"changed"`
	Settings book.SetSettings `json:"settings"`
}

// exportedCheck is a check in checks.json.
type exportedCheck struct {
	When    time.Time          `json:"when"`
	File    string             `json:"file"`
	Verdict string             `json:"verdict"`
	Changes map[string]float64 `json:"changes_stops"`
	Answer  json.RawMessage    `json:"answer"`
}

// ExportSet writes a set with its pictures and history as one file.
func ExportSet(ctx context.Context, store Sets, name, file string, overwrite bool) (int64, error) {
	kept, err := store.Set(ctx, name)
	if err != nil {
		return 0, err
	}
	pictures, err := store.Pictures(ctx, kept)
	if err != nil {
		return 0, err
	}
	checks, err := store.SetChecks(ctx, name, mostChecks)
	if err != nil {
		return 0, err
	}
	list := []exportedCheck{}
	for _, c := range checks {
		list = append(list, exportedCheck{c.When, c.File, c.Verdict, c.Changes, c.Answer})
	}
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	write := func(name string, method uint16, data []byte) error {
		w, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: method, Modified: kept.Changed.UTC()})
		if err != nil {
			return err
		}
		_, err = w.Write(data)
		return err
	}
	head, err := json.MarshalIndent(exportedSet{exportKind, exportForm, kept.Name, kept.Learned, kept.Changed, kept.Settings}, "", "  ")
	if err != nil {
		return 0, fmt.Errorf("export set: %w", err)
	}
	history, err := json.MarshalIndent(list, "", " ")
	if err != nil {
		return 0, fmt.Errorf("export set: %w", err)
	}
	if err := errors.Join(write(exportSet, zip.Deflate, head), write(exportChecks, zip.Deflate, history), write(exportPictures, zip.Store, pictures), z.Close()); err != nil {
		return 0, fmt.Errorf("export set: %w", err)
	}
	return int64(out.Len()), writeFile(file, overwrite, out.Bytes())
}

// ImportSet keeps a set that was exported, under its own name or another.
func ImportSet(ctx context.Context, store Sets, file, name string, overwrite bool) (book.Set, error) {
	data, err := readFile(file, mostExport)
	if err != nil {
		return book.Set{}, err
	}
	kept, pictures, checks, err := parseExport(data, file)
	if err != nil {
		return kept, err
	}
	if name != "" {
		kept.Name = name
	}
	if err := lamps.CheckLampName(kept.Name); err != nil {
		return kept, fault.New(fault.Usage, "set-name", "Letters, digits, “_” and, inside, “-”.", "%q can't be the name of a set", kept.Name)
	}
	if _, err := store.Set(ctx, kept.Name); err == nil && !overwrite {
		return kept, fault.New(fault.Storage, "set-exists", "Give another name with --as, or add --overwrite: the present set is then forgotten.", "a set called %q is there already", kept.Name)
	}
	if _, err := openedSet(kept, pictures); err != nil {
		return kept, err
	}
	if kept, err = store.KeepSet(ctx, kept, pictures, true); err != nil {
		return kept, err
	}
	for _, c := range checks {
		if err := store.KeepSetCheck(ctx, kept.Name, c); err != nil {
			return kept, err
		}
	}
	return kept, nil
}

// parseExport reads an exported set; nothing in it is believed.
func parseExport(data []byte, file string) (kept book.Set, pictures []byte, checks []book.SetCheck, err error) {
	bad := func(format string, args ...any) error {
		return fault.New(fault.Input, "set-file", "Export the set again with lampwise sets export.", "%s: %s", file, fmt.Sprintf(format, args...))
	}
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return kept, nil, nil, bad("is no exported set: %v", err)
	}
	entry := func(name string, most int64) ([]byte, error) {
		f, err := z.Open(name)
		if err != nil {
			return nil, bad("%s is missing; is it an exported set?", name)
		}
		defer f.Close()
		b, err := io.ReadAll(io.LimitReader(f, most+1))
		if err != nil {
			return nil, bad("%s: %v", name, err)
		}
		if int64(len(b)) > most {
			return nil, bad("%s is too large", name)
		}
		return b, nil
	}
	head, err := entry(exportSet, 1<<22)
	if err != nil {
		return kept, nil, nil, err
	}
	var e exportedSet
	d := json.NewDecoder(bytes.NewReader(head))
	d.DisallowUnknownFields()
	if err := d.Decode(&e); err != nil {
		return kept, nil, nil, bad("%s: %v", exportSet, err)
	}
	if e.Kind != exportKind || e.Form != exportForm {
		return kept, nil, nil, bad("is %q of form %d; this lampwise reads form %d", e.Kind, e.Form, exportForm)
	}
	kept = book.Set{Name: e.Name, Learned: e.Learned, Changed: e.Changed, Settings: e.Settings}
	if pictures, err = entry(exportPictures, mostExport); err != nil {
		return kept, nil, nil, err
	}
	history, err := entry(exportChecks, 1<<26)
	if err != nil {
		return kept, nil, nil, err
	}
	var list []exportedCheck
	if err := json.Unmarshal(history, &list); err != nil || len(list) > mostChecks {
		return kept, nil, nil, bad("%s: %d checks, %v", exportChecks, len(list), err)
	}
	for _, c := range list {
		checks = append(checks, book.SetCheck{When: c.When, File: c.File, Verdict: c.Verdict, Changes: c.Changes, Answer: c.Answer})
	}
	return kept, pictures, checks, nil
}
