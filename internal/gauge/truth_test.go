package gauge

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"
)

// truthFile finds a file of published check values, kept beside the
// repository and never copied into it; where it is absent the test is skipped
// by that file's name.
func truthFile(t *testing.T, name string) string {
	t.Helper()
	dir := os.Getenv("LAMPWISE_TRUTH")
	if dir == "" {
		root, err := os.Getwd()
		if err != nil {
			t.Fatal(err)
		}
		for {
			if _, err := os.Stat(filepath.Join(root, "go.mod")); err == nil {
				break
			}
			up := filepath.Dir(root)
			if up == root {
				t.Fatal("no go.mod above the test")
			}
			root = up
		}
		dir = filepath.Join(root, "..", "shared", "truth")
	}
	path := filepath.Join(dir, name)
	if _, err := os.Stat(path); err != nil {
		t.Skipf("%s is not here; set LAMPWISE_TRUTH to the folder of check values", name)
	}
	return path
}

// truthJSON reads a JSON file of check values into v.
func truthJSON(t *testing.T, name string, v any) {
	t.Helper()
	data, err := os.ReadFile(truthFile(t, name))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, v); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
}
