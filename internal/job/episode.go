package job

import (
	"context"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"lampwise/internal/book"
	"lampwise/internal/fault"
	"lampwise/internal/grade"
	"lampwise/internal/lamps"
)

// Episodes is the store that episodes need.
type Episodes interface {
	Sets
	RestoreSet(ctx context.Context, set book.Set, pictures []byte, checks []book.SetCheck, episodes []book.Episode) error
	KeepEpisode(ctx context.Context, e book.Episode) error
	ClaimEpisodeClip(ctx context.Context, set, episode string, number int, before, owner string, at time.Time) (bool, error)
	BeatEpisodeClip(ctx context.Context, set, episode string, number int, owner string, at time.Time) error
	KeepEpisodeClip(ctx context.Context, set, episode string, c book.EpisodeClip) error
	RetryEpisodeClip(ctx context.Context, set, episode string, number int, accepted bool) error
	Episode(ctx context.Context, set, name string) (book.Episode, error)
	Episodes(ctx context.Context, set string) ([]book.Episode, error)
	ForgetEpisode(ctx context.Context, set, name string) error
}

// EpisodeRequest makes an episode of clips.
type EpisodeRequest struct {
	Clips  []string // files, or one folder whose clips are taken in the order of their names
	Set    string
	Name   string  // empty: the folder's name
	Grade  string  // the set's reference grade; empty: that of the set's last episode
	Out    string  // folder for the finished files; empty: "finished" beside the clips
	Preset string  // empty: web-1080p
	Stops  float64 // what may be left of a difference from the reference on face and background; 0: 0.1
	DE00   float64 // likewise; 0: 1.5
}

// What may be left after matching, on the regions that carry the picture:
// below, an episode beside the one before is taken for the same (our aim;
// common practice holds a tenth of a stop to be about what an eye finds side
// by side, no source).
const (
	episodeStops = 0.1
	episodeDE00  = 1.5
)

const (
	episodeSchema = 1
	mostClips     = 1000
)

// PlanEpisode says what an episode would be; nothing is kept or written yet.
func PlanEpisode(ctx context.Context, store Episodes, r EpisodeRequest) (book.Episode, error) {
	e := book.Episode{Set: r.Set, Name: r.Name, Made: time.Now(), Settings: book.EpisodeSettings{
		Schema: episodeSchema, Preset: r.Preset, Stops: r.Stops, DE00: r.DE00,
	}}
	if _, err := store.Set(ctx, r.Set); err != nil {
		return e, err
	}
	files, folder, err := episodeFiles(r.Clips)
	if err != nil {
		return e, err
	}
	if e.Name == "" {
		e.Name = plainName(filepath.Base(folder))
	}
	if err := lamps.CheckLampName(e.Name); err != nil {
		return e, fault.New(fault.Usage, "episode-name", "Give one with --name: letters, digits, “_” and, inside, “-”.", "%q can't be the name of an episode", e.Name)
	}
	s := &e.Settings
	if s.Preset == "" {
		s.Preset = Presets[0].Name
	}
	if s.Stops == 0 {
		s.Stops = episodeStops
	}
	if s.DE00 == 0 {
		s.DE00 = episodeDE00
	}
	if s.Out = r.Out; s.Out == "" {
		s.Out = filepath.Join(folder, "finished")
	}
	if s.Out, err = filepath.Abs(s.Out); err != nil {
		return e, storageFault(r.Out, err)
	}
	if err := checkSettings(s); err != nil {
		return e, err
	}
	preset, err := PresetDelivery(s.Preset, "")
	if err != nil {
		return e, err
	}
	if s.Grade, err = episodeGrade(ctx, store, r); err != nil {
		return e, err
	}
	if _, err := grade.Load(s.Grade); err != nil {
		return e, err
	}
	taken, err := keptOuts(ctx, store)
	if err != nil {
		return e, err
	}
	return e, numberClips(&e, files, preset.kind(), taken)
}

// checkSettings says what can't be of an episode's settings.
func checkSettings(s *book.EpisodeSettings) error {
	if !(s.Stops > 0 && s.Stops < 10 && s.DE00 > 0 && s.DE00 < 100) {
		return fault.New(fault.Usage, "episode-limit", "For example 0.1 stop and ΔE00 1.5.", "a limit of %g stops and ΔE00 %g is not possible", s.Stops, s.DE00)
	}
	if s.Out == "" {
		return fault.New(fault.Usage, "episode-out", "Name one with --out.", "no folder for the finished files")
	}
	_, err := PresetDelivery(s.Preset, "")
	return err
}

// keptOuts are the names of all episodes' finished files, made already or to be
// made: no two may have the same.
func keptOuts(ctx context.Context, store Episodes) (map[string]bool, error) {
	all, err := store.Episodes(ctx, "")
	if err != nil {
		return nil, err
	}
	out := map[string]bool{}
	for _, e := range all {
		for _, c := range e.Clips {
			out[c.Out] = true
		}
	}
	return out, nil
}

// numberClips gives each clip its place and the name of its finished file, none
// of those taken already.
func numberClips(e *book.Episode, files []string, kind string, taken map[string]bool) error {
	for i, f := range files {
		stem := strings.TrimSuffix(filepath.Base(f), filepath.Ext(f))
		out := filepath.Join(e.Settings.Out, stem+kind)
		for n := 2; taken[out] || slices.Contains(files, out); n++ {
			out = filepath.Join(e.Settings.Out, fmt.Sprintf("%s-%d%s", stem, n, kind))
		}
		if err := absent(out); err != nil {
			return err
		}
		taken[out] = true
		e.Clips = append(e.Clips, book.EpisodeClip{Number: i + 1, File: f, Out: out, State: book.ClipWaiting, Changed: e.Made})
	}
	return nil
}

func episodeGrade(ctx context.Context, store Episodes, r EpisodeRequest) (string, error) {
	if r.Grade != "" {
		full, err := filepath.Abs(r.Grade)
		if err != nil {
			return "", inputFault(r.Grade, err)
		}
		return full, nil
	}
	before, err := store.Episodes(ctx, r.Set)
	if err != nil {
		return "", err
	}
	if len(before) == 0 {
		return "", fault.New(fault.Usage, "episode-grade", "Name the grade the set is to look by: --grade lesson.toml. Later episodes take the same unless told otherwise.", "set %s has no episode yet, so it has no reference grade", r.Set)
	}
	return before[len(before)-1].Settings.Grade, nil
}

// episodeFiles lists the clips by full name, and the folder they are in.
func episodeFiles(from []string) (files []string, folder string, err error) {
	if len(from) == 1 {
		if s, err := os.Stat(from[0]); err == nil && s.IsDir() {
			if folder, err = filepath.Abs(from[0]); err != nil {
				return nil, "", inputFault(from[0], err)
			}
			entries, err := os.ReadDir(folder)
			if err != nil {
				return nil, "", inputFault(folder, err)
			}
			for _, d := range entries {
				kind := strings.ToLower(filepath.Ext(d.Name()))
				if (d.Type()&fs.ModeType == 0 || isClipLink(filepath.Join(folder, d.Name()), d)) && !strings.HasPrefix(d.Name(), ".") && slices.Contains(clipKinds, kind) {
					files = append(files, filepath.Join(folder, d.Name()))
				}
			}
		}
	}
	if folder == "" {
		for _, f := range from {
			full, err := filepath.Abs(f)
			if err != nil {
				return nil, "", inputFault(f, err)
			}
			if _, err := os.Stat(full); err != nil {
				return nil, "", inputFault(f, err)
			}
			if slices.Contains(files, full) {
				return nil, "", fault.New(fault.Usage, "episode-clips", "Name each once.", "%s is named twice", f)
			}
			files, folder = append(files, full), filepath.Dir(full)
		}
	}
	if n := len(files); n == 0 || n > mostClips {
		return nil, "", fault.New(fault.Usage, "episode-clips", "Name the folder with the day's clips ("+strings.Join(clipKinds, ", ")+"), or the clips.", "%d clips in %s; an episode has between 1 and %d", n, strings.Join(from, " "), mostClips)
	}
	return files, folder, nil
}

// isClipLink says whether an entry of a folder leads to a file elsewhere.
func isClipLink(path string, d fs.DirEntry) bool {
	s, err := os.Stat(path)
	return d.Type()&fs.ModeSymlink != 0 && err == nil && s.Mode().IsRegular()
}

// plainName makes of a folder's name one that an episode can have.
func plainName(s string) string {
	out := strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '_' {
			return r
		}
		return '-'
	}, s)
	return strings.Trim(out, "-")
}

// Left counts an episode's clips by state.
func Left(e book.Episode) (waiting, done, aside int) {
	for _, c := range e.Clips {
		switch c.State {
		case book.ClipDone:
			done++
		case book.ClipAside:
			aside++
		default:
			waiting++
		}
	}
	return waiting, done, aside
}
