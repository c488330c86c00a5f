package gauge

import (
	"cmp"
	"math"
	"slices"
)

// changes finds jumps (within jumpTime) of at least about limit and slower
// drifts of twice that in a series of values at times t. floor is the least
// error a size is given.
//
// The series is smoothed by a running median, cut at its turning points into
// swings of at least a threshold, and each swing into what happens at once and
// what happens slowly. The threshold rises where the series is restless, so
// that flicker makes no jumps.
func changes(t, v []float64, limit, floor float64) []Change {
	if len(v) < 3 {
		return nil
	}
	s := smooth(t, v)
	rest := restless(t, s)
	least := max(thresholdFactor*limit, 5*rest)
	noise := math.Max(floor, 3*noiseOfMean(t, v))
	var out []Change
	for _, w := range swings(s, least) {
		out = append(out, cutSwing(t, v, s, w[0], w[1], least, noise)...)
	}
	// A slow change that never turns by the threshold for a jump is one swing
	// already; what is left is a wander both ways.
	slices.SortFunc(out, func(a, b Change) int { return cmp.Compare(a.From, b.From) })
	return out
}

const (
	thresholdFactor = 1.4  // of the stated limit: half-way in ratio to twice it
	smoothTime      = 0.25 // s
	driftFactor     = 2.0
	restTime        = 0.5 // s
)

// smooth is a running median over about smoothTime, of three values at least.
func smooth(t, v []float64) []float64 {
	half := 1
	if d := typicalStep(t); d > 0 {
		half = max(1, int(math.Round(smoothTime/d/2)))
	}
	out := make([]float64, len(v))
	var win []float64
	for i := range v {
		h := min(half, i, len(v)-1-i)
		if h == 0 && len(v) >= 3 {
			h = 1
		}
		lo, hi := max(0, i-h), min(len(v), i+h+1)
		win = append(win[:0], v[lo:hi]...)
		out[i] = median(win)
	}
	return out
}

func typicalStep(t []float64) float64 {
	var d []float64
	for i := 1; i < len(t); i++ {
		d = append(d, t[i]-t[i-1])
	}
	if len(d) == 0 {
		return 0
	}
	return median(d)
}

// restless is the standard deviation of how the smoothed series bends within
// restTime to each side, robust to what happens seldom. A steady drift does
// not bend it.
func restless(t, s []float64) float64 {
	k := 1
	if d := typicalStep(t); d > 0 {
		k = max(1, int(math.Round(restTime/d)))
	}
	// One change bends it over twice that time, which must stay a small part.
	k = max(1, min(k, len(s)/12))
	var d []float64
	for i := k; i+k < len(s); i++ {
		d = append(d, s[i]-(s[i-k]+s[i+k])/2)
	}
	return spread(d) / math.Sqrt(1.5)
}

// noiseOfMean is the error of a mean over about a second, from how values
// differ from their neighbours.
func noiseOfMean(t, v []float64) float64 {
	var d []float64
	for i := 1; i < len(v); i++ {
		d = append(d, v[i]-v[i-1])
	}
	n := 1.0
	if step := typicalStep(t); step > 0 {
		n = math.Max(1, 1/step)
	}
	return spread(d) / math.Sqrt2 / math.Sqrt(math.Min(n, float64(len(v))))
}

// swings are pairs of turning points between which s rises or falls by least.
func swings(s []float64, least float64) [][2]int {
	var turns []int
	lo, hi := 0, 0
	dir := 0
	for i, x := range s {
		switch dir {
		case 0:
			if x < s[lo] {
				lo = i
			}
			if x > s[hi] {
				hi = i
			}
			if s[hi]-s[lo] >= least {
				if lo < hi {
					turns, dir = append(turns, lo), 1
				} else {
					turns, dir = append(turns, hi), -1
				}
			}
		case 1:
			if x > s[hi] {
				hi = i
			} else if s[hi]-x >= least {
				turns, dir, lo = append(turns, hi), -1, i
			}
		default:
			if x < s[lo] {
				lo = i
			} else if x-s[lo] >= least {
				turns, dir, hi = append(turns, lo), 1, i
			}
		}
	}
	switch dir {
	case 0:
		return nil
	case 1:
		turns = append(turns, hi)
	default:
		turns = append(turns, lo)
	}
	var out [][2]int
	for i := 1; i < len(turns); i++ {
		out = append(out, [2]int{turns[i-1], turns[i]})
	}
	return out
}

// cutSwing splits the swing from bin a to bin b into jumps and drifts.
func cutSwing(t, v, s []float64, a, b int, least, noise float64) []Change {
	d := s[b] - s[a]
	if math.Abs(d) < least || b <= a {
		return nil
	}
	sign := math.Copysign(1, d)
	// The steepest stretch no longer than jumpTime.
	best, i0, i1 := 0.0, a, a
	for i, j := a, a; j <= b; j++ {
		for t[j]-t[i] > jumpTime && i < j-1 {
			i++
		}
		if t[j]-t[i] > jumpTime && j-i > 1 {
			continue
		}
		// within the window the lowest start counts
		for k := i; k < j; k++ {
			if c := sign * (s[j] - s[k]); c > best {
				best, i0, i1 = c, k, j
			}
		}
	}
	// What a steady drift over the whole swing would do in that time.
	even := math.Abs(d) * jumpTime / math.Max(t[b]-t[a], jumpTime)
	if best >= least && (best > 2.5*even || t[b]-t[a] <= jumpTime || best > 0.9*math.Abs(d)) {
		for i0+1 < i1 && sign*(s[i0+1]-s[i0]) < 0.1*best {
			i0++
		}
		for i1-1 > i0 && sign*(s[i1]-s[i1-1]) < 0.1*best && sign*(s[i1-1]-s[i0]) > 0.9*best {
			i1--
		}
		out := cutSwing(t, v, s, a, i0, least, noise)
		size := plateau(t, v, i1, min(b+1, len(v)), 1) - plateau(t, v, i0, max(a-1, -1), -1)
		out = append(out, Change{Jump: true, From: t[i0], To: t[i1], Size: size, Error: noise})
		return append(out, cutSwing(t, v, s, i1, b, least, noise)...)
	}
	if math.Abs(d) < least*driftFactor {
		return nil
	}
	lo, hi := a, b
	for lo+1 < hi && sign*(s[lo+1]-s[a]) < 0.05*math.Abs(d) {
		lo++
	}
	for hi-1 > lo && sign*(s[b]-s[hi-1]) < 0.05*math.Abs(d) {
		hi--
	}
	// The turning points of a noisy series lie outside its course.
	return []Change{{From: t[lo], To: t[hi], Size: d, Error: noise + 0.05*math.Abs(d)}}
}

// plateau is the mean of what lies up to a second from i in direction step,
// not beyond end.
func plateau(t, v []float64, i, end, step int) float64 {
	const reach = 1.0
	var all []float64
	for k := i; k != end && math.Abs(t[k]-t[i]) <= reach; k += step {
		all = append(all, v[k])
	}
	return median(all)
}
