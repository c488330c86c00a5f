package gauge

import (
	"math"

	"lampwise/internal/picture"
)

// ClipFinder looks for the code at which a recording clips. A sensor is full
// well before a log curve's last code, so a blown highlight shows as a pile of
// samples at one luma code with nothing above it. An even bright surface makes
// a pile too, but with the camera's noise in it, while a full sensor has none:
// the noise tells them apart where there is enough of it.
type ClipFinder struct {
	count  []int64 // luma samples by code
	noise  []tally // second differences across, by level
	bits   int
	frames int
}

// Add counts a frame; all frames must have one depth.
func (c *ClipFinder) Add(f *picture.Frame) {
	c.ready(f.Bits)
	for _, v := range f.Y {
		c.count[min(int(v), len(c.count)-1)]++
	}
	for y := 0; y < f.Height; y += 2 {
		row := f.Y[y*f.Width : (y+1)*f.Width]
		for x := 1; x < f.Width-1; x += 2 {
			c.level(row[x]).add(highPass(row, x))
		}
	}
	c.frames++
}

// AddView counts a frame's samples only, at a sixteenth of the cost.
func (c *ClipFinder) AddView(v *View) {
	c.ready(v.Bits)
	f := v.Frame
	for y := range v.H {
		row := f.Y[y*v.Step*f.Width:][:f.Width]
		for x, code := range v.Y[y*v.W : (y+1)*v.W] {
			c.count[min(int(code), len(c.count)-1)]++
			if at := x * v.Step; at > 0 && at < f.Width-1 {
				c.level(code).add(highPass(row, at))
			}
		}
	}
	c.frames++
}

const (
	noiseLevels  = 1024 // levels by which noise is kept apart, over all codes
	noiseTallies = 64   // sizes of difference, in codes; what is larger is no noise of a highlight
)

func (c *ClipFinder) ready(bits int) {
	if c.count != nil {
		return
	}
	c.bits = bits
	c.count = make([]int64, 1<<bits)
	c.noise = make([]tally, min(noiseLevels, 1<<bits))
	for i := range c.noise {
		c.noise[i] = make(tally, noiseTallies<<max(bits-10, 0))
	}
}

func (c *ClipFinder) level(code uint16) tally {
	return c.noise[c.levelOf(float64(code))]
}

// levelOf is the tally a code's differences go to.
func (c *ClipFinder) levelOf(code float64) int {
	return min(max(int(code*float64(len(c.noise))/float64(len(c.count))), 0), len(c.noise)-1)
}

// RecordingClip is what was found.
type RecordingClip struct {
	Code   float64 // luma code in 10 bits at which the pile stands
	Share  float64 // part of all samples that lie in the pile
	Found  bool    // false: nothing in these frames is blown; Code is the brightest seen
	Excess float64 // how many times denser the pile is than the codes under it
	// Noise is the noise inside the pile, in 10-bit codes, and Below the least
	// that the levels under it let one expect there. Sure says that less than
	// half of that is inside: only a full sensor does it.
	Noise, Below float64
	Sure         bool
	// Why says what speaks against a pile that was seen and not taken.
	Why string
}

// What makes a pile. Common practice, no source: noise reduction and chroma
// subsampling blur a clipped patch's edge but leave its inside at one code.
const (
	pileHalfWidth = 3    // codes of 10 bits to each side
	pileWidest    = 10   // the same where the recording's own noise is wide
	pileShare     = 2e-5 // least part of all samples: 40 of a 1080p frame
	pileFewest    = 12   // least samples
	pileExcess    = 2.5  // least density against the codes below
	belowWidth    = 40   // how many codes below are looked at
	aboveShare    = 2e-6 // what may lie above the pile: overshoot at edges
	noiseBelow    = 500  // within how many codes below the noise to compare with is looked for
	noiseGroups   = 8    // groups of levels, the nearest that have samples, that give it
	noiseGroup    = 8    // codes a group takes
	// Photon noise in a log recording halves every two stops of light, and two
	// stops take about so many codes; in a display signal it hardly falls. So
	// the expectation lies between the noise below and this.
	noiseHalves = 150
	// A pile whose noise is no less than this part of that below, and can be
	// told from rounding, is an even surface.
	evenSurface   = 0.6
	evenLeast     = 0.35 // codes of 10 bits
	fullSensor    = 0.5  // at most this part of the noise below: full for sure
	sureLeast     = 0.8  // and at least so much noise below, in codes
	noiseCore     = 0.35 // see tally.sigma
	noiseSamples  = 200  // fewest differences for a level's noise
	pileNoiseLeft = 2.5  // a pile reaches so many of its own σ to each side
)

// Find returns the recording's clip.
func (c *ClipFinder) Find() RecordingClip {
	return c.find(c.count, c.noise)
}

// Floor returns the code at the other end: a pile with nothing below, where
// the recording crushes black. Code is the darkest code seen when none is found.
func (c *ClipFinder) Floor() RecordingClip {
	turned := make([]int64, len(c.count))
	for i, n := range c.count {
		turned[len(turned)-1-i] = n
	}
	noise := make([]tally, len(c.noise))
	for i, t := range c.noise {
		noise[len(noise)-1-i] = t
	}
	r := c.find(turned, noise)
	if len(c.count) > 0 {
		r.Code = float64(len(c.count)-1)/c.unit() - r.Code
	}
	return r
}

// unit is a 10-bit code's width in the recording's own codes.
func (c *ClipFinder) unit() float64 { return float64(int(1)<<c.bits) / 1024 }

func (c *ClipFinder) find(count []int64, noise []tally) RecordingClip {
	var total int64
	top := -1
	for code, n := range count {
		total += n
		if n > 0 {
			top = code
		}
	}
	if total == 0 {
		return RecordingClip{}
	}
	best := RecordingClip{Code: float64(top) / c.unit()}
	for _, half := range []float64{pileHalfWidth, 5, 7, pileWidest} {
		r := c.pile(count, noise, top, total, half)
		if !r.Found {
			if r.Why != "" {
				best.Why = r.Why
			}
			continue
		}
		if half > pileHalfWidth && !(r.Sure && half <= max(pileHalfWidth, 2*pileNoiseLeft*r.Noise)) {
			continue // wide, and nothing but its width to show for it
		}
		return r
	}
	return best
}

// pile looks for a pile of the given half width (10-bit codes) from the top
// down to where overshoot ends.
func (c *ClipFinder) pile(count []int64, noise []tally, top int, total int64, halfWidth float64) RecordingClip {
	unit := c.unit()
	half, below := max(1, int(math.Round(halfWidth*unit))), int(math.Round(belowWidth*unit))
	var above int64
	best := RecordingClip{}
	for centre := top; centre >= 0 && float64(above) <= aboveShare*float64(total); centre-- {
		in, under := sumCodes(count, centre-half, centre+half), sumCodes(count, centre-half-below, centre-half-1)
		excess := float64(in) / float64(2*half+1) / math.Max(float64(under)/float64(below), 0.5)
		share := float64(in) / float64(total)
		if share >= pileShare && in >= pileFewest && excess >= pileExcess && excess > best.Excess {
			best = RecordingClip{Code: centreCode(count, centre-half, centre+half) / unit, Share: share, Found: true, Excess: excess}
		}
		if centre+half < len(count) {
			above += count[centre+half]
		}
	}
	if !best.Found {
		return best
	}
	var inside, outside bool
	best.Noise, inside = c.noiseOf(noise, best.Code-halfWidth/2, best.Code+halfWidth/2)
	best.Below, outside = c.expected(noise, best.Code, best.Code-2*halfWidth-4)
	if inside && outside {
		best.Sure = best.Below >= sureLeast && best.Noise < fullSensor*best.Below
		if best.Noise >= evenLeast && best.Noise >= evenSurface*best.Below {
			return RecordingClip{Why: "the brightest surface is even, but it has the noise of an unclipped one"}
		}
	}
	return best
}

// noiseOf is the noise of the levels from..to, all in 10-bit codes; false
// where too few samples lie there.
func (c *ClipFinder) noiseOf(noise []tally, from, to float64) (float64, bool) {
	sum := make(tally, len(noise[0]))
	for i := c.levelOf(from * c.unit()); i <= c.levelOf(to*c.unit()); i++ {
		for d, n := range noise[i] {
			sum[d] += n
		}
	}
	if sum.total() < noiseSamples {
		return 0, false
	}
	s, ok := sum.sigma(across, noiseCore)
	return s / c.unit(), ok
}

// expected is the least noise that the levels below from let one expect at a
// code, all in 10-bit codes.
func (c *ClipFinder) expected(noise []tally, code, from float64) (float64, bool) {
	var all []float64
	for to := from; to > code-noiseBelow && len(all) < noiseGroups; to -= noiseGroup {
		if s, ok := c.noiseOf(noise, to-noiseGroup+1, to); ok {
			all = append(all, s*math.Exp2(-(code-to)/noiseHalves))
		}
	}
	if len(all) == 0 {
		return 0, false
	}
	return median(all), true
}

func sumCodes(count []int64, from, to int) (n int64) {
	for code := max(0, from); code <= min(to, len(count)-1); code++ {
		n += count[code]
	}
	return n
}

// centreCode is the mean code of the samples from..to.
func centreCode(count []int64, from, to int) float64 {
	var n, s float64
	for code := max(0, from); code <= min(to, len(count)-1); code++ {
		n += float64(count[code])
		s += float64(code) * float64(count[code])
	}
	return s / n
}
