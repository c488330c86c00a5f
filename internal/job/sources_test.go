package job

import (
	"bytes"
	"encoding/json"
	"flag"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

var updateSources = flag.Bool("update-sources", false, "write sources.json and docs/sources.md anew from the code's citations")

// TestSourcesAreFresh holds sources.json to the code's citations, and
// docs/sources.md to what lampwise sources prints.
func TestSourcesAreFresh(t *testing.T) {
	root := filepath.Join("..", "..")
	found := citations(t, filepath.Join(root, "internal"))
	if len(found) < 30 {
		t.Errorf("only %d citations were found", len(found))
	}
	text, err := json.MarshalIndent(found, "", "  ")
	if err != nil {
		t.Fatal(err)
	}
	text = append(text, '\n')
	if *updateSources {
		citedFormulas = text
		write := func(path string, data []byte) {
			if err := os.WriteFile(path, data, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		write("sources.json", text)
		s, err := AllSources()
		if err != nil {
			t.Fatal(err)
		}
		write(filepath.Join(root, "docs", "sources.md"), []byte(s.Markdown()))
	}
	if !bytes.Equal(text, citedFormulas) {
		t.Error("sources.json is not what the code cites: go generate ./internal/job")
	}
	s, err := AllSources()
	if err != nil {
		t.Fatal(err)
	}
	doc, err := os.ReadFile(filepath.Join(root, "docs", "sources.md"))
	if err != nil {
		t.Fatal(err)
	}
	if string(doc) != s.Markdown() {
		t.Error("docs/sources.md is not what lampwise sources prints: go generate ./internal/job")
	}
	for _, c := range s.Curves {
		if strings.TrimSpace(c.Source) == "" {
			t.Errorf("curve %s has no source", c.ID)
		}
	}
}

// citations reads the doc comments' lines that begin with "Source: ".
func citations(t *testing.T, folder string) []Cited {
	t.Helper()
	var out []Cited
	err := filepath.WalkDir(folder, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (d.Name() == "testdata" || d.Name() == "asm") {
			return fs.SkipDir
		}
		if filepath.Ext(path) != ".go" || strings.HasSuffix(path, "_test.go") {
			return nil
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ParseComments)
		if err != nil {
			return err
		}
		add := func(name string, doc *ast.CommentGroup) {
			if c, ok := cited(file.Name.Name, name, doc); ok {
				out = append(out, c)
			}
		}
		add("package", file.Doc)
		for _, d := range file.Decls {
			switch d := d.(type) {
			case *ast.FuncDecl:
				add(funcName(d), d.Doc)
			case *ast.GenDecl:
				names := []string{}
				for _, s := range d.Specs {
					switch s := s.(type) {
					case *ast.TypeSpec:
						names = append(names, s.Name.Name)
						add(s.Name.Name, s.Doc)
					case *ast.ValueSpec:
						names = append(names, s.Names[0].Name)
						add(s.Names[0].Name, s.Doc)
					}
				}
				if len(names) > 0 {
					add(names[0], d.Doc)
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func funcName(d *ast.FuncDecl) string {
	if d.Recv == nil || len(d.Recv.List) == 0 {
		return d.Name.Name
	}
	r := d.Recv.List[0].Type
	if s, ok := r.(*ast.StarExpr); ok {
		r = s.X
	}
	if id, ok := r.(*ast.Ident); ok {
		return id.Name + "." + d.Name.Name
	}
	return d.Name.Name
}

// cited takes a doc comment apart: its first sentence, and its sources. A
// source goes on over the lines that follow it up to an empty one.
func cited(pkg, name string, doc *ast.CommentGroup) (Cited, bool) {
	c := Cited{Package: pkg, Name: name}
	if doc == nil {
		return c, false
	}
	inside := false
	var words []string
	for _, l := range strings.Split(doc.Text(), "\n") {
		l = strings.TrimSpace(l)
		if s, ok := strings.CutPrefix(l, "Source: "); ok {
			c.Sources, inside = append(c.Sources, s), true
			continue
		}
		if l == "" {
			inside = false
			continue
		}
		if inside {
			c.Sources[len(c.Sources)-1] += " " + l
			continue
		}
		words = append(words, l)
	}
	c.What = firstSentence(strings.Join(words, " "))
	return c, len(c.Sources) > 0
}

func firstSentence(text string) string {
	for i := 0; i+1 < len(text); i++ {
		if text[i] == '.' && text[i+1] == ' ' && i > 2 && !(text[i-1] >= 'A' && text[i-1] <= 'Z') {
			return text[:i+1]
		}
	}
	return text
}

func TestFirstSentence(t *testing.T) {
	for in, want := range map[string]string{
		"It is so. More follows.": "It is so.", "By Z. Mai 2011 it is so. More.": "By Z. Mai 2011 it is so.", "No end": "No end",
	} {
		if got := firstSentence(in); got != want {
			t.Errorf("%q: %q", in, got)
		}
	}
}
