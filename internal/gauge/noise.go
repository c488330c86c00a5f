package gauge

import (
	"math"

	"lampwise/internal/picture"
)

// Noise measures a recording's noise by level in two ways that know nothing of
// each other. Over time: how samples differ from the frame before, as the
// difference of neighbouring pairs, so that flicker and exposure fall out; what
// moves is left out. In space: what a mask that is blind to gradients leaves
// in the quieter blocks of a level. Where the two disagree something has
// smoothed the picture in one of them, which is said.
type Noise struct {
	cam    Camera
	format picture.Format
	w, h   int
	frames int
	pairs  int // of neighbouring frames
	same   int // pairs with no difference at all: doubled frames
	planes [3]noisePlane
	space  [noiseBySteps][spaceBins]uint32 // blocks by level and mean |mask|
	lag2   tally
	lag1   tally // of the same samples as lag2
	older  []uint16
	oldest int // index of the frame in older
	shift  []float64
	blocks []noiseBlock
	// Blocks by level and scatter over time, and from them the scatter of
	// those that don't move.
	scatter [noiseBySteps][spaceBins]uint32
	known   [noiseBySteps]float64
	chroma  int // how many samples apart chroma is another one
}

// noisePlane is what is kept of one of Y, Cb, Cr, by luma level.
type noisePlane struct {
	diff [noiseBySteps]tally
	code [noiseBySteps]float64 // sum of luma codes
	n    [noiseBySteps]float64
}

type noiseBlock struct {
	mean, square float64
	level        int
}

const (
	noiseBySteps = 64 // levels over all codes
	noiseSide    = 8  // samples a side of a block
	noiseSizes   = 256
	spaceBins    = 192
	spaceFine    = 16.0 // bins of a doubling of the mask's mean
	spaceLeast   = 0.25 // codes, the first bin
	noiseQuiet   = 0.3  // part of a level's blocks that are quieter than what is taken
	fewestBlocks = 20
	noiseFewest  = 400     // differences for a level's figure
	movedT       = 4.0     // a block's mean difference in its standard errors, from which it moved
	movedWide    = 1.35    // or its scatter against its level's: four standard errors of 64 samples'
	quietShift   = -0.5244 // Φ⁻¹(noiseQuiet)
)

// pairFilter is the difference over time of two neighbouring samples' difference.
var pairFilter = newFilter(1, -1, -1, 1)

// The mask of J. Immerkær 1996, "Fast noise variance estimation": the
// difference of two Laplacians, blind to gradients and straight edges along
// rows and columns. Its squared weights sum to 36.
const maskGain = 36

// NewNoise makes a meter of noise.
func NewNoise(cam Camera) *Noise { return &Noise{cam: cam, oldest: -1} }

// Add measures a frame; over time it needs the one before (View.Before).
func (n *Noise) Add(v *View) {
	if n.format != v.Format || n.w != v.W {
		*n = Noise{cam: n.cam, format: v.Format, w: v.W, h: v.H, oldest: -1, chroma: 1}
		if v.Step == 1 && v.Sub != picture.Sub444 {
			n.chroma = 2
		}
		for p := range n.planes {
			for l := range n.planes[p].diff {
				n.planes[p].diff[l] = make(tally, n.sizes())
			}
		}
		n.lag1, n.lag2 = make(tally, n.sizes()), make(tally, n.sizes())
		n.older = make([]uint16, len(v.Y))
	}
	n.frames++
	n.addSpace(v)
	if v.Before == nil {
		return
	}
	n.addTime(v)
	// Kept for the difference over two frames of the next look.
	copy(n.older, v.Before.Y)
	n.oldest = v.Before.Index
}

func (n *Noise) sizes() int { return noiseSizes << max(n.format.Bits-10, 0) }

func (n *Noise) level(code int) int {
	return min(code*noiseBySteps>>n.format.Bits, noiseBySteps-1)
}

// addSpace puts the mean of the mask's size over each block of samples into
// its level's histogram.
func (n *Noise) addSpace(v *View) {
	f := v.Frame
	w := f.Width
	// Every second row of samples is enough.
	for by := 0; by+noiseSide <= v.H; by += noiseSide {
		for bx := 0; bx+noiseSide <= v.W; bx += noiseSide {
			sum, code, count := 0, 0, 0
			for y := by; y < by+noiseSide; y += 2 {
				fy := y * v.Step
				if fy < 1 || fy >= f.Height-1 {
					continue
				}
				up, at, down := f.Y[(fy-1)*w:fy*w], f.Y[fy*w:(fy+1)*w], f.Y[(fy+1)*w:(fy+2)*w]
				for x := bx; x < bx+noiseSide; x++ {
					fx := x * v.Step
					if fx < 1 || fx >= w-1 {
						continue
					}
					u, a, d := up[fx-1:fx+2:fx+2], at[fx-1:fx+2:fx+2], down[fx-1:fx+2:fx+2]
					h := int(u[0]) + int(u[2]) + int(d[0]) + int(d[2]) - 2*(int(u[1])+int(d[1])+int(a[0])+int(a[2])) + 4*int(a[1])
					if h < 0 {
						h = -h
					}
					sum += h
					code += int(a[1])
					count++
				}
			}
			if count < noiseSide*noiseSide/4 {
				continue
			}
			n.space[n.level(code/count)][n.binOf(float64(sum)/float64(count))]++
		}
	}
}

func (n *Noise) addTime(v *View) {
	b := v.Before
	// What moved, told by blocks against the others of their row: a rolling
	// band or a change of exposure moves the whole row.
	across, down := v.W/noiseSide, v.H/noiseSide
	if across == 0 || down == 0 {
		return
	}
	n.blocks = n.blocks[:0]
	any := false
	for by := range down {
		for bx := range across {
			sum, square, code := 0, 0, 0
			for y := by * noiseSide; y < (by+1)*noiseSide; y++ {
				at := y*v.W + bx*noiseSide
				p, q := v.Y[at:at+noiseSide], b.Y[at:at+noiseSide]
				for x := range p {
					d := int(p[x]) - int(q[x])
					sum += d
					square += d * d
					code += int(p[x])
				}
			}
			const count = noiseSide * noiseSide
			m := float64(sum) / count
			k := noiseBlock{m, max(0, float64(square)/count-m*m), n.level(code / count)}
			n.blocks = append(n.blocks, k)
			n.scatter[k.level][n.binOf(math.Sqrt(k.square))]++
			any = any || square > 0
		}
	}
	n.pairs++
	if !any {
		n.same++
		return
	}
	if n.pairs < 8 || n.pairs%16 == 0 {
		n.learn()
	}
	two := n.oldest == v.Index-2
	for by := range down {
		row := n.blocks[by*across : (by+1)*across]
		n.shift = n.shift[:0]
		for _, k := range row {
			n.shift = append(n.shift, k.mean)
		}
		base := median(n.shift)
		for bx, k := range row {
			se := math.Sqrt((k.square + 1.0/12) / (noiseSide * noiseSide))
			if math.Abs(k.mean-base) > movedT*se || math.Sqrt(k.square) > max(movedWide*n.known[k.level], 0.5) {
				continue
			}
			n.addBlock(v, bx*noiseSide, by*noiseSide, math.Sqrt(k.square), two)
		}
	}
}

// learn finds each level's scatter without motion: a third of its blocks are
// taken to stand still.
func (n *Noise) learn() {
	for l := range n.known {
		n.known[l] = 0
		if q, ok := quantileOf(&n.scatter[l], noiseQuiet, 4); ok {
			n.known[l] = n.scatterOf(q) / (1 + quietShift/math.Sqrt(2*noiseSide*noiseSide))
		}
	}
}

// Scatter and masks are sorted into bins even in their logarithm.
func (n *Noise) binOf(v float64) int {
	if unit := n.unit(); v > unit {
		return min(int(math.Log2(v/unit)*spaceFine), spaceBins-1)
	}
	return 0
}

func (n *Noise) scatterOf(bin float64) float64 { return n.unit() * math.Exp2(bin/spaceFine) }

func (n *Noise) unit() float64 { return float64(int(1)<<max(n.format.Bits-10, 0)) * spaceLeast }

// quantileOf is the place in a histogram, in bins, that part q of what it
// counts lies below; false for fewer than least.
func quantileOf(hist *[spaceBins]uint32, q float64, least int) (float64, bool) {
	total := 0
	for _, c := range hist {
		total += int(c)
	}
	if total < least {
		return 0, false
	}
	want, sum := q*float64(total), 0.0
	for b, c := range hist {
		if c > 0 && sum+float64(c) >= want {
			return float64(b) + (want-sum)/float64(c), true
		}
		sum += float64(c)
	}
	return 0, false
}

// addBlock tallies a block that did not move.
func (n *Noise) addBlock(v *View, x0, y0 int, scatter float64, two bool) {
	b := v.Before
	y := &n.planes[0]
	for row := y0; row < y0+noiseSide; row++ {
		i := row*v.W + x0
		// The level is that of the run, not of the samples: these would be
		// sorted by their own noise. A run with an edge in it has no level.
		left, right := 0, 0
		for k := i; k < i+noiseSide/2; k++ {
			left += int(v.Y[k]) + int(b.Y[k])
			right += int(v.Y[k+noiseSide/2]) + int(b.Y[k+noiseSide/2])
		}
		if d := float64(left-right) / noiseSide; math.Abs(d) > 1+1.5*scatter/math.Sqrt2 {
			continue
		}
		sum := left + right
		l := n.level((sum + noiseSide) / (2 * noiseSide))
		y.code[l] += float64(sum) / (2 * noiseSide) * noiseSide / 2
		y.n[l] += noiseSide / 2
		for k := i; k < i+noiseSide; k += 2 {
			p0, p1, q0, q1 := int(v.Y[k]), int(v.Y[k+1]), int(b.Y[k]), int(b.Y[k+1])
			d := p0 - p1 - q0 + q1
			y.diff[l].add(d)
			if o := n.chroma; o == 1 || (k-i)%4 == 0 {
				n.planes[1].diff[l].add(int(v.Cb[k]) - int(v.Cb[k+o]) - int(b.Cb[k]) + int(b.Cb[k+o]))
				n.planes[2].diff[l].add(int(v.Cr[k]) - int(v.Cr[k+o]) - int(b.Cr[k]) + int(b.Cr[k+o]))
			}
			if two {
				n.lag1.add(d)
				n.lag2.add(p0 - p1 - int(n.older[k]) + int(n.older[k+1]))
			}
		}
	}
}
