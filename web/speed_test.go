package web_test

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"
)

// TestSpeed measures how long a person waits at the page (test/speed.mjs) with
// an example that was made before, by the command in docs/performance.md. It
// asserts no time.
func TestSpeed(t *testing.T) {
	folder := os.Getenv("LAMPWISE_SPEED")
	if folder == "" {
		t.Skip("LAMPWISE_SPEED is not set: it names a folder of the generated example (lampwise demo)")
	}
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Minute)
	defer cancel()
	text, err := exec.CommandContext(ctx, "node", "test/speed.mjs", programOf(ctx, t), folder, filepath.Join(t.TempDir(), "shots"), t.TempDir()).CombinedOutput()
	t.Logf("%s", text)
	if err != nil {
		t.Errorf("browser: %v", err)
	}
}

// programOf builds the program.
func programOf(ctx context.Context, t *testing.T) string {
	t.Helper()
	program := filepath.Join(t.TempDir(), "lampwise")
	if text, err := exec.CommandContext(ctx, "go", "build", "-o", program, "lampwise/cmd/lampwise").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	return program
}
