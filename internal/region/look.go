package region

import (
	"cmp"
	"math"
	"slices"
)

// look searches g in two steps: a coarse walk over the whole picture, then a
// closer one around each place that answered, brought to one size, in which
// every lean and the mirror image have a say.
func look(g *grey) []window {
	coarse := scan(g, coarsePasses, coarseStride, leastFace, math.MaxInt)
	places := gather(coarse)
	if len(places) > mostPlaces {
		places = places[:mostPlaces]
	}
	var out []window
	for _, p := range places {
		if w, ok := closer(g, p); ok {
			out = append(out, w)
		}
	}
	return merge(out)
}

const (
	mostPlaces = 12  // that are looked at more closely
	closeSide  = 64  // pixels the face has in the closer look
	closeRoom  = 140 // pixels of the part looked at
	closeLeast = 47  // pixels a face may have there, at least and at most
	closeMost  = 86
)

var (
	coarseStride = stride{0.14, 1.15}
	closeStride  = stride{0.1, 1.1}
	coarsePasses = []pass{{0, false}, {-17, false}, {17, false}}
	closePasses  = func() []pass {
		var p []pass
		for roll := -30.0; roll <= 30; roll += 10 {
			p = append(p, pass{roll, false}, pass{roll, true})
		}
		return p
	}()
)

// closer looks at one place again. Its score is the sum over all windows that
// agree on the place: what any of them sees alone counts little.
func closer(g *grey, at window) (window, bool) {
	k := at.side / closeSide // picture's pixels for one of the closer look's
	const n = closeRoom
	x0, y0 := at.x-k*float64(n-1)/2, at.y-k*float64(n-1)/2
	part := g.part(x0, y0, k, n)
	places := gather(scan(part, closePasses, closeStride, closeLeast, closeMost))
	middle := float64(n-1) / 2
	for _, p := range places {
		if math.Hypot(p.x-middle, p.y-middle) > closeSide/2 {
			continue
		}
		return window{x0 + k*p.x, y0 + k*p.y, k * p.side, p.roll, p.score}, true
	}
	return window{}, false
}

// gather puts windows together that mean the same place: middle, side and lean
// are means weighted by score, the score is the sum. Best first.
func gather(windows []window) []window {
	slices.SortFunc(windows, byScore)
	var seeds, sums []window
next:
	for _, w := range windows {
		for i, s := range seeds {
			if same(s, w) {
				add(&sums[i], w)
				continue next
			}
		}
		seeds = append(seeds, w)
		sums = append(sums, window{})
		add(&sums[len(sums)-1], w)
	}
	for i := range sums {
		s := &sums[i]
		s.x, s.y, s.side, s.roll = s.x/s.score, s.y/s.score, s.side/s.score, s.roll/s.score
	}
	slices.SortFunc(sums, byScore)
	return sums
}

func add(sum *window, w window) {
	sum.x += w.score * w.x
	sum.y += w.score * w.y
	sum.side += w.score * w.side
	sum.roll += w.score * w.roll
	sum.score += w.score
}

// merge keeps the best of places that overlap.
func merge(places []window) []window {
	slices.SortFunc(places, byScore)
	var out []window
	for _, p := range places {
		if !slices.ContainsFunc(out, func(q window) bool { return math.Hypot(p.x-q.x, p.y-q.y) < (p.side+q.side)/3 }) {
			out = append(out, p)
		}
	}
	return out
}

func same(a, b window) bool {
	ratio := a.side / b.side
	return math.Hypot(a.x-b.x, a.y-b.y) < 0.35*a.side && ratio < 1.5 && ratio > 1/1.5
}

// byScore puts the better first; ties fall by place, so that the order never
// depends on chance.
func byScore(a, b window) int {
	return cmp.Or(cmp.Compare(b.score, a.score), cmp.Compare(a.y, b.y), cmp.Compare(a.x, b.x), cmp.Compare(a.side, b.side), cmp.Compare(a.roll, b.roll))
}
