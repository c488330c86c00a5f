package lampwise_test

import (
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// allowed is the table of imports inside the module: what stands left may
// import what stands right, and nothing else. A row or an entry that no code
// uses any more is stale and fails the test too.
//
// Two rows go beyond the first drawing of the tree. internal/fault is a leaf
// that everything may import, because a parser at the bottom and the command
// at the top must speak of the same thing. And lutfile, which reads the ops
// that picture declares, is reached by cmd only through job.
var allowed = map[string][]string{
	".":                        {}, // doc.go, so that this test has a home
	"internal/unit":            {},
	"internal/colour":          {"internal/unit"},
	"internal/picture":         {"internal/colour"},
	"internal/picture/lutfile": {"internal/picture", "internal/colour"},
	"internal/grade":           {"internal/picture", "internal/colour", "internal/unit"},
	"internal/gauge":           {"internal/picture", "internal/colour", "internal/unit"},
	"internal/lamps":           {"internal/picture", "internal/colour", "internal/unit"},
	"internal/media":           {"internal/picture", "internal/colour"},
	"internal/region":          {"internal/picture", "internal/colour", "internal/unit"},
	"internal/demo":            {"internal/picture", "internal/colour", "internal/media", "internal/unit", "internal/caller"},
	"internal/light":           {"internal/unit"},
	"internal/light/lumfile":   {"internal/unit"},
	"internal/optics":          {"internal/unit"},
	"internal/book":            {},
	"internal/draw":            {},
	"internal/caller":          {},
	"internal/store":           {"internal/book"},
	"internal/queue":           {},
	"internal/job": {
		"internal/book", "internal/caller", "internal/colour", "internal/demo", "internal/draw", "internal/gauge", "internal/grade", "internal/lamps", "internal/light",
		"internal/light/lumfile", "internal/media", "internal/optics", "internal/picture", "internal/picture/lutfile", "internal/region", "internal/unit",
	},
	"internal/server": {"internal/book", "internal/job"},
	"web":             {}, // the built page
	// The command reads flags into the domain's own types.
	"cmd/lampwise": {
		"internal/job", "internal/queue", "internal/store", "internal/book", "internal/caller", "internal/colour", "internal/gauge", "internal/grade", "internal/lamps", "internal/media",
		"internal/picture", "internal/server", "internal/unit", "web",
	},
}

const leaf = "internal/fault" // allowed everywhere

func TestImportsPointOneWay(t *testing.T) {
	used := map[string]map[string]bool{}
	err := filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (strings.HasPrefix(d.Name(), ".") && path != "." || d.Name() == "node_modules" || d.Name() == "tools" || d.Name() == "asm") {
			return fs.SkipDir
		}
		if filepath.Ext(path) != ".go" || strings.HasSuffix(path, "_test.go") {
			return nil
		}
		from := filepath.ToSlash(filepath.Dir(path))
		if used[from] == nil {
			used[from] = map[string]bool{}
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		for _, spec := range file.Imports {
			name, err := strconv.Unquote(spec.Path.Value)
			if err != nil {
				return err
			}
			if to, ours := strings.CutPrefix(name, "lampwise/"); ours {
				used[from][to] = true
				if to != leaf && !slices.Contains(allowed[from], to) {
					t.Errorf("%s: %s may not import %s", path, from, to)
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for from, list := range allowed {
		if used[from] == nil {
			t.Errorf("stale row: there is no package %s", from)
			continue
		}
		for _, to := range list {
			if !used[from][to] {
				t.Errorf("stale entry: %s no longer imports %s", from, to)
			}
		}
	}
	for from := range used {
		if _, ok := allowed[from]; !ok && from != leaf {
			t.Errorf("package %s has no row in the table of allowed imports", from)
		}
	}
}
