package lutfile

import (
	"bufio"
	"fmt"
	"io"
	"slices"

	"lampwise/internal/picture"
)

const nameCDL = "a Color Decision List"

// WriteCDL writes one correction as an ASC CDL file of the form .cc. Numbers
// read back to the last bit. The format is for the standard's own forward
// form, so any style but Fwd is a fault.
func WriteCDL(w io.Writer, c Correction) error {
	if c.CDL.Style != picture.CDLFwd && c.CDL.Style != "" {
		return cannot(nameCDL, "export it as "+clfStandards+", which can", "it can't say the style %s", c.CDL.Style)
	}
	if err := checkCDL(c.CDL, nameCDL); err != nil {
		return err
	}
	b := bufio.NewWriter(w)
	fmt.Fprint(b, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<"+rootCC)
	if id := clean(c.ID); id != "" {
		fmt.Fprintf(b, " id=\"%s\"", escaped(id))
	}
	fmt.Fprint(b, ">\n")
	e := clfWriter{b: b}
	for _, text := range c.Description {
		e.text("Description", text)
	}
	e.text("InputDescription", c.Input)
	e.text("ViewingDescription", c.Viewing)
	writeSOP(b, "  ", c.CDL)
	fmt.Fprint(b, "</"+rootCC+">\n")
	if err := b.Flush(); err != nil {
		return fmt.Errorf("write %s: %w", nameCDL, err)
	}
	return nil
}

// checkCDL holds a CDL op to the standard's bounds.
func checkCDL(c *picture.CDL, format string) error {
	if !fits(c.Slope[:]...) || !fits(c.Offset[:]...) || !fits(c.Power[:]...) || !fits(c.Saturation) {
		return cannot(format, hintFinite, "a CDL with a number that isn't finite")
	}
	for ch := range 3 {
		if c.Slope[ch] < 0 || normal(c.Power[ch]) <= 0 || c.Saturation < 0 {
			return cannot(format, "slope and saturation are 0 or more, power is above 0",
				"a CDL with slope %v, power %v, saturation %g", c.Slope, c.Power, c.Saturation)
		}
	}
	if !slices.Contains(cdlStyles, c.Style) && c.Style != "" {
		return cannot(format, "styles are Fwd, Rev, FwdNoClamp, RevNoClamp", "a CDL of the style %q", c.Style)
	}
	return nil
}

// writeSOP writes the two parts both formats share.
func writeSOP(b *bufio.Writer, indent string, c *picture.CDL) {
	row := func(name string, x ...float64) {
		fmt.Fprintf(b, "%s  <%s>", indent, name)
		for i, v := range x {
			if i > 0 {
				_ = b.WriteByte(' ') // the writer keeps its first error for Flush
			}
			_, _ = b.WriteString(value(v))
		}
		fmt.Fprintf(b, "</%s>\n", name)
	}
	fmt.Fprintf(b, "%s<SOPNode>\n", indent)
	row("Slope", c.Slope[:]...)
	row("Offset", c.Offset[:]...)
	row("Power", c.Power[:]...)
	fmt.Fprintf(b, "%s</SOPNode>\n%s<SatNode>\n", indent, indent)
	row("Saturation", c.Saturation)
	fmt.Fprintf(b, "%s</SatNode>\n", indent)
}
