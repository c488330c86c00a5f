package lampwise_test

import (
	"crypto/sha256"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

var updateSums = flag.Bool("update-sums", false, "write what the generators of machine code and their output are now")

// TestGeneratedCodeIsFresh fails when a generator of machine code was changed
// and its output was not made again, or the output was changed by hand. The
// sums are those at the last go generate.
func TestGeneratedCodeIsFresh(t *testing.T) {
	for _, dir := range []string{"internal/picture", "internal/job"} {
		names, err := filepath.Glob(filepath.Join(dir, "asm", "*.go"))
		if err != nil {
			t.Fatal(err)
		}
		output, err := filepath.Glob(filepath.Join(dir, "*_amd64.s"))
		if err != nil {
			t.Fatal(err)
		}
		stubs, err := filepath.Glob(filepath.Join(dir, "*stub_amd64.go"))
		if err != nil {
			t.Fatal(err)
		}
		if len(names) == 0 || len(output) == 0 || len(stubs) == 0 {
			t.Errorf("%s: no generator, output or stubs", dir)
		}
		names = slices.Concat(names, output, stubs)
		slices.Sort(names)
		var text strings.Builder
		for _, name := range names {
			data, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			text.WriteString(sumLine(name, data))
		}
		sums := filepath.Join(dir, "asm", "sum.txt")
		if *updateSums {
			if err := os.WriteFile(sums, []byte(text.String()), 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		want, err := os.ReadFile(sums)
		if err != nil {
			t.Fatal(err)
		}
		if got := text.String(); got != plainEnds(want) {
			t.Errorf("%s: the generator or its output is not what asm/sum.txt says; run go generate ./%s\nis:\n%s\nwas:\n%s", dir, dir, got, want)
		}
	}
}

// sumLine is the same whatever line ends a checkout has.
func sumLine(name string, data []byte) string {
	return fmt.Sprintf("%x %s\n", sha256.Sum256([]byte(plainEnds(data))), filepath.ToSlash(name))
}

func plainEnds(data []byte) string { return strings.ReplaceAll(string(data), "\r\n", "\n") }
