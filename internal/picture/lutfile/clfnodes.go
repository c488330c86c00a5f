package lutfile

import (
	"math"
	"strings"

	"lampwise/internal/picture"
)

// clfNodes reads each kind of process node.
var clfNodes = map[string]func(*process) (picture.Op, error){
	"Matrix":   readMatrix,
	"LUT1D":    readLUT1D,
	"LUT3D":    readLUT3D,
	"Range":    readRange,
	"Log":      readLog,
	"Exponent": readExponent,
	"ASC_CDL":  readASCCDL,
}

var clfNodeNames = []string{"Matrix", "LUT1D", "LUT3D", "Range", "Log", "Exponent", "ASC_CDL"}

// readMatrix: rows first; a fourth column is an offset in output units
// (S-2014-006, Matrix). A third number in dim, of version 2, is not looked at.
func readMatrix(p *process) (picture.Op, error) {
	if err := p.allow(p.f, "Description", "Array"); err != nil {
		return nil, err
	}
	a, dim, err := p.array()
	if err != nil {
		return nil, err
	}
	if len(dim) != 2 && len(dim) != 3 || dim[0] != 3 || dim[1] != 3 && dim[1] != 4 {
		return nil, p.wrongDim(a, `"3 3" or "3 4"`)
	}
	columns := dim[1]
	x, err := a.exactly(p.f, 3*columns)
	if err != nil {
		return nil, err
	}
	var m picture.Matrix
	for i := range 3 {
		for j := range 3 {
			m.M[i][j] = x[columns*i+j] * p.in / p.out
		}
		if columns == 4 {
			m.Offset[i] = x[columns*i+3] / p.out
		}
		if !fits(m.M[i][:]...) {
			return nil, p.f.wrong(a.line, "lut-number", hintExport, "<Array> of <Matrix>: a number is too large")
		}
	}
	return &m, nil
}

// onlyTrue reads one of the attributes whose sole value is "true".
func (p *process) onlyTrue(name string) (bool, error) {
	text, ok := p.attr(name)
	if ok && text != "true" {
		return false, p.wrong(codeCLF, "leave "+name+" out where it doesn't hold", "has %s=%s; \"true\" is its only value", name, shown([]byte(text)))
	}
	return ok, nil
}

func readLUT1D(p *process) (picture.Op, error) {
	names := []string{"Description", "Array"}
	if p.version < 300 {
		names = append(names, "IndexMap")
	}
	if err := p.allow(p.f, names...); err != nil {
		return nil, err
	}
	if text, ok := p.attr("interpolation"); ok && text != "linear" {
		return nil, p.wrong(codeCLF, "linear is the only interpolation of LUT1D", "has the interpolation %s", shown([]byte(text)))
	}
	half, err := p.onlyTrue("halfDomain")
	if err != nil {
		return nil, err
	}
	raw, err := p.onlyTrue("rawHalfs")
	if err != nil {
		return nil, err
	}
	hue, hasHue := p.attr("hueAdjust")
	if hasHue && hue != "dw3" {
		return nil, p.wrong(codeCLF, "leave hueAdjust out where it doesn't hold", "has hueAdjust=%s; \"dw3\" is its only value", shown([]byte(hue)))
	}
	a, dim, err := p.array()
	if err != nil {
		return nil, err
	}
	if len(dim) != 2 && !(len(dim) == 3 && p.version < 300) || dim[1] != 1 && dim[1] != 3 {
		return nil, p.wrongDim(a, `"N 1" or "N 3"`)
	}
	n, columns := dim[0], dim[1]
	switch {
	case half && n != halfCodes:
		return nil, p.f.wrong(a.line, "lut-dim", hintExport, "<Array> of <LUT1D>: a half domain has %d entries, not %d", halfCodes, n)
	case n < MinSize || n > MaxSize1D:
		return nil, p.f.wrong(a.line, "lut-size", hintExport, "<Array> of <LUT1D>: %d entries; %d to %d was expected", n, MinSize, MaxSize1D)
	}
	c := &picture.Curves{Axis: picture.AxisUniform, Hi: [3]float64{1, 1, 1}, KeepHue: hasHue}
	if half {
		c.Axis = picture.AxisHalf
		c.Lo, c.Hi = three(-maxHalf), three(maxHalf)
	}
	for ch := range columns {
		c.Samples[ch] = make([]float64, 0, min(n, 1<<12))
	}
	reader := number
	if raw {
		reader = rawHalf
	} else if half {
		reader = numberOrNot
	}
	i := 0
	err = a.numbers(p.f, reader, func(line int, x float64) error {
		if i == n*columns {
			return p.f.wrong(line, "lut-count", hintExport, "<Array>: a number too many; %d expected", n*columns)
		}
		if !finite(x) {
			var ok bool
			if x, ok = replaced(x, half, i/columns); !ok {
				return p.f.wrong(line, "lut-number", hintExport, "<Array>: entry %d is not a finite number", i/columns)
			}
		}
		c.Samples[i%columns] = append(c.Samples[i%columns], x/p.out)
		i++
		return nil
	})
	if err != nil {
		return nil, err
	}
	if i != n*columns {
		return nil, p.f.wrong(a.line, "lut-count", hintExport, "<Array>: %d numbers were expected, %d found", n*columns, i)
	}
	if columns == 1 {
		c.Samples[1], c.Samples[2] = c.Samples[0], c.Samples[0]
	}
	if m := p.only("IndexMap"); len(m) > 0 {
		if half {
			return nil, p.f.wrong(m[0].line, codeCLF, hintExport, "<IndexMap> with a half domain")
		}
		if c.Lo, c.Hi, err = p.indexMap(m, n); err != nil {
			return nil, err
		}
	}
	return c, nil
}

const (
	halfCodes = 1 << 16
	maxHalf   = 65504 // the largest finite half float (IEEE 754 binary16)
)

// rawHalf reads the bit pattern of a half float (S-2014-006, LUT1D, rawHalfs).
func rawHalf(b []byte) (float64, string) {
	x, problem := number(b)
	if problem != "" {
		return 0, problem
	}
	if x < 0 || x >= halfCodes || x != math.Trunc(x) {
		return 0, "is not the pattern of a half float, a whole number from 0 to 65535"
	}
	return picture.HalfValue(uint16(x)), ""
}

// numberOrNot also passes infinities and NaN, which a half domain has places for.
func numberOrNot(b []byte) (float64, string) {
	if !notFinite(b) {
		return number(b)
	}
	if strings.Contains(strings.ToLower(string(b)), "n") && strings.ContainsAny(strings.ToLower(string(b)), "a") {
		return math.NaN(), ""
	}
	if b[0] == '-' {
		return math.Inf(-1), ""
	}
	return math.Inf(1), ""
}

// replaced gives what is kept for an entry that isn't finite. In a half domain
// the patterns of NaN and the infinities are places no finite input reaches;
// there anything may stand. Elsewhere an infinity is a half float's overflow
// and is held at the largest half; a NaN is refused.
func replaced(x float64, half bool, entry int) (float64, bool) {
	if half && entry&0x7c00 == 0x7c00 {
		if math.IsNaN(x) {
			return 0, true
		}
		return math.Copysign(maxHalf, x), true
	}
	if math.IsNaN(x) {
		return 0, false
	}
	return math.Copysign(maxHalf, x), true
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

func readLUT3D(p *process) (picture.Op, error) {
	names := []string{"Description", "Array"}
	if p.version < 300 {
		names = append(names, "IndexMap")
	}
	if err := p.allow(p.f, names...); err != nil {
		return nil, err
	}
	interp := picture.Trilinear
	if text, ok := p.attr("interpolation"); ok {
		switch picture.Interp(text) {
		case picture.Trilinear, picture.Tetrahedral:
			interp = picture.Interp(text)
		default:
			return nil, p.wrong(codeCLF, "interpolations of LUT3D are trilinear and tetrahedral", "has the interpolation %s", shown([]byte(text)))
		}
	}
	a, dim, err := p.array()
	if err != nil {
		return nil, err
	}
	if len(dim) != 4 || dim[0] != dim[1] || dim[1] != dim[2] || dim[3] != 3 {
		return nil, p.wrongDim(a, `"N N N 3"`)
	}
	n := dim[0]
	if n < MinSize || n > MaxSize3D {
		return nil, p.f.wrong(a.line, "lut-size", hintExport, "<Array> of <LUT3D>: size %d; %d to %d was expected", n, MinSize, MaxSize3D)
	}
	x, err := a.exactly(p.f, 3*n*n*n)
	if err != nil {
		return nil, err
	}
	l := &picture.LUT3D{
		Size: n, Hi: [3]float64{1, 1, 1}, Data: make([]float64, len(x)),
		Interp: interp, Strength: 1,
	}
	// The file has blue fastest, the op red.
	turn(n, func(blueFirst, redFirst int) {
		for ch := range 3 {
			l.Data[3*redFirst+ch] = x[3*blueFirst+ch] / p.out
		}
	})
	if m := p.only("IndexMap"); len(m) > 0 {
		if l.Lo, l.Hi, err = p.indexMap(m, n); err != nil {
			return nil, err
		}
	}
	return l, nil
}

// turn calls pair with the number of each grid point in both orders.
func turn(n int, pair func(blueFirst, redFirst int)) {
	for r := range n {
		for g := range n {
			for b := range n {
				pair(b+n*(g+n*r), r+n*(g+n*b))
			}
		}
	}
}

// indexMap reads version 2's IndexMap, "in@0 in@(size−1)", as a domain. Maps of
// more entries need a 1-D LUT of their own; nothing in use writes them.
func (p *process) indexMap(maps []*node, size int) (lo, hi [3]float64, err error) {
	m := maps[0]
	pairs := strings.Fields(strings.ReplaceAll(m.content(), "@", " @ "))
	dim, _ := m.attr("dim")
	if len(maps) > 1 || strings.TrimSpace(dim) != "2" || len(pairs) != 6 || pairs[1] != "@" || pairs[4] != "@" {
		return lo, hi, p.f.wrong(m.line, codeCLF, "replace it by a LUT1D before this node", "an <IndexMap> other than one \"in@0 in@%d\"", size-1)
	}
	var x [4]float64
	for i, at := range []int{0, 2, 3, 5} {
		var problem string
		if x[i], problem = number([]byte(pairs[at])); problem != "" {
			return lo, hi, p.f.wrong(m.line, "lut-number", hintExport, "<IndexMap>: %s %s", shown([]byte(pairs[at])), problem)
		}
	}
	if x[1] != 0 || x[3] != float64(size-1) {
		return lo, hi, p.f.wrong(m.line, codeCLF, "replace it by a LUT1D before this node", "an <IndexMap> to %g and %g; 0 and %d was expected", x[1], x[3], size-1)
	}
	if lo, hi = three(x[0]/p.in), three(x[2]/p.in); !wide(lo[0], hi[0]) {
		return lo, hi, p.f.wrong(m.line, codeCLF, hintExport, "an <IndexMap> from %g to %g; it must rise", x[0], x[2])
	}
	return lo, hi, nil
}
