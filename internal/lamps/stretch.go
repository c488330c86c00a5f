package lamps

import (
	"math"

	"lampwise/internal/picture"
)

// mostGroups is how many part-means a stretch keeps at most; then neighbours
// are joined and their number halves.
const mostGroups = 16

// stretch is a run of blocks of one steady light.
type stretch struct {
	from, to int
	groups   []group
	each     int // blocks in a full group
	last     *stillBlock
	recent   []part // of the last three blocks
	clipped  []bool

	mean   *Light
	moving []bool
}

// group is the sum of some blocks.
type group struct {
	sum    []float32
	blocks int
	frames int
}

func newStretch(r *Recorder, b *stillBlock) *stretch {
	return &stretch{from: b.from, to: b.from, each: 1, last: b}
}

// add takes the next block, and its memory.
func (s *stretch) add(r *Recorder, b *stillBlock) {
	s.measure(r, b)
	if n := len(s.groups); n == 0 || s.groups[n-1].blocks == s.each {
		if n == mostGroups {
			s.halve(r)
			n = len(s.groups)
		}
		if n == 0 || s.groups[n-1].blocks == s.each {
			s.groups = append(s.groups, group{})
		}
	}
	g := &s.groups[len(s.groups)-1]
	if g.sum == nil {
		g.sum = b.sum
	} else {
		addTo(g.sum, b.sum)
		r.release(b.sum)
	}
	g.blocks++
	g.frames += b.taken
	if b.clipped != nil {
		if s.clipped == nil {
			s.clipped = make([]bool, len(b.clipped))
		}
		for p, c := range b.clipped {
			s.clipped[p] = s.clipped[p] || c
		}
	}
	s.to = b.to
	s.last = &stillBlock{from: b.from, to: b.to}
}

// addEach is addTo, one by one.
func addEach(sum, pix []float32) {
	sum = sum[:len(pix)]
	for i, v := range pix {
		sum[i] += v
	}
}

// halve joins neighbouring groups.
func (s *stretch) halve(r *Recorder) {
	for i := range mostGroups / 2 {
		a, b := s.groups[2*i], s.groups[2*i+1]
		addTo(a.sum, b.sum)
		a.blocks += b.blocks
		a.frames += b.frames
		r.release(b.sum)
		s.groups[i] = a
	}
	s.groups = s.groups[:mostGroups/2]
	s.each *= 2
}

// measure counts how frames and block means differ, from which the noise of a
// frame and of a mean are known.
func (s *stretch) measure(r *Recorder, b *stillBlock) {
	now := part{frame: b.first, mean: r.samples(b.sum, 1/float32(b.taken))}
	if k := len(s.recent); k > 0 {
		countDifferences(now.frame, s.recent[k-1].frame, &r.frameNear)
		countDifferences(now.mean, s.recent[k-1].mean, &r.blockNear)
		if k == 3 {
			countDifferences(now.frame, s.recent[0].frame, &r.frameFar)
			countDifferences(now.mean, s.recent[0].mean, &r.blockFar)
		}
	}
	s.recent = append(s.recent, now)
	if len(s.recent) > 3 {
		s.recent = s.recent[1:]
	}
}

// part is a block's noise samples: of its first frame and of its mean.
type part struct{ frame, mean []float32 }

// finish turns the groups into the robust mean and lets them go.
func (s *stretch) finish(r *Recorder) {
	// A short last group would count as much as a full one.
	if n := len(s.groups); n > 1 && 2*s.groups[n-1].blocks < s.each {
		a, b := &s.groups[n-2], s.groups[n-1]
		addTo(a.sum, b.sum)
		a.blocks, a.frames = a.blocks+b.blocks, a.frames+b.frames
		r.release(b.sum)
		s.groups = s.groups[:n-1]
	}
	frames := 0
	for i := range s.groups {
		g := &s.groups[i]
		f := 1 / float32(g.frames)
		for k := range g.sum {
			g.sum[k] *= f
		}
		frames += g.frames
	}
	if len(s.groups) > 1 {
		if ratio, ok := shared(s.groups[0].sum, s.groups[len(s.groups)-1].sum, r.w, r.h); ok {
			r.sharing = append(r.sharing, ratio)
		}
	}
	s.mean = &Light{Image: picture.NewImage(r.w, r.h, picture.SpaceSceneLinear), Clipped: s.clipped, Frames: float64(frames)}
	s.moving = trimmedMeans(s.groups, s.mean.Image)
	for _, g := range s.groups {
		r.release(g.sum)
	}
	s.groups, s.recent = nil, nil
}

// trimmedMeans writes, for each sample, the mean of the groups' middle half
// (all of them when there are fewer than three, the middle one of three), and
// marks pixels whose groups spread far beyond what is usual for their light.
func trimmedMeans(groups []group, out *picture.Image) (moving []bool) {
	n := len(groups)
	cut := n / 4
	if n == 3 {
		cut = 1
	}
	spread := make([]float32, out.W*out.H)
	network := sortingNetwork(n)
	inRows(out.H, func(from, to int) {
		if wideRows {
			for y := from; y < to; y++ {
				trimmedRow(groups, network, cut, 3*y*out.W, out.Pix[3*y*out.W:3*(y+1)*out.W], spread[y*out.W:(y+1)*out.W])
			}
			return
		}
		v := make([]int32, n)
		for p := from * out.W; p < to*out.W; p++ {
			for c := range 3 {
				i := 3*p + c
				for g := range groups {
					v[g] = rankOf(groups[g].sum[i])
				}
				for _, e := range network {
					a, b := v[e.low], v[e.high]
					v[e.low], v[e.high] = min(a, b), max(a, b)
				}
				s := float32(0)
				for _, x := range v[cut : n-cut] {
					s += ofRank(x)
				}
				out.Pix[i] = s / float32(n-2*cut)
				if c == 1 && n > 1 {
					d := ofRank(v[n-1]) - ofRank(v[0])
					spread[p] = d * d
				}
			}
		}
	})
	if n < 3 {
		return nil
	}
	return moved(out, spread)
}

// trimmedRow is a row of trimmedMeans, by whole rows. It sorts the groups' own
// numbers from one on.
func trimmedRow(groups []group, network []exchange, cut, from int, out, spread []float32) {
	row := func(g int) []float32 { return groups[g].sum[from : from+len(out)] }
	for _, e := range network {
		exchangeRows(row(e.low), row(e.high))
	}
	n := len(groups)
	copy(out, row(cut))
	for g := cut + 1; g < n-cut; g++ {
		addTo(out, row(g))
	}
	k := float32(n - 2*cut)
	for i := range out {
		out[i] /= k
	}
	if n == 1 {
		return
	}
	least, most := row(0), row(n-1)
	for x := range spread {
		d := most[3*x+1] - least[3*x+1]
		spread[x] = d * d
	}
}

// rankOf is a whole number that orders as the finite number does: minima and
// maxima of whole numbers take no branches.
func rankOf(v float32) int32 {
	b := int32(math.Float32bits(v))
	return b ^ b>>31&math.MaxInt32
}

// ofRank is the number of a rank.
func ofRank(r int32) float32 { return math.Float32frombits(uint32(r ^ r>>31&math.MaxInt32)) }

// exchange puts the smaller of two places' numbers in the lower place.
type exchange struct{ low, high int }

// sortingNetwork is Batcher's odd–even merge sort of n numbers (Knuth, The Art
// of Computer Programming 3, 5.2.2, algorithm M): it takes the same steps
// whatever the numbers are.
func sortingNetwork(n int) (out []exchange) {
	if n < 2 {
		return nil
	}
	top := 1
	for 2*top < n {
		top *= 2
	}
	for p := top; p > 0; p /= 2 {
		q, r, d := top, 0, p
		for {
			for i := range n - d {
				if i&p == r {
					out = append(out, exchange{i, i + d})
				}
			}
			if q == p {
				break
			}
			d, q, r = q-p, q/2, p
		}
	}
	return out
}
