package web_test

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

)

// TestBadInput goes through what goes wrong while the page is open
// (test/bad.mjs): wrong files dropped, a clip that vanishes, a disk that is full,
// lampwise ended and started again, two windows on one grade. It starts the
// program itself, since that is to end.
func TestBadInput(t *testing.T) {
	ctx := inBrowser(t, 5*time.Minute)
	program := programOf(ctx, t)
	s := storeIn(ctx, t, t.TempDir())
	folder, small := smallDisk(ctx, t)
	copyLesson(t, lesson(ctx, t, s), folder)
	shots, err := filepath.Abs("shots")
	if err != nil {
		t.Fatal(err)
	}
	text, err := exec.CommandContext(ctx, "node", "test/bad.mjs", program, folder, shots, t.TempDir(), small).CombinedOutput()
	t.Logf("%s", text)
	if err != nil {
		t.Errorf("browser: %v", err)
	}
}

// smallDisk is a folder on a disk of its own that is soon full; mounting one
// needs the system's leave, without which it is an ordinary folder and small is
// empty.
func smallDisk(ctx context.Context, t *testing.T) (folder, small string) {
	folder = filepath.Join(t.TempDir(), "lesson-12")
	if err := os.Mkdir(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	if text, err := exec.CommandContext(ctx, "mount", "-t", "tmpfs", "-o", "size=12m", "lampwise-test", folder).CombinedOutput(); err != nil {
		t.Logf("no disk of our own can be mounted (%v: %s): the full disk is not tried", err, text)
		return folder, ""
	}
	t.Cleanup(func() {
		if text, err := exec.Command("umount", folder).CombinedOutput(); err != nil {
			t.Errorf("umount: %v: %s", err, text)
		}
	})
	return folder, "small"
}
