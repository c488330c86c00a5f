package gauge

import (
	"math"

	"lampwise/internal/picture"
)

// ClipFinder looks for the code at which a recording clips. A sensor is full
// well before a log curve's last code, so a blown highlight shows as a pile of
// samples at one luma code with nothing above it.
type ClipFinder struct {
	count  []int64 // luma samples by code
	bits   int
	frames int
}

// Add counts a frame; all frames must have one depth.
func (c *ClipFinder) Add(f *picture.Frame) {
	if c.count == nil {
		c.bits = f.Bits
		c.count = make([]int64, 1<<f.Bits)
	}
	for _, v := range f.Y {
		c.count[min(int(v), len(c.count)-1)]++
	}
	c.frames++
}

// RecordingClip is what was found.
type RecordingClip struct {
	Code   float64 // luma code in 10 bits at which the pile stands
	Share  float64 // part of all samples that lie in the pile
	Found  bool    // false: nothing in these frames is blown; Code is the brightest seen
	Excess float64 // how many times denser the pile is than the codes under it
}

// What makes a pile. Common practice, no source: noise reduction and chroma
// subsampling blur a clipped patch's edge but leave its inside at one code.
const (
	pileHalfWidth = 3    // codes of 10 bits to each side
	pileShare     = 2e-5 // least part of all samples: 40 of a 1080p frame
	pileExcess    = 2.5  // least density against the codes below
	belowWidth    = 40   // how many codes below are looked at
	aboveShare    = 2e-6 // what may lie above the pile: overshoot at edges
)

// Find returns the recording's clip.
func (c *ClipFinder) Find() RecordingClip {
	var total int64
	top := -1
	for code, n := range c.count {
		total += n
		if n > 0 {
			top = code
		}
	}
	if total == 0 {
		return RecordingClip{}
	}
	unit := float64(int(1)<<c.bits) / 1024
	half, below := max(1, int(math.Round(pileHalfWidth*unit))), int(math.Round(belowWidth*unit))
	// The pile is looked for from the top down to where overshoot ends.
	var above int64
	best := RecordingClip{Code: float64(top) / unit}
	for centre := top; centre >= 0 && float64(above) <= aboveShare*float64(total); centre-- {
		in, under := c.sum(centre-half, centre+half), c.sum(centre-half-below, centre-half-1)
		excess := float64(in) / float64(2*half+1) / math.Max(float64(under)/float64(below), 0.5)
		share := float64(in) / float64(total)
		if share >= pileShare && excess >= pileExcess && excess > best.Excess {
			best = RecordingClip{Code: c.centre(centre-half, centre+half) / unit, Share: share, Found: true, Excess: excess}
		}
		if centre+half < len(c.count) {
			above += c.count[centre+half]
		}
	}
	return best
}

func (c *ClipFinder) sum(from, to int) (n int64) {
	for code := max(0, from); code <= min(to, len(c.count)-1); code++ {
		n += c.count[code]
	}
	return n
}

// centre is the mean code of the samples from..to.
func (c *ClipFinder) centre(from, to int) float64 {
	var n, s float64
	for code := max(0, from); code <= min(to, len(c.count)-1); code++ {
		n += float64(c.count[code])
		s += float64(code) * float64(c.count[code])
	}
	return s / n
}
