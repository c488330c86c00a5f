package lutfile

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"lampwise/internal/fault"
	"lampwise/internal/picture"
)

// WriteCube writes a *picture.LUT3D or *picture.Curves as a text cube with
// comments at its head. Numbers read back to the last bit, but those smaller
// than single precision can hold (1.2e-38) are written as 0. The caller puts
// the file in place.
//
// A LUT3D's Strength is worked into its nodes, which is exact inside its
// domain (beyond it a cube holds the edge). The format can't name an
// interpolation; one made for trilinear says so in a comment. Curves must be
// evenly spaced and without KeepHue.
func WriteCube(w io.Writer, op picture.Op, comments []string) error {
	return WriteCubeChain(w, &picture.Chain{Description: comments, Ops: []picture.Op{op}})
}

// WriteCubeChain writes a chain of one Curves, one LUT3D, or a Curves before a
// LUT3D. Title becomes TITLE and Description, Input and Output become comments.
// The dialect with both tables has no TITLE, so there the title is a comment.
func WriteCubeChain(w io.Writer, c *picture.Chain) error {
	curves, cube, err := cubeParts(c.Ops)
	if err != nil {
		return err
	}
	b := bufio.NewWriterSize(w, 1<<16)
	title := clean(strings.ReplaceAll(c.Title, `"`, "'"))
	comments := c.Description
	if c.Input != "" {
		comments = append(slices.Clone(comments), "input: "+c.Input)
	}
	if c.Output != "" {
		comments = append(slices.Clone(comments), "output: "+c.Output)
	}
	if cube != nil && cube.Interp == picture.Trilinear {
		comments = append(slices.Clone(comments), "made for trilinear interpolation")
	}
	switch {
	case title != "" && curves != nil && cube != nil:
		comments = append([]string{title}, comments...)
	case title != "":
		fmt.Fprintf(b, "%s \"%s\"\n", kwTitle, cutAt(title, maxComment))
	}
	for _, line := range comments {
		writeComment(b, line)
	}
	both := curves != nil && cube != nil
	if curves != nil {
		fmt.Fprintf(b, "%s %d\n", kwSize1, len(curves.Samples[0]))
		if both {
			writeRow(b, kwRange1+" ", curves.Lo[0], curves.Hi[0])
		} else {
			writeDomain(b, curves.Lo, curves.Hi)
		}
	}
	if cube != nil {
		fmt.Fprintf(b, "%s %d\n", kwSize3, cube.Size)
		if both {
			writeRow(b, kwRange3+" ", cube.Lo[0], cube.Hi[0])
		} else {
			writeDomain(b, cube.Lo, cube.Hi)
		}
	}
	if curves != nil {
		for i := range curves.Samples[0] {
			writeRow(b, "", curves.Samples[0][i], curves.Samples[1][i], curves.Samples[2][i])
		}
	}
	if cube != nil {
		data := nodes(cube)
		for i := 0; i < len(data); i += 3 {
			writeRow(b, "", data[i], data[i+1], data[i+2])
		}
	}
	if err := b.Flush(); err != nil {
		return fmt.Errorf("write cube: %w", err)
	}
	return nil
}

// cannot is the fault for what a format has no way to say.
func cannot(format, hint, why string, args ...any) *fault.Fault {
	return fault.New(fault.Usage, "lut-write", hint, "cannot be written as "+format+": "+why, args...)
}

const (
	hintUseCLF = "export it as " + clfStandards + ", or bake it into one 3-D LUT first"
	nameCube   = "a text cube"
)

// cubeParts sorts out what of the ops a cube can hold.
func cubeParts(ops []picture.Op) (curves *picture.Curves, cube *picture.LUT3D, err error) {
	if len(ops) == 0 || len(ops) > 2 {
		return nil, nil, cannot(nameCube, hintUseCLF, "it holds a 1-D LUT, a 3-D LUT or a 1-D LUT before a 3-D one, not %d operations", len(ops))
	}
	for i, op := range ops {
		switch o := op.(type) {
		case *picture.Curves:
			if i > 0 {
				return nil, nil, cannot(nameCube, hintUseCLF, "a 1-D LUT comes first in it")
			}
			if o.Axis != picture.AxisUniform {
				return nil, nil, cannot(nameCube, hintUseCLF, "its 1-D LUTs are evenly spaced, this one is %s", o.Axis)
			}
			if o.KeepHue {
				return nil, nil, cannot(nameCube, hintUseCLF, "it can't say that the hue is kept")
			}
			if err := checkCurves(o, nameCube, MaxSize1D); err != nil {
				return nil, nil, err
			}
			curves = o
		case *picture.LUT3D:
			if cube != nil {
				return nil, nil, cannot(nameCube, hintUseCLF, "it holds one 3-D LUT, not two")
			}
			if err := checkCube(o, nameCube); err != nil {
				return nil, nil, err
			}
			cube = o
		default:
			return nil, nil, cannot(nameCube, hintUseCLF, "it has no operation of the kind %s", op.Kind())
		}
	}
	if curves != nil && cube != nil {
		for ch := 1; ch < 3; ch++ {
			if curves.Lo[ch] != curves.Lo[0] || curves.Hi[ch] != curves.Hi[0] || cube.Lo[ch] != cube.Lo[0] || cube.Hi[ch] != cube.Hi[0] {
				return nil, nil, cannot(nameCube, hintUseCLF, "with both tables one input range holds for all channels")
			}
		}
	}
	return curves, cube, nil
}

// checkCurves holds a Curves op to what every format wants.
func checkCurves(c *picture.Curves, format string, most int) error {
	n := len(c.Samples[0])
	if n < MinSize || n > most || len(c.Samples[1]) != n || len(c.Samples[2]) != n {
		return cannot(format, fmt.Sprintf("use the same number of samples, %d to %d, for each channel", MinSize, most), "a 1-D LUT of %d, %d and %d samples", n, len(c.Samples[1]), len(c.Samples[2]))
	}
	for ch := range 3 {
		if c.Axis != picture.AxisHalf && !(wide(c.Lo[ch], c.Hi[ch]) && fits(c.Lo[ch], c.Hi[ch])) {
			return cannot(format, "give it a domain that rises", "a 1-D LUT over %g to %g", c.Lo[ch], c.Hi[ch])
		}
		if !fits(c.Samples[ch]...) {
			return cannot(format, "every number must be finite and within single precision", "a 1-D LUT with a number that isn't finite")
		}
	}
	return nil
}

// checkCube holds a LUT3D op to what every format wants.
func checkCube(l *picture.LUT3D, format string) error {
	if l.Size < MinSize || l.Size > MaxSize3D || len(l.Data) != 3*l.Size*l.Size*l.Size {
		return cannot(format, "export it at another size: 17, 33 and 65 are usual", "a 3-D LUT of size %d with %d numbers", l.Size, len(l.Data))
	}
	for ch := range 3 {
		if !(wide(l.Lo[ch], l.Hi[ch]) && fits(l.Lo[ch], l.Hi[ch])) {
			return cannot(format, "give it a domain that rises", "a 3-D LUT over %g to %g", l.Lo[ch], l.Hi[ch])
		}
	}
	if !fits(l.Data...) || !(l.Strength >= 0 && l.Strength <= 1) { // a mix of numbers that fit does, too
		return cannot(format, "every number must be finite and within single precision", "a 3-D LUT with a number that isn't finite, or a strength outside 0 to 1")
	}
	return nil
}

// fits says whether the readers would take these numbers.
func fits(list ...float64) bool {
	for _, x := range list {
		if !(math.Abs(x) <= math.MaxFloat32) {
			return false
		}
	}
	return true
}

// nodes gives the op's table with its strength worked in.
func nodes(l *picture.LUT3D) []float64 {
	if l.Strength == 1 {
		return l.Data
	}
	out := make([]float64, len(l.Data))
	n := l.Size
	for i := 0; i < len(out); i += 3 {
		k := i / 3
		at := [3]int{k % n, k / n % n, k / (n * n)}
		for ch := range 3 {
			in := l.Lo[ch] + (l.Hi[ch]-l.Lo[ch])*float64(at[ch])/float64(n-1)
			out[i+ch] = in + l.Strength*(l.Data[i+ch]-in)
		}
	}
	return out
}

// maxComment keeps lines within the 250 bytes of the cube's specification.
const maxComment = 240

func writeComment(b *bufio.Writer, text string) {
	for _, line := range strings.FieldsFunc(text, func(r rune) bool { return r == '\n' || r == '\r' }) {
		for line = clean(line); line != ""; {
			head := cutAt(line, maxComment)
			fmt.Fprintf(b, "# %s\n", head)
			line = strings.TrimSpace(line[len(head):])
		}
	}
}

// cutAt gives s up to most bytes, at a space where there is one.
func cutAt(s string, most int) string {
	if len(s) <= most {
		return s
	}
	if i := strings.LastIndexByte(s[:most+1], ' '); i > 0 {
		return s[:i]
	}
	for most > 0 && s[most]&0xc0 == 0x80 { // not inside a character
		most--
	}
	return s[:most]
}

func writeDomain(b *bufio.Writer, lo, hi [3]float64) {
	if lo == [3]float64{} && hi == [3]float64{1, 1, 1} {
		return
	}
	writeRow(b, kwMin+" ", lo[:]...)
	writeRow(b, kwMax+" ", hi[:]...)
}

func writeRow(b *bufio.Writer, head string, x ...float64) {
	_, _ = b.WriteString(head) // the writer keeps its first error for Flush
	var buf [32]byte
	for i, v := range x {
		if i > 0 {
			_ = b.WriteByte(' ')
		}
		_, _ = b.Write(appendNumber(buf[:0], v))
	}
	_ = b.WriteByte('\n')
}

// appendNumber writes the shortest decimal that reads back to x, see normal.
// Not every reader in a camera knows exponents, so they are kept to numbers
// that would be very long without.
func appendNumber(b []byte, x float64) []byte {
	const long = 32
	start := len(b)
	x = normal(x)
	if x == 0 || math.Abs(x) > 1e-9 && math.Abs(x) < 1e15 {
		if b = strconv.AppendFloat(b, x, 'f', -1, 64); len(b)-start <= long {
			return b
		}
		b = b[:start]
	}
	return strconv.AppendFloat(b, x, 'g', -1, 64)
}

// normal is x, or 0 where x is closer to 0 than any normal number of single
// precision: readers that compute in it take such a number for an error.
func normal(x float64) float64 {
	if math.Abs(x) < 0x1p-126 {
		return 0
	}
	return x
}

func normal3(v [3]float64) [3]float64 { return [3]float64{normal(v[0]), normal(v[1]), normal(v[2])} }
