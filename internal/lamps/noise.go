package lamps

import (
	"math"
	"slices"
)

// Noise is the variance of one frame's sample at working size as a function
// of its light x: Constant + Photon·x + Square·x², for each channel. The
// constant part is reading noise, the linear part photon noise, the square
// part what grows with the light itself (steps of a log code, pixel response).
type Noise struct {
	Constant, Photon, Square [3]float64
	// Together is how many pixels' worth of area share one draw of noise
	// (demosaicing, chroma subsampling, noise reduction): the variance of a
	// mean of m pixels is Variance·Together/m. 0 is read as 1.
	Together float64
}

// Variance of one frame's sample of channel c at light x.
func (n *Noise) Variance(c int, x float64) float64 {
	x = max(x, 0)
	return n.Constant[c] + x*(n.Photon[c]+x*n.Square[c])
}

// together is Together, at least 1.
func (n *Noise) together() float64 { return max(n.Together, 1) }

// noiseFloor keeps a variance from being 0 where a made picture has no noise:
// a hundredth of a step of ten bits at black.
const noiseFloor = 1e-12

// ConstantNoise is the same deviation at every level, for a picture of which
// nothing better is known.
func ConstantNoise(sigma float64) Noise {
	v := sigma * sigma
	return Noise{Constant: [3]float64{v, v, v}, Together: 1}
}

// noiseBins counts, by level, squares of differences between two pictures of
// the same light. Each bin keeps a histogram of log squares, so that its
// median, which a moving figure doesn't lift, can be taken at any time.
type noiseBins struct {
	count [3][noiseLevels][noiseSteps]uint32
	sum   [3][noiseLevels]float64 // of the levels, for the bin's place
	total [3][noiseLevels]float64
}

const (
	noiseLevels = 24  // half a stop each, from noiseLowest up
	noiseSteps  = 192 // of the square's logarithm, quarters of an octave
	noiseLowest = 0.18 / 256
	squareStep  = 4
	squareFirst = -44 // log2 of the smallest square told apart
)

// add counts a difference d between two samples of mean level x.
func (b *noiseBins) add(c int, x, d float64) {
	level := 0
	if x > noiseLowest {
		level = min(noiseLevels-1, 1+floorLog2(x/noiseLowest, 2))
	}
	step := 0
	if s := d * d; s > 0 {
		step = min(max(floorLog2(s, squareStep)-squareFirst*squareStep, 0), noiseSteps-1)
	}
	b.count[c][level][step]++
	b.sum[c][level] += x
	b.total[c][level]++
}

// floorLog2 is ⌊parts·log₂ x⌋ of a positive normal number, for 2 or 4 parts of
// an octave: the exponent, and where the mantissa stands among the roots of 2.
func floorLog2(x float64, parts int) int {
	bits := math.Float64bits(x)
	octave, m := int(bits>>52)-1023, bits&(1<<52-1)
	if parts == 2 {
		if m >= quarterOctaves[2] {
			return 2*octave + 1
		}
		return 2 * octave
	}
	// In each quarter of the octave's length lies the beginning of one quarter
	// of its logarithm, but in the last.
	part := int(m >> 50)
	if m >= quarterOctaves[part+1] {
		part++
	}
	return 4*octave + part
}

// quarterOctaves are the mantissas of 2^(k/4); the last is above all.
var quarterOctaves = func() (out [5]uint64) {
	for k := range 4 {
		out[k] = math.Float64bits(math.Exp2(float64(k)/4)) & (1<<52 - 1)
	}
	out[4] = 1 << 52
	return out
}()

// chiSquareMedian is the median of a χ² variable with one degree of freedom:
// the squared 75 % point of the normal distribution, 0.67449².
const chiSquareMedian = 0.454936

// noisePoint is the variance at one level.
type noisePoint struct{ level, variance, weight float64 }

// points gives the variance of a difference at each level that has enough
// samples, from the median square.
func (b *noiseBins) points(c int) []noisePoint {
	var out []noisePoint
	for l := range noiseLevels {
		n := b.total[c][l]
		if n < 50 {
			continue
		}
		half, run := n/2, 0.0
		for s := range noiseSteps {
			k := float64(b.count[c][l][s])
			if run+k < half {
				run += k
				continue
			}
			if s == 0 {
				break // half of the differences are none at all: clipped, or too coarse a code
			}
			at := (float64(s)+(half-run)/k)/squareStep + squareFirst
			out = append(out, noisePoint{b.sum[c][l] / n, math.Exp2(at) / chiSquareMedian, n})
			break
		}
	}
	return out
}

// fitNoise fits the three terms, none negative, to variances of *differences*
// of two frames (twice the variance of one), by least squares on the relative
// error: each choice of terms is solved and the best without a negative one kept.
func fitNoise(b *noiseBins) (Noise, bool) {
	var n Noise
	for c := range 3 {
		pts := b.points(c)
		if len(pts) == 0 {
			return n, false
		}
		terms := fitTerms(pts)
		n.Constant[c], n.Photon[c], n.Square[c] = terms[0]/2, terms[1]/2, terms[2]/2
	}
	n.Together = 1
	return n, true
}

func fitTerms(pts []noisePoint) [3]float64 {
	var best [3]float64
	bestCost := math.Inf(1)
	for mask := 1; mask < 8; mask++ {
		var use []int
		for k := range 3 {
			if mask>>k&1 == 1 {
				use = append(use, k)
			}
		}
		if len(use) > len(pts) {
			continue
		}
		n := newNormal(len(use))
		row := make([]float64, len(use))
		for _, p := range pts {
			v := max(p.variance, noiseFloor)
			for i, k := range use {
				row[i] = math.Pow(p.level, float64(k)) / v
			}
			n.add(row, 1, math.Sqrt(p.weight)) // √: levels differ less in trust than in area
		}
		beta, ok := n.solve()
		if !ok || slices.Min(beta) < 0 {
			continue
		}
		cost := 0.0
		for _, p := range pts {
			v := max(p.variance, noiseFloor)
			f := -1.0
			for i, k := range use {
				f += beta[i] * math.Pow(p.level, float64(k)) / v
			}
			cost += f * f * math.Sqrt(p.weight)
		}
		if cost < bestCost*(1-1e-9) {
			bestCost, best = cost, [3]float64{}
			for i, k := range use {
				best[k] = beta[i]
			}
		}
	}
	return best
}

// MeasureNoise takes pairs of neighbouring frames of a steady picture and
// measures one frame's noise from their differences, robustly: what moves in
// less than half of a level's area doesn't count. ok is false when the pairs
// are too few to tell.
func MeasureNoise(pairs [][2]*Light) (n Noise, ok bool) {
	var b noiseBins
	var ratios []float64
	for _, p := range pairs {
		u, v := p[0], p[1]
		for i := range u.W * u.H {
			if clippedAt(u, i) || clippedAt(v, i) {
				continue
			}
			for c := range 3 {
				x, y := float64(u.Pix[3*i+c]), float64(v.Pix[3*i+c])
				b.add(c, (x+y)/2, x-y)
			}
		}
		if r, ok := shared(u.Pix, v.Pix, u.W, u.H); ok {
			ratios = append(ratios, r)
		}
	}
	n, ok = fitNoise(&b)
	if ok && len(ratios) > 0 {
		n.Together = max(1, median(ratios))
	}
	return n, ok
}

func clippedAt(l *Light, p int) bool { return l.Clipped != nil && l.Clipped[p] }

// cellSide is the side of the cells on which the sharing of noise is measured;
// the set check's bins are of about this size.
const cellSide = 6

// shared compares, in the difference of two pictures, the square of each
// cell's sum with the sum of its squares: 1 when pixels don't share noise, up
// to a cell's number of pixels when they all do. It is the median over cells,
// so that what moved in less than half of them doesn't count; ok is false for too few cells.
func shared(a, b []float32, w, h int) (ratio float64, ok bool) {
	var ratios []float64
	for y := 0; y+cellSide <= h; y += cellSide {
		for x := 0; x+cellSide <= w; x += cellSide {
			var s, q float64
			for j := range cellSide {
				for i := range cellSide {
					p := 3*((y+j)*w+x+i) + 1
					d := float64(a[p]) - float64(b[p])
					s, q = s+d, q+d*d
				}
			}
			if q > 0 {
				ratios = append(ratios, s*s/q)
			}
		}
	}
	if len(ratios) < 20 {
		return 0, false
	}
	return median(ratios) / chiSquareMedian, true
}
