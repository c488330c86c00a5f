package lutfile

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"lampwise/internal/picture"
)

// WriteCLF writes a chain as Common LUT Format 3.0, in the form that readers of
// both standards take. All bit depths are 32f. Numbers read back to the last
// bit (those below 1.2e-38 as 0), and a LUT3D's Strength is worked into its nodes, as in a cube; ops that the format words differently (a LUT over another domain than
// 0..1, a Range with a slope) become two nodes that compute the same to within
// rounding. The id is made from the contents: the same chain gives the same
// file.
//
// Shift, Compress and Curves on an asinh axis can't be said in the format and
// are a fault. KeepHue is written as hueAdjust="dw3", which is not in
// S-2014-006 but is read by OpenColorIO.
func WriteCLF(w io.Writer, c *picture.Chain) error {
	var body bytes.Buffer
	e := clfWriter{b: bufio.NewWriter(&body)}
	for _, text := range c.Description {
		e.text("Description", text)
	}
	e.text("InputDescriptor", c.Input)
	e.text("OutputDescriptor", c.Output)
	for _, op := range c.Ops {
		if err := e.op(op); err != nil {
			return err
		}
	}
	if len(c.Ops) == 0 { // the format wants at least one node
		e.matrix(&picture.Matrix{M: identity})
	}
	_ = e.b.Flush() // into memory

	b := bufio.NewWriterSize(w, 1<<16)
	id := uuid(body.Bytes())
	fmt.Fprintf(b, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<%s xmlns=%q compCLFversion=\"3.0\" id=%q", rootCLF, spaceSMPTE, id)
	if title := clean(c.Title); title != "" {
		fmt.Fprintf(b, " name=\"%s\"", escaped(title))
	}
	fmt.Fprintf(b, ">\n  <Id>%s</Id>\n", id)
	_, _ = b.Write(body.Bytes())
	fmt.Fprintf(b, "</%s>\n", rootCLF)
	if err := b.Flush(); err != nil {
		return fmt.Errorf("write %s: %w", nameCLF, err)
	}
	return nil
}

const nameCLF = "Common LUT Format"

var identity = [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}

// uuid makes a name-based identifier (RFC 9562, version 8) of the contents.
func uuid(data []byte) string {
	h := sha256.Sum256(data)
	h[6] = h[6]&0x0f | 0x80
	h[8] = h[8]&0x3f | 0x80
	return fmt.Sprintf("urn:uuid:%x-%x-%x-%x-%x", h[:4], h[4:6], h[6:8], h[8:10], h[10:16])
}

func escaped(s string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(s)) // a Builder doesn't fail
	return b.String()
}

type clfWriter struct{ b *bufio.Writer }

func (e clfWriter) text(name, text string) {
	if text = clean(text); text != "" {
		fmt.Fprintf(e.b, "  <%s>%s</%s>\n", name, escaped(text), name)
	}
}

// open starts a process node; attrs are further attributes, ready to write.
func (e clfWriter) open(name, attrs string) {
	fmt.Fprintf(e.b, "  <%s inBitDepth=\"32f\" outBitDepth=\"32f\"%s>\n", name, attrs)
}

func (e clfWriter) close(name string) { fmt.Fprintf(e.b, "  </%s>\n", name) }

// value formats a number for an attribute or element.
func value(x float64) string { return string(appendNumber(nil, x)) }

func (e clfWriter) op(op picture.Op) error {
	switch o := op.(type) {
	case *picture.Matrix:
		if !fits(o.Offset[:]...) || !fits(o.M[0][:]...) || !fits(o.M[1][:]...) || !fits(o.M[2][:]...) {
			return cannot(nameCLF, hintFinite, "a matrix with a number that isn't finite")
		}
		e.matrix(o)
		return nil
	case *picture.Curves:
		return e.curves(o)
	case *picture.LUT3D:
		return e.cube(o)
	case *picture.Range:
		return e.rangeNode(o)
	case *picture.Power:
		return e.power(o)
	case *picture.LogOp:
		return e.log(o)
	case *picture.CDL:
		return e.cdl(o)
	}
	return cannot(nameCLF, "bake the chain into one 3-D LUT and export that", "it has no operation of the kind %s", op.Kind())
}

const hintFinite = "every number must be finite and within single precision"

func (e clfWriter) matrix(m *picture.Matrix) {
	e.open("Matrix", "")
	if normal3(m.Offset) == [3]float64{} {
		fmt.Fprint(e.b, "    <Array dim=\"3 3\">\n")
		for _, row := range m.M {
			writeRow(e.b, "", row[:]...)
		}
	} else {
		fmt.Fprint(e.b, "    <Array dim=\"3 4\">\n")
		for i, row := range m.M {
			writeRow(e.b, "", row[0], row[1], row[2], m.Offset[i])
		}
	}
	fmt.Fprint(e.b, "    </Array>\n")
	e.close("Matrix")
}

// domain writes the matrix that brings lo..hi to 0..1, where it isn't that.
func (e clfWriter) domain(lo, hi [3]float64) {
	if lo == [3]float64{} && hi == [3]float64{1, 1, 1} {
		return
	}
	var m picture.Matrix
	for ch := range 3 {
		m.M[ch][ch] = 1 / (hi[ch] - lo[ch])
		m.Offset[ch] = -lo[ch] / (hi[ch] - lo[ch])
	}
	e.matrix(&m)
}

func (e clfWriter) curves(c *picture.Curves) error {
	attrs := ""
	switch c.Axis {
	case picture.AxisUniform:
	case picture.AxisHalf:
		if len(c.Samples[0]) != halfCodes {
			return cannot(nameCLF, "sample it at every half float", "a half domain of %d samples", len(c.Samples[0]))
		}
		attrs = ` halfDomain="true"`
	default:
		return cannot(nameCLF, "sample it evenly, or at every half float, first", "it has no 1-D LUT on an axis of the kind %s", c.Axis)
	}
	if err := checkCurves(c, nameCLF, MaxSize1D); err != nil {
		return err
	}
	if c.KeepHue {
		// The hue is that of the op's input. A matrix with the same scale for all
		// channels doesn't change it; any other does.
		if c.Axis == picture.AxisUniform && (c.Lo != three(c.Lo[0]) || c.Hi != three(c.Hi[0])) {
			return cannot(nameCLF, "give its channels one domain", "a 1-D LUT that keeps hue over different domains")
		}
		attrs += ` hueAdjust="dw3"`
	}
	if c.Axis == picture.AxisUniform {
		e.domain(c.Lo, c.Hi)
	}
	e.open("LUT1D", attrs)
	if slices.Equal(c.Samples[0], c.Samples[1]) && slices.Equal(c.Samples[0], c.Samples[2]) {
		fmt.Fprintf(e.b, "    <Array dim=\"%d 1\">\n", len(c.Samples[0]))
		for _, x := range c.Samples[0] {
			writeRow(e.b, "", x)
		}
	} else {
		fmt.Fprintf(e.b, "    <Array dim=\"%d 3\">\n", len(c.Samples[0]))
		for i := range c.Samples[0] {
			writeRow(e.b, "", c.Samples[0][i], c.Samples[1][i], c.Samples[2][i])
		}
	}
	fmt.Fprint(e.b, "    </Array>\n")
	e.close("LUT1D")
	return nil
}

func (e clfWriter) cube(l *picture.LUT3D) error {
	if err := checkCube(l, nameCLF); err != nil {
		return err
	}
	e.domain(l.Lo, l.Hi)
	data := nodes(l)
	interp := l.Interp
	if interp != picture.Trilinear {
		interp = picture.Tetrahedral
	}
	e.open("LUT3D", fmt.Sprintf(" interpolation=%q", interp))
	fmt.Fprintf(e.b, "    <Array dim=\"%d %d %d 3\">\n", l.Size, l.Size, l.Size)
	turn(l.Size, func(_, i int) {
		writeRow(e.b, "", data[3*i], data[3*i+1], data[3*i+2])
	})
	fmt.Fprint(e.b, "    </Array>\n")
	e.close("LUT3D")
	return nil
}

// rangeNode writes the scale as a matrix and the bounds as a Range that
// changes nothing between them: both are exact, a Range's own four values
// would have to be divided.
func (e clfWriter) rangeNode(given *picture.Range) error {
	r := *given
	for _, bound := range []**float64{&r.Min, &r.Max} {
		if *bound != nil {
			x := normal(**bound)
			*bound = &x
		}
	}
	list := []float64{r.Slope, r.Offset}
	for _, bound := range []*float64{r.Min, r.Max} {
		if bound != nil {
			list = append(list, *bound)
		}
	}
	if !fits(list...) {
		return cannot(nameCLF, hintFinite, "a range with a number that isn't finite")
	}
	if r.Min != nil && r.Max != nil && *r.Min > *r.Max {
		return cannot(nameCLF, "put the lower bound below the upper one", "a range from %g to %g", *r.Min, *r.Max)
	}
	if r.Min != nil && r.Max != nil && !wide(*r.Min, *r.Max) { // one colour; Range wants its bounds apart
		e.matrix(&picture.Matrix{Offset: three(*r.Max)})
		return nil
	}
	plain := r.Slope == 1 && r.Offset == 0
	if !plain || r.Min == nil && r.Max == nil {
		m := picture.Matrix{Offset: three(r.Offset)}
		for ch := range 3 {
			m.M[ch][ch] = r.Slope
		}
		e.matrix(&m)
	}
	if r.Min == nil && r.Max == nil {
		return nil
	}
	e.open("Range", "")
	for _, v := range []struct {
		name string
		x    *float64
	}{{"minInValue", r.Min}, {"maxInValue", r.Max}, {"minOutValue", r.Min}, {"maxOutValue", r.Max}} {
		if v.x != nil {
			fmt.Fprintf(e.b, "    <%s>%s</%s>\n", v.name, value(*v.x), v.name)
		}
	}
	e.close("Range")
	return nil
}

// perChannel writes an element for each channel, or one where all are alike.
func (e clfWriter) perChannel(name string, attrs [3]string) {
	if attrs[0] == attrs[1] && attrs[0] == attrs[2] {
		fmt.Fprintf(e.b, "    <%s%s/>\n", name, attrs[0])
		return
	}
	for ch, a := range attrs {
		fmt.Fprintf(e.b, "    <%s channel=%q%s/>\n", name, "RGB"[ch:ch+1], a)
	}
}

func (e clfWriter) power(given *picture.Power) error {
	p := *given
	p.Offset = normal3(p.Offset)
	if !slices.Contains(powerStyles, p.Style) {
		return cannot(nameCLF, "styles are "+strings.Join(powerStyles, ", "), "it has no power of the style %q", p.Style)
	}
	var attrs [3]string
	for ch := range attrs {
		withOffset := strings.HasPrefix(p.Style, "monCurve")
		if problem := exponentProblem(p.Style, p.Exponent[ch], p.Offset[ch], withOffset); problem != "" || !fits(p.Exponent[ch]) {
			return cannot(nameCLF, "bake the chain into a LUT and export that", "a power that %s", problem)
		}
		attrs[ch] = fmt.Sprintf(` exponent="%s"`, value(p.Exponent[ch]))
		if withOffset {
			attrs[ch] += fmt.Sprintf(` offset="%s"`, value(p.Offset[ch]))
		}
	}
	e.open("Exponent", fmt.Sprintf(" style=%q", p.Style))
	e.perChannel("ExponentParams", attrs)
	e.close("Exponent")
	return nil
}

func (e clfWriter) log(l *picture.LogOp) error {
	var attrs [3]string
	camera := false
	switch l.Style {
	case picture.Log10, picture.AntiLog10, picture.Log2, picture.AntiLog2:
		e.open("Log", fmt.Sprintf(" style=%q", l.Style))
		e.close("Log")
		return nil
	case picture.CameraLinToLog, picture.CameraLogToLin:
		camera = true
	case picture.LinToLog, picture.LogToLin:
	default:
		return cannot(nameCLF, "styles are those of "+nameCLF+"'s Log", "it has no logarithm of the style %q", l.Style)
	}
	lines := 0
	for _, p := range l.Params {
		if p.LinearSlope != nil {
			lines++
		}
	}
	for ch, p := range l.Params {
		if p.Base != l.Params[0].Base {
			return cannot(nameCLF, "use one base", "a logarithm with a different base for each channel")
		}
		for _, x := range []*float64{&p.Base, &p.LinSideSlope, &p.LinSideOffset, &p.LogSideSlope, &p.LogSideOffset, &p.LinSideBreak} {
			*x = normal(*x)
		}
		switch {
		case p.LinearSlope != nil:
			x := normal(*p.LinearSlope)
			p.LinearSlope = &x
		case lines > 0: // OpenColorIO wants it for all channels or for none
			x := normal(slopeAtBreak(p))
			p.LinearSlope = &x
		}
		list := []float64{p.Base, p.LinSideSlope, p.LinSideOffset, p.LogSideSlope, p.LogSideOffset}
		names := []string{"base", "linSideSlope", "linSideOffset", "logSideSlope", "logSideOffset"}
		if camera {
			list, names = append(list, p.LinSideBreak), append(names, "linSideBreak")
			if p.LinearSlope != nil {
				list, names = append(list, *p.LinearSlope), append(names, "linearSlope")
			}
		}
		if problem := logProblem(p, camera); problem != "" || !fits(list...) {
			return cannot(nameCLF, hintFinite+"; slopes are not 0, a base is above 0 and not 1", "a logarithm that %s", problem)
		}
		for i, x := range list {
			attrs[ch] += fmt.Sprintf(` %s="%s"`, names[i], value(x))
		}
	}
	e.open("Log", fmt.Sprintf(" style=%q", l.Style))
	e.perChannel("LogParams", attrs)
	e.close("Log")
	return nil
}

// slopeAtBreak is the slope a camera style has below linSideBreak where no
// linearSlope is given (S-2014-006, Log, "Solving for LogParams").
func slopeAtBreak(p picture.LogParams) float64 {
	return p.LogSideSlope * p.LinSideSlope / ((p.LinSideSlope*p.LinSideBreak + p.LinSideOffset) * math.Log(p.Base))
}

func (e clfWriter) cdl(c *picture.CDL) error {
	style := c.Style
	if style == "" {
		style = picture.CDLFwd
	}
	if err := checkCDL(c, nameCLF); err != nil {
		return err
	}
	e.open("ASC_CDL", fmt.Sprintf(" style=%q", style))
	writeSOP(e.b, "    ", c)
	e.close("ASC_CDL")
	return nil
}
