package job

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"lampwise/internal/book"
	"lampwise/internal/fault"
	"lampwise/internal/lamps"
)

// Times of the watch: a file that has not grown for watchSettled is taken as
// whole, and one that grew after all is looked at again. Together they leave
// three quarters of the 3 s within which an answer is wanted for the check itself.
const (
	watchPause   = 150 * time.Millisecond
	watchSettled = 600 * time.Millisecond
)

// clipKinds are the names' ends of clips that are looked at in a watched folder.
var clipKinds = []string{".mov", ".mp4", ".m4v", ".mxf", ".mkv", ".mts", ".m2ts", ".avi"}

// arriving is a file in a watched folder.
type arriving struct {
	size  int64
	time  time.Time // of its last change
	since time.Time // when it was first seen at this size
	told  bool
}

// changed says whether the file is another than when it was last seen.
func (a *arriving) changed(path string) bool {
	info, err := os.Stat(path)
	return err == nil && (info.Size() != a.size || !info.ModTime().Equal(a.time))
}

// Watch checks each clip or still that arrives in a folder, once it has stopped
// growing; told gets the answer or the error. Files that are there already are
// left alone. It ends with the context.
func Watch(ctx context.Context, store Sets, r CheckRequest, dir string, told func(file string, c *Checked, err error)) error {
	set, kept, err := OpenSet(ctx, store, r.Set)
	if err != nil {
		return err
	}
	seen := map[string]*arriving{}
	if err := look(dir, seen, time.Now()); err != nil {
		return err
	}
	for _, f := range seen {
		f.told = true
	}
	tick := time.NewTicker(watchPause)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-tick.C:
		}
		if err := look(dir, seen, time.Now()); err != nil {
			return err
		}
		for _, name := range ready(seen, time.Now()) {
			seen[name].told = true
			one := r
			one.File = filepath.Join(dir, name)
			c, err := watched(ctx, store, one, set, kept)
			if ctx.Err() != nil {
				return ctx.Err()
			}
			if err != nil && seen[name].changed(one.File) {
				continue // it wasn't whole yet
			}
			told(one.File, c, err)
		}
	}
}

// watched is a check with the habit as it is by now.
func watched(ctx context.Context, store Sets, r CheckRequest, set *lamps.Set, kept book.Set) (*Checked, error) {
	checks, err := store.SetChecks(ctx, r.Set, historyRead)
	if err != nil {
		return nil, err
	}
	set.Habit = habitOf(checks)
	return checkSet(ctx, store, r, set, kept)
}

// look brings what is known of a folder's clips and stills up to date.
func look(dir string, seen map[string]*arriving, now time.Time) error {
	entries, err := os.ReadDir(dir)
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return fault.Wrap(err, fault.Input, "no-folder", "Check the name; paths are taken from the folder you are in.", "%s: no such folder", dir)
		}
		return fault.Wrap(err, fault.Input, "unreadable", "", "%s: cannot be read: %v", dir, bare(err))
	}
	there := map[string]bool{}
	for _, e := range entries {
		name := e.Name()
		if e.IsDir() || strings.HasPrefix(name, ".") || !isStill(name) && !slices.Contains(clipKinds, strings.ToLower(filepath.Ext(name))) {
			continue
		}
		info, err := e.Info()
		if err != nil {
			continue // it went away meanwhile
		}
		there[name] = true
		f := seen[name]
		if f == nil {
			f = &arriving{since: now}
			seen[name] = f
		}
		if f.size != info.Size() || !f.time.Equal(info.ModTime()) {
			// It grows, or another file took its name.
			f.size, f.time, f.since, f.told = info.Size(), info.ModTime(), now, false
		}
	}
	for name := range seen {
		if !there[name] {
			delete(seen, name)
		}
	}
	return nil
}

// ready lists the files that have stopped growing and weren't told of, the
// oldest first.
func ready(seen map[string]*arriving, now time.Time) []string {
	var out []string
	for name, f := range seen {
		if !f.told && f.size > 0 && now.Sub(f.since) >= watchSettled {
			out = append(out, name)
		}
	}
	slices.SortFunc(out, func(a, b string) int {
		if c := seen[a].time.Compare(seen[b].time); c != 0 {
			return c
		}
		return strings.Compare(a, b)
	})
	return out
}
