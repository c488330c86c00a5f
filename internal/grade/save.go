package grade

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"reflect"
	"strconv"
	"strings"
	"sync"
	"syscall"

	"lampwise/internal/fault"
)

// header stands at the head of every grade file written.
var header = []string{
	"A grade: the settings of the path from recorded code to finished picture.",
	"Stages run in the order they stand in; off = true leaves one out.",
}

// Bytes writes the grade as its file: every stage, every setting, each with
// its unit and range beside it, always in the same order. Comments that stood
// in the file the grade was read from are kept with the key they stood at.
func (g *Grade) Bytes() []byte {
	var b bytes.Buffer
	for _, h := range header {
		fmt.Fprintf(&b, "# %s\n", h)
	}
	w := writer{b: &b, notes: g.notes}
	w.table(reflect.ValueOf(g).Elem(), "")
	if tail := g.notes[""]; len(tail) > 0 {
		b.WriteByte('\n')
		for _, n := range tail {
			fmt.Fprintf(&b, "# %s\n", n)
		}
	}
	return b.Bytes()
}

// Save writes the grade to a file by way of a temporary file in the same
// folder, so that the name never holds half a grade.
func (g *Grade) Save(path string) error {
	err := replace(path, g.Bytes())
	switch {
	case errors.Is(err, syscall.ENOSPC):
		return fault.Wrap(err, fault.Storage, "disk-full", "Make room and save again. What the file held before it still holds.", "%s: the grade can't be written: the disk is full", path)
	case err != nil:
		return fault.Wrap(err, fault.Storage, "grade-write", "Check that the folder exists, may be written to and has space.",
			"%s: the grade cannot be written: %v", path, err)
	}
	return nil
}

func replace(path string, data []byte) error {
	tmp := path + ".part"
	f, err := os.OpenFile(tmp, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o644)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if err == nil {
		err = f.Sync()
	}
	if e := f.Close(); err == nil {
		err = e
	}
	if err == nil {
		err = os.Rename(tmp, path)
	}
	if err != nil {
		os.Remove(tmp)
	}
	return err
}

type writer struct {
	b     *bytes.Buffer
	notes map[string][]string
}

// table writes the plain keys of a struct, then its sub-tables.
func (w writer) table(v reflect.Value, prefix string) {
	t := v.Type()
	var later []int
	for i := range v.NumField() {
		f := t.Field(i)
		key := tomlKey(f)
		if key == "" {
			continue
		}
		fv := v.Field(i)
		if fv.Kind() == reflect.Pointer {
			if fv.IsNil() {
				continue
			}
			fv = fv.Elem()
		}
		if fv.Kind() == reflect.Struct && f.Tag.Get("inline") == "" {
			later = append(later, i)
			continue
		}
		w.comments(join(prefix, key))
		line := key + " = " + text(fv)
		if note := sideNote(f); note != "" {
			line = fmt.Sprintf("%-28s # %s", line, note)
		}
		fmt.Fprintln(w.b, line)
	}
	for _, i := range later {
		f := t.Field(i)
		key := join(prefix, tomlKey(f))
		fmt.Fprintln(w.b)
		w.comments(key)
		if note := sideNote(f); note != "" {
			fmt.Fprintf(w.b, "# %s\n", note)
		}
		fmt.Fprintf(w.b, "[%s]\n", key)
		fv := v.Field(i)
		if fv.Kind() == reflect.Pointer {
			fv = fv.Elem()
		}
		w.table(fv, key)
	}
}

func (w writer) comments(key string) {
	for _, n := range w.notes[key] {
		fmt.Fprintf(w.b, "# %s\n", n)
	}
}

// sideNote is what a setting's tags say: what it is, what it can be, its unit.
func sideNote(f reflect.StructField) string {
	var parts []string
	if s := f.Tag.Get("about"); s != "" {
		parts = append(parts, s)
	}
	if s := f.Tag.Get("oneof"); s != "" {
		parts = append(parts, strings.ReplaceAll(s, ",", " | "))
	}
	if s := f.Tag.Get("range"); s != "" {
		parts = append(parts, strings.TrimSpace(s+" "+f.Tag.Get("unit")))
	}
	return strings.Join(parts, "; ")
}

// text is a value in TOML.
func text(v reflect.Value) string {
	switch v.Kind() {
	case reflect.Bool:
		return strconv.FormatBool(v.Bool())
	case reflect.Int:
		return strconv.FormatInt(v.Int(), 10)
	case reflect.Float64:
		s := strconv.FormatFloat(v.Float(), 'g', -1, 64)
		if !strings.ContainsAny(s, ".e") {
			s += ".0"
		}
		return s
	case reflect.String:
		return quote(v.String())
	case reflect.Slice, reflect.Array:
		parts := make([]string, v.Len())
		for i := range parts {
			parts[i] = text(v.Index(i))
		}
		return "[" + strings.Join(parts, ", ") + "]"
	case reflect.Struct:
		var parts []string
		for i := range v.NumField() {
			fv := v.Field(i)
			if fv.Kind() == reflect.Pointer {
				if fv.IsNil() {
					continue
				}
				fv = fv.Elem()
			}
			parts = append(parts, tomlKey(v.Type().Field(i))+" = "+text(fv))
		}
		if len(parts) == 0 {
			return "{}"
		}
		return "{ " + strings.Join(parts, ", ") + " }"
	}
	return `""`
}

// quote writes a basic TOML string.
func quote(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case r == '\t':
			b.WriteString(`\t`)
		case r < 0x20 || r == 0x7f:
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}

// ownNote says whether a comment is one this package writes by itself.
func ownNote(s string) bool { return ownNotes()[s] }

var ownNotes = sync.OnceValue(func() map[string]bool {
	own := map[string]bool{}
	for _, h := range header {
		own[h] = true
	}
	var walk func(reflect.Type)
	walk = func(t reflect.Type) {
		for i := range t.NumField() {
			f := t.Field(i)
			if tomlKey(f) == "" {
				continue
			}
			own[sideNote(f)] = true
			ft := f.Type
			if ft.Kind() == reflect.Pointer {
				ft = ft.Elem()
			}
			if ft.Kind() == reflect.Struct {
				walk(ft)
			}
		}
	}
	walk(reflect.TypeFor[Grade]())
	return own
})
