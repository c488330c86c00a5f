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

// planes are three rows of u, as long as a row of the frame and the padding.
type planes struct{ r, g, b []uint16 }

func newPlanes(n int) *planes {
	all := make([]uint16, 3*n)
	return &planes{all[:n:n], all[n : 2*n : 2*n], all[2*n:]}
}

// block is how many pixels of a row are worked on together; rows are padded to
// a multiple of it.
const block = 64

func padded(n int) int { return (n + block - 1) / block * block }

// marks is one bit for each pixel of a row: those that must be evaluated
// exactly.
type marks []uint64

func (m marks) set(x int) { m[x>>6] |= 1 << (x & 63) }
