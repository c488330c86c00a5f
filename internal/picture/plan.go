package picture

import "math"

// step is one look-up of a kernel: u in, u out.
type step interface {
	// row does the blocks of src into dst, and marks pixels whose result is not
	// to be used; what lies past the frame's edge may be marked too.
	row(dst, src []pixels, m marks)
	// laneRow is row in the portable kernel's form.
	laneRow(dst, src laneRow, m marks)
	// at is row for one colour.
	at(u [3]uint16) [3]uint16
	// exact says whether row would mark u.
	exact(u [3]uint16) bool
}

// segment is a part of a program's ops: a 3-D LUT with the affine ops after
// it, or an analytic stretch up to the next LUT.
type segment struct {
	lut *LUT3D
	ops []Op // after the LUT: affine ones only
}

func (s segment) apply(v [3]float64) [3]float64 {
	if s.lut != nil {
		v = s.lut.Apply(v)
	}
	for _, op := range s.ops {
		v = op.Apply(v)
	}
	return v
}

// segments splits ops. An affine op commutes with the interpolation between a
// LUT's nodes, so those after a LUT are worked into its nodes.
func segments(ops []Op) (out []segment) {
	for _, op := range ops {
		lut, isLUT := op.(*LUT3D)
		switch last := len(out) - 1; {
		case isLUT:
			out = append(out, segment{lut: lut})
		case last >= 0 && (out[last].lut == nil || isAffine(op)):
			out[last].ops = append(out[last].ops, op)
		default:
			out = append(out, segment{ops: []Op{op}})
		}
	}
	return out
}

func isAffine(op Op) bool {
	switch op := op.(type) {
	case *Matrix:
		return true
	case *Range:
		return op.Min == nil && op.Max == nil
	}
	return false
}

// separate says whether an op treats the channels apart.
func separate(op Op) bool {
	switch op := op.(type) {
	case *Range, *Power, *LogOp:
		return true
	case *Curves:
		return !op.KeepHue
	case *CDL:
		return op.Saturation == 1
	case *Matrix:
		return op.M[0][1] == 0 && op.M[0][2] == 0 && op.M[1][0] == 0 && op.M[1][2] == 0 && op.M[2][0] == 0 && op.M[2][1] == 0
	case *Mix:
		for _, inner := range op.Ops {
			if !separate(inner) {
				return false
			}
		}
		return true
	}
	return false
}

func allSeparate(ops []Op) bool {
	for _, op := range ops {
		if !separate(op) {
			return false
		}
	}
	return true
}

// plan is the colour part of a kernel.
type plan struct {
	steps   []step
	in      domain // of the first step
	display display
	kept    *kept // tables baked before, taken in turn
}

// display is the domain of the display signal at a plan's end: 15-bit numbers
// in which 0 and 1 of the signal are whole numbers of a node's, so that black
// and white are exact.
type display struct {
	domain
	zero, unit int // number of signal 0, and signal 1 less signal 0
}

// displayTop is the largest u of a display signal, as it is a node's.
const displayTop = nodeTop << (16 - nodeBits)

// code is the domain's, held inside what a node can hold.
func (d display) code(x [3]float64) (u [3]uint16, inside bool) {
	u, inside = d.domain.code(x)
	for ch := range u {
		u[ch] = min(u[ch], displayTop)
	}
	return u, inside
}

// The display signals a kernel can hold. Beyond 1.5 nothing is left of a
// BT.1886 display's meaning; a user's LUT may hold what it likes up to 4.
const (
	bakedLo, bakedHi = -0.25, 1.5
	lutLo, lutHi     = -2.0, 4.0
)

func newDisplay(lo, hi float64) display {
	const negligible = 1e-9
	lo, hi = min(0, lo+negligible), max(1, hi-negligible)
	unit := int(nodeTop / (hi - lo))
	zero := int(math.Ceil(-lo * float64(unit)))
	if zero+unit > nodeTop {
		unit = nodeTop - zero
	}
	const more = 1 << (15 - nodeBits)
	return displayOf(zero*more, unit*more)
}

func displayOf(zero, unit int) display {
	d := display{zero: zero, unit: unit}
	for ch := range 3 {
		d.lo[ch] = -float64(d.zero) / float64(d.unit)
		d.hi[ch] = d.lo[ch] + (1<<15)/float64(d.unit)
	}
	return d
}

// newPlan turns ops into steps. exact is the whole of them as one function,
// judge tells how far two display signals are apart. kept are the tables of the
// same plan made before, if there are any.
func newPlan(ops []Op, exact func([3]float64) [3]float64, in domain, judge judge, kept *kept) *plan {
	p := &plan{in: in, kept: kept}
	segs := segments(ops)
	if len(segs) == 0 {
		segs = []segment{{}}
	}
	at := in
	for i, s := range segs {
		rest := segs[i+1:]
		var next *LUT3D
		if len(rest) > 0 {
			next = rest[0].lut
		}
		switch {
		case s.lut != nil:
			if want := lutDomain(s.lut); at != want {
				p.steps = append(p.steps, newPerChannel(at, want, func(v [3]float64) [3]float64 { return v }, s.lut))
				at = want
			}
			at = p.addLUT(s, at, next, len(rest) == 0)
		case allSeparate(s.ops):
			at = p.addSeparate(s, at, next, len(rest) == 0)
		default:
			f, after := s.apply, func(v [3]float64) [3]float64 {
				for _, s := range rest {
					v = s.apply(v)
				}
				return v
			}
			whole := func(v [3]float64) [3]float64 { return after(f(v)) }
			if i == 0 {
				whole = exact
			}
			if len(rest) == 0 {
				f = whole
			}
			at = p.addBaked(f, after, whole, at, next, len(rest) == 0, judge)
		}
	}
	return p
}

func lutDomain(l *LUT3D) domain { return domain{l.Lo, l.Hi} }

// addLUT puts a user's LUT on its own grid. Its strength is in the nodes: a
// node's own place is interpolated without error.
func (p *plan) addLUT(s segment, in domain, next *LUT3D, last bool) domain {
	l := s.lut
	value := func(r, g, b int) [3]float64 {
		node, v := l.node(r, g, b), [3]float64{}
		for ch, i := range [3]int{r, g, b} {
			place := l.Lo[ch] + (l.Hi[ch]-l.Lo[ch])*float64(i)/float64(l.Size-1)
			v[ch] = place + l.Strength*(node[ch]-place)
		}
		return segment{ops: s.ops}.apply(v)
	}
	lo, hi := extent(l.Size, value)
	out := domain{lo, hi}
	switch {
	case last:
		p.display = newDisplay(max(lutLo, min(lo[0], lo[1], lo[2])), min(lutHi, max(hi[0], hi[1], hi[2])))
		out = p.display.domain
	case next != nil && lutDomain(next).holds(lo, hi):
		out = lutDomain(next)
	}
	c := newCube(l.Size, in, out, func(r, g, b int) [3]float64 { return parts(out, value(r, g, b)) })
	c.trilinear = l.Interp == Trilinear
	c.roundFor(next)
	p.steps = append(p.steps, c)
	return out
}

// extent is the smallest and the largest value of each channel at the points
// of a grid; a channel that is the same everywhere is given some width.
func extent(n int, value func(r, g, b int) [3]float64) (lo, hi [3]float64) {
	lo, hi = value(0, 0, 0), value(0, 0, 0)
	for b := range n {
		for g := range n {
			for r := range n {
				v := value(r, g, b)
				for ch := range v {
					lo[ch], hi[ch] = min(lo[ch], v[ch]), max(hi[ch], v[ch])
				}
			}
		}
	}
	for ch := range lo {
		if width := 1e-3; hi[ch]-lo[ch] < width {
			hi[ch] = lo[ch] + width
		}
	}
	return lo, hi
}

func parts(d domain, v [3]float64) [3]float64 {
	return [3]float64{d.part(0, v[0]), d.part(1, v[1]), d.part(2, v[2])}
}

// addSeparate evaluates a stretch that treats the channels apart by a table of
// every input.
func (p *plan) addSeparate(s segment, in domain, next *LUT3D, last bool) domain {
	var out domain
	switch {
	case last:
		var lo, hi float64
		for u := range 1 << 16 {
			v := s.apply(in.value([3]uint16{uint16(u), uint16(u), uint16(u)}))
			lo, hi = min(lo, v[0], v[1], v[2]), max(hi, v[0], v[1], v[2])
		}
		p.display = newDisplay(max(lutLo, lo), min(lutHi, hi))
		out = p.display.domain
	default: // the next segment is a LUT, as two stretches never meet
		out = lutDomain(next)
	}
	p.steps = append(p.steps, newPerChannel(in, out, s.apply, next))
	return out
}

// addBaked samples an analytic stretch onto a grid of our own.
func (p *plan) addBaked(f, after, whole func([3]float64) [3]float64, in domain, next *LUT3D, last bool, judge judge) domain {
	if c := p.kept.take(in); c != nil {
		if last {
			p.display = displayOf(p.kept.head.Zero, p.kept.head.Unit)
		}
		c.roundFor(next)
		p.steps = append(p.steps, c)
		return c.out
	}
	b := newBake(f, in)
	var out domain
	if last {
		lo, hi := b.extent()
		p.display = newDisplay(max(bakedLo, lo), min(bakedHi, hi))
		out = p.display.domain
	} else {
		out = lutDomain(next)
	}
	p.steps = append(p.steps, b.cube(out, after, whole, judge, next))
	return out
}

// at is the plan for one colour, and whether it is to be evaluated exactly
// instead.
func (p *plan) at(u [3]uint16) (out [3]uint16, exact bool) {
	for _, s := range p.steps {
		exact = exact || s.exact(u)
		u = s.at(u)
	}
	return u, exact
}
