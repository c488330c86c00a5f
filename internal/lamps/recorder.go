package lamps

import (
	"math"

	"lampwise/internal/fault"
	"lampwise/internal/unit"
)

// Recorder watches a switch clip frame by frame and averages its holds. Its
// pictures' memory doesn't grow with the clip's length: a few seconds of
// blocks that wait for the change points to settle, the open hold's groups,
// and one picture for each hold closed. Of each frame only the signature is kept.
type Recorder struct {
	w, h  int
	rate  float64 // frames a second
	block int     // frames in a block
	taken int     // of them whole, in the last block
	step  int     // one pixel in so many measures noise

	series [][]float64
	means  []float64
	times  []unit.Second

	current *stillBlock
	free    [][]float32 // pictures' memory to be used again
	waiting []*stillBlock
	open    *stretch
	closed  []*stretch

	// Differences of frames and of block means, one and three blocks apart.
	frameNear, frameFar, blockNear, blockFar noiseBins
	sharing                                  []float64 // of shared, by stretch
}

// Times of the recorder, s.
const (
	blockTime  = 0.2
	guardTime  = 0.05 // about a change of light: shutter and codec smear it
	settleTime = 2.4  // after which a change point no longer moves
	windowTime = 12   // over which change points are sought while recording
	shortest   = 0.12 // segment
	holdTime   = 0.4  // 5-lamps.md, Holds
	longest    = 1200 // clip
)

// NewRecorder makes a recorder for frames of w×h at a rate in frames a second.
func NewRecorder(w, h int, rate float64) (*Recorder, error) {
	if !(rate >= 5 && rate <= 1000) {
		return nil, fault.New(fault.Input, "clip-rate", "use a clip of 5 frames a second or more", "the clip has %g frames a second", rate)
	}
	return &Recorder{
		w: w, h: h, rate: rate,
		block: max(2, int(math.Round(blockTime*rate))),
		step:  max(1, int(math.Sqrt(float64(w*h)/noiseSamples))),
	}, nil
}

// noiseSamples is about how many pixels of a frame measure the noise.
const noiseSamples = 12000

func (r *Recorder) frames(seconds float64) int { return max(1, int(math.Round(seconds*r.rate))) }

// stillBlock is the sum of a few frames in a row.
type stillBlock struct {
	from, to int // frames
	taken    int // of them in the sum
	sum      []float32
	clipped  []bool
	first    []float32 // the first frame's noise samples
}

// Whole says whether the next frame's picture is wanted whole: of a block every
// other one is, since neighbouring frames share much of their noise (a
// denoiser's, a codec's) and to take each costs more than decoding the clip. A
// slow clip has no frames to spare.
func (r *Recorder) Whole() bool {
	return r.current == nil || (len(r.series)-r.current.from)%FrameStep(r.rate) == 0
}

// FrameStep is the distance of the frames that are averaged of a clip of so
// many a second. Whoever averages frames to hold them against a set takes them as
// far apart, since Recording.Correlation is of frames at this distance.
func FrameStep(rate float64) int {
	if rate < 20 {
		return 1
	}
	return 2
}

// Add takes the next frame, whole, shown at time t.
func (r *Recorder) Add(l *Light, t unit.Second) error { return r.add(l, t, whole) }

// Keep is Add, but for the picture's memory, which the recorder keeps where it
// has a use for it: l may come back with other memory, of any content.
func (r *Recorder) Keep(l *Light, t unit.Second) error { return r.add(l, t, kept) }

// Skim takes the next frame, of which only each SignatureStep-th row need be
// filled, for what it says of the light's changes.
func (r *Recorder) Skim(l *Light, t unit.Second) error { return r.add(l, t, skimmed) }

// shown is how a frame is given.
type shown int

const (
	skimmed shown = iota // a few rows of it
	whole
	kept // whole, with its memory
)

func (r *Recorder) add(l *Light, t unit.Second, how shown) error {
	if err := l.checkShape(); err != nil {
		return err
	}
	if l.W != r.w || l.H != r.h {
		return fault.New(fault.Input, "light-size", "", "frame %d is %d×%d, not %d×%d", len(r.series), l.W, l.H, r.w, r.h)
	}
	if float64(len(r.series)) > longest*r.rate {
		return fault.New(fault.Input, "clip-long", "cut the clip to the switching", "the switch clip is longer than 20 minutes")
	}
	s, mean := signature(l)
	if math.IsNaN(mean) || math.IsInf(mean, 0) {
		return errNotFinite()
	}
	r.series = append(r.series, s)
	r.means = append(r.means, mean)
	r.times = append(r.times, t)
	r.addToBlock(l, how)
	if len(r.waiting) > 0 && len(r.series)-r.waiting[0].to >= r.frames(settleTime) {
		r.decide()
	}
	return nil
}

func (r *Recorder) addToBlock(l *Light, how shown) {
	n := len(r.series) - 1
	b := r.current
	if b == nil {
		b = &stillBlock{from: n}
		r.current = b
	}
	b.to = n + 1
	if how != skimmed {
		r.take(b, l, how == kept)
	}
	if b.to-b.from < r.block {
		return
	}
	r.current = nil
	if b.taken > 0 {
		r.waiting = append(r.waiting, b)
		r.taken = b.taken
	}
}

// take adds a whole frame to a block, which may keep its memory.
func (r *Recorder) take(b *stillBlock, l *Light, keep bool) {
	if b.taken++; b.taken == 1 {
		b.sum = r.picture()
		if keep {
			b.sum, l.Pix = l.Pix, b.sum
		} else {
			copy(b.sum, l.Pix)
		}
		b.first = r.samples(b.sum, 1)
		for k, p := 0, r.step/2; p < r.w*r.h; k, p = k+3, p+r.step*r.step {
			if clippedAt(l, p) {
				b.first[k] = clippedSample
			}
		}
	} else {
		addTo(b.sum, l.Pix)
	}
	for p, c := range l.Clipped {
		if c {
			if b.clipped == nil {
				b.clipped = make([]bool, len(l.Clipped))
			}
			b.clipped[p] = true
		}
	}
}

// picture is memory for a picture's samples, of any content.
func (r *Recorder) picture() []float32 {
	n := len(r.free)
	if n == 0 {
		return make([]float32, 3*r.w*r.h)
	}
	pix := r.free[n-1]
	r.free = r.free[:n-1]
	return pix
}

// release gives a picture's samples back.
func (r *Recorder) release(pix []float32) { r.free = append(r.free, pix) }

// samples reads the pixels that measure noise, times scale.
func (r *Recorder) samples(pix []float32, scale float32) []float32 {
	each := r.step * r.step
	out := make([]float32, 0, 3*(r.w*r.h/each+1))
	for p := r.step / 2; p < r.w*r.h; p += each {
		out = append(out, pix[3*p]*scale, pix[3*p+1]*scale, pix[3*p+2]*scale)
	}
	return out
}

// clippedSample marks a sample that isn't to be compared.
const clippedSample = -1e9

// countDifferences adds the differences of two sets of samples.
func countDifferences(a, b []float32, bins *noiseBins) {
	b = b[:len(a)]
	for k := 0; k+2 < len(a); k += 3 {
		u, v := a[k:k+3:k+3], b[k:k+3:k+3]
		if u[0] == clippedSample || v[0] == clippedSample {
			continue
		}
		for c := range 3 {
			x, y := float64(u[c]), float64(v[c])
			bins.add(c, (x+y)/2, x-y)
		}
	}
}

// decide says of the blocks that have waited long enough whether they are of
// the open stretch, of a new one, or of none.
func (r *Recorder) decide() {
	n := len(r.series)
	from := max(0, n-r.frames(windowTime))
	if r.open != nil {
		from = max(0, min(from, r.open.last.from))
	}
	from = min(from, r.waiting[0].from)
	changes := r.changes(from, n)
	for len(r.waiting) > 0 && n-r.waiting[0].to >= r.frames(settleTime) {
		r.place(r.waiting[0], changes)
		r.waiting = r.waiting[1:]
	}
}

// changes are the frames between from and to at which the light changes.
func (r *Recorder) changes(from, to int) []int {
	part := r.series[from:to]
	sigma, correlation := signatureNoise(part)
	if sigma == nil {
		return nil
	}
	points := changePoints(scaled(part, sigma), changePenalty(len(part), signatureSize, correlation), r.frames(shortest))
	for i := range points {
		points[i] += from
	}
	return r.switches(points, from, to, sigma)
}

// switches keeps those change points at which light was switched: not those
// between segments that are alike, nor those at which only the figure moved.
func (r *Recorder) switches(points []int, from, to int, sigma []float64) []int {
	guard := r.frames(guardTime)
	kept := points[:0]
	start := from
	for i, c := range points {
		end := to
		if i+1 < len(points) {
			end = points[i+1]
		}
		a, b := span{start, c}, span{c, end}
		if a.to-a.from > 3*guard {
			a.to -= guard
		}
		if b.to-b.from > 3*guard {
			b.from += guard
		}
		if r.same(a, b, sigma) {
			continue // the segments join; the next is compared with both
		}
		kept = append(kept, c)
		start = c
	}
	return kept
}

// place puts a block where it belongs.
func (r *Recorder) place(b *stillBlock, changes []int) {
	guard := r.frames(guardTime)
	clean, apart := true, false
	for _, c := range changes {
		if c-guard < b.to && c+guard > b.from {
			clean = false
		}
		if r.open != nil && c > r.open.last.from && c <= b.from {
			apart = true
		}
	}
	if r.open != nil && (apart || !clean) {
		r.close()
	}
	if !clean {
		r.release(b.sum)
		return
	}
	if r.open == nil {
		r.open = newStretch(r, b)
	}
	r.open.add(r, b)
}

func (r *Recorder) close() {
	r.open.finish(r)
	r.closed = append(r.closed, r.open)
	r.open = nil
}
