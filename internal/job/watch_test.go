package job

import (
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"
)

// TestWatchTimes: what the watch itself takes of the 3 s within which a file
// that arrived is answered for is at most a quarter.
func TestWatchTimes(t *testing.T) {
	if watchPause+watchSettled > 3*time.Second/4 {
		t.Errorf("a file may wait %v before it is looked at", watchPause+watchSettled)
	}
}

// TestWatchWaitsForTheWhole: a file is ready once it has stopped growing, once,
// and again only when it changed; a broken one that went on growing is known.
func TestWatchWaitsForTheWhole(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "clip.mov")
	now := time.Date(2026, 1, 1, 12, 0, 0, 0, time.UTC)
	seen := map[string]*arriving{}
	write := func(size int) {
		t.Helper()
		if err := os.WriteFile(path, make([]byte, size), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	expect := func(want ...string) {
		t.Helper()
		if err := look(dir, seen, now); err != nil {
			t.Fatal(err)
		}
		if got := ready(seen, now); !slices.Equal(got, want) {
			t.Errorf("ready: %v, want %v", got, want)
		}
	}
	for size := 1; size < 4; size++ { // it grows
		write(size)
		expect()
		now = now.Add(watchSettled - time.Millisecond)
		expect()
	}
	now = now.Add(time.Millisecond)
	expect("clip.mov")
	seen["clip.mov"].told = true
	now = now.Add(time.Hour)
	expect()
	if seen["clip.mov"].changed(path) {
		t.Error("an unchanged file counts as changed")
	}
	write(9)
	if !seen["clip.mov"].changed(path) {
		t.Error("a file that grew counts as whole")
	}
	expect()
	now = now.Add(watchSettled)
	expect("clip.mov")
}
