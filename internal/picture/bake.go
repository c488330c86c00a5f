package picture

import (
	"math"
	"sync/atomic"

	"lampwise/internal/colour"
)

// The grid an analytic stretch is baked onto, and the coarser one that is
// always evaluated. Where every second coarse point predicts those between
// them to within a cell's allowance, the fine points are interpolated instead
// of evaluated: at half the step a smooth function errs by a quarter of what
// was found, and a bent one by a half.
const (
	fineGrid   = 129
	coarseGrid = (fineGrid-1)/2 + 1
)

// What a cell may err by, in the judge's measure, before it is evaluated
// exactly: part of what the kernel promises, since a cell is tried at some
// points only.
const (
	cellDE    = 0.2 // of the promised 0.5 CIEDE2000
	cellCodes = 0.5 // of the promised one 10-bit code on neutrals
)

// coarsePart is the part of a cell's allowance by which the coarse grid may
// miss a point before the fine points round it are evaluated and its cells
// tried: a bend (where the largest channel changes, or a compression begins)
// shows at a coarse point only as far as it passes near it.
const coarsePart = 0.35

// judge measures how far apart two display signals are.
type judge struct {
	limit   func([3]float64) [3]float64
	minGain float64 // the vignette's smallest factor on the signal; what the limiter cuts off may come back below it
}

// excessive says whether a cell that errs so is to be evaluated exactly; part
// scales what it may err by.
func (j judge) excessive(want, got [3]float64, part float64) bool {
	de, codes := j.compare(want, got)
	return de > part*cellDE || codes > part*cellCodes
}

// near is what counts as neutral: channels within a hundredth of the signal.
const near = 0.01

// compare returns CIEDE2000 of two signals and, where the first is neutral,
// their largest difference in 10-bit narrow-range codes, else 0.
func (j judge) compare(want, got [3]float64) (de, codes float64) {
	de, codes = j.compareAt(want, got)
	if j.minGain < 1 && max(want[0], want[1], want[2], got[0], got[1], got[2]) > 1 {
		for ch := range want {
			want[ch], got[ch] = want[ch]*j.minGain, got[ch]*j.minGain
		}
		d, c := j.compareAt(want, got)
		de, codes = max(de, d), max(codes, c)
	}
	return de, codes
}

func (j judge) compareAt(want, got [3]float64) (de, codes float64) {
	want, got = j.limit(want), j.limit(got)
	largest := max(math.Abs(want[0]-got[0]), math.Abs(want[1]-got[1]), math.Abs(want[2]-got[2]))
	if max(want[0], want[1], want[2])-min(want[0], want[1], want[2]) <= near {
		codes = largest * codes10
	}
	if largest < nothing {
		return 0, codes
	}
	return colour.DeltaE2000(colour.DisplayLab(colour.RGB(want)), colour.DisplayLab(colour.RGB(got))), codes
}

// codes10 is how many 10-bit narrow-range codes 0..1 of the signal spans
// (ITU-R BT.709-6, item 4.6).
const codes10 = 940 - 64

// nothing is a difference of signals that is not worth the cube roots of
// CIELAB: a tenth of a 15-bit step.
const nothing = 0.1 / (1 << 15)

// baking is an analytic stretch sampled onto the coarse grid.
type baking struct {
	f      func([3]float64) [3]float64
	in     domain
	coarse [][3]float32
}

func newBake(f func([3]float64) [3]float64, in domain) *baking {
	b := &baking{f: f, in: in, coarse: make([][3]float32, coarseGrid*coarseGrid*coarseGrid)}
	eachRow(coarseGrid*coarseGrid, func(i int) {
		for r := range coarseGrid {
			b.coarse[i*coarseGrid+r] = single(f(b.place(2*r, 2*(i%coarseGrid), 2*(i/coarseGrid))))
		}
	})
	return b
}

func single(v [3]float64) [3]float32 {
	return [3]float32{float32(v[0]), float32(v[1]), float32(v[2])}
}

func double(v [3]float32) [3]float64 {
	return [3]float64{float64(v[0]), float64(v[1]), float64(v[2])}
}

// place is the input at a point of the fine grid.
func (b *baking) place(r, g, bl int) [3]float64 { return b.placePart(r, g, bl, [3]int{}) }

// placePart is the input some quarters of a cell's side beyond a point.
func (b *baking) placePart(r, g, bl int, quarters [3]int) (x [3]float64) {
	for ch, i := range [3]int{r, g, bl} {
		x[ch] = b.in.lo[ch] + (b.in.hi[ch]-b.in.lo[ch])*(float64(i)+float64(quarters[ch])/4)/(fineGrid-1)
	}
	return x
}

func (b *baking) extent() (lo, hi float64) {
	first := double(b.coarse[0])
	lo, hi = first[0], first[0]
	for _, v := range b.coarse {
		lo, hi = min(lo, float64(min(v[0], v[1], v[2]))), max(hi, float64(max(v[0], v[1], v[2])))
	}
	return lo, hi
}

// at is the coarse value at fine grid point r, g, bl with steps of 2·step
// coarse points: step 1 uses all of them, step 2 every second one.
func (b *baking) at(r, g, bl, step int) (out [3]float64) {
	var i [3]int
	var f [3]float64
	for ch, x := range [3]int{r, g, bl} {
		cell := min(x/(2*step), (coarseGrid-1)/step-1)
		i[ch], f[ch] = cell*step, float64(x-2*step*cell)/float64(2*step)
	}
	node := func(i [3]int) [3]float64 {
		return double(b.coarse[i[0]+coarseGrid*(i[1]+coarseGrid*i[2])])
	}
	order := [3]int{0, 1, 2}
	if f[order[0]] < f[order[1]] {
		order[0], order[1] = order[1], order[0]
	}
	if f[order[1]] < f[order[2]] {
		order[1], order[2] = order[2], order[1]
	}
	if f[order[0]] < f[order[1]] {
		order[0], order[1] = order[1], order[0]
	}
	last := node(i)
	out = last
	for _, axis := range order {
		if f[axis] == 0 {
			break
		}
		i[axis] += step
		next := node(i)
		for ch := range out {
			out[ch] += f[axis] * (next[ch] - last[ch])
		}
		last = next
	}
	return out
}

// cube fills the fine grid and flags the cells that err too much; next is the
// LUT that its result goes to, if any. after takes
// the stretch's result to the display, whole the stretch's input.
func (b *baking) cube(out domain, after, whole func([3]float64) [3]float64, j judge, next *LUT3D) *cube {
	c := newEmptyCube(fineGrid, b.in, out)
	c.baked = true
	c.roundFor(next)
	var flagged atomic.Int64
	eachRow(c.count(), func(i int) {
		t := tile{baking: b, out: out, after: after, judge: j}
		t.r0, t.g0, t.b0 = c.origin(i)
		t.fill()
		for n, v := range t.value {
			c.nodes[i*blockSize+n] = packNode(parts(out, v))
		}
		flagged.Add(t.flag(c, whole))
	})
	c.flagged = int(flagged.Load())
	return c
}

// A tile's quarter is the side, in fine cells, of the parts that are evaluated
// or interpolated as a whole: one cell of every second coarse point.
const quarter = 4

// tile is a block of a cube while it is baked.
type tile struct {
	*baking
	out        domain
	after      func([3]float64) [3]float64
	judge      judge
	r0, g0, b0 int // low corner on the fine grid
	value      [blockSize][3]float64
	evaluated  [blockSize]bool
	suspect    [blockSize]bool // evaluated, and the coarse grid was too far off
}

func (t *tile) fill() {
	for n := range t.value {
		r, g, b := n%blockNodes, n/blockNodes%blockNodes, n/strideB
		t.value[n] = t.at(t.r0+r, t.g0+g, t.b0+b, 1)
	}
	for b := 0; b < blockCells; b += quarter {
		for g := 0; g < blockCells; g += quarter {
			for r := 0; r < blockCells; r += quarter {
				if !t.smooth(r, g, b) {
					t.evaluate(r, g, b)
				}
			}
		}
	}
}

// display is what becomes of a value: held inside the output domain, as a node
// is, and taken to the display.
func (t *tile) display(v [3]float64) [3]float64 {
	for ch := range v {
		v[ch] = max(t.out.lo[ch], min(t.out.hi[ch], v[ch]))
	}
	return t.after(v)
}

// smooth says whether every second coarse point predicts those between them in
// the part with its low corner at r, g, b of the tile.
func (t *tile) smooth(r0, g0, b0 int) bool {
	for b := b0; b <= b0+quarter; b += 2 {
		for g := g0; g <= g0+quarter; g += 2 {
			for r := r0; r <= r0+quarter; r += 2 {
				if (r|g|b)&(quarter-1) == 0 {
					continue
				}
				want, got := t.value[r+strideG*g+strideB*b], t.at(t.r0+r, t.g0+g, t.b0+b, 2)
				if t.judge.excessive(t.after(want), t.display(got), coarsePart) {
					return false
				}
			}
		}
	}
	return true
}

func (t *tile) evaluate(r0, g0, b0 int) {
	for b := b0; b <= b0+quarter; b++ {
		for g := g0; g <= g0+quarter; g++ {
			for r := r0; r <= r0+quarter; r++ {
				n := r + strideG*g + strideB*b
				if (r|g|b)&1 == 0 || t.evaluated[n] {
					continue
				}
				v := t.f(t.place(t.r0+r, t.g0+g, t.b0+b))
				t.suspect[n] = t.judge.excessive(t.after(v), t.display(t.value[n]), coarsePart)
				t.value[n], t.evaluated[n] = v, true
			}
		}
	}
}

// trials are where in a cell it is tried, in quarters of its side: in the
// middle, and in each of the six tetrahedra that it is interpolated in. The
// middle alone lies on the diagonal, where a path is smoothest.
var trials = [...][3]int{{2, 2, 2}, {3, 2, 1}, {3, 1, 2}, {2, 3, 1}, {1, 3, 2}, {2, 1, 3}, {1, 2, 3}}

// flag tries the cells that touch a point which the coarse grid missed, since a
// fine cell elsewhere errs by less.
func (t *tile) flag(c *cube, whole func([3]float64) [3]float64) (flagged int64) {
	for b := range blockCells {
		for g := range blockCells {
			for r := range blockCells {
				n, suspect := uint32(r+strideG*g+strideB*b), false
				for _, corner := range cornerOffset {
					suspect = suspect || t.suspect[n+corner]
				}
				if suspect && t.errs(c, whole, [3]int{t.r0 + r, t.g0 + g, t.b0 + b}) {
					u, _ := t.in.code(t.placePart(t.r0+r, t.g0+g, t.b0+b, trials[0]))
					c.nodes[c.cell(u)] |= nodeFlag
					flagged++
				}
			}
		}
	}
	return flagged
}

// errs says whether a cell is off by more than its allowance at any trial.
func (t *tile) errs(c *cube, whole func([3]float64) [3]float64, cell [3]int) bool {
	for _, part := range trials {
		x := t.placePart(cell[0], cell[1], cell[2], part)
		u, _ := t.in.code(x)
		if t.judge.excessive(whole(x), t.after(c.out.value(c.at(u))), 1) {
			return true
		}
	}
	return false
}
