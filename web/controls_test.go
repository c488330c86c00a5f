package web_test

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"lampwise/internal/demo"
	"lampwise/internal/grade"
	"lampwise/internal/job"
	"lampwise/internal/picture/lutfile"
	"lampwise/internal/server"
	"lampwise/internal/store"
)

// TestControls goes through the stages' drawn controls by pointer and by
// keyboard (test/controls.mjs): the split's strips, rungs of a channel alone, a
// conversion LUT of the user's own. What they show is compared with the path's
// own arithmetic.
func TestControls(t *testing.T) {
	ctx := inBrowser(t, 5*time.Minute)
	s := storeIn(ctx, t, t.TempDir())
	folder := lesson(ctx, t, s)
	lut, comments, err := grade.ConversionLUT("log-420", "", 0, 17)
	if err != nil {
		t.Fatal(err)
	}
	var text bytes.Buffer
	if err := lutfile.WriteCube(&text, lut, comments); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(folder, "my-conversion.cube"), text.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	out := t.TempDir()
	browseStore(ctx, t, "test/controls.mjs", out, server.Options{Folders: []string{folder}, Store: s})
	cases, _ := filepath.Glob(filepath.Join(out, "pixels-*.json"))
	if len(cases) < 3 {
		t.Fatalf("%d pictures were handed over for comparison, want 3 at least", len(cases))
	}
	for _, file := range cases {
		t.Run(filepath.Base(file), func(t *testing.T) { comparePixels(ctx, t, file, folder, s) })
	}
}

// lesson is a folder with a generated clip, its grade and the look.
func lesson(ctx context.Context, t *testing.T, s *store.Store) string {
	t.Helper()
	made, folder := os.Getenv("LAMPWISE_EXAMPLE"), t.TempDir()
	if made == "" {
		made = t.TempDir()
		if _, err := demo.Make(ctx, demo.Options{Dir: made, Size: 180, Fine: 0.5}, nil); err != nil {
			t.Fatal(err)
		}
		if _, err := job.MakeGrade(ctx, s, job.NewGrade{File: filepath.Join(made, "lesson.toml"), Curve: "log-420", Clip: filepath.Join(made, "episode-1.mov")}); err != nil {
			t.Fatal(err)
		}
	}
	copyLesson(t, made, folder)
	return folder
}

func copyLesson(t *testing.T, from, to string) {
	t.Helper()
	for _, name := range []string{"amber-dusk.cube", "episode-1.mov", "lesson.toml"} {
		b, err := os.ReadFile(filepath.Join(from, name))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(to, name), b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}
