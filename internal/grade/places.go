package grade

import (
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"
)

// places says on which line each key of a file stands, and which comments of
// the user's stand with it.
type places struct {
	lines map[string]int
	notes map[string][]string // by key; "" = after the last key
}

// line gives a key's line, or that of the nearest table around it; 0 = unknown.
func (p places) line(key string) int {
	for {
		if n, ok := p.lines[key]; ok {
			return n
		}
		i := strings.LastIndexByte(key, '.')
		if i < 0 {
			return 0
		}
		key = key[:i]
	}
}

// locate walks a file that has been parsed once already; what it can't read
// is left out.
func locate(data []byte) places {
	p := places{lines: map[string]int{}, notes: map[string][]string{}}
	parser := unstable.Parser{KeepComments: true}
	parser.Reset(data)
	var waiting []string
	table := ""
	take := func(key string, n *unstable.Node) {
		if next := n.Next(); next != nil && next.Kind == unstable.Comment {
			waiting = append(waiting, noteText(next.Data))
		}
		for _, w := range waiting {
			if !ownNote(w) {
				p.notes[key] = append(p.notes[key], w)
			}
		}
		waiting = nil
	}
	for parser.NextExpression() {
		n := parser.Expression()
		switch n.Kind {
		case unstable.Comment:
			waiting = append(waiting, noteText(n.Data))
		case unstable.Table, unstable.ArrayTable:
			table = p.key(&parser, n, "")
			take(table, n)
		case unstable.KeyValue:
			key := p.key(&parser, n, table)
			p.inside(&parser, n.Value(), key)
			take(key, n)
		}
	}
	for _, w := range waiting {
		if !ownNote(w) {
			p.notes[""] = append(p.notes[""], w)
		}
	}
	return p
}

// key notes the line of a (dotted) key under a table and returns its full name.
func (p *places) key(parser *unstable.Parser, n *unstable.Node, under string) string {
	full := under
	for it := n.Key(); it.Next(); {
		if it.Node().Kind != unstable.Key {
			break
		}
		full = join(full, string(it.Node().Data))
		if _, seen := p.lines[full]; !seen {
			p.lines[full] = parser.Shape(it.Node().Raw).Start.Line
		}
	}
	return full
}

// inside notes the keys of an inline table.
func (p *places) inside(parser *unstable.Parser, v *unstable.Node, under string) {
	if v == nil || v.Kind != unstable.InlineTable {
		return
	}
	for it := v.Children(); it.Next(); {
		if it.Node().Kind == unstable.KeyValue {
			key := p.key(parser, it.Node(), under)
			p.inside(parser, it.Node().Value(), key)
		}
	}
}

func noteText(b []byte) string {
	return strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(string(b)), "#"))
}
