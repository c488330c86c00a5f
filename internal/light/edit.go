package light

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"lampwise/internal/fault"
)

// PlanChange is one change of a plan's text.
type PlanChange struct {
	// Key is what changes: "camera.f", or "lamp.1.at" for the second lamp's
	// place. Without a key's name, "lamp.1" is the whole lamp.
	Key string `json:"key"`
	// Value is a number, a text, true or false, or a list of numbers or texts;
	// nil takes the key, or the whole lamp, out. For "lamp.N", N being how many
	// lamps there are, a table of keys and values adds a lamp.
	Value any `json:"value"`
}

// Edit changes a plan's text and leaves all else in it as it is: comments,
// order, line ends. The text must parse; that what comes out is a sound plan is
// for Parse to say. name stands for the file in messages.
func Edit(text []byte, changes []PlanChange, name string) ([]byte, error) {
	end := "\n"
	if strings.Contains(string(text), "\r\n") {
		end = "\r\n"
	}
	s := strings.ReplaceAll(string(text), "\r\n", "\n")
	for _, c := range changes {
		e := editing{name: name, text: s, lines: strings.Split(s, "\n"), where: locate([]byte(s))}
		out, err := e.apply(c)
		if err != nil {
			return nil, err
		}
		s = out
	}
	return []byte(strings.ReplaceAll(s, "\n", end)), nil
}

type editing struct {
	name  string
	text  string
	lines []string // from line 1
	where places
}

func (e *editing) apply(c PlanChange) (string, error) {
	table, key := splitKey(c.Key)
	if key == "" && table != "" {
		if fields, ok := c.Value.(map[string]any); ok {
			return e.addTable(table, fields)
		}
		if c.Value == nil {
			return e.dropTable(table)
		}
	}
	if key == "" {
		return "", e.refuse(c.Key, "there is no such setting")
	}
	if c.Value == nil {
		return e.drop(c.Key), nil
	}
	value, err := literal(c.Value)
	if err != nil {
		return "", e.refuse(c.Key, err.Error())
	}
	if n := e.where[c.Key]; n > 0 {
		return e.replace(n, c.Key, value)
	}
	return e.insert(table, key, value)
}

func (e *editing) refuse(key, why string) error {
	return fault.New(fault.Usage, "plan-edit", "Change it in the text itself.", "%s: %s can't be changed: %s", at(e.name, e.where.line(key)), short(key), why)
}

// splitKey parts "lamp.1.at" into "lamp.1" and "at", "camera.f" into "camera"
// and "f"; "lamp.1" has no key, "title" no table.
func splitKey(k string) (table, key string) {
	parts := strings.Split(k, ".")
	if len(parts) >= 2 {
		if _, err := strconv.Atoi(parts[1]); err == nil {
			return parts[0] + "." + parts[1], strings.Join(parts[2:], ".")
		}
		return parts[0], strings.Join(parts[1:], ".")
	}
	return "", k
}

// valueAt is where the value of the key on a line begins and ends, as offsets
// into the text.
func (e *editing) valueAt(line int) (from, to int, ok bool) {
	start := 0
	for _, l := range e.lines[:line-1] {
		start += len(l) + 1
	}
	// The key may be quoted and may hold what looks like an equals sign.
	i, n := start, len(e.text)
	for i < n && e.text[i] != '=' && e.text[i] != '\n' {
		if q := e.text[i]; q == '"' || q == '\'' {
			for i++; i < n && e.text[i] != q && e.text[i] != '\n'; i++ {
			}
		}
		i++
	}
	if i >= n || e.text[i] != '=' {
		return 0, 0, false
	}
	for i++; i < n && (e.text[i] == ' ' || e.text[i] == '\t'); i++ {
	}
	from = i
	depth, last := 0, i
	for i < n {
		switch c := e.text[i]; {
		case c == '"' || c == '\'':
			i = stringEnd(e.text, i)
			last = i
			continue
		case c == '[' || c == '{':
			depth++
		case c == ']' || c == '}':
			depth--
		case c == '#':
			if depth == 0 {
				return from, last, true
			}
			for i < n && e.text[i] != '\n' {
				i++
			}
			continue
		case c == '\n' && depth == 0:
			return from, last, true
		case c == ' ' || c == '\t' || c == '\n':
			i++
			continue
		}
		i++
		last = i
	}
	return from, last, true
}

// stringEnd is behind the text that begins at i.
func stringEnd(s string, i int) int {
	q := s[i : i+1]
	if strings.HasPrefix(s[i:], q+q+q) {
		if j := strings.Index(s[i+3:], q+q+q); j >= 0 {
			return i + 3 + j + 3
		}
		return len(s)
	}
	for j := i + 1; j < len(s); j++ {
		if s[j] == '\\' && q == `"` {
			j++
			continue
		}
		if s[j] == q[0] {
			return j + 1
		}
	}
	return len(s)
}

func (e *editing) replace(line int, key, value string) (string, error) {
	from, to, ok := e.valueAt(line)
	if !ok {
		return "", e.refuse(key, "it doesn't stand on a line of its own")
	}
	return e.text[:from] + value + e.text[to:], nil
}

// insert puts a new key behind the last one of its table.
func (e *editing) insert(table, key, value string) (string, error) {
	head := e.where[table]
	if table != "" && (head == 0 || !e.isHead(head)) {
		return "", e.refuse(table+"."+key, "its table has no heading of its own")
	}
	last := head
	for k, n := range e.where {
		if t, name := splitKey(k); t == table && name != "" && !e.isHead(n) && n > last && n < e.nextHead(head) {
			if _, to, ok := e.valueAt(n); ok {
				n = 1 + strings.Count(e.text[:to], "\n")
			}
			last = max(last, n)
		}
	}
	return strings.Join(slices.Insert(slices.Clone(e.lines), last, key+" = "+value), "\n"), nil
}

func (e *editing) drop(key string) string {
	n := e.where[key]
	if n == 0 {
		return e.text
	}
	last := n
	if _, to, ok := e.valueAt(n); ok {
		last = 1 + strings.Count(e.text[:to], "\n")
	}
	return strings.Join(slices.Delete(slices.Clone(e.lines), n-1, last), "\n")
}

func (e *editing) isHead(line int) bool {
	return strings.HasPrefix(strings.TrimSpace(e.lines[line-1]), "[")
}

// nextHead is the line of the next table's heading, or one behind the last
// line; a table inside an array's ([lamp.diffusion]) counts as one.
func (e *editing) nextHead(line int) int {
	next := len(e.lines) + 1
	for _, n := range e.where {
		if n > line && n < next && e.isHead(n) {
			next = n
		}
	}
	return next
}

// dropTable takes a lamp out with all that belongs to it. Comments right above
// the next heading belong to that.
func (e *editing) dropTable(table string) (string, error) {
	head := e.where[table]
	if head == 0 || !e.isHead(head) {
		return "", e.refuse(table, "it has no heading of its own")
	}
	next := e.nextHead(head)
	for next <= len(e.lines) { // its own inner tables
		inner := false
		for k, n := range e.where {
			inner = inner || n == next && strings.HasPrefix(k, table+".")
		}
		if !inner {
			break
		}
		next = e.nextHead(next)
	}
	for next > head+1 && strings.HasPrefix(strings.TrimSpace(e.lines[next-2]), "#") {
		next--
	}
	return strings.Join(slices.Delete(slices.Clone(e.lines), head-1, next-1), "\n"), nil
}

// addTable writes a new entry of an array behind the last one there is.
func (e *editing) addTable(table string, fields map[string]any) (string, error) {
	kind, number, _ := strings.Cut(table, ".")
	n, err := strconv.Atoi(number)
	if err != nil || n < 0 || e.where[table] > 0 || n > 0 && e.where[fmt.Sprintf("%s.%d", kind, n-1)] == 0 {
		return "", e.refuse(table, "the next one is wanted")
	}
	keys := make([]string, 0, len(fields))
	for k := range fields {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b string) int { // the name and the kind first
		order := func(k string) int { return slices.Index([]string{"kind", "name"}, k) }
		if d := order(b) - order(a); d != 0 {
			return d
		}
		return strings.Compare(a, b)
	})
	text := []string{"[[" + kind + "]]"}
	for _, k := range keys {
		v, err := literal(fields[k])
		if err != nil {
			return "", e.refuse(table+"."+k, err.Error())
		}
		text = append(text, k+" = "+v)
	}
	behind := len(e.lines)
	if n > 0 {
		behind = e.nextHead(e.where[fmt.Sprintf("%s.%d", kind, n-1)]) - 1
		for behind < len(e.lines) { // past its inner tables
			inner := false
			for k, l := range e.where {
				inner = inner || l == behind+1 && strings.HasPrefix(k, fmt.Sprintf("%s.%d.", kind, n-1))
			}
			if !inner {
				break
			}
			behind = e.nextHead(behind+1) - 1
		}
		for behind > 0 && strings.HasPrefix(strings.TrimSpace(e.lines[behind-1]), "#") {
			behind--
		}
	}
	for behind > 0 && strings.TrimSpace(e.lines[behind-1]) == "" {
		behind--
	}
	text = append([]string{""}, text...)
	if behind < len(e.lines) && strings.TrimSpace(e.lines[behind]) != "" {
		text = append(text, "")
	}
	out := slices.Insert(slices.Clone(e.lines), behind, text...)
	if out[len(out)-1] != "" {
		out = append(out, "")
	}
	return strings.Join(out, "\n"), nil
}

// literal writes a value as TOML.
func literal(v any) (string, error) {
	switch x := v.(type) {
	case bool:
		return strconv.FormatBool(x), nil
	case float64:
		if math.IsNaN(x) || math.IsInf(x, 0) || math.Abs(x) > 1e12 {
			return "", fmt.Errorf("%g is no number for it", x)
		}
		// A thousandth is finer than anyone measures a room or sets a lamp.
		return strconv.FormatFloat(math.Round(x*1000)/1000, 'f', -1, 64), nil
	case string:
		if len(x) > maxText || strings.ContainsFunc(x, func(r rune) bool { return r < ' ' || r == 0x7f }) {
			return "", fmt.Errorf("a text of at most %d ordinary characters is wanted", maxText)
		}
		return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(x) + `"`, nil
	case []any:
		if len(x) > maxLamps {
			return "", fmt.Errorf("the list is too long")
		}
		parts := make([]string, len(x))
		for i, y := range x {
			if _, list := y.([]any); list {
				return "", fmt.Errorf("lists don't hold lists here")
			}
			var err error
			if parts[i], err = literal(y); err != nil {
				return "", err
			}
		}
		return "[" + strings.Join(parts, ", ") + "]", nil
	}
	return "", fmt.Errorf("a number, a text or a list is wanted")
}
