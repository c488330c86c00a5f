package gauge

import (
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// Box is a rectangle in parts of the picture's width and height.
type Box struct {
	X float64 `json:"x"`
	Y float64 `json:"y"`
	W float64 `json:"w"`
	H float64 `json:"h"`
}

// Pixels is the box in whole pixels of a w×h picture: at least one, all inside.
func (b Box) Pixels(w, h int) (x0, y0, x1, y1 int) {
	hold := func(v float64, hi int) int { return int(math.Round(min(max(v, 0), 1) * float64(hi))) }
	x0, y0, x1, y1 = hold(b.X, w), hold(b.Y, h), hold(b.X+b.W, w), hold(b.Y+b.H, h)
	x0, y0 = min(x0, w-1), min(y0, h-1)
	return x0, y0, max(x1, x0+1), max(y1, y0+1)
}

// Patch is the luma of a box over some frames, as E′ of the frames' range
// (0 = black, 1 = white).
type Patch struct {
	Mean  float64
	SE    float64 // standard error of the mean, set by PatchErrors; 0: not known
	Noise float64 // standard deviation of a sample from frame to frame
	Range colour.Range
	Bits  int

	frames  int
	samples int     // in the box
	spread  float64 // variance of the frames' means
}

// ReadPatch averages a box of one or more frames of one format.
func ReadPatch(frames []*picture.Frame, b Box) Patch {
	var p Patch
	var means, sum, square []float64 // of frames; of the box's samples
	for _, f := range frames {
		p.Range, p.Bits = f.Range, f.Bits
		x0, y0, x1, y1 := b.Pixels(f.Width, f.Height)
		if sum == nil {
			p.samples = (x1 - x0) * (y1 - y0)
			sum, square = make([]float64, p.samples), make([]float64, p.samples)
		}
		m, i := 0.0, 0
		for y := y0; y < y1; y++ {
			for _, c := range f.Y[y*f.Width+x0 : y*f.Width+x1] {
				e := f.Range.LumaFromCode(float64(c), f.Bits)
				m += e
				sum[i] += e
				square[i] += e * e
				i++
			}
		}
		means = append(means, m/float64(i))
	}
	p.frames = len(means)
	n := float64(p.frames)
	for _, m := range means {
		p.Mean += m / n
	}
	if p.frames < 2 {
		return p
	}
	var v float64
	for i := range sum {
		v += max(0, square[i]-sum[i]*sum[i]/n)
	}
	p.Noise = math.Sqrt(v / (float64(p.samples) * (n - 1)))
	for _, m := range means {
		p.spread += (m - p.Mean) * (m - p.Mean) / (n - 1)
	}
	return p
}

// leastPatchError is what no average takes away, in codes of the recording: an
// encoder's own rounding shifts a whole patch. Tried with x264 at 10 bits, by
// whose constant rate factor 12 the mean of a noisy patch is off by some 0.06.
const leastPatchError = 0.1

// PatchErrors sets the standard errors of patches recorded alike. The noise of a
// patch tells its mean's error but for what neighbouring samples share (an
// encoder, flicker): by how much that makes the mean worse is taken from how the
// frames' means spread, in all patches together, since the few frames of one say
// little. Added is what rounding to codes leaves. A patch of one frame has no
// error that could be told, and then none of them has.
func PatchErrors(patches []Patch) {
	var excess, freedom float64
	for _, p := range patches {
		if p.frames < 2 {
			return
		}
		if p.Noise > 0 {
			df := float64(p.frames - 1)
			excess += df * p.spread / (p.Noise * p.Noise / float64(p.samples))
			freedom += df
		}
	}
	worse := 1.0
	if freedom > 0 {
		worse = max(1, excess/freedom)
	}
	for i := range patches {
		p := &patches[i]
		scale, _ := p.Range.LumaScale(p.Bits) // codes
		rounding := math.Hypot(roundingError(p.Noise*scale), leastPatchError) / scale
		p.SE = math.Hypot(p.Noise*math.Sqrt(worse/float64(p.samples*p.frames)), rounding)
	}
}

// roundingError is the standard deviation of what rounding to whole codes
// leaves in the mean of samples whose noise is sigma codes: the first term of
// the Fourier series of the rounding error, (1/π)·sin(2πx), which Gaussian
// noise damps by exp(−2π²σ²) (Widrow, Kollár and Liu 1996, "Statistical theory
// of quantization", from memory; the test tries it).
func roundingError(sigma float64) float64 {
	return min(1/math.Sqrt(12), math.Exp(-2*math.Pi*math.Pi*sigma*sigma)/(math.Pi*math.Sqrt2))
}
