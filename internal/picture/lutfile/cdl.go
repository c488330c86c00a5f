package lutfile

import (
	"bufio"
	"io"

	"lampwise/internal/picture"
)

// Correction is one ASC Color Decision List correction of a file.
type Correction struct {
	ID          string // may be empty
	Description []string
	Input       string // what the file says of the colours it is for
	Viewing     string // and of how the result is to be seen
	CDL         *picture.CDL
}

// Chain gives the correction as a chain of one op.
func (c Correction) Chain() *picture.Chain {
	return &picture.Chain{Title: c.ID, Description: c.Description, Input: c.Input, Ops: []picture.Op{c.CDL}}
}

// ReadCDL reads an ASC Color Decision List (ASC CDL 1.2): all corrections of a
// <ColorCorrection>, <ColorCorrectionCollection> or <ColorDecisionList>, in
// the file's order. What a correction leaves out stays as it is (slope 1,
// offset 0, power 1, saturation 1). Elements of a writer's own are passed
// over, as the format wants. The style is Fwd, the standard's, which clamps.
func ReadCDL(r io.Reader, name string) ([]Correction, error) {
	f := file(name)
	br, err := f.open(r)
	if err != nil {
		return nil, err
	}
	return readCDL(br, f)
}

func readCDL(br *bufio.Reader, f file) ([]Correction, error) {
	root, err := f.readTree(br, "")
	if err != nil {
		return nil, err
	}
	return f.cdl(root)
}

const (
	rootCC  = "ColorCorrection"
	rootCCC = "ColorCorrectionCollection"
	rootCDL = "ColorDecisionList"
)

func (f file) cdl(root *node) ([]Correction, error) {
	var found []*node
	switch root.name {
	case rootCC:
		found = []*node{root}
	case rootCCC:
		found = root.only(rootCC)
	case rootCDL:
		for _, d := range root.only("ColorDecision") {
			found = append(found, d.only(rootCC)...)
		}
	default:
		return nil, f.wrong(root.line, "lut-element", "a Color Decision List begins with <"+rootCC+">, <"+rootCCC+"> or <"+rootCDL+">",
			"<%s> begins no Color Decision List", shortName(root.name))
	}
	if len(found) == 0 {
		return nil, f.wrong(root.line, "lut-empty", hintExport, "<%s> has no <%s>", root.name, rootCC)
	}
	if len(found) > MaxCorrections {
		return nil, f.wrong(found[MaxCorrections].line, "lut-cdl", hintExport, "more than %d corrections", MaxCorrections)
	}
	list := make([]Correction, 0, len(found))
	ids := map[string]int{}
	for _, n := range found {
		c, err := f.correction(n)
		if err != nil {
			return nil, err
		}
		if first, again := ids[c.ID]; again && c.ID != "" {
			return nil, f.wrong(n.line, "lut-cdl", "give each correction an id of its own", "a second correction %s (the first is on line %d)", shown([]byte(c.ID)), first)
		}
		ids[c.ID] = n.line
		list = append(list, c)
	}
	return list, nil
}

func (f file) correction(n *node) (Correction, error) {
	c := Correction{CDL: identityCDL()}
	if id, ok := n.attr("id"); ok {
		c.ID = clean(id)
	}
	texts := func(n *node) {
		for _, d := range n.only("Description") {
			if text := d.content(); text != "" {
				c.Description = append(c.Description, text)
			}
		}
	}
	texts(n)
	// The standard allows the names of its two parts to be spelt in these ways.
	sop, err := f.variant(n, "SOPNode", "ASC_SOP")
	if err != nil {
		return c, err
	}
	sat, err := f.variant(n, "SatNode", "SATNode", "ASC_SAT")
	if err != nil {
		return c, err
	}
	if sop == nil && sat == nil {
		return c, f.wrong(n.line, "lut-cdl", hintExport, "<%s> has neither <SOPNode> nor <SatNode>", n.name)
	}
	if sop != nil {
		texts(sop)
		if err := f.sop(sop, c.CDL, false); err != nil {
			return c, err
		}
	}
	if sat != nil {
		texts(sat)
		if err := f.sat(sat, c.CDL, false); err != nil {
			return c, err
		}
	}
	if d := n.only("InputDescription"); len(d) > 0 {
		c.Input = d[0].content()
	}
	if d := n.only("ViewingDescription"); len(d) > 0 {
		c.Viewing = d[0].content()
	}
	return c, nil
}

// variant finds the one child that bears one of the names.
func (f file) variant(n *node, names ...string) (*node, error) {
	var found *node
	for _, name := range names {
		for _, c := range n.only(name) {
			if found != nil {
				return nil, f.wrong(c.line, "lut-element", hintExport, "a second <%s> in <%s>", c.name, n.name)
			}
			found = c
		}
	}
	return found, nil
}
