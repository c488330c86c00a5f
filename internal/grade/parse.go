package grade

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"os"
	"reflect"
	"sort"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"lampwise/internal/fault"
)

// Maxima of a grade file.
const (
	maxFileBytes = 1 << 20
	maxPoints    = 64
	maxText      = 1024
)

// Load reads and checks a grade file. Errors are faults with file and line.
func Load(path string) (*Grade, error) {
	info, err := os.Stat(path)
	if err == nil && info.Size() > maxFileBytes {
		return nil, fault.New(fault.Usage, "grade-size", "A grade is a short text file; check that this is one.",
			"%s: %d bytes; a grade file has at most %d", path, info.Size(), maxFileBytes)
	}
	var data []byte
	if err == nil {
		data, err = os.ReadFile(path)
	}
	if err != nil {
		return nil, fault.Wrap(err, fault.Usage, "grade-read", "Check the name, or make one with: lampwise grade new",
			"%s: the grade cannot be read: %v", path, errors.Unwrap(err))
	}
	return Parse(data, path)
}

// Parse reads and checks a grade; name stands for the file in messages.
// Unknown keys, wrong types, numbers outside their range and contradictions
// are faults with file and line. A stage whose table is absent is off; a key
// left out has its default.
func Parse(data []byte, name string) (*Grade, error) {
	if len(data) > maxFileBytes {
		return nil, fault.New(fault.Usage, "grade-size", "A grade is a short text file; check that this is one.",
			"%s: %d bytes; a grade file has at most %d", name, len(data), maxFileBytes)
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff")) // some editors begin a text file with a byte order mark
	raw := map[string]any{}
	if err := toml.NewDecoder(bytes.NewReader(data)).Decode(&raw); err != nil {
		line := 0
		var d *toml.DecodeError
		if errors.As(err, &d) {
			line, _ = d.Position()
		}
		return nil, fault.Wrap(err, fault.Usage, "grade-syntax", "The file is TOML: [stage], then lines of key = value.",
			"%s: %s", at(name, line), strings.TrimPrefix(err.Error(), "toml: "))
	}
	g := defaults()
	g.Schema = 0
	f := filler{name: name, where: locate(data)}
	if err := f.table(raw, reflect.ValueOf(g).Elem(), ""); err != nil {
		return nil, err
	}
	if g.Schema != Schema {
		hint := fmt.Sprintf("Write schema = %d at the head of the file.", Schema)
		if g.Schema > Schema {
			hint = fmt.Sprintf("A later lampwise wrote it: use that one, or make a grade anew with schema = %d.", Schema)
		}
		return nil, f.fault("schema", "grade-schema", hint, "the file's schema is %d; this program reads schema %d", g.Schema, Schema)
	}
	for _, s := range Stages() {
		if _, given := raw[string(s)]; !given {
			g.SetOff(s, true)
		}
	}
	g.notes = f.where.notes
	if err := g.check(f.fault); err != nil {
		return nil, err
	}
	return g, nil
}

// at writes file:line, or the file alone where the line isn't known.
func at(name string, line int) string {
	if line > 0 {
		return name + ":" + strconv.Itoa(line)
	}
	return name
}

// filler puts decoded TOML into the settings' structs.
type filler struct {
	name  string
	where places
}

// faulter makes a fault that points at a key ("split.middle.mired").
type faulter func(key, code, hint, format string, args ...any) error

func (f filler) fault(key, code, hint, format string, args ...any) error {
	if hint == "" {
		hint = "lampwise grade new writes a grade with every key, its unit and its range beside it."
	}
	if f.name == "" {
		return fault.New(fault.Usage, code, hint, format, args...)
	}
	return fault.New(fault.Usage, code, hint, "%s: %s", at(f.name, f.where.line(key)), fmt.Sprintf(format, args...))
}

func join(prefix, key string) string {
	if prefix == "" {
		return key
	}
	return prefix + "." + key
}

// table fills one struct from one TOML table.
func (f filler) table(raw map[string]any, into reflect.Value, prefix string) error {
	fields := map[string]int{}
	var names []string
	for i := range into.NumField() {
		if key := tomlKey(into.Type().Field(i)); key != "" {
			fields[key] = i
			names = append(names, key)
		}
	}
	keys := make([]string, 0, len(raw))
	for k := range raw {
		keys = append(keys, k)
	}
	// In the file's order, so that the first fault told is the first in the file.
	sort.Slice(keys, func(i, j int) bool {
		a, b := f.where.line(join(prefix, keys[i])), f.where.line(join(prefix, keys[j]))
		return a < b || a == b && keys[i] < keys[j]
	})
	for _, k := range keys {
		key := join(prefix, k)
		i, known := fields[k]
		if !known {
			hint := "Known here: " + strings.Join(names, ", ") + "."
			if near, ok := fault.Nearest(k, names); ok {
				hint = "Did you mean " + near + "?"
			}
			return f.fault(key, "grade-key", hint, "unknown key %q", clip(key))
		}
		if err := f.value(raw[k], into.Field(i), into.Type().Field(i), key); err != nil {
			return err
		}
	}
	return nil
}

// clip shortens a text from a file for a message.
func clip(s string) string {
	if len(s) > 60 {
		return s[:60] + "…"
	}
	return s
}

// value fills one setting.
func (f filler) value(raw any, into reflect.Value, field reflect.StructField, key string) error {
	wrong := func(want string) error {
		return f.fault(key, "grade-type", typeHints[into.Kind()], "%s must be %s, not %s", key, want, kindOf(raw))
	}
	unit := field.Tag.Get("unit")
	if unit != "" {
		unit = " in " + unit
	}
	switch into.Kind() {
	case reflect.Pointer:
		fresh := reflect.New(into.Type().Elem())
		if !into.IsNil() {
			fresh.Elem().Set(into.Elem())
		} else if _, ok := fresh.Interface().(*CDL); ok {
			fresh.Elem().Set(reflect.ValueOf(identityCDL()))
		}
		if err := f.value(raw, fresh.Elem(), field, key); err != nil {
			return err
		}
		into.Set(fresh)
	case reflect.Struct:
		t, ok := raw.(map[string]any)
		if !ok {
			return wrong("a table")
		}
		return f.table(t, into, key)
	case reflect.Bool:
		b, ok := raw.(bool)
		if !ok {
			return wrong("true or false")
		}
		into.SetBool(b)
	case reflect.String:
		s, ok := raw.(string)
		if !ok {
			return wrong("a text in quotes")
		}
		if len(s) > maxText {
			return f.fault(key, "grade-text", "", "%s is %d bytes long; at most %d", key, len(s), maxText)
		}
		into.SetString(s)
	case reflect.Int:
		n, ok := raw.(int64)
		if !ok {
			return wrong("a whole number" + unit)
		}
		into.SetInt(n)
	case reflect.Float64:
		x, ok := number(raw)
		if !ok {
			return wrong("a number" + unit)
		}
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return f.fault(key, "grade-number", "", "%s must be a finite number%s", key, unit)
		}
		into.SetFloat(x)
	case reflect.Array, reflect.Slice:
		list, ok := raw.([]any)
		if !ok {
			return wrong(listOf(into.Type()) + unit)
		}
		if into.Kind() == reflect.Slice {
			if len(list) > maxPoints {
				return f.fault(key, "grade-count", "", "%s has %d points; at most %d", key, len(list), maxPoints)
			}
			into.Set(reflect.MakeSlice(into.Type(), len(list), len(list)))
		} else if len(list) != into.Len() {
			return f.fault(key, "grade-count", "", "%s must be %s%s, not %d", key, listOf(into.Type()), unit, len(list))
		}
		for i, e := range list {
			if err := f.value(e, into.Index(i), field, key); err != nil {
				return err
			}
		}
	default:
		return fmt.Errorf("grade: setting %s has kind %s, which the file format lacks", key, into.Kind())
	}
	return nil
}

// typeHints say how a value of each kind is written.
var typeHints = map[reflect.Kind]string{
	reflect.Bool: "Write true or false, without quotes.", reflect.String: `Put it in quotes: "…".`,
	reflect.Int: "Write the number alone, without quotes or unit.", reflect.Float64: "Write the number alone, without quotes or unit: 0.3",
	reflect.Struct: "Write { key = value }, or a line for each key.",
	reflect.Slice:  "Write pairs in brackets: [[-2.0, -2.2], [0.0, 0.0]]", reflect.Array: "Write numbers in brackets, with commas between them.",
}

func listOf(t reflect.Type) string {
	if t.Kind() == reflect.Slice {
		return "a list of pairs"
	}
	return fmt.Sprintf("a list of %d numbers", t.Len())
}

func number(raw any) (float64, bool) {
	switch n := raw.(type) {
	case float64:
		return n, true
	case int64:
		return float64(n), true
	}
	return 0, false
}

func kindOf(raw any) string {
	switch v := raw.(type) {
	case string:
		return fmt.Sprintf("the text %q", clip(v))
	case bool:
		return strconv.FormatBool(v)
	case int64, float64:
		return fmt.Sprintf("the number %v", v)
	case map[string]any:
		return "a table"
	case []any:
		return "a list"
	}
	return "a date or time"
}

func tomlKey(f reflect.StructField) string {
	key, _, _ := strings.Cut(f.Tag.Get("toml"), ",")
	if key == "-" {
		return ""
	}
	return key
}
