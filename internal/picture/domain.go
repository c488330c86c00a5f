package picture

// domain is what a kernel's 16-bit numbers stand for: u = 65536·(x − lo)/(hi − lo)
// for each channel, held inside 0..65535. 65536 itself is not reached, so a
// grid position computed from u never falls beyond the last cell.
type domain struct{ lo, hi [3]float64 }

const domainTop = 1<<16 - 1

func (d domain) value(u [3]uint16) (x [3]float64) {
	for ch := range x {
		x[ch] = d.lo[ch] + float64(u[ch])/(1<<16)*(d.hi[ch]-d.lo[ch])
	}
	return x
}

// part returns (x − lo)/(hi − lo).
func (d domain) part(ch int, x float64) float64 { return (x - d.lo[ch]) / (d.hi[ch] - d.lo[ch]) }

// code returns the nearest u of x, and whether x lies inside the domain.
func (d domain) code(x [3]float64) (u [3]uint16, inside bool) {
	inside = true
	for ch := range x {
		t := d.part(ch, x[ch])*(1<<16) + 0.5
		inside = inside && t >= 0 && t < 1<<16
		u[ch] = uint16(max(0, min(domainTop, t)))
	}
	return u, inside
}

// holds says whether every x of lo..hi lies inside d, give or take rounding.
func (d domain) holds(lo, hi [3]float64) bool {
	const slack = 1e-6 // of the domain's width, a fifteenth of a step of u
	for ch := range 3 {
		if d.part(ch, lo[ch]) < -slack || d.part(ch, hi[ch]) > 1+slack {
			return false
		}
	}
	return true
}

// block is how many pixels of a row are worked on together.
const block = 64

// pixels are the u of one block; a row of a frame is a slice of them, the last
// one filled with whatever.
type pixels struct{ r, g, b [block]uint16 }

func blocks(n int) int { return (n + block - 1) / block }

func padded(n int) int { return blocks(n) * block }

// pixelRow is a row of a frame.
type pixelRow []pixels

func (row pixelRow) put(x int, u [3]uint16) {
	p, i := &row[x/block], x%block
	p.r[i], p.g[i], p.b[i] = u[0], u[1], u[2]
}

// marks is one bit for each pixel of a row, one number for each block: those
// that must be evaluated exactly.
type marks []uint64

func (m marks) any() bool {
	for _, v := range m {
		if v != 0 {
			return true
		}
	}
	return false
}

// holdsInside says whether ops give for any colour beyond d what they give for
// d's nearest: whether the first of them holds its input no further out than d
// reaches.
func holdsInside(ops []Op, d domain) bool {
	if len(ops) == 0 {
		return false
	}
	var lo, hi [3]float64
	switch op := ops[0].(type) {
	case *Curves:
		if op.Axis == AxisHalf || op.KeepHue {
			return false
		}
		lo, hi = op.Lo, op.Hi
	case *LUT3D:
		if op.Strength != 1 {
			return false
		}
		lo, hi = op.Lo, op.Hi
	case *Range:
		if op.Min == nil || op.Max == nil || op.Slope != 1 || op.Offset != 0 {
			return false
		}
		for ch := range 3 {
			lo[ch], hi[ch] = *op.Min, *op.Max
		}
	default:
		return false
	}
	return d.holds(lo, hi)
}
