package job

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"lampwise/internal/book"
)

// someClip is a clip of a kept episode, owned by this process, with what stands
// before its last step: a file in the folder it was made in.
func someClip(t *testing.T) *clipWork {
	t.Helper()
	ctx, s, dir := context.Background(), episodeStore(t), t.TempDir()
	e := book.Episode{Set: "garage", Name: "monday", Made: time.Now(), Settings: book.EpisodeSettings{Schema: 1, Grade: filepath.Join(dir, "lesson.toml"), Out: filepath.Join(dir, "finished"), Preset: "web-1080p", Stops: 0.1, DE00: 1.5}}
	e.Clips = []book.EpisodeClip{{Number: 1, File: filepath.Join(dir, "a.mov"), Out: filepath.Join(dir, "finished", "a.mp4"), State: book.ClipWaiting, Changed: time.Now()}}
	if err := s.KeepEpisode(ctx, e); err != nil {
		t.Fatal(err)
	}
	w := &clipWork{store: s, episode: e, clip: e.Clips[0]}
	release, err := w.claim(ctx)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(release)
	putFile(t, w.unfinished(), "mine")
	return w
}

func putFile(t *testing.T, path, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

func wantFile(t *testing.T, path, text string) {
	t.Helper()
	if got, err := os.ReadFile(path); err != nil || string(got) != text {
		t.Errorf("%s holds %q, %v", path, got, err)
	}
}

// Whatever has the finished file's name and isn't the clip's stays, and the clip
// is left to a person.
func TestAFinishedFileReplacesNothing(t *testing.T) {
	ctx, w := context.Background(), someClip(t)
	putFile(t, w.clip.Out, "another day's")
	var left aside
	if err := w.name(ctx); !errors.As(err, &left) {
		t.Errorf("named over another file: %v", err)
	}
	wantFile(t, w.clip.Out, "another day's")
	// Begun anew, too, though the last run came as far as this step.
	w.clip.State, w.clip.Step = book.ClipWorking, stepName
	if err := w.undoNaming(); err != nil {
		t.Fatal(err)
	}
	wantFile(t, w.clip.Out, "another day's")
	if err := os.Remove(w.clip.Out); err != nil {
		t.Fatal(err)
	}
	if err := w.name(ctx); err != nil {
		t.Fatal(err)
	}
	wantFile(t, w.clip.Out, "mine")
}

// A run that died between naming the file and saying so leaves nothing in the way
// of the next; one that ended in order has left no file of its own.
func TestNamingIsUndoneAfterACrash(t *testing.T) {
	ctx, w := context.Background(), someClip(t)
	if err := w.name(ctx); err != nil {
		t.Fatal(err)
	}
	w.clip.State, w.clip.Step = book.ClipWaiting, stepName
	if err := w.undoNaming(); err != nil {
		t.Fatal(err)
	}
	wantFile(t, w.clip.Out, "mine")
	w.clip.State = book.ClipWorking
	if err := w.undoNaming(); err != nil {
		t.Fatal(err)
	}
	if absent(w.clip.Out) != nil {
		t.Error("the file of a run that died stands in the way")
	}
}

// The matched grade goes where it went before, and over nobody's file.
func TestAMatchedGradeReplacesNothing(t *testing.T) {
	ctx, w := context.Background(), someClip(t)
	theirs := filepath.Join(filepath.Dir(w.episode.Settings.Grade), "lesson-monday-001.toml")
	putFile(t, theirs, "by hand")
	first, err := w.gradeFile(ctx)
	if err != nil || first == theirs {
		t.Fatalf("%s, %v", first, err)
	}
	putFile(t, first, "matched")
	kept, err := w.store.Episode(ctx, "garage", "monday")
	if err != nil {
		t.Fatal(err)
	}
	w.clip.Answer, w.answer = kept.Clips[0].Answer, EpisodeAnswer{}
	if again, err := w.gradeFile(ctx); err != nil || again != first {
		t.Errorf("%s after %s, %v", again, first, err)
	}
	wantFile(t, theirs, "by hand")
}
