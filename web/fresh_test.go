package web

import (
	"crypto/sha256"
	"encoding/hex"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestBuiltPageIsFresh fails when web/src was changed and the page not built.
func TestBuiltPageIsFresh(t *testing.T) {
	sum := sha256.New()
	add := func(path string) {
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		sum.Write([]byte(filepath.ToSlash(path) + "\n"))
		sum.Write(data)
	}
	err := filepath.WalkDir("src", func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			add(path)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	add("package-lock.json")
	stamp, err := os.ReadFile("dist/stamp.txt")
	if err != nil {
		t.Fatal(err)
	}
	if got := hex.EncodeToString(sum.Sum(nil)); got != strings.TrimSpace(string(stamp)) {
		t.Error("the built page is older than its sources: make web")
	}
}
