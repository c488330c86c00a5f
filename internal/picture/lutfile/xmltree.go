package lutfile

import (
	"bufio"
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"strings"

	"lampwise/internal/fault"
)

// node is an element of a small XML tree. Namespace prefixes are resolved;
// names are local names.
type node struct {
	name     string
	space    string
	line     int // of its start tag
	attrs    []xml.Attr
	children []*node
	text     []segment // between tags and comments, in order
}

// segment is a stretch of character data.
type segment struct {
	line int // where it begins
	data []byte
}

const hintXML = "the file is damaged or was edited by hand; " + hintExport

// readTree reads one XML document into a tree. Children of an element called
// opaque are left out: they may hold anything and mean nothing here. Document
// types, entities of the file's own, encodings other than UTF-8, ASCII and
// ISO 8859-1, and what exceeds the package's limits are refused.
func (f file) readTree(br *bufio.Reader, opaque string) (*node, error) {
	d := xml.NewDecoder(br)
	d.CharsetReader = f.charset
	var root *node
	var stack []*node
	skip, elements := 0, 0
	for {
		line, _ := d.InputPos()
		tok, err := d.Token()
		if err == io.EOF {
			if root == nil {
				return nil, f.wrong(0, "lut-empty", hintXML, "no XML element in the file")
			}
			return root, nil
		}
		if err != nil {
			return nil, f.xmlError(err, line, stack)
		}
		switch t := tok.(type) {
		case xml.Directive:
			return nil, f.wrong(line, "lut-xml", "remove the <!DOCTYPE …> part", "a document type; it has no place in a look-up file")
		case xml.StartElement:
			elements++
			switch {
			case elements > maxXMLElements:
				return nil, f.wrong(line, "lut-xml", hintXML, "more than %d elements", maxXMLElements)
			case len(stack)+skip >= maxXMLDepth:
				return nil, f.wrong(line, "lut-xml", hintXML, "elements nested deeper than %d", maxXMLDepth)
			case len(t.Attr) > maxXMLAttrs:
				return nil, f.wrong(line, "lut-xml", hintXML, "<%s> has more than %d attributes", shortName(t.Name.Local), maxXMLAttrs)
			case root != nil && len(stack) == 0:
				return nil, f.wrong(line, "lut-xml", hintXML, "<%s> after the end of <%s>", shortName(t.Name.Local), shortName(root.name))
			}
			if skip > 0 {
				skip++
				continue
			}
			n := &node{name: t.Name.Local, space: t.Name.Space, line: line, attrs: t.Attr}
			if twice := repeated(t.Attr); twice != "" {
				return nil, f.wrong(line, "lut-xml", hintXML, "<%s> has the attribute %s twice", shortName(n.name), shortName(twice))
			}
			if root == nil {
				root = n
			} else {
				up := stack[len(stack)-1]
				up.children = append(up.children, n)
			}
			if n.name == opaque && root != n {
				skip = 1
				continue
			}
			stack = append(stack, n)
		case xml.EndElement:
			if skip > 0 {
				skip--
				continue
			}
			stack = stack[:len(stack)-1]
		case xml.CharData:
			switch {
			case skip > 0:
			case len(stack) > 0:
				n := stack[len(stack)-1]
				n.text = append(n.text, segment{line, bytes.Clone(t)})
			case len(bytes.TrimSpace(t)) > 0:
				return nil, f.wrong(line, "lut-xml", hintXML, "text outside the root element: %s", shown(bytes.TrimSpace(t)))
			}
		}
	}
}

// charset serves the declared encodings that are sure to be read right.
func (f file) charset(label string, r io.Reader) (io.Reader, error) {
	switch strings.ToLower(label) {
	case "us-ascii", "ascii":
		return r, nil // UTF-8's own beginning; the decoder checks for valid UTF-8
	case "iso-8859-1", "latin1", "latin-1":
		return &latin1{r: bufio.NewReader(r)}, nil
	}
	return nil, f.wrong(1, "lut-encoding", "save it as UTF-8 and declare encoding=\"UTF-8\"", "the encoding %s isn't read; UTF-8 was expected", shown([]byte(label)))
}

// latin1 turns ISO 8859-1 into UTF-8.
type latin1 struct {
	r    *bufio.Reader
	rest byte // second byte of a pair that didn't fit; 0 = none
}

func (l *latin1) Read(p []byte) (n int, err error) {
	for n < len(p) {
		if l.rest != 0 {
			p[n], l.rest = l.rest, 0
			n++
			continue
		}
		if n > 0 && l.r.Buffered() == 0 {
			return n, nil
		}
		b, err := l.r.ReadByte()
		if err != nil {
			return n, err
		}
		if b < 0x80 {
			p[n] = b
		} else {
			p[n], l.rest = 0xc0|b>>6, 0x80|b&0x3f
		}
		n++
	}
	return n, nil
}

// xmlError says in the file's own terms what the decoder found.
func (f file) xmlError(err error, line int, stack []*node) error {
	if known, ok := fault.As(err); ok {
		return known
	}
	var syntax *xml.SyntaxError
	if !errors.As(err, &syntax) {
		if strings.HasPrefix(err.Error(), "xml: ") {
			return f.wrong(line, "lut-xml", hintXML, "not well-formed XML: %s", shortName(strings.TrimPrefix(err.Error(), "xml: ")))
		}
		return f.readError(err)
	}
	if strings.Contains(syntax.Msg, "unexpected EOF") && len(stack) > 0 {
		open := stack[len(stack)-1]
		return f.wrong(syntax.Line, "lut-truncated", hintXML, "the file ends inside <%s> (line %d)", shortName(open.name), open.line)
	}
	return f.wrong(syntax.Line, "lut-xml", hintXML, "not well-formed XML: %s", shortName(syntax.Msg))
}

// shortName makes a piece of a file's markup fit for a message.
func shortName(s string) string {
	const most = 120
	s = clean(s)
	if len(s) > most {
		s = strings.ToValidUTF8(s[:most], "") + "…"
	}
	return s
}

func repeated(attrs []xml.Attr) string {
	for i, a := range attrs {
		for _, b := range attrs[:i] {
			if a.Name == b.Name {
				return a.Name.Local
			}
		}
	}
	return ""
}

// attr returns an attribute without a namespace, and whether it is there.
func (n *node) attr(name string) (string, bool) {
	for _, a := range n.attrs {
		if a.Name.Local == name && a.Name.Space == "" {
			return a.Value, true
		}
	}
	return "", false
}

// content is the element's text, with white space inside it made single.
func (n *node) content() string {
	var b strings.Builder
	for _, s := range n.text {
		b.Write(s.data)
	}
	return strings.Join(strings.Fields(clean(b.String())), " ")
}

// only returns the children of that name.
func (n *node) only(name string) []*node {
	var list []*node
	for _, c := range n.children {
		if c.name == name {
			list = append(list, c)
		}
	}
	return list
}

// numbers hands every number in the element's text to take, in order, with its
// line; take may refuse one.
func (n *node) numbers(f file, read func([]byte) (float64, string), take func(line int, x float64) error) error {
	open := false // the segment before ended inside a number
	for _, s := range n.text {
		data, line := s.data, s.line
		if open && len(data) > 0 && !space(data[0]) {
			return f.wrong(line, "lut-number", hintXML, "<%s>: a comment or a tag in the middle of a number", n.name)
		}
		for i := 0; i < len(data); {
			if space(data[i]) {
				if data[i] == '\n' {
					line++
				}
				i++
				continue
			}
			end := i
			for end < len(data) && !space(data[end]) {
				end++
			}
			x, problem := read(data[i:end])
			if problem != "" {
				return f.wrong(line, "lut-number", hintExport, "<%s>: %s %s", n.name, shown(data[i:end]), problem)
			}
			if err := take(line, x); err != nil {
				return err
			}
			i = end
		}
		if len(data) > 0 {
			open = !space(data[len(data)-1])
		}
	}
	return nil
}

// exactly reads just want numbers from the element's text.
func (n *node) exactly(f file, want int) ([]float64, error) {
	list := make([]float64, 0, min(want, 1<<12))
	err := n.numbers(f, number, func(line int, x float64) error {
		if len(list) == want {
			return f.wrong(line, "lut-count", hintExport, "<%s>: a number too many; %d expected", n.name, want)
		}
		list = append(list, x)
		return nil
	})
	if err != nil {
		return nil, err
	}
	if len(list) != want {
		return nil, f.wrong(n.line, "lut-count", hintExport, "<%s>: %d numbers were expected, %d found", n.name, want, len(list))
	}
	return list, nil
}

// one reads a single number from an element's text.
func (n *node) one(f file) (float64, error) {
	list, err := n.exactly(f, 1)
	if err != nil {
		return 0, err
	}
	return list[0], nil
}

// alone returns the one child of that name, or nil; two are refused.
func (n *node) alone(f file, name string) (*node, error) {
	list := n.only(name)
	if len(list) > 1 {
		return nil, f.wrong(list[1].line, "lut-element", hintExport, "a second <%s> in <%s>", name, n.name)
	}
	if len(list) == 0 {
		return nil, nil
	}
	return list[0], nil
}

// allow refuses children of other names.
func (n *node) allow(f file, names ...string) error {
	for _, c := range n.children {
		known := false
		for _, name := range names {
			known = known || c.name == name
		}
		if !known {
			hint := "in <" + n.name + "> stand " + strings.Join(names, ", ")
			if near, ok := fault.Nearest(c.name, names); ok {
				hint = "did you mean " + near + "? " + hint
			}
			return f.wrong(c.line, "lut-element", hint, "<%s> has no place in <%s>", shortName(c.name), n.name)
		}
	}
	return nil
}

func space(b byte) bool { return b == ' ' || b == '\t' || b == '\n' || b == '\r' }
