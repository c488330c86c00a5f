package job

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"strings"

	"lampwise/internal/colour"
)

// Cited is a formula of the program and where it was published. It is read
// from the code: a doc comment's line that begins with "Source: ".
type Cited struct {
	Package string   `json:"package"`
	Name    string   `json:"name"`
	What    string   `json:"what"` // the doc comment's first sentence
	Sources []string `json:"sources"`
}

// CitedCurve is a camera or display curve, or a set of primaries, with its source.
type CitedCurve struct {
	ID     string `json:"id"`
	Source string `json:"source"`
}

// Sources are all of them: docs/json.md, sources.
type Sources struct {
	Formulas  []Cited      `json:"formulas"`
	Curves    []CitedCurve `json:"curves"`
	Primaries []CitedCurve `json:"primaries"`
}

//go:generate go test -run TestSourcesAreFresh -update-sources .

//go:embed sources.json
var citedFormulas []byte

// AllSources lists every formula with its published source.
func AllSources() (Sources, error) {
	var s Sources
	if err := json.Unmarshal(citedFormulas, &s.Formulas); err != nil {
		return s, fmt.Errorf("sources.json: %w", err)
	}
	for _, c := range colour.Curves() {
		if c.Source != "" {
			s.Curves = append(s.Curves, CitedCurve{c.ID, c.Source})
		}
	}
	for _, g := range colour.Gamuts() {
		if g.Note != "" {
			s.Primaries = append(s.Primaries, CitedCurve{g.ID, g.Note})
		}
	}
	return s, nil
}

// Markdown is docs/sources.md.
func (s Sources) Markdown() string {
	var b strings.Builder
	b.WriteString("# Sources\n\nEvery formula with its published source, generated from the code's citations (`go generate ./internal/job`; `lampwise sources` prints this). “From memory” says that the source was not at hand when it was written down; what no source is given for is ours or common practice, and the code says so.\n\n## Formulas\n\n| where | what | source |\n|---|---|---|\n")
	cell := func(t string) string { return strings.ReplaceAll(t, "|", "\\|") }
	for _, f := range s.Formulas {
		fmt.Fprintf(&b, "| %s.%s | %s | %s |\n", f.Package, f.Name, cell(f.What), cell(strings.Join(f.Sources, "; ")))
	}
	b.WriteString("\n## Curves\n\n| curve | source |\n|---|---|\n")
	for _, c := range s.Curves {
		fmt.Fprintf(&b, "| %s | %s |\n", c.ID, cell(c.Source))
	}
	b.WriteString("\n## Primaries\n\n| primaries | source |\n|---|---|\n")
	for _, c := range s.Primaries {
		fmt.Fprintf(&b, "| %s | %s |\n", c.ID, cell(c.Source))
	}
	return b.String()
}

// sourceLines are the formulas' sources for a report, each once.
func sourceLines() []string {
	s, err := AllSources()
	if err != nil {
		return nil
	}
	var out []string
	seen := map[string]bool{}
	for _, f := range s.Formulas {
		for _, x := range f.Sources {
			if !seen[x] {
				seen[x] = true
				out = append(out, x)
			}
		}
	}
	return out
}
