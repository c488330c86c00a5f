package picture

// cube is a 3-D table in the form the kernel looks colours up in: each node
// three 13-bit numbers in a uint64, the nodes stored in blocks of 8×8×8 cells
// (9×9×9 nodes, so that a cell never leaves its block). Colours that are near
// each other then lie near each other in memory.
//
// Position along an axis is u·(n−1) in 16.16; of the fraction 8 bits are used.
// The weights of a cell's corners sum to 2^8, a node's number is below 2^13,
// so that a sum stays below 2^21 and three of them fit a uint64, which is what
// makes the portable form fast. All executors compute the same sums and so
// agree to the last bit. What these bits cost is a twentieth of a 10-bit code
// for each look-up; it is in the measured error.
type cube struct {
	n         int // grid points a side, 2..129
	in, out   domain
	trilinear bool
	blocks    int                 // blocks a side
	dir       [maxBlocks]uint32   // first node of each block
	place     [3][maxCells]uint32 // for each axis, what a cell's number adds to the block's (low half) and to the node's in it (high half)
	nodes     []uint64
	round     uint32   // added to a sum before its low bits are dropped
	params    [4]int32 // n − 1, blocks and their square, round, as the wide form takes them
	baked     bool     // ours, not a user's LUT
	flagged   int      // cells of a baked one that are evaluated exactly
	lanes     laneCube // the same for the portable form
}

const (
	blockCells = 8
	blockNodes = blockCells + 1
	strideG    = blockNodes
	strideB    = blockNodes * blockNodes
	blockSize  = blockNodes * blockNodes * blockNodes
	diagonal   = 1 + strideG + strideB

	nodeBits   = 13
	nodeTop    = 1<<nodeBits - 1
	weightBits = 8
	weightOne  = 1 << weightBits
	sumShift   = nodeBits + weightBits - 16 // to u

	// Trilinear interpolation takes a product of fractions, which need more bits.
	trilinearBits = 14

	nodeFlag = 1 << 63
	lane16   = 0xffff

	maxCells  = MaxLUT3D - 1
	maxBlocks = (maxCells / blockCells) * (maxCells / blockCells) * (maxCells / blockCells)
)

// newCube makes a cube of n points a side. node gives the part (0..1 of the
// output domain) at a grid point.
func newCube(n int, in, out domain, node func(r, g, b int) [3]float64) *cube {
	c := newEmptyCube(n, in, out)
	eachRow(c.count(), func(i int) {
		r0, g0, b0 := c.origin(i)
		at := i * blockSize
		for b := range blockNodes {
			for g := range blockNodes {
				for r := range blockNodes {
					c.nodes[at] = packNode(node(min(r0+r, n-1), min(g0+g, n-1), min(b0+b, n-1)))
					at++
				}
			}
		}
	})
	return c
}

func newEmptyCube(n int, in, out domain) *cube {
	c := &cube{n: n, in: in, out: out, blocks: (n - 2 + blockCells) / blockCells}
	c.nodes = make([]uint64, c.count()*blockSize)
	c.roundFor(nil)
	for i := range c.count() {
		c.dir[i] = uint32(i * blockSize)
	}
	for i := range uint32(maxCells) {
		step, inside := uint32(1), i%blockCells
		for axis, stride := range [3]uint32{1, strideG, strideB} {
			c.place[axis][i] = i/blockCells*step&(maxBlocks-1) | inside*stride<<16
			step *= uint32(c.blocks)
		}
	}
	return c
}

// roundFor sets what is added to a sum: half a u, and, since the next cube cuts
// its fraction off, half of what that leaves out. next is nil where there is none.
func (c *cube) roundFor(next *LUT3D) {
	const half = 1 << (sumShift - 1)
	c.round = half
	if next != nil {
		c.round = min(half+uint32(cutHalf(next))<<sumShift, weightOne-half) // a sum and this stay below 2^21
	}
	c.params = [4]int32{int32(c.n - 1), int32(c.blocks), int32(c.blocks * c.blocks), int32(c.round)}
}

// cutHalf is half of the u that a LUT's cube cuts off.
func cutHalf(l *LUT3D) uint16 { return uint16(1 << (16 - weightBits - 1) / (l.Size - 1)) }

// count is how many blocks the cube has.
func (c *cube) count() int { return c.blocks * c.blocks * c.blocks }

// origin is the grid point of block i's low corner.
func (c *cube) origin(i int) (r, g, b int) {
	return i % c.blocks * blockCells, i / c.blocks % c.blocks * blockCells, i / (c.blocks * c.blocks) * blockCells
}

// packNode rounds parts to 13 bits. 1 is 2^13, held at 2^13 − 1.
func packNode(part [3]float64) (node uint64) {
	for ch, p := range part {
		node |= uint64(max(0, min(nodeTop, p*(1<<nodeBits)+0.5))) << (16 * ch)
	}
	return node
}

// cell gives the number of the node at the low corner of the cell that u falls
// in.
func (c *cube) cell(u [3]uint16) uint32 {
	m := uint32(c.n - 1)
	at := c.place[0][uint32(u[0])*m>>16] + c.place[1][uint32(u[1])*m>>16] + c.place[2][uint32(u[2])*m>>16]
	return c.dir[at&lane16] + at>>16
}

// exact says whether the cell that u falls in is to be evaluated exactly.
func (c *cube) exact(u [3]uint16) bool { return c.nodes[c.cell(u)]&nodeFlag != 0 }

// at looks one colour up: the plain form of row.
func (c *cube) at(u [3]uint16) (out [3]uint16) {
	node, weigh, bits := c.cell(u), tetrahedralWeights, weightBits
	if c.trilinear {
		weigh, bits = trilinearWeights, trilinearBits
	}
	var f [3]uint32
	for ch := range f {
		f[ch] = uint32(u[ch]) * uint32(c.n-1) & lane16 >> (16 - bits)
	}
	round := c.round << (bits - weightBits)
	sum := [3]uint32{round, round, round}
	for corner, w := range weigh(f) {
		v := c.nodes[node+cornerOffset[corner]]
		for ch := range sum {
			sum[ch] += uint32(v>>(16*ch)) & nodeTop * w
		}
	}
	for ch := range out {
		out[ch] = uint16(sum[ch] >> (nodeBits + bits - 16))
	}
	return out
}

// cornerOffset is how far each corner of a cell lies from its low corner; bit
// 0 of the corner's number is red, bit 1 green, bit 2 blue.
var cornerOffset = [8]uint32{0, 1, strideG, 1 + strideG, strideB, 1 + strideB, strideG + strideB, diagonal}

// tetrahedralWeights gives corner S, where S is a set of axes, the weight
// max(0, min(f inside S) − max(f outside S)): the walk from the low corner to
// the high one along the largest fraction first, said without sorting.
func tetrahedralWeights(f [3]uint32) (w [8]uint32) {
	for corner := range w {
		lo, hi := uint32(weightOne), uint32(0)
		for axis, x := range f {
			if corner>>axis&1 == 1 {
				lo = min(lo, x)
			} else {
				hi = max(hi, x)
			}
		}
		if lo > hi {
			w[corner] = lo - hi
		}
	}
	return w
}

// trilinearWeights splits the whole along one axis after the other, so that
// rounding loses nothing of the sum.
func trilinearWeights(f [3]uint32) (w [8]uint32) {
	const one = 1 << trilinearBits
	w[0] = one
	for axis, x := range f {
		for corner := range 1 << axis {
			far := w[corner] * x / one
			w[corner|1<<axis] = far
			w[corner] -= far
		}
	}
	return w
}
