package light

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"reflect"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"lampwise/internal/fault"
)

// Maxima of a plan file.
const (
	maxFileBytes = 1 << 20
	maxLamps     = 64
	maxThings    = 64
	maxPlaces    = 64
	maxCircuits  = 32
	maxText      = 120
)

// Load reads and checks a plan file. Errors are faults with file and line.
func Load(path string) (*Plan, error) {
	data, err := ReadFile(path)
	if err != nil {
		return nil, err
	}
	return Parse(data, path)
}

// ReadFile reads a plan file's text, up to the size a plan may have.
func ReadFile(path string) ([]byte, error) {
	info, err := os.Stat(path)
	if err == nil && info.Size() > maxFileBytes {
		return nil, tooLong(path, info.Size())
	}
	var data []byte
	if err == nil {
		data, err = os.ReadFile(path)
	}
	if err != nil {
		return nil, fault.Wrap(err, fault.Usage, "plan-read", "Check the name, or make one with: lampwise plan new FILE",
			"%s: the plan cannot be read: %v", path, errors.Unwrap(err))
	}
	return bytes.TrimPrefix(data, byteOrderMark), nil
}

// byteOrderMark is what some Windows editors put before UTF-8.
var byteOrderMark = []byte("\xef\xbb\xbf")

func tooLong(name string, n int64) error {
	return fault.New(fault.Usage, "plan-size", "A plan is a short text file; check that this is one.",
		"%s: %d bytes; a plan file has at most %d", name, n, maxFileBytes)
}

// Parse reads and checks a plan; name stands for the file in messages. Unknown
// keys, wrong types, numbers outside their range and contradictions are faults
// with file and line.
func Parse(data []byte, name string) (*Plan, error) {
	if len(data) > maxFileBytes {
		return nil, tooLong(name, int64(len(data)))
	}
	data = bytes.TrimPrefix(data, byteOrderMark)
	if !utf8.Valid(data) {
		line := 1
		for rest := data; len(rest) > 0; {
			r, n := utf8.DecodeRune(rest)
			if r == utf8.RuneError && n == 1 {
				break
			}
			if r == '\n' {
				line++
			}
			rest = rest[n:]
		}
		return nil, fault.New(fault.Usage, "plan-encoding", "Save the file as UTF-8: editors ask for the encoding under Save As.", "%s: the text is not in UTF-8", at(name, line))
	}
	p := &Plan{name: name}
	if err := toml.NewDecoder(bytes.NewReader(data)).DisallowUnknownFields().Decode(p); err != nil {
		return nil, decodeFault(err, name, data)
	}
	p.where = locate(data)
	if err := p.check(); err != nil {
		return nil, err
	}
	return p, nil
}

// decodeFault turns the TOML library's errors into faults.
func decodeFault(err error, name string, data []byte) error {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) && len(strict.Errors) > 0 {
		e := strict.Errors[0]
		line, _ := e.Position()
		key := e.Key()
		known := keysAt(reflect.TypeFor[Plan](), key[:len(key)-1])
		hint := "Known here: " + strings.Join(known, ", ") + "."
		if near, ok := fault.Nearest(key[len(key)-1], known); ok {
			hint = "Did you mean " + near + "?"
		}
		return fault.New(fault.Usage, "plan-key", hint, "%s: unknown key %q", at(name, line), short(strings.Join(key, ".")))
	}
	line, text, hint := 0, strings.TrimPrefix(err.Error(), "toml: "), "The file is TOML: [room], [[lamp]], then lines of key = value."
	var d *toml.DecodeError
	if errors.As(err, &d) {
		line, _ = d.Position()
		if key := d.Key(); len(key) > 0 && strings.Contains(text, "cannot decode") {
			text = strings.Join(key, ".") + " is of another kind than it must be: " + kindWanted(reflect.TypeFor[Plan](), key)
			hint = "Lengths are numbers in metres, angles in degrees; texts stand in quotes."
		}
	}
	// The library's own words name its Go types; the line is what helps.
	if i := strings.Index(text, " into "); i > 0 {
		text = text[:i] + " here"
	}
	return fault.Wrap(err, fault.Usage, "plan-syntax", hint, "%s: %s", at(name, line), short(oneLine(text)))
}

func oneLine(s string) string {
	s, _, _ = strings.Cut(s, "\n")
	return s
}

// at writes file:line, or the file alone where the line isn't known.
func at(name string, line int) string {
	if line > 0 {
		return name + ":" + strconv.Itoa(line)
	}
	return name
}

func short(s string) string {
	if len(s) > maxText {
		return s[:maxText] + "…"
	}
	return s
}

// fieldAt follows keys down the settings' types.
func fieldAt(t reflect.Type, keys []string) (reflect.Type, bool) {
	for _, k := range keys {
		for t.Kind() == reflect.Slice || t.Kind() == reflect.Pointer {
			t = t.Elem()
		}
		if t.Kind() != reflect.Struct {
			return t, false
		}
		found := false
		for i := range t.NumField() {
			if t.Field(i).Tag.Get("toml") == k {
				t, found = t.Field(i).Type, true
				break
			}
		}
		if !found {
			return t, false
		}
	}
	for t.Kind() == reflect.Slice && t.Elem().Kind() == reflect.Struct || t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	return t, true
}

func keysAt(t reflect.Type, keys []string) []string {
	t, ok := fieldAt(t, keys)
	if !ok || t.Kind() != reflect.Struct {
		return nil
	}
	var out []string
	for i := range t.NumField() {
		if k := t.Field(i).Tag.Get("toml"); k != "" {
			out = append(out, k)
		}
	}
	return out
}

func kindWanted(t reflect.Type, keys []string) string {
	t, ok := fieldAt(t, keys)
	if !ok {
		return "see the example"
	}
	switch t.Kind() {
	case reflect.Float64:
		return "a number"
	case reflect.Int:
		return "a whole number"
	case reflect.String:
		return "a text in quotes"
	case reflect.Bool:
		return "true or false"
	case reflect.Slice:
		return "a list in brackets"
	}
	return "a table"
}

// places says on which line each key stands: "room.width", "lamp.1.at" for the
// second lamp's, "lamp.1" for its heading.
type places map[string]int

// line gives a key's line, or that of the nearest table around it; 0 = unknown.
func (p places) line(key string) int {
	for {
		if n, ok := p[key]; ok {
			return n
		}
		i := strings.LastIndexByte(key, '.')
		if i < 0 {
			return 0
		}
		key = key[:i]
	}
}

// locate walks a file that has been parsed once already.
func locate(data []byte) places {
	p := places{}
	var parser unstable.Parser
	parser.Reset(data)
	table, count := "", map[string]int{}
	key := func(n *unstable.Node) (string, int) {
		var parts []string
		line := 0
		for it := n.Key(); it.Next(); {
			parts = append(parts, string(it.Node().Data))
			if line == 0 {
				line = parser.Shape(it.Node().Raw).Start.Line
			}
		}
		return strings.Join(parts, "."), line
	}
	note := func(k string, line int) {
		if _, seen := p[k]; !seen {
			p[k] = line
		}
	}
	for parser.NextExpression() {
		n := parser.Expression()
		switch n.Kind {
		case unstable.Table:
			k, line := key(n)
			// A sub-table of the last array entry: [lamp.diffusion].
			head, rest, sub := strings.Cut(k, ".")
			if c := count[head]; sub && c > 0 {
				k = fmt.Sprintf("%s.%d.%s", head, c-1, rest)
			}
			table = k
			note(k, line)
		case unstable.ArrayTable:
			k, line := key(n)
			table = fmt.Sprintf("%s.%d", k, count[k])
			count[k]++
			note(table, line)
		case unstable.KeyValue:
			k, line := key(n)
			if table != "" {
				k = table + "." + k
			}
			note(k, line)
		}
	}
	return p
}

// fault makes a fault that points at a key.
func (p *Plan) fault(key, code, hint, format string, args ...any) error {
	return fault.New(fault.Usage, code, hint, "%s: %s", at(p.name, p.where.line(key)), fmt.Sprintf(format, args...))
}

// Line is the line of the plan's file on which a key stands ("lamp.1.name" for
// the second lamp's), 0 when it doesn't.
func (p *Plan) Line(key string) int { return p.where[key] }
