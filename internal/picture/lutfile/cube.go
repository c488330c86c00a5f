package lutfile

import (
	"bufio"
	"bytes"
	"io"
	"strconv"
	"strings"

	"lampwise/internal/fault"
	"lampwise/internal/picture"
)

// ReadCube reads a text cube: a 1-D LUT, a 3-D LUT, or a 1-D LUT before a 3-D
// one, red fastest. name is what faults call the file.
//
// Two dialects exist and both are read: DOMAIN_MIN and DOMAIN_MAX with one
// table, and LUT_1D_INPUT_RANGE, LUT_3D_INPUT_RANGE with one or both. The
// chain has a *picture.Curves, a *picture.LUT3D (tetrahedral; the format can't
// say, so this is common practice), or both in that order. Its title is the
// file's TITLE, its description the comments before the first number.
//
// What a dialect leaves open but can mean one thing only is accepted: comments
// and empty lines anywhere, comments after numbers, any line end, keywords in
// lower case, a title without quotes. What could mean two things is refused.
func ReadCube(r io.Reader, name string) (*picture.Chain, error) {
	f := file(name)
	br, err := f.open(r)
	if err != nil {
		return nil, err
	}
	return readCube(br, f)
}

func readCube(br *bufio.Reader, f file) (*picture.Chain, error) {
	c := cubeReader{lines: lineReader{br: br, f: f}, f: f, seen: map[string]int{}}
	for {
		line, err := c.lines.next()
		if err == io.EOF {
			return c.finish()
		}
		if err != nil {
			return nil, err
		}
		if err := c.take(line); err != nil {
			return nil, err
		}
	}
}

// The keywords of both dialects.
const (
	kwTitle   = "TITLE"
	kwSize1   = "LUT_1D_SIZE"
	kwSize3   = "LUT_3D_SIZE"
	kwMin     = "DOMAIN_MIN"
	kwMax     = "DOMAIN_MAX"
	kwRange1  = "LUT_1D_INPUT_RANGE"
	kwRange3  = "LUT_3D_INPUT_RANGE"
	cubeCodes = "lut-cube"
)

var cubeKeywords = []string{kwTitle, kwSize1, kwSize3, kwMin, kwMax, kwRange1, kwRange3}

type cubeReader struct {
	lines lineReader
	f     file

	seen           map[string]int // keyword → its line
	title          string
	comments       []string
	size1, size3   int
	min, max       [3]float64
	range1, range3 [2]float64

	started      bool // the first row of numbers was read
	want1, want3 int  // rows
	rows1, rows3 []float64
}

func (c *cubeReader) wrong(code, hint, format string, args ...any) *fault.Fault {
	return c.f.wrong(c.lines.line, code, hint, format, args...)
}

// take reads one line.
func (c *cubeReader) take(line []byte) error {
	line = bytes.TrimSpace(line)
	if len(line) == 0 {
		return nil
	}
	switch b := line[0]; {
	case b == '#':
		if !c.started && len(c.comments) < maxComments {
			if text := clean(string(line[1:])); text != "" {
				c.comments = append(c.comments, text)
			}
		}
		return nil
	case b >= '0' && b <= '9', b == '+', b == '-', b == '.':
		return c.row(line)
	case b >= 'A' && b <= 'Z', b >= 'a' && b <= 'z', b == '_':
		word, rest := line, []byte(nil)
		if i := bytes.IndexAny(line, " \t"); i >= 0 {
			word, rest = line[:i], bytes.TrimSpace(line[i:])
		}
		if notFinite(word) {
			return c.row(line)
		}
		return c.keyword(string(word), rest)
	}
	return c.wrong("lut-text", "a line is a keyword, a # comment or three numbers", "%s starts no line of a cube file", shown(line[:1]))
}

// maxComments bounds what is kept of a file's comments.
const maxComments = 64

func (c *cubeReader) keyword(word string, rest []byte) error {
	key := strings.ToUpper(word)
	known := false
	for _, k := range cubeKeywords {
		known = known || k == key
	}
	if !known {
		hint := "the keywords are " + strings.Join(cubeKeywords, ", ")
		if near, ok := fault.Nearest(key, cubeKeywords); ok {
			hint = "did you mean " + near + "? " + hint
		}
		return c.wrong("lut-keyword", hint, "unknown keyword %s", shown([]byte(word)))
	}
	if c.started {
		return c.wrong("lut-keyword", "keywords stand before the numbers", "%s after the first row of numbers", key)
	}
	if first, again := c.seen[key]; again {
		return c.wrong("lut-keyword", "keep the line that is meant", "%s again (first on line %d)", key, first)
	}
	c.seen[key] = c.lines.line
	if key == kwTitle {
		c.title = clean(unquote(string(rest)))
		return nil
	}
	if i := bytes.IndexByte(rest, '#'); i >= 0 {
		rest = rest[:i]
	}
	switch key {
	case kwSize1:
		return c.size(key, rest, MaxSize1D, &c.size1)
	case kwSize3:
		return c.size(key, rest, MaxSize3D, &c.size3)
	case kwMin:
		return c.numbers(key, rest, c.min[:])
	case kwMax:
		return c.numbers(key, rest, c.max[:])
	case kwRange1:
		return c.numbers(key, rest, c.range1[:])
	default:
		return c.numbers(key, rest, c.range3[:])
	}
}

func (c *cubeReader) size(key string, rest []byte, most int, size *int) error {
	n, err := strconv.Atoi(string(bytes.TrimSpace(rest)))
	if err != nil {
		return c.wrong("lut-size", hintExport, "%s needs one whole number, not %s", key, shown(rest))
	}
	if n < MinSize || n > most {
		return c.wrong("lut-size", "export it at another size: 17, 33 and 65 are usual for 3-D", "%s %d; %d to %d was expected", key, n, MinSize, most)
	}
	*size = n
	return nil
}

// numbers reads exactly len(into) numbers.
func (c *cubeReader) numbers(what string, text []byte, into []float64) error {
	n := 0
	for field := range bytes.FieldsSeq(text) {
		if n < len(into) {
			x, problem := number(field)
			if problem != "" {
				return c.wrong("lut-number", hintExport, "%s: %s %s", what, shown(field), problem)
			}
			into[n] = x
		}
		n++
	}
	if n != len(into) {
		return c.wrong("lut-count", hintExport, "%s: %d numbers were expected, %d found", what, len(into), n)
	}
	return nil
}

// row reads a row of the table.
func (c *cubeReader) row(line []byte) error {
	if !c.started {
		if err := c.header(); err != nil {
			return err
		}
		c.started = true
	}
	if i := bytes.IndexByte(line, '#'); i >= 0 {
		line = line[:i]
	}
	var rgb [3]float64
	if err := c.numbers("row", line, rgb[:]); err != nil {
		return err
	}
	switch {
	case len(c.rows1) < 3*c.want1:
		c.rows1 = append(c.rows1, rgb[:]...)
	case len(c.rows3) < 3*c.want3:
		c.rows3 = append(c.rows3, rgb[:]...)
	default:
		return c.wrong("lut-count", hintExport, "a row too many; %s needs %d", c.declared(), c.want1+c.want3)
	}
	return nil
}

// declared is what the file said it has, for messages.
func (c *cubeReader) declared() string {
	var s []string
	if c.size1 > 0 {
		s = append(s, kwSize1+" "+strconv.Itoa(c.size1))
	}
	if c.size3 > 0 {
		s = append(s, kwSize3+" "+strconv.Itoa(c.size3))
	}
	return strings.Join(s, " and ")
}

// header checks the keywords together, once all are read.
func (c *cubeReader) header() error {
	line := c.lines.line
	if c.size1 == 0 && c.size3 == 0 {
		return c.f.wrong(line, "lut-size", "a cube file names its size first", "numbers before any %s or %s", kwSize1, kwSize3)
	}
	c.want1, c.want3 = c.size1, c.size3*c.size3*c.size3

	unit := [2]float64{0, 1}
	_, hasMin := c.seen[kwMin]
	_, hasMax := c.seen[kwMax]
	_, has1 := c.seen[kwRange1]
	_, has3 := c.seen[kwRange3]
	if !hasMax {
		c.max = [3]float64{1, 1, 1}
	}
	if !has1 {
		c.range1 = unit
	}
	if !has3 {
		c.range3 = unit
	}
	switch {
	case has1 && c.size1 == 0:
		return c.f.wrong(c.seen[kwRange1], cubeCodes, hintExport, "%s without %s", kwRange1, kwSize1)
	case has3 && c.size3 == 0:
		return c.f.wrong(c.seen[kwRange3], cubeCodes, hintExport, "%s without %s", kwRange3, kwSize3)
	case (hasMin || hasMax) && (has1 || has3):
		return c.f.wrong(c.latest(kwMin, kwMax, kwRange1, kwRange3), cubeCodes, "keep DOMAIN_… or …_INPUT_RANGE, whichever is meant",
			"the input range is given in two ways")
	case (hasMin || hasMax) && c.size1 > 0 && c.size3 > 0 && !(c.min == [3]float64{} && c.max == [3]float64{1, 1, 1}):
		return c.f.wrong(c.latest(kwMin, kwMax), cubeCodes, "give each table its own range with "+kwRange1+" and "+kwRange3,
			"%s doesn't say which of the two tables it belongs to", kwMin)
	}
	for ch := range 3 {
		if !wide(c.min[ch], c.max[ch]) {
			return c.f.wrong(max(c.latest(kwMin, kwMax), 0), cubeCodes, hintExport, "the domain of channel %d runs from %g to %g; it must rise", ch+1, c.min[ch], c.max[ch])
		}
	}
	if !wide(c.range1[0], c.range1[1]) {
		return c.f.wrong(c.seen[kwRange1], cubeCodes, hintExport, "%s runs from %g to %g; it must rise", kwRange1, c.range1[0], c.range1[1])
	}
	if !wide(c.range3[0], c.range3[1]) {
		return c.f.wrong(c.seen[kwRange3], cubeCodes, hintExport, "%s runs from %g to %g; it must rise", kwRange3, c.range3[0], c.range3[1])
	}
	return nil
}

// wide says whether lo..hi rises and can be brought to 0..1 with numbers of
// single precision's range.
func wide(lo, hi float64) bool { return hi > lo && fits(1/(hi-lo), lo/(hi-lo)) }

func (c *cubeReader) latest(keys ...string) int {
	line := 0
	for _, k := range keys {
		line = max(line, c.seen[k])
	}
	return line
}

// finish checks the count and makes the chain.
func (c *cubeReader) finish() (*picture.Chain, error) {
	if !c.started {
		if c.size1 == 0 && c.size3 == 0 {
			return nil, c.f.wrong(0, "lut-empty", "give a .cube, .clf, .cc, .ccc or .cdl file", "no look-up table in it: neither %s nor %s", kwSize1, kwSize3)
		}
		return nil, c.wrong("lut-count", hintExport, "the file ends before its numbers; %s was announced", c.declared())
	}
	have, want := (len(c.rows1)+len(c.rows3))/3, c.want1+c.want3
	if have != want {
		return nil, c.wrong("lut-count", hintExport, "the file ends after %d rows; %s needs %d", have, c.declared(), want)
	}
	chain := &picture.Chain{Title: c.title, Description: c.comments}
	if c.size1 > 0 {
		lo, hi := c.min, c.max
		if _, ok := c.seen[kwRange1]; ok || c.size3 > 0 {
			lo, hi = three(c.range1[0]), three(c.range1[1])
		}
		curves := &picture.Curves{Axis: picture.AxisUniform, Lo: lo, Hi: hi}
		for ch := range curves.Samples {
			curves.Samples[ch] = make([]float64, c.size1)
			for i := range curves.Samples[ch] {
				curves.Samples[ch][i] = c.rows1[3*i+ch]
			}
		}
		chain.Ops = append(chain.Ops, curves)
	}
	if c.size3 > 0 {
		lo, hi := c.min, c.max
		if _, ok := c.seen[kwRange3]; ok || c.size1 > 0 {
			lo, hi = three(c.range3[0]), three(c.range3[1])
		}
		chain.Ops = append(chain.Ops, &picture.LUT3D{
			Size: c.size3, Lo: lo, Hi: hi, Data: c.rows3, Interp: picture.Tetrahedral, Strength: 1,
		})
	}
	return chain, nil
}

func three(x float64) [3]float64 { return [3]float64{x, x, x} }

// unquote takes the text between the first pair of quotes, or all of it where
// there is none.
func unquote(s string) string {
	if !strings.HasPrefix(s, `"`) {
		return s
	}
	s = s[1:]
	if i := strings.IndexByte(s, '"'); i >= 0 {
		s = s[:i]
	}
	return s
}

// clean makes text of a file fit to be shown and written again on one line.
func clean(s string) string {
	s = strings.ToValidUTF8(s, "\uFFFD")
	s = strings.Map(func(r rune) rune {
		if r == '\t' || r == '\n' || r == '\r' {
			return ' '
		}
		if r < ' ' || r == 0x7f || r >= 0x80 && r < 0xa0 || r == 0x2028 || r == 0x2029 || r == 0xfffe || r == 0xffff {
			return -1
		}
		return r
	}, s)
	return strings.TrimSpace(s)
}
