package job

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"time"

	"lampwise/internal/book"
	"lampwise/internal/fault"
	"lampwise/internal/lamps"
)

// An exported set is one zip archive: set.json, pictures.lamps, checks.json,
// episodes.json, and the grades, the references and those matched to clips, with
// the LUTs that they load, each in a folder of its own under grades. Form 1 had no
// episodes.
const (
	exportSet      = "set.json"
	exportPictures = "pictures.lamps"
	exportChecks   = "checks.json"
	exportEpisodes = "episodes.json"
	exportKind     = "lampwise set"
	exportForm     = 2
	mostExport     = 1 << 30 // bytes
	mostEpisodes   = 10000
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

// exportedEpisode is an episode in episodes.json.
type exportedEpisode struct {
	Name     string               `json:"name"`
	Made     time.Time            `json:"made"`
	Settings book.EpisodeSettings `json:"settings"`
	// Carried is where the reference grade lies in the archive; empty: it could
	// not be read when the set was exported.
	Carried string         `json:"carried,omitempty"`
	Clips   []exportedClip `json:"clips"`
}

type exportedClip struct {
	Number   int             `json:"number"`
	File     string          `json:"file"`
	Out      string          `json:"out"`
	State    book.ClipState  `json:"state"`
	Step     string          `json:"step,omitempty"`
	Reason   string          `json:"reason,omitempty"`
	Tries    int             `json:"tries,omitempty"`
	Changed  time.Time       `json:"changed"`
	Answer   json.RawMessage `json:"answer,omitempty"`
	Accepted bool            `json:"accepted,omitempty"`
	// Carried is where the matched grade lies in the archive; empty: there is none,
	// or it could not be read.
	Carried string `json:"carried,omitempty"`
}

// ExportedSet is what was written: docs/json.md, sets export.
type ExportedSet struct {
	Set      string   `json:"set"`
	File     string   `json:"file"`
	Bytes    int64    `json:"bytes"`
	Checks   int      `json:"checks"`
	Episodes int      `json:"episodes"`
	Grades   []string `json:"grades"` // the grades that are in it
	Notes    []string `json:"notes"`
}

// ExportSet writes everything of a set as one file: its pictures, its history
// of checks, its episodes and their grades, reference and matched. Clips and finished files
// are not in it.
func ExportSet(ctx context.Context, store Episodes, name, file string, overwrite bool) (*ExportedSet, error) {
	kept, err := store.Set(ctx, name)
	if err != nil {
		return nil, err
	}
	pictures, err := store.Pictures(ctx, kept)
	if err != nil {
		return nil, err
	}
	checks, err := store.SetChecks(ctx, name, mostChecks)
	if err != nil {
		return nil, err
	}
	list := []exportedCheck{}
	for _, c := range checks {
		list = append(list, exportedCheck{c.When, c.File, c.Verdict, c.Changes, c.Answer})
	}
	episodes, err := store.Episodes(ctx, name)
	if err != nil {
		return nil, err
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
	done := &ExportedSet{Set: kept.Name, File: file, Checks: len(checks), Episodes: len(episodes), Grades: []string{}, Notes: []string{}}
	grades := newGradeCarrier(func(name string, data []byte) error { return write(name, zip.Deflate, data) })
	record := []exportedEpisode{}
	for _, e := range episodes {
		x := exportedEpisode{Name: e.Name, Made: e.Made, Settings: e.Settings, Clips: []exportedClip{}}
		if x.Carried, err = grades.carry(e.Settings.Grade); err != nil {
			return nil, err
		}
		for _, c := range e.Clips {
			one := exportedClip{c.Number, c.File, c.Out, c.State, c.Step, c.Reason, c.Tries, c.Changed, c.Answer, c.Accepted, ""}
			if found, err := answerIn(c); err != nil {
				return nil, err
			} else if found != nil && found.Grade != "" {
				if one.Carried, err = grades.carry(found.Grade); err != nil {
					return nil, err
				}
			}
			x.Clips = append(x.Clips, one)
		}
		record = append(record, x)
	}
	done.Grades, done.Notes = append(done.Grades, grades.carried...), append(done.Notes, grades.notes...)
	err = nil
	for _, part := range []struct {
		name string
		what any
	}{
		{exportSet, exportedSet{exportKind, exportForm, kept.Name, kept.Learned, kept.Changed, kept.Settings}},
		{exportChecks, list},
		{exportEpisodes, record},
	} {
		data, e := json.Marshal(part.what)
		err = errors.Join(err, e, write(part.name, zip.Deflate, data))
	}
	if err = errors.Join(err, write(exportPictures, zip.Store, pictures), z.Close()); err != nil {
		return nil, fmt.Errorf("export set: %w", err)
	}
	done.Bytes = int64(out.Len())
	return done, writeFile(file, overwrite, out.Bytes())
}

// ImportedSet is what was kept: docs/json.md, sets import.
type ImportedSet struct {
	Set      string   `json:"set"`
	Lamps    int      `json:"lamps"`
	Checks   int      `json:"checks"`
	Episodes int      `json:"episodes"`
	Grades   []string `json:"grades"` // the grades as they lie here
	Notes    []string `json:"notes"`
}

// ImportSet keeps a set that was exported, under its own name or another: all
// of it or nothing. A grade that stands where it stood, unchanged, is
// used from there; another is written into a folder under grades.
func ImportSet(ctx context.Context, store Episodes, file, name, grades string, overwrite bool) (*ImportedSet, error) {
	data, err := readFile(file, mostExport)
	if err != nil {
		return nil, err
	}
	x, err := parseExport(data, file)
	if err != nil {
		return nil, err
	}
	kept := x.set
	if name != "" {
		kept.Name = name
	}
	if err := lamps.CheckLampName(kept.Name); err != nil {
		return nil, fault.New(fault.Usage, "set-name", "Letters, digits, “_” and, inside, “-”.", "%q can't be the name of a set", kept.Name)
	}
	if _, err := store.Set(ctx, kept.Name); err == nil && !overwrite {
		return nil, fault.New(fault.Storage, "set-exists", "Give another name with --as, or add --overwrite: the present set is then forgotten.", "a set called %q is there already", kept.Name)
	}
	if _, err := openedSet(kept, x.pictures); err != nil {
		return nil, err
	}
	out := &ImportedSet{Set: kept.Name, Lamps: len(kept.Settings.Lamps), Checks: len(x.checks), Episodes: len(x.episodes), Grades: []string{}, Notes: []string{}}
	unpacked := gradeUnpacker{archive: x.archive, file: file, folder: grades, at: map[string]string{}, seen: map[string]bool{}}
	for i := range x.episodes {
		e := &x.episodes[i]
		e.Set = kept.Name
		if e.Settings.Grade, err = unpacked.place(x.carried[i], e.Settings.Grade); err != nil {
			return nil, err
		}
		for n := range e.Clips {
			if err := unpacked.placeMatched(&e.Clips[n], x.matched[i][n]); err != nil {
				return nil, err
			}
		}
	}
	out.Grades, out.Notes = append(out.Grades, unpacked.placed...), append(out.Notes, unpacked.notes...)
	return out, store.RestoreSet(ctx, kept, x.pictures, x.checks, x.episodes)
}

// openedExport is what an exported set holds.
type openedExport struct {
	archive  *zip.Reader
	set      book.Set
	pictures []byte
	checks   []book.SetCheck
	episodes []book.Episode
	carried  []string   // of each episode: its grade in the archive
	matched  [][]string // of each of its clips: the matched one
}

// entryOf reads one entry of an exported set, at most so many bytes of it.
func entryOf(z *zip.Reader, file, name string, most int64) ([]byte, error) {
	f, err := z.Open(name)
	if err != nil {
		return nil, badExport(file, "%s is missing; is it an exported set?", name)
	}
	defer f.Close()
	b, err := io.ReadAll(io.LimitReader(f, most+1))
	if err != nil {
		return nil, badExport(file, "%s: %v", name, err)
	}
	if int64(len(b)) > most {
		return nil, badExport(file, "%s is too large", name)
	}
	return b, nil
}

func badExport(file, format string, args ...any) error {
	return fault.New(fault.Input, "set-file", "Export the set again with lampwise sets export.", "%s: %s", file, fmt.Sprintf(format, args...))
}

// listIn reads an entry that is a list of at most so many.
func listIn[T any](z *zip.Reader, file, name string, bytes int64, most int) (list []T, err error) {
	data, err := entryOf(z, file, name, bytes)
	if err != nil {
		return nil, err
	}
	if err := json.Unmarshal(data, &list); err != nil || len(list) > most {
		return nil, badExport(file, "%s: a list of %d, where at most %d can be (%v)", name, len(list), most, err)
	}
	return list, nil
}

// parseExport reads an exported set; nothing in it is believed.
func parseExport(data []byte, file string) (*openedExport, error) {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, badExport(file, "is no exported set: %v", err)
	}
	head, err := entryOf(z, file, exportSet, 1<<22)
	if err != nil {
		return nil, err
	}
	var e exportedSet
	d := json.NewDecoder(bytes.NewReader(head))
	d.DisallowUnknownFields()
	if err := d.Decode(&e); err != nil {
		return nil, badExport(file, "%s: %v", exportSet, err)
	}
	if e.Kind != exportKind || e.Form < 1 || e.Form > exportForm {
		return nil, badExport(file, "is %q of form %d; this lampwise reads forms 1 to %d", e.Kind, e.Form, exportForm)
	}
	x := &openedExport{archive: z, set: book.Set{Name: e.Name, Learned: e.Learned, Changed: e.Changed, Settings: e.Settings}}
	if x.pictures, err = entryOf(z, file, exportPictures, mostExport); err != nil {
		return nil, err
	}
	list, err := listIn[exportedCheck](z, file, exportChecks, 1<<26, mostChecks)
	if err != nil {
		return nil, err
	}
	for _, c := range list {
		x.checks = append(x.checks, book.SetCheck{When: c.When, File: c.File, Verdict: c.Verdict, Changes: c.Changes, Answer: c.Answer})
	}
	if e.Form == 1 {
		return x, nil
	}
	episodes, err := listIn[exportedEpisode](z, file, exportEpisodes, 1<<28, mostEpisodes)
	if err != nil {
		return nil, err
	}
	for _, e := range episodes {
		one, err := e.open()
		if err != nil {
			return nil, badExport(file, "%s: %v", exportEpisodes, err)
		}
		var matched []string
		for _, c := range e.Clips {
			matched = append(matched, c.Carried)
		}
		x.episodes, x.carried, x.matched = append(x.episodes, one), append(x.carried, e.Carried), append(x.matched, matched)
	}
	return x, nil
}

// open makes an episode of what was read. A clip that was being worked on waits
// again: whoever worked on it is on another machine.
func (e *exportedEpisode) open() (book.Episode, error) {
	if err := lamps.CheckLampName(e.Name); err != nil {
		return book.Episode{}, fmt.Errorf("%q can't be the name of an episode", e.Name)
	}
	if e.Settings.Schema != episodeSchema {
		return book.Episode{}, fmt.Errorf("episode %s is of version %d; this lampwise reads %d", e.Name, e.Settings.Schema, episodeSchema)
	}
	if err := checkSettings(&e.Settings); err != nil {
		return book.Episode{}, fmt.Errorf("episode %s: %v", e.Name, err)
	}
	if len(e.Clips) > mostClips {
		return book.Episode{}, fmt.Errorf("episode %s has %d clips; at most %d can be", e.Name, len(e.Clips), mostClips)
	}
	out := book.Episode{Name: e.Name, Made: e.Made, Settings: e.Settings}
	for i, c := range e.Clips {
		if c.Number != i+1 {
			return book.Episode{}, fmt.Errorf("clip %d of episode %s stands at place %d", c.Number, e.Name, i+1)
		}
		switch c.State {
		case book.ClipWorking:
			c.State, c.Step = book.ClipWaiting, ""
		case book.ClipWaiting, book.ClipDone, book.ClipAside:
		default:
			return book.Episode{}, fmt.Errorf("clip %d of episode %s is %q, which is no state", c.Number, e.Name, c.State)
		}
		if len(c.Answer) > 0 {
			if err := json.Unmarshal(c.Answer, &EpisodeAnswer{}); err != nil {
				return book.Episode{}, fmt.Errorf("clip %d of episode %s: %v", c.Number, e.Name, err)
			}
		}
		out.Clips = append(out.Clips, book.EpisodeClip{Number: c.Number, File: c.File, Out: c.Out, State: c.State, Step: c.Step, Reason: c.Reason, Tries: c.Tries, Changed: c.Changed, Answer: c.Answer, Accepted: c.Accepted})
	}
	return out, nil
}
