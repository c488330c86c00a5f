package lampwise_test

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// TestOutsideChecksExist holds the table of docs/accuracy.md to the tests: each
// one it names stands in the package it names.
func TestOutsideChecksExist(t *testing.T) {
	data, err := os.ReadFile(filepath.Join("docs", "accuracy.md"))
	if err != nil {
		t.Fatal(err)
	}
	_, table, ok := strings.Cut(string(data), "\n## What is held to figures from outside\n")
	if !ok {
		t.Fatal("docs/accuracy.md has no such table")
	}
	named := regexp.MustCompile("`(Test\\w+)`")
	group := regexp.MustCompile("((?:`Test\\w+`(?:, )?)+) in (internal/[\\w/]+)")
	found := 0
	for _, line := range strings.Split(table, "\n") {
		if !strings.HasPrefix(line, "| ") || strings.HasPrefix(line, "| what") {
			continue
		}
		groups := group.FindAllStringSubmatch(line, -1)
		if len(groups) == 0 {
			t.Errorf("no test is named by %q", line)
		}
		for _, g := range groups {
			files, err := filepath.Glob(filepath.Join(filepath.FromSlash(g[2]), "*_test.go"))
			if err != nil {
				t.Fatal(err)
			}
			var text strings.Builder
			for _, f := range files {
				b, err := os.ReadFile(f)
				if err != nil {
					t.Fatal(err)
				}
				text.Write(b)
			}
			for _, m := range named.FindAllStringSubmatch(g[1], -1) {
				found++
				if !strings.Contains(text.String(), "\nfunc "+m[1]+"(t *testing.T)") {
					t.Errorf("%s has no %s", g[2], m[1])
				}
			}
		}
	}
	if found < 20 {
		t.Errorf("%d tests are named", found)
	}
}
