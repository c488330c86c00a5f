package picture

import (
	"math/bits"
	"sync"
	"unsafe"
)

// laneCube is what a cube's portable form needs.
type laneCube struct {
	once  sync.Once
	nodes []uint64            // the cube's, their numbers 21 bits apart
	place [3][maxCells]uint32 // for each axis, what a cell's number adds to the node's
	shift uint                // u to position, where n − 1 is a power of two
	even  bool                // it is
}

const fractionMask = (weightOne - 1) * oneEach

// makeLanes fills in what laneRow needs, once the nodes are final.
func (c *cube) makeLanes() {
	l := &c.lanes
	l.once.Do(func() {
		l.nodes = make([]uint64, len(c.nodes))
		for i, v := range c.nodes {
			l.nodes[i] = pack3(v&nodeTop, v>>16&nodeTop, v>>32&nodeTop) | v&nodeFlag
		}
		// Cells that the cube does not have are its last.
		for axis := range l.place {
			for i := range l.place[axis] {
				at := c.place[axis][min(i, c.n-2)]
				l.place[axis][i] = at&lane16*blockSize + at>>16
			}
		}
		m := uint(c.n - 1)
		l.even = m&(m-1) == 0
		l.shift = uint(16 - weightBits - bits.TrailingZeros(m))
	})
}

// laneRow looks a row up and marks the pixels whose cell is to be evaluated
// exactly. dst and src are different rows.
func (c *cube) laneRow(dst, src laneRow, m marks) {
	for i := range src {
		var any uint64
		switch {
		case c.trilinear:
			any = c.trilinearLanes(&dst[i], &src[i])
		case c.lanes.even:
			any = c.tetrahedralLanes(&dst[i], &src[i], c.lanes.shift)
		default:
			c.positions(&dst[i], &src[i])
			any = c.tetrahedralLanes(&dst[i], &dst[i], 0)
		}
		if any&nodeFlag != 0 {
			m[i] |= c.markedLanes(&src[i])
		}
	}
}

func (c *cube) markedLanes(p *lanes) (m uint64) {
	for x, v := range p {
		if c.exact(unpack3(v)) {
			m |= 1 << x
		}
	}
	return m
}

// positions are those of a grid whose n − 1 is no power of two.
func (c *cube) positions(dst, src *lanes) {
	m := uint64(c.n - 1)
	for x, v := range src {
		r, g, b := v&lane16*m>>8, v>>laneG&lane16*m>>8, v>>laneB*m>>8
		dst[x] = pack3(r, g, b)
	}
}

// tetrahedra says, for the signs of r − g, g − b and b − r (bits 0 to 2; not
// set where negative), how far from a cell's low corner the step along each axis
// begins: the walk to the high corner goes along the largest fraction first.
// Signs that can't be together stand for nothing.
var tetrahedra = func() (starts [8][4]uint32) {
	strides := [3]uint32{1, strideG, strideB}
	sign := [3][3]int{{0, 0, 2}, {0, 0, 1}, {2, 1, 0}} // of which axes
	for signs := range starts {
		if signs == 7 { // all the same: any order will do
			starts[signs] = [4]uint32{0, strides[0], strides[0] + strides[1]}
			continue
		}
		for a := range 3 {
			for b := range 3 {
				// b comes first if it is larger, or as large and a is the next in the round.
				set := signs>>sign[a][b]&1 == 1
				if a != b && set == (a == (b+1)%3) {
					starts[signs][a] += strides[b]
				}
			}
		}
	}
	return starts
}()

// tetrahedralLanes looks one block up. It returns all low corners' nodes or-ed
// together, for their flags.
//
// The sum is the low corner's node and, for each axis, fraction times the step
// along it. A step is the difference of two nodes as whole numbers: borrows
// between the lanes cancel in the sum, whose lanes are all positive.
//
// There are two passes because one has more numbers in flight than processors
// have registers; the first leaves its fractions where the result will stand
// (dst may be src). Nodes are addressed without a check each, which would cost a
// fifth of the time: place holds, for any cell's number of 7 bits, an offset to
// a cell of the cube, whose high corner is in the same block.
func (c *cube) tetrahedralLanes(dst, src *lanes, shift uint) (any uint64) {
	const signs = weightOne * oneEach // where d has them, and what gathers them from laneSigns on
	const gatherSigns, laneSigns = 1 | 1<<(laneG-1) | 1<<(laneB-2), weightBits + laneB - 2
	shift &= 63
	place := &c.lanes.place
	var at [block]uint32
	for x := range src {
		v := src[x] >> shift
		f := v & fractionMask
		// Each lane less the next one, from a 1 above it, which is left where not negative.
		d := (f | signs) - (f>>laneG | f<<laneB)
		dst[x] = f | d&signs*gatherSigns>>laneSigns&7<<60
		at[x] = place[0][v>>weightBits&(maxCells-1)] + place[1][v>>(weightBits+laneG)&(maxCells-1)] + place[2][v>>(weightBits+laneB)&(maxCells-1)]
	}
	first := unsafe.Pointer(&c.lanes.nodes[0])
	round := uint64(c.round) * oneEach
	for x := range at {
		f := dst[x]
		cell := unsafe.Add(first, 8*uint64(at[x]))
		start := &tetrahedra[f>>60&7]
		n := *(*uint64)(cell)
		r, g, b := uint64(start[0]), uint64(start[1]), uint64(start[2])
		stepR := *(*uint64)(unsafe.Add(cell, 8*r+8)) - *(*uint64)(unsafe.Add(cell, 8*r))
		stepG := *(*uint64)(unsafe.Add(cell, 8*g+8*strideG)) - *(*uint64)(unsafe.Add(cell, 8*g))
		stepB := *(*uint64)(unsafe.Add(cell, 8*b+8*strideB)) - *(*uint64)(unsafe.Add(cell, 8*b))
		any |= n
		dst[x] = (n<<weightBits + round + stepR*(f&(weightOne-1)) + stepG*(f>>laneG&(weightOne-1)) + stepB*(f>>laneB&(weightOne-1))) >> sumShift & uEach
	}
	return any
}

func (c *cube) trilinearLanes(dst, src *lanes) (any uint64) {
	for x, v := range src {
		u := unpack3(v)
		any |= c.nodes[c.cell(u)]
		o := c.at(u)
		dst[x] = pack3(uint64(o[0]), uint64(o[1]), uint64(o[2]))
	}
	return any
}

// row is laneRow for channels apart, where the wide form does not look up.
func (c *cube) row(dst, src []pixels, m marks) {
	for i := range src {
		d, s := &dst[i], &src[i]
		var any uint64
		for x := range block {
			u := [3]uint16{s.r[x], s.g[x], s.b[x]}
			any |= c.nodes[c.cell(u)]
			v := c.at(u)
			d.r[x], d.g[x], d.b[x] = v[0], v[1], v[2]
		}
		if any&nodeFlag != 0 {
			m[i] |= c.marked(s)
		}
	}
}

// marked is one bit for each pixel of a block that is to be evaluated exactly.
func (c *cube) marked(p *pixels) (m uint64) {
	for x := range block {
		if c.exact([3]uint16{p.r[x], p.g[x], p.b[x]}) {
			m |= 1 << x
		}
	}
	return m
}
