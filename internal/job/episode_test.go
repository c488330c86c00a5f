package job

import (
	"context"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"lampwise/internal/book"
	"lampwise/internal/fault"
	"lampwise/internal/grade"
	"lampwise/internal/store"
)

// episodeStore is a store with a set in it that has no pictures: enough for what plans.
func episodeStore(t *testing.T) *store.Store {
	t.Helper()
	s, err := store.Open(context.Background(), t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	if _, err := s.KeepSet(context.Background(), book.Set{Name: "garage", Learned: time.Now(), Changed: time.Now()}, []byte("light"), false); err != nil {
		t.Fatal(err)
	}
	return s
}

func TestPlanEpisode(t *testing.T) {
	ctx, s, dir := context.Background(), episodeStore(t), t.TempDir()
	day := filepath.Join(dir, "lesson 12, pads")
	for _, name := range []string{"b.MOV", "a.mov", "a.mkv", ".hidden.mov", "notes.txt"} {
		if err := os.MkdirAll(day, 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(day, name), []byte("x"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	g := filepath.Join(dir, "g.toml")
	if err := grade.Starting("log-420").Save(g); err != nil {
		t.Fatal(err)
	}
	wantUsage := func(what string, r EpisodeRequest, class fault.Class) {
		t.Helper()
		if _, err := PlanEpisode(ctx, s, r); err == nil {
			t.Errorf("%s was planned", what)
		} else if f, ok := fault.As(err); !ok || f.Class != class || f.Hint == "" {
			t.Errorf("%s: %v", what, err)
		}
	}
	r := EpisodeRequest{Clips: []string{day}, Set: "garage", Grade: g}
	wantUsage("an episode without a grade", EpisodeRequest{Clips: r.Clips, Set: "garage"}, fault.Usage)
	wantUsage("an episode of an unknown set", EpisodeRequest{Clips: r.Clips, Set: "x", Grade: g}, fault.Usage)
	wantUsage("an empty folder", EpisodeRequest{Clips: []string{t.TempDir()}, Set: "garage", Grade: g}, fault.Usage)
	wantUsage("a clip that is not there", EpisodeRequest{Clips: []string{filepath.Join(day, "c.mov")}, Set: "garage", Grade: g}, fault.Input)
	wantUsage("an unknown preset", EpisodeRequest{Clips: r.Clips, Set: "garage", Grade: g, Preset: "cinema"}, fault.Usage)
	wantUsage("a limit below nothing", EpisodeRequest{Clips: r.Clips, Set: "garage", Grade: g, Stops: -1}, fault.Usage)
	wantUsage("a clip named twice", EpisodeRequest{Clips: []string{filepath.Join(day, "a.mov"), filepath.Join(day, "a.mov")}, Set: "garage", Grade: g}, fault.Usage)

	e, err := PlanEpisode(ctx, s, r)
	if err != nil {
		t.Fatal(err)
	}
	var outs []string
	for _, c := range e.Clips {
		outs = append(outs, filepath.Base(c.File)+" "+filepath.Base(c.Out))
	}
	if got := strings.Join(outs, ", "); got != "a.mkv a.mp4, a.mov a-2.mp4, b.MOV b.mp4" {
		t.Errorf("clips %s", got)
	}
	if e.Name != "lesson-12--pads" || e.Settings.Out != filepath.Join(day, "finished") || e.Settings.Stops != 0.1 || e.Settings.DE00 != 1.5 {
		t.Errorf("%+v", e)
	}
	if err := s.KeepEpisode(ctx, e); err != nil {
		t.Fatal(err)
	}
	// Another day's clip of the same name has a finished file of its own.
	if err := os.WriteFile(filepath.Join(dir, "a.mov"), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	other, err := PlanEpisode(ctx, s, EpisodeRequest{Clips: []string{filepath.Join(dir, "a.mov")}, Set: "garage", Name: "other", Grade: g, Out: e.Settings.Out})
	if err != nil || filepath.Base(other.Clips[0].Out) != "a-3.mp4" {
		t.Errorf("%+v, %v", other.Clips, err)
	}
	// The same request finds it again; a clip that has come since is not of it.
	if old, found, err := SameEpisode(ctx, s, r); err != nil || !found || old.Name != e.Name {
		t.Errorf("again: %v, %v", found, err)
	}
	// Other settings than it has are not passed over.
	for _, other := range []EpisodeRequest{{Grade: filepath.Join(dir, "h.toml")}, {Out: dir}, {Preset: "master"}, {Stops: 0.2}, {DE00: 2}} {
		other.Clips, other.Set = r.Clips, r.Set
		if _, _, err := SameEpisode(ctx, s, other); err == nil {
			t.Errorf("%+v was passed over", other)
		}
	}
	same := EpisodeRequest{Clips: r.Clips, Set: r.Set, Grade: g, Out: filepath.Join(day, "finished"), Preset: "web-1080p", Stops: 0.1, DE00: 1.5}
	if _, found, err := SameEpisode(ctx, s, same); err != nil || !found {
		t.Errorf("the same settings: %v, %v", found, err)
	}
	if err := os.WriteFile(filepath.Join(day, "late.mov"), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, _, err := SameEpisode(ctx, s, r); err == nil {
		t.Error("other clips passed as the episode")
	}
	// A later one takes the same grade; what stands in its way is said.
	late := EpisodeRequest{Clips: []string{filepath.Join(day, "late.mov")}, Set: "garage", Name: "late"}
	if l, err := PlanEpisode(ctx, s, late); err != nil || l.Settings.Grade != e.Settings.Grade {
		t.Errorf("%+v, %v", l.Settings, err)
	}
	if err := os.MkdirAll(filepath.Join(day, "finished"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(day, "finished", "late.mp4"), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	wantUsage("an episode over a file", late, fault.Storage)
}

// Whoever is at work keeps a clip; whoever is gone does not.
func TestAClipIsOwnedByOne(t *testing.T) {
	now := time.Now()
	host, _, _ := strings.Cut(self, "/")
	for _, c := range []struct {
		what, owner string
		beat        time.Time
		want        bool
	}{
		{"this process, just now", self + "/1", now, false},
		{"this process, silent", self + "/1", now.Add(-2 * beatDead), true},
		{"an earlier process of the same number", host + "/" + strconv.Itoa(os.Getpid()) + "/abc/1", now, true},
		{"a process of another machine", "elsewhere/1/abc/1", now, false},
		{"and silent", "elsewhere/1/abc/1", now.Add(-2 * beatDead), true},
		{"the first process of this machine, which runs", host + "/1/abc/1", now, false},
	} {
		if got := gone(c.owner, c.beat, now); got != c.want {
			t.Errorf("%s: gone %v", c.what, got)
		}
	}
	ctx, s := context.Background(), episodeStore(t)
	e := book.Episode{Set: "garage", Name: "day", Made: now, Clips: []book.EpisodeClip{{Number: 1, File: "/none/a.mov", Out: "/none/a.mp4", State: book.ClipWaiting, Changed: now}}}
	if err := s.KeepEpisode(ctx, e); err != nil {
		t.Fatal(err)
	}
	w := &clipWork{store: s, episode: e, clip: e.Clips[0]}
	release, err := w.claim(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := WorkEpisodeClip(ctx, s, "garage", "day", 1, nil); err != ErrBusy {
		t.Errorf("a clip that is worked on: %v", err)
	}
	release()
}

// A clip that never comes to an end is left to a person at last.
func TestAClipThatBringsTheWorkDownIsSetAside(t *testing.T) {
	ctx, s := context.Background(), episodeStore(t)
	now := time.Now()
	e := book.Episode{Set: "garage", Name: "day", Made: now, Clips: []book.EpisodeClip{{
		Number: 1, File: "/none/a.mov", Out: "/none/a.mp4", State: book.ClipWorking, Step: "render", Tries: mostTries, Changed: now,
	}}}
	if err := s.KeepEpisode(ctx, e); err != nil {
		t.Fatal(err)
	}
	c, err := WorkEpisodeClip(ctx, s, "garage", "day", 1, nil)
	if err != nil || c.State != book.ClipAside || !strings.Contains(c.Reason, "render") {
		t.Errorf("%+v, %v", c, err)
	}
}
