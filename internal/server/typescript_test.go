package server

import (
	"flag"
	"fmt"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"lampwise/internal/grade"
	"lampwise/internal/job"
)

var update = flag.Bool("update", false, "write the page's client anew: go test ./internal/server -run TestClient -update")

// The files: the types alone, which the page's core may use, and the calls.
const clientFolder = "../../web/src/api/"

// TestClient holds the page's typed client to the server's own types.
func TestClient(t *testing.T) {
	for name, want := range typescript() {
		file := clientFolder + name
		if *update {
			if err := os.WriteFile(file, []byte(want), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		got, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if string(got) != want {
			t.Errorf("%s is stale: go test ./internal/server -run TestClient -update, then make web", file)
		}
	}
}

type tsWriter struct {
	done map[reflect.Type]string
	text []string
}

// typescript gives the generated files by name.
func typescript() map[string]string {
	w := &tsWriter{done: map[reflect.Type]string{}}
	var calls []string
	for _, e := range (&Server{}).endpoints() {
		name := e.name
		if i := strings.IndexByte(name, '/'); i >= 0 {
			name = name[i+1:] + strings.ToUpper(name[:1]) + name[1:i]
		}
		calls = append(calls, fmt.Sprintf("/** %s */\nexport const %s = (ask: T.%s): Promise<T.%s> => post(%q, ask);\n", e.about, name, w.typeOf(e.ask), w.typeOf(e.answer), e.name))
	}
	for _, x := range []any{grade.Grade{}, job.LiveProgram{}, Shown{}, ShareAsked{}, ScopeAsked{}, Job{}, job.Rendered{}, job.Verified{}, job.LearnedSet{}, job.HoldsFound{}, job.Checked{}, job.MeasuredClip{}, job.Reported{}, job.HandedOff{}, job.Suggested{}, job.Budget{}, PairAsked{}, errorBody{}} {
		w.typeOf(reflect.TypeOf(x))
	}
	slices.Sort(w.text)
	const made = "// Made from the server's Go types: go test ./internal/server -run TestClient -update\n"
	return map[string]string{
		"types.gen.ts": made + "\n" + strings.Join(w.text, "\n"),
		"client.gen.ts": made + "import { post } from './post.ts';\nimport type * as T from './types.gen.ts';\n\nexport type * from './types.gen.ts';\n\n" +
			strings.Join(calls, "\n"),
	}
}

func (w *tsWriter) typeOf(t reflect.Type) string {
	switch {
	case t == reflect.TypeFor[time.Time]():
		return "string"
	case t.Kind() == reflect.Pointer:
		inner := w.typeOf(t.Elem())
		if t.Elem().Kind() == reflect.Struct && t.Elem() != reflect.TypeFor[grade.CurveParams]() && !optionalStruct[t.Elem().Name()] {
			return inner
		}
		return inner + " | null"
	}
	switch t.Kind() {
	case reflect.String:
		return "string"
	case reflect.Bool:
		return "boolean"
	case reflect.Int, reflect.Int32, reflect.Int64, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64, reflect.Float32, reflect.Float64:
		return "number"
	case reflect.Interface:
		return "unknown"
	case reflect.Map:
		return "Record<string, " + w.typeOf(t.Elem()) + ">"
	case reflect.Array:
		parts := make([]string, t.Len())
		for i := range parts {
			parts[i] = w.typeOf(t.Elem())
		}
		return "[" + strings.Join(parts, ", ") + "]"
	case reflect.Slice:
		inner := w.typeOf(t.Elem())
		if strings.Contains(inner, " ") {
			inner = "(" + inner + ")"
		}
		return inner + "[]"
	case reflect.Struct:
		return w.structOf(t)
	}
	panic("no TypeScript for " + t.String())
}

// optionalStruct are structs that a pointer to may really be null.
var optionalStruct = map[string]bool{"CurveParams": true, "CDL": true, "JobStep": true, "errorBody": true, "Compared": true, "OutputChecks": true, "Measured": true, "Estimate": true, "ScreenReading": true, "Correction": true, "GuessedOrder": true, "HeardBeeps": true, "Vignette": true, "Mask": true, "HistoryTrend": true, "EpisodeAnswer": true}

func (w *tsWriter) structOf(t reflect.Type) string {
	if name, ok := w.done[t]; ok {
		return name
	}
	name := strings.ToUpper(t.Name()[:1]) + t.Name()[1:]
	for _, other := range w.done {
		if other == name {
			pkg := t.PkgPath()[strings.LastIndexByte(t.PkgPath(), '/')+1:]
			name = strings.ToUpper(pkg[:1]) + pkg[1:] + name
		}
	}
	w.done[t] = name
	var b strings.Builder
	fmt.Fprintf(&b, "export interface %s {\n", name)
	w.fields(&b, t)
	b.WriteString("}\n")
	w.text = append(w.text, b.String())
	return name
}

func (w *tsWriter) fields(b *strings.Builder, t reflect.Type) {
	for i := range t.NumField() {
		f := t.Field(i)
		tag, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		switch {
		case tag == "-" || !f.IsExported() && !f.Anonymous:
			continue
		case f.Anonymous && tag == "":
			inner := f.Type
			if inner.Kind() == reflect.Pointer {
				inner = inner.Elem()
			}
			w.fields(b, inner)
			continue
		case tag == "":
			tag = f.Name
		}
		kind := f.Tag.Get("ts")
		if kind == "" {
			kind = w.typeOf(f.Type)
		}
		mark := ""
		if strings.Contains(options, "omitempty") {
			mark = "?"
		}
		fmt.Fprintf(b, "  %s%s: %s;\n", tag, mark, kind)
	}
}
