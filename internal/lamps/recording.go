package lamps

import (
	"math"
	"slices"

	"lampwise/internal/fault"
	"lampwise/internal/unit"
)

// Recording is what a switch clip held.
type Recording struct {
	Holds []Hold
	Noise Noise // of one frame at working size
	// Correlation is how many of the frames that are averaged, FrameStep apart,
	// share their noise, so many fewer count.
	Correlation float64
	// Dropped lists stretches that aren't steady enough to be holds.
	Dropped []Dropped
	// Flicker is the largest flicker of any hold, as a fraction.
	Flicker float64

	signatures [][]float64 // each hold's mean signature
	sigma      []float64
}

// Dropped is a stretch that is no hold.
type Dropped struct {
	Start, End unit.Second
	Why        string
}

// Tolerances of a hold.
const (
	slopeTolerance = 0.03  // stops over the hold
	sameTolerance  = 0.007 // of a cell's light: two neighbouring segments are one hold
	moveTolerance  = 0.03  // of all light: a figure's movement changes less of it
	moveBalance    = 0.75  // and leaves at most this share of the change as a sum
	stepShare      = 0.5   // of a change between holds must come in a step
	flickerTold    = 0.01  // of the light
	trimEfficiency = 0.84  // of the mean of the middle half against the mean of all, normal noise (TestTrimEfficiency)
)

// Finish ends the clip and returns its holds.
func (r *Recorder) Finish() (*Recording, error) {
	if len(r.series) < r.frames(holdTime) {
		return nil, fault.New(fault.Input, "clip-short", "film at least half a second with each switch setting", "the switch clip has only %d frames", len(r.series))
	}
	r.current = nil
	changes := r.changes(0, len(r.series))
	for _, b := range r.waiting {
		r.place(b, changes)
	}
	r.waiting = nil
	if r.open != nil {
		r.close()
	}
	out := &Recording{}
	frames := &r.frameFar
	noise, ok := fitNoise(frames)
	if !ok {
		frames = &r.frameNear
		noise, ok = fitNoise(frames)
	}
	if !ok {
		return nil, fault.New(fault.Unsure, "holds-none", "leave the lamps alone for a second or two after each switch", "no stretch of the clip is steady long enough to be a hold")
	}
	noise.Together = 1
	if len(r.sharing) > 0 {
		noise.Together = max(1, median(r.sharing))
	}
	out.Noise = noise
	out.Correlation = r.correlation(frames)
	sigma, correlation := signatureNoise(r.series)
	out.sigma = sigma
	for c := range sigma {
		out.sigma[c] *= math.Sqrt(correlation)
	}
	r.assemble(out, changes)
	if len(out.Holds) == 0 {
		return nil, fault.New(fault.Unsure, "holds-none", "leave the lamps alone for a second or two after each switch", "no stretch of the clip is steady long enough to be a hold")
	}
	return out, nil
}

// correlation is how much larger the variance of a block's mean is than that
// of as many independent frames, and of block means among each other.
func (r *Recorder) correlation(frames *noiseBins) float64 {
	near := noiseRatio(&r.blockNear, frames) * float64(r.taken)
	if math.IsNaN(near) {
		return 1
	}
	far := noiseRatio(&r.blockFar, frames) * float64(r.taken)
	if math.IsNaN(far) {
		return max(1, near)
	}
	sill := max(near, far)
	rho := min(max(1-near/sill, 0), .9)
	return max(1, sill*(1+rho)/(1-rho))
}

// noiseRatio is the median, over levels and channels, of the ratio of two
// measured variances; NaN when there is nothing to compare.
func noiseRatio(a, b *noiseBins) float64 {
	var ratios []float64
	for c := range 3 {
		pb := b.points(c)
		for _, p := range a.points(c) {
			for _, q := range pb {
				if math.Abs(math.Log2(max(p.level, noiseLowest/2)/max(q.level, noiseLowest/2))) < .25 && q.variance > 0 {
					ratios = append(ratios, p.variance/q.variance)
					break
				}
			}
		}
	}
	return median(ratios)
}

// span is a run of frames.
type span struct{ from, to int }

// assemble builds the holds from the final change points and the stretches.
func (r *Recorder) assemble(out *Recording, changes []int) {
	guard := r.frames(guardTime)
	var steady []span
	from := 0
	for _, to := range append(slices.Clone(changes), len(r.series)) {
		s := span{from, to}
		if from > 0 {
			s.from += guard
		}
		if to < len(r.series) {
			s.to -= guard
		}
		from = to
		if s.to-s.from < r.frames(shortest) {
			continue
		}
		if slope, se := r.slope(s); math.Abs(slope) > max(slopeTolerance, 3*se) {
			out.Dropped = append(out.Dropped, Dropped{r.times[s.from], r.times[s.to-1], "the light was fading"})
			continue
		}
		if n := len(steady); n > 0 && s.from-steady[n-1].to <= 2*guard+1 && r.same(steady[n-1], s, out.sigma) {
			steady[n-1].to = s.to
			continue
		}
		if n := len(steady); n > 0 && s.from-steady[n-1].to <= r.frames(holdTime) && s.to-s.from >= r.frames(holdTime) && r.gradual(steady[n-1], s) {
			out.Dropped = append(out.Dropped, Dropped{r.times[steady[n-1].from], r.times[steady[n-1].to-1], "the light was still settling"})
			steady[n-1] = s
			continue
		}
		steady = append(steady, s)
	}
	last := 0
	for _, s := range steady {
		if s.to-s.from < r.frames(holdTime) {
			out.Dropped = append(out.Dropped, Dropped{r.times[s.from], r.times[s.to-1], "shorter than 0.4 s"})
			continue
		}
		mean, moving, frames := r.gather(s)
		if mean == nil {
			out.Dropped = append(out.Dropped, Dropped{r.times[s.from], r.times[s.to-1], "its end couldn't be told while recording"})
			continue
		}
		mean.Frames = max(1, float64(frames)*trimEfficiency/out.Correlation)
		h := Hold{Start: r.times[s.from], End: r.times[s.to-1] + unit.Second(1/r.rate), Frames: frames, Mean: mean, Moving: moving}
		h.Steady = r.steadiness(s, last)
		out.Flicker = max(out.Flicker, h.Steady.Flicker)
		out.Holds = append(out.Holds, h)
		out.signatures = append(out.signatures, r.meanSignature(s))
		last = s.to
	}
}

// slope is how many stops the mean light changes over a span, with its error.
func (r *Recorder) slope(s span) (stops, se float64) {
	n := float64(s.to - s.from)
	var sx, sy, sxx, sxy, syy float64
	for t := s.from; t < s.to; t++ {
		x := (float64(t-s.from)+.5)/n - .5
		y := math.Log2(max(r.means[t], noiseLowest/16))
		sx, sy, sxx, sxy, syy = sx+x, sy+y, sxx+x*x, sxy+x*y, syy+y*y
	}
	v := sxx - sx*sx/n
	if v <= 0 || n < 4 {
		return 0, math.Inf(1)
	}
	b := (sxy - sx*sy/n) / v
	rest := max(syy-sy*sy/n-b*b*v, 0)
	return b, math.Sqrt(rest / (n - 2) / v)
}

// same says whether two spans have the same light: every cell alike, or the
// cells' changes small and as much up as down, which is a figure that moved.
// A lamp that is switched changes all it reaches the same way.
func (r *Recorder) same(a, b span, sigma []float64) bool {
	u, v := r.meanSignature(a), r.meanSignature(b)
	alike := true
	var sum, size, light float64
	for k := range cellsAcross * cellsDown {
		x, y := signatureLight(u[k]), signatureLight(v[k])
		light += (x + y) / 2
		noise := sigma[k] * math.Sqrt(1/float64(a.to-a.from)+1/float64(b.to-b.from))
		if math.Abs(u[k]-v[k]) < 4*noise {
			continue
		}
		sum += y - x
		size += math.Abs(y - x)
		if math.Abs(x-y) > sameTolerance*max(x, y) {
			alike = false
		}
	}
	return alike || size < moveTolerance*light && math.Abs(sum) < moveBalance*size
}

// gradual says whether the light crept from one span to the next, as a lamp
// does that warms up, rather than stepped: what it changed by in the few frames
// about the border is a small part of what the spans differ by.
func (r *Recorder) gradual(a, b span) bool {
	u, v := r.meanSignature(a), r.meanSignature(b)
	near := r.frames(shortest)
	x := r.meanSignature(span{max(a.from, a.to-near), a.to})
	y := r.meanSignature(span{b.from, min(b.to, b.from+near)})
	var whole, step float64
	for k := range cellsAcross * cellsDown {
		d := signatureLight(v[k]) - signatureLight(u[k])
		whole += d * d
		step += d * (signatureLight(y[k]) - signatureLight(x[k]))
	}
	return whole > 0 && step < stepShare*whole
}

func (r *Recorder) meanSignature(s span) []float64 {
	m := make([]float64, signatureSize)
	for t := s.from; t < s.to; t++ {
		for k, v := range r.series[t] {
			m[k] += v / float64(s.to-s.from)
		}
	}
	return m
}

// gather joins the stretches that lie in a span.
func (r *Recorder) gather(s span) (mean *Light, moving []bool, frames int) {
	var sum []float64
	for _, st := range r.closed {
		inside := min(st.to, s.to) - max(st.from, s.from)
		if 5*inside < 4*(st.to-st.from) {
			continue
		}
		if mean == nil {
			mean, moving, frames = st.mean, st.moving, int(st.mean.Frames)
			continue
		}
		if sum == nil {
			sum = make([]float64, len(mean.Pix))
			for i, v := range mean.Pix {
				sum[i] = float64(v) * float64(frames)
			}
		}
		f := int(st.mean.Frames)
		for i, v := range st.mean.Pix {
			sum[i] += float64(v) * float64(f)
		}
		frames += f
		mean.Clipped = either(mean.Clipped, st.mean.Clipped)
		moving = either(moving, st.moving)
	}
	for i, v := range sum {
		mean.Pix[i] = float32(v / float64(frames))
	}
	return mean, moving, frames
}

// either joins two masks, of which one may be nil.
func either(a, b []bool) []bool {
	if a == nil {
		return b
	}
	for i, v := range b {
		a[i] = a[i] || v
	}
	return a
}

// steadiness describes a hold; last is where the hold before it ended.
func (r *Recorder) steadiness(s span, last int) Steadiness {
	stops, _ := r.slope(s)
	m := 0.0
	for t := s.from; t < s.to; t++ {
		m += r.means[t] / float64(s.to-s.from)
	}
	v, n := 0.0, float64(s.to-s.from)
	for t := s.from; t < s.to; t++ {
		x := (float64(t-s.from)+.5)/n - .5
		v += sq(r.means[t]/m - 1 - stops*x*math.Ln2)
	}
	out := Steadiness{Slope: unit.Stop(stops), Flicker: math.Sqrt(v / n)}
	if last == 0 || s.from-last < 3 {
		return out
	}
	// After the steepest step in the gap, the switch, what the light still moved
	// is warming up or fading.
	best, at := 0.0, last
	for t := last; t < s.from && t+1 < len(r.means); t++ {
		if d := math.Abs(math.Log2(max(r.means[t+1], 1e-6) / max(r.means[t], 1e-6))); d > best {
			best, at = d, t+1
		}
	}
	out.Lead = r.times[s.from] - r.times[last]
	out.Settled = unit.Stop(math.Log2(m / max(r.means[min(at+1, s.from)], 1e-6)))
	return out
}
