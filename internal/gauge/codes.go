package gauge

import (
	"fmt"
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// Codes looks at which codes a recording uses: whether its bits are worth what
// the file says, whether its range tag fits what is in it, and whether the
// claimed curve can have made it.
type Codes struct {
	cam    Camera
	format picture.Format
	frames int
	luma   []float64 // samples by code
	blocks []float64 // means of 4×4 pixels or more, by code
	chroma [2]int    // least and greatest
}

const (
	// CombLimit is the part of the samples, in per cent, that must sit on
	// evenly spaced codes beyond chance before that is told.
	CombLimit = 10.0
	// BlackLimit is by how many 10-bit codes the darkest part of a picture must
	// lie under the claimed curve's black.
	BlackLimit = 4.0

	combWindow   = 24 // codes of smoothing to each side, at 10 bits
	combSteps    = 2048
	combSamples  = 8    // fewest samples a code; below it counting is all there is
	combFewest   = 60   // codes that must be in use
	combPart     = 0.15 // and this part of it: steps that are no whole number take in unequal numbers of codes
	combStands   = 6.0
	combError    = 0.03 // of the share; piles of even surfaces lie on some phase
	darkestPart  = 0.001
	brightPart   = 0.0005
	curveBits10  = 1023.0
	reservedLow  = 4 // 10-bit codes 0 to 3 and 1020 to 1023 are reserved for synchronisation
	reservedHigh = 1019
)

// NewCodes makes a counter of codes.
func NewCodes(cam Camera) *Codes { return &Codes{cam: cam} }

// Add counts a frame.
func (c *Codes) Add(v *View) {
	if c.format != v.Format {
		*c = Codes{cam: c.cam, format: v.Format, chroma: [2]int{1 << 16, 0}}
		c.luma, c.blocks = make([]float64, 1<<v.Bits), make([]float64, 1<<v.Bits)
	}
	c.frames++
	top := uint16(len(c.luma) - 1)
	for _, y := range v.Y {
		c.luma[min(y, top)]++
	}
	lo, hi := uint16(0xffff), uint16(0)
	for i, b := range v.Cb {
		lo, hi = min(lo, b, v.Cr[i]), max(hi, b, v.Cr[i])
	}
	c.chroma = [2]int{min(c.chroma[0], int(lo)), max(c.chroma[1], int(hi))}
	k := max(1, darkBlock/v.Step)
	for y := 0; y+k <= v.H; y += k {
		for x := 0; x+k <= v.W; x += k {
			sum := float32(0)
			for yy := y; yy < y+k; yy++ {
				for _, m := range v.Mean[yy*v.W+x : yy*v.W+x+k] {
					sum += m
				}
			}
			c.blocks[min(int(sum/float32(k*k)+0.5), len(c.blocks)-1)]++
		}
	}
}

// CodesFound is what Codes found.
type CodesFound struct {
	Frames int `json:"frames"`
	Bits   int `json:"bits"` // what the file says
	// Effective is how many bits the codes that are used amount to; nil where
	// too few are used to tell.
	Effective *float64      `json:"effective"`
	Comb      *Comb         `json:"comb"` // nil: none
	Range     RangeFound    `json:"range"`
	Curve     *Plausibility `json:"curve"` // nil: no camera curve is claimed
	Problems  []Problem     `json:"problems,omitempty"`
	Notes     []string      `json:"notes,omitempty"`
}

// Comb is codes that are used more or less than those beside them, at even
// distances: fewer bits in a larger container, or a picture stretched after it
// was digitised.
type Comb struct {
	Step  float64 `json:"step"` // codes from one to the next
	Gaps  bool    `json:"gaps"` // single codes are missing, the others in use
	Share float64 `json:"share"`
	Error float64 `json:"error"` // of Share
}

// Result tells.
func (c *Codes) Result() CodesFound {
	out := CodesFound{Frames: c.frames, Bits: c.format.Bits}
	if c.frames == 0 {
		out.Notes = append(out.Notes, "no frame was looked at")
		return out
	}
	c.comb(&out)
	c.rangeTag(&out)
	if k := c.cam.Curve; k != nil && k.Kind == colour.KindCamera {
		c.curve(&out)
	}
	return out
}

// comb looks for even distances in the histogram. Each code is compared with
// its surroundings in a way that no pile can outweigh the others (difference
// over sum, −1..1); a comb is a line in that signal's spectrum.
func (c *Codes) comb(out *CodesFound) {
	window := combWindow << max(c.format.Bits-10, 0)
	first, last := usedRange(c.luma)
	if last-first < combFewest<<max(c.format.Bits-10, 0) {
		out.Notes = append(out.Notes, "too few codes are in use to tell how many bits they are worth")
		return
	}
	h := c.luma[first : last+1]
	z, weight := make([]float64, len(h)), 0.0
	for i := range h {
		lo, hi := max(0, i-window), min(len(h), i+window+1)
		sum := 0.0
		for _, v := range h[lo:hi] {
			sum += v
		}
		mean := sum / float64(hi-lo)
		if mean < combSamples {
			continue
		}
		z[i] = (h[i] - mean) / (h[i] + mean)
		weight++
	}
	if weight < combFewest {
		out.Notes = append(out.Notes, "too few samples to tell how many bits they are worth")
		return
	}
	full := float64(c.format.Bits)
	out.Effective = &full
	var power []float64
	line := func(f float64) float64 {
		re, im := 0.0, 0.0
		for i, v := range z {
			if v != 0 {
				s, co := math.Sincos(2 * math.Pi * f * float64(first+i))
				re += v * co
				im += v * s
			}
		}
		return math.Hypot(re, im) / weight
	}
	// From steps of two codes to a third of the smoothing window.
	n0 := combSteps * 3 / window
	for k := n0; k <= combSteps/2; k++ {
		power = append(power, line(float64(k)/combSteps))
	}
	floor := median(append([]float64(nil), power...))
	most, at := 0.0, 0
	for i, p := range power {
		if p > most {
			most, at = p, i
		}
	}
	if most < combStands*floor || most < 0.01 {
		return
	}
	// The slowest strong line is the distance itself, the others its multiples.
	for i, p := range power {
		if p > 0.6*most && (i == 0 || p >= power[i-1]) && (i+1 == len(power) || p >= power[i+1]) {
			at = i
			break
		}
	}
	f := float64(n0+at) / combSteps
	for d := 0.25 / combSteps; d > 1e-7; d /= 2 {
		for line(f+d) > line(f) {
			f += d
		}
		for line(f-d) > line(f) {
			f -= d
		}
	}
	comb := foldComb(h, first, 1/f)
	if 100*comb.Share < thresholdFactor*CombLimit {
		return
	}
	out.Comb = &comb
	part := comb.Share
	if comb.Gaps {
		out.Effective = ptr(full + math.Log2(1-part/comb.Step))
	} else {
		out.Effective = ptr(full - part*math.Log2(comb.Step))
	}
	p := Problem{Kind: "bits-few", Size: 100 * part, Error: 100 * comb.Error, Unit: "% of the samples", Severity: Warn}
	if comb.Gaps {
		p.Kind, p.Severity = "bits-stretched", Note
		p.What = fmt.Sprintf("one code in %.1f is missing: the picture was stretched by %.1f %% after it was digitised", comb.Step, 100/(comb.Step-1))
		p.Advice = "look for a range conversion on the way (full to narrow or back); a little is lost, and smooth walls band sooner"
	} else {
		p.What = fmt.Sprintf("%.0f %% of the samples sit on every %.1f-th code: about %.1f bits in a file of %d", 100*part, comb.Step, *out.Effective, c.format.Bits)
		p.Advice = "record with more bits where the camera can; treat this clip as what it is: less grading before it bands"
	}
	out.Problems = append(out.Problems, p)
}

// usedRange is where all but a thousandth of the samples at each end lie.
func usedRange(h []float64) (first, last int) {
	total := 0.0
	for _, n := range h {
		total += n
	}
	sum := 0.0
	first = -1
	for i, n := range h {
		sum += n
		if first < 0 && sum > total/1000 {
			first = i
		}
		if sum < total*999/1000 {
			last = i + 1
		}
	}
	return max(first, 0), min(last, len(h)-1)
}

// foldComb finds where a comb of that step stands and the part of the samples
// that sits on it beyond its share, or is missing there.
func foldComb(h []float64, first int, step float64) Comb {
	// The surroundings by which each code is weighed take in whole steps.
	width := int(math.Ceil(2 * step))
	for w := width; w <= max(width, 40); w++ {
		if off := func(w int) float64 { return math.Abs(float64(w)/step - math.Round(float64(w)/step)) }; off(w) < off(width)-1e-3 {
			width = w
		}
	}
	rel := make([]float64, len(h))
	for i, v := range h {
		m := 0.0
		lo, hi := max(0, i-width/2), min(len(h), i-width/2+width)
		for _, w := range h[lo:hi] {
			m += w
		}
		rel[i] = -1 // too few to say
		if m /= float64(hi - lo); m >= combSamples {
			rel[i] = min(v/m, 1.5*step)
		}
	}
	const phases = 32
	most, least := 0.0, 0.0
	on := make([]bool, len(h))
	for p := range phases {
		clear(on)
		for k := math.Floor(float64(first) / step); ; k++ {
			c := int(math.Round((k+float64(p)/phases)*step)) - first
			if c >= len(h) {
				break
			}
			if c >= 0 {
				on[c] = true
			}
		}
		var in, out, inN, outN float64
		for i, r := range rel {
			switch {
			case r < 0:
			case on[i]:
				in, inN = in+r, inN+1
			default:
				out, outN = out+r, outN+1
			}
		}
		if inN == 0 || outN == 0 {
			continue
		}
		d := in/inN - out/outN
		most, least = max(most, d), min(least, d)
	}
	// With the part p on the comb its codes stand at 1 + p·(step − 1) and the
	// others at 1 − p; with the part p missing they stand p under the others.
	if step > 2.5 && -least > most {
		return Comb{Step: step, Gaps: true, Share: min(-least, 1), Error: combError}
	}
	share := min(most/step, 1)
	return Comb{Step: step, Share: share, Error: combError + combPart*share}
}

// code10 is a quantile of a histogram of codes, as a code of 10 bits.
func (c *Codes) code10(h []float64, part float64) float64 {
	total := 0.0
	for _, n := range h {
		total += n
	}
	want, sum := part*total, 0.0
	for i, n := range h {
		if n > 0 && sum+n >= want {
			return float64(i) * 1024 / float64(len(h))
		}
		sum += n
	}
	return 0
}
