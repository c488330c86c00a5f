package lutfile

import (
	"bufio"
	"errors"
	"io"
	"regexp"
	"strconv"
	"strings"

	"lampwise/internal/fault"
	"lampwise/internal/picture"
)

// The namespaces of Common LUT Format 3: the Academy's (S-2014-006) and the
// SMPTE's (ST 2136-1). Earlier versions had several or none.
const (
	spaceAcademy = "urn:AMPAS:CLF:v3.0"
	spaceSMPTE   = "http://www.smpte-ra.org/ns/2136-1/2024"
)

// ReadCLF reads a Common LUT Format file: versions up to 3.0, in the Academy's
// or the SMPTE's namespace or in none. name is what faults call the file.
//
// Every process node becomes one op, scaled to 0..1 for integer bit depths.
// What the two standards leave to the reader is done so:
//
//   - an unknown element outside Info is refused; an unknown attribute is not
//     looked at (the official test set has one in a legal file);
//   - of versions below 3, IndexMap with two entries is read as the LUT's domain;
//   - hueAdjust="dw3" of LUT1D (not in S-2014-006) means picture.Curves.KeepHue;
//   - ranges of exponents are those of OpenColorIO where S-2014-006 gives none.
func ReadCLF(r io.Reader, name string) (*picture.Chain, error) {
	f := file(name)
	br, err := f.open(r)
	if err != nil {
		return nil, err
	}
	return readCLF(br, f)
}

func readCLF(br *bufio.Reader, f file) (*picture.Chain, error) {
	root, err := f.readTree(br, "Info")
	if err != nil {
		return nil, err
	}
	return f.clf(root)
}

const (
	codeCLF      = "lut-clf"
	rootCLF      = "ProcessList"
	clfStandards = "Common LUT Format (Academy S-2014-006, SMPTE ST 2136-1)"
)

// clfReader is what the nodes of one file share.
type clfReader struct {
	f       file
	version int // 100·major + minor
}

// clf makes the chain of a ProcessList.
func (f file) clf(root *node) (*picture.Chain, error) {
	if root.name != rootCLF {
		return nil, f.wrong(root.line, "lut-element", "a "+clfStandards+" file begins with <"+rootCLF+">", "<%s> where <%s> was expected", shortName(root.name), rootCLF)
	}
	c := clfReader{f: f}
	if err := c.readVersion(root); err != nil {
		return nil, err
	}
	if err := c.readID(root); err != nil {
		return nil, err
	}
	chain := &picture.Chain{}
	if name, ok := root.attr("name"); ok {
		chain.Title = clean(name)
	}
	depth, depthLine := "", 0
	for _, n := range root.children {
		switch n.name {
		case "Description":
			if text := n.content(); text != "" {
				chain.Description = append(chain.Description, text)
			}
			continue
		case "InputDescriptor":
			chain.Input = n.content()
			continue
		case "OutputDescriptor":
			chain.Output = n.content()
			continue
		case "Id", "Info":
			continue
		}
		read, known := clfNodes[n.name]
		if !known {
			hint := "process nodes are " + strings.Join(clfNodeNames, ", ")
			if near, ok := fault.Nearest(n.name, clfNodeNames); ok {
				hint = "did you mean " + near + "? " + hint
			}
			return nil, f.wrong(n.line, "lut-element", hint, "<%s> is no process node of %s", shortName(n.name), clfStandards)
		}
		if len(chain.Ops) == MaxOps {
			return nil, f.wrong(n.line, codeCLF, hintExport, "more than %d process nodes", MaxOps)
		}
		p, err := c.open(n)
		if err != nil {
			return nil, err
		}
		if depth != "" && depth != p.inDepth {
			return nil, f.wrong(n.line, "lut-depth", "inBitDepth of a node is outBitDepth of the one before", "<%s> takes %s but the node before (line %d) gives %s", n.name, p.inDepth, depthLine, depth)
		}
		depth, depthLine = p.outDepth, n.line
		op, err := read(p)
		if err != nil {
			return nil, err
		}
		if err := picture.CheckOps([]picture.Op{op}); err != nil { // what is sound in the file may still not be computable
			return nil, p.wrong("lut-param", hintExport, "cannot be computed: %v", errors.Unwrap(err))
		}
		chain.Ops = append(chain.Ops, op)
	}
	if len(chain.Ops) == 0 {
		return nil, f.wrong(root.line, "lut-empty", hintExport, "<%s> has no process node", rootCLF)
	}
	return chain, nil
}

var versionForm = regexp.MustCompile(`^[0-9]{1,3}(\.[0-9]{1,3}){0,2}$`)

func (c *clfReader) readVersion(root *node) error {
	text, given := root.attr("compCLFversion")
	if !given {
		if root.space == spaceSMPTE { // ST 2136-1 tells the version by its namespace
			c.version = 300
			return nil
		}
		return c.f.wrong(root.line, "lut-version", "add compCLFversion=\"3.0\" if it is a "+clfStandards+" file", "<%s> has no compCLFversion", rootCLF)
	}
	text = strings.TrimSpace(text)
	if !versionForm.MatchString(text) {
		return c.f.wrong(root.line, "lut-version", "a version is a number, such as 3.0", "compCLFversion %s is not a version", shown([]byte(text)))
	}
	parts := strings.Split(text, ".")
	for i, p := range append(parts, "0")[:2] {
		n, _ := strconv.Atoi(p) // digits only, by versionForm
		if i == 0 {
			n *= 100
		} else {
			n = min(n, 99)
		}
		c.version += n
	}
	if c.version > 300 || len(parts) == 3 && c.version == 300 && strings.Trim(parts[2], "0") != "" {
		return c.f.wrong(root.line, "lut-version", "export it for version 3.0", "compCLFversion %s is newer than 3.0, the newest read here", text)
	}
	if c.version < 100 {
		return c.f.wrong(root.line, "lut-version", "a version is a number, such as 3.0", "compCLFversion %s has never been", text)
	}
	if c.version >= 300 && root.space != "" && root.space != spaceAcademy && root.space != spaceSMPTE {
		return c.f.wrong(root.line, "lut-version", "the namespaces are "+spaceAcademy+" and "+spaceSMPTE, "unknown namespace %s", shown([]byte(root.space)))
	}
	return nil
}

// readID wants an id that isn't empty: the attribute (Academy) or the element
// (SMPTE). It is not kept: what is done with the colours changes, and then an
// id is wrong.
func (c *clfReader) readID(root *node) error {
	id, given := root.attr("id")
	if !given && root.space == spaceSMPTE {
		element, err := root.alone(c.f, "Id")
		if err != nil {
			return err
		}
		if element != nil {
			id, given = element.content(), true
		}
	}
	switch {
	case !given:
		return c.f.wrong(root.line, codeCLF, "give the list an id of its own", "<%s> has no id", rootCLF)
	case strings.TrimSpace(id) == "":
		return c.f.wrong(root.line, codeCLF, "give the list an id of its own", "the id of <%s> is empty", rootCLF)
	}
	return nil
}

// process is a process node being read.
type process struct {
	*clfReader
	*node
	inDepth, outDepth string
	in, out           float64 // the numbers that stand for 1
}

// depths are the bit depths and the number that stands for 1 in each
// (S-2014-006, Range, scaleFactor).
var depths = map[string]float64{"8i": 255, "10i": 1023, "12i": 4095, "16i": 65535, "16f": 1, "32f": 1}

const depthNames = "8i, 10i, 12i, 16i, 16f or 32f"

// open reads what all process nodes have.
func (c *clfReader) open(n *node) (*process, error) {
	p := &process{clfReader: c, node: n}
	for _, d := range []struct {
		name string
		text *string
		one  *float64
	}{{"inBitDepth", &p.inDepth, &p.in}, {"outBitDepth", &p.outDepth, &p.out}} {
		text, ok := n.attr(d.name)
		if !ok {
			return nil, p.wrong("lut-depth", d.name+" is "+depthNames, "has no %s", d.name)
		}
		one, ok := depths[text]
		if !ok {
			return nil, p.wrong("lut-depth", d.name+" is "+depthNames, "%s is %s", d.name, shown([]byte(text)))
		}
		*d.text, *d.one = text, one
	}
	if bypass, ok := n.attr("bypass"); ok && bypass != "false" {
		return nil, p.wrong(codeCLF, "take the node out of the file, or the attribute", "has bypass=%s, which "+clfStandards+" doesn't know", shown([]byte(bypass)))
	}
	return p, nil
}

// wrong is a fault about the node itself.
func (p *process) wrong(code, hint, format string, args ...any) *fault.Fault {
	return p.f.wrong(p.line, code, hint, "<"+p.name+"> "+format, args...)
}

// style reads the attribute that picks one of several formulas.
func (p *process) style(standard string, styles ...string) (string, error) {
	text, ok := p.attr("style")
	if !ok {
		if standard == "" {
			return "", p.wrong("lut-style", "styles are "+strings.Join(styles, ", "), "has no style")
		}
		return standard, nil
	}
	for _, s := range styles {
		if s == text {
			return s, nil
		}
	}
	hint := "styles are " + strings.Join(styles, ", ")
	if near, ok := fault.Nearest(text, styles); ok {
		hint = "did you mean " + near + "? " + hint
	}
	return "", p.wrong("lut-style", hint, "has the unknown style %s", shown([]byte(text)))
}

// number reads a number from an attribute of n; ok is false where it is absent.
func (p *process) number(n *node, name string) (x float64, ok bool, err error) {
	text, ok := n.attr(name)
	if !ok {
		return 0, false, nil
	}
	x, problem := number([]byte(strings.TrimSpace(text)))
	if problem != "" {
		return 0, false, p.f.wrong(n.line, "lut-number", hintExport, "<%s>: %s %s %s", n.name, name, shown([]byte(text)), problem)
	}
	return x, true, nil
}

// array reads the node's Array: its dim and where its numbers are.
func (p *process) array() (*node, []int, error) {
	a, err := p.alone(p.f, "Array")
	if err != nil {
		return nil, nil, err
	}
	if a == nil {
		return nil, nil, p.wrong("lut-element", hintExport, "has no <Array>")
	}
	text, ok := a.attr("dim")
	if !ok {
		return nil, nil, p.f.wrong(a.line, "lut-dim", hintExport, "<Array> has no dim")
	}
	fields := strings.Fields(text)
	if len(fields) > 8 {
		return nil, nil, p.f.wrong(a.line, "lut-dim", hintExport, "<Array> of <%s>: dim %s has %d numbers", p.name, shown([]byte(text)), len(fields))
	}
	var dim []int
	for _, s := range fields {
		d, err := strconv.Atoi(s)
		if err != nil || d < 1 || d > 1<<20 {
			return nil, nil, p.f.wrong(a.line, "lut-dim", hintExport, "<Array> of <%s>: dim %s is not a list of sizes", p.name, shown([]byte(text)))
		}
		dim = append(dim, d)
	}
	return a, dim, nil
}

func (p *process) wrongDim(a *node, want string) *fault.Fault {
	text, _ := a.attr("dim")
	return p.f.wrong(a.line, "lut-dim", hintExport, "<Array> of <%s>: dim is %s; %s was expected", p.name, shown([]byte(text)), want)
}
