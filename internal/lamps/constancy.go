package lamps

import (
	"fmt"
	"math"

	"lampwise/internal/fault"
	"lampwise/internal/unit"
)

// Constancy is what the holds say of what should have stayed the same.
type Constancy struct {
	// AmbientDrift is how far the ambient light moved over the clip, by channel,
	// as a share; zero when it stayed or can't be told.
	AmbientDrift [3]float64
	// AmbientScale is how much ambient light there was in each hold, by channel,
	// 1 in the middle of the clip; nil when it stayed.
	AmbientScale [][3]float64
	// AmbientKnown says that the order repeats itself enough to tell.
	AmbientKnown bool
	// Automatic is not nil when the camera changed its exposure or white
	// balance between holds.
	Automatic *Automatic
	// LampDrift names a lamp that explains what is left better than the ambient
	// light or the camera do, with how far it moved over the clip, as a share.
	LampDrift string
	LampBy    float64
}

// Automatic is a camera that adjusted itself.
type Automatic struct {
	Gain    []unit.Stop // of each hold against the first, as far as it can be told
	Largest unit.Stop
	Hold    int  // where
	White   bool // its white balance moved, too
}

// Err is the fault for a camera on automatic, nil otherwise.
func (c *Constancy) Err(holds []Hold) error {
	a := c.Automatic
	if a == nil {
		return nil
	}
	h := holds[a.Hold]
	what := "exposure"
	if a.White {
		what = "exposure and white balance"
	}
	return fault.New(fault.Unsure, "camera-automatic",
		"film the switch clip again with exposure, white balance and gain on manual",
		"the camera was on automatic: its %s moved by %+.2f stop in the hold from %.1f to %.1f s", what, float64(a.Largest), float64(h.Start), float64(h.End))
}

const (
	ambientReach  = 0.8   // largest drift looked for, as a share over the clip
	ambientLeast  = 0.01  // least worth modelling
	gainLeast     = 0.01  // least change of gain, as a share, that is called automatic
	gainPull      = 0.2   // deviation of a hold's log gain before measuring
	driftEvidence = 30.0  // improvement, in units of the usual square, that counts
	brighterBy    = 0.015 // share by which a subset of lamps may not outshine the whole
	// darkest is the light, five stops under grey, below which steps of the code
	// and noise reduction are larger shares than that.
	darkest = 0.18 / 32
)

// findConstancy looks for ambient drift, a lamp's drift and a camera on
// automatic; s is a separation that knows none of them.
func findConstancy(holds []Hold, s *Separation) *Constancy {
	out := &Constancy{}
	brighter := outshone(holds, s)
	if s.Spare == 0 {
		out.Automatic = brighter
		return out
	}
	m := newMoments(holds, s)
	if m.bins < fewestBins {
		out.Automatic = brighter
		return out
	}
	columns := s.columns()
	base := func(c int) func(h int, dst []float64) {
		return func(h int, dst []float64) { s.row(h, c, dst) }
	}
	var before [3]float64
	for c := range 3 {
		before[c] = m.left(c, columns, base(c), nil)
	}
	time := clipTimes(holds)
	// One unknown: a source that drifts evenly over the clip, by channel for the
	// ambient light, alike in all channels for a lamp.
	drifting := func(c, source int, by float64) float64 {
		return m.left(c, columns, func(h int, dst []float64) {
			s.row(h, c, dst)
			dst[source] *= 1 + by*time[h]
		}, nil)
	}
	total := before[0] + before[1] + before[2]
	type found struct {
		left float64
		by   [3]float64
	}
	ambient := found{}
	for c := range 3 {
		var l float64
		ambient.by[c], l = minimise(func(x float64) float64 { return drifting(c, columns-1, x) }, ambientReach)
		ambient.left += l
	}
	bestLamp, lamp := -1, found{left: math.Inf(1)}
	for i := range s.lampCount() {
		x, l := minimise(func(x float64) float64 {
			return drifting(0, i, x) + drifting(1, i, x) + drifting(2, i, x)
		}, ambientReach)
		if l < lamp.left {
			bestLamp, lamp = i, found{l, [3]float64{x, x, x}}
		}
	}
	gains, gainLeft := m.gains(s, total, lightEnough(holds, s))
	cloud, cloudLeft := m.cloud(s)
	usual := func(left float64) float64 { return max(1, left/(3*m.bins*float64(s.Spare))) }
	gained := func(left float64) float64 { return (total - left) / usual(left) }
	ga, gl, gg := gained(ambient.left), gained(lamp.left), gained(gainLeft)-4*float64(s.Spare)
	gc := gained(cloudLeft)
	largest := math.Max(math.Abs(ambient.by[0]), math.Max(math.Abs(ambient.by[1]), math.Abs(ambient.by[2])))
	switch {
	case cloud != nil && gc > cloudEvidence && gc > 1.2*math.Max(gl, gg) && gc > ga+cloudEvidence && m.sharp(s, cloudLeft, ambient.by, time, usual):
		out.AmbientDrift, out.AmbientScale = scaleReach(cloud), cloud
	case brighter != nil:
		out.Automatic = brighter
		return out
	case gg > driftEvidence && gg > 1.2*math.Max(ga, gl) && gains.Largest != 0:
		out.Automatic = gains
	case ga > driftEvidence && ga >= gl && largest > ambientLeast:
		out.AmbientDrift = ambient.by
		out.AmbientScale = m.weather(s, ambient.by, time)
	case gl > driftEvidence && math.Abs(lamp.by[0]) > ambientLeast:
		out.LampDrift, out.LampBy = s.Design.Lamps[bestLamp], lamp.by[0]
	}
	out.AmbientKnown = s.Spare > 0
	return out
}

// weather bends an even drift of the ambient light by what the order tells of
// its course: a square and a cube of time, by channel, found in turn.
func (m *moments) weather(s *Separation, even [3]float64, time []float64) [][3]float64 {
	out := make([][3]float64, len(time))
	columns := s.columns()
	for c := range 3 {
		by := [3]float64{even[c]}
		scale := func(t float64) float64 { return 1 + t*(by[0]+t*(by[1]+t*by[2])) }
		left := func() float64 {
			return m.left(c, columns, func(h int, dst []float64) {
				s.row(h, c, dst)
				dst[columns-1] *= max(scale(time[h]), 0.05)
			}, nil)
		}
		for range 4 {
			for k, reach := range []float64{ambientReach, 2 * ambientReach, 4 * ambientReach} {
				by[k], _ = minimise(func(x float64) float64 {
					by[k] = x
					return left()
				}, reach)
			}
		}
		for h, t := range time {
			out[h][c] = max(scale(t), 0.05)
		}
	}
	return out
}

// clipTimes are the holds' middles, −½ at the first and ½ at the last.
func clipTimes(holds []Hold) []float64 {
	first, last := float64(holds[0].Middle()), float64(holds[len(holds)-1].Middle())
	out := make([]float64, len(holds))
	for i := range holds {
		if last > first {
			out[i] = (float64(holds[i].Middle())-first)/(last-first) - .5
		}
	}
	return out
}

// gains fits one gain a hold and channel by descent over the holds, each held
// weakly to 1: what the order doesn't tell stays there.
// lit says which holds have light enough for a gain to be seen in them.
func (m *moments) gains(s *Separation, total float64, lit []bool) (*Automatic, float64) {
	n, columns := m.holds, s.columns()
	usual := max(1, total/(3*m.bins*float64(s.Spare)))
	var logs [3][]float64
	left := 0.0
	for c := range 3 {
		g := make([]float64, n)
		gain := make([]float64, n)
		for h := range gain {
			gain[h] = 1
		}
		row := func(h int, dst []float64) { s.row(h, c, dst) }
		for range 4 {
			for h := range n {
				if !lit[h] {
					continue
				}
				f := func(x float64) float64 {
					gain[h] = math.Exp(x)
					return m.left(c, columns, row, gain)/usual + sq(x/gainPull)
				}
				g[h], _ = minimise(f, .7)
				gain[h] = math.Exp(g[h])
			}
		}
		left += m.left(c, columns, row, gain)
		logs[c] = g
	}
	a := &Automatic{Gain: make([]unit.Stop, n)}
	for h := range n {
		v := (logs[0][h] + 2*logs[1][h] + logs[2][h]) / 4
		a.Gain[h] = unit.Stop(v / math.Ln2)
		if math.Abs(v) > gainLeast && math.Abs(v/math.Ln2) > math.Abs(float64(a.Largest)) {
			a.Largest, a.Hold = a.Gain[h], h
		}
		if math.Abs(logs[0][h]-logs[2][h]) > 2*gainLeast {
			a.White = true
		}
	}
	return a, left
}

// lightEnough says in which holds enough of the picture is lighter than darkest.
func lightEnough(holds []Hold, s *Separation) []bool {
	b := newBins(binSide(s.W), s.W, s.H, nil)
	out := make([]bool, len(holds))
	for h := range holds {
		y, n := b.means(holds[h].Mean.Image), 0
		for i := 1; i < len(y); i += 3 {
			if y[i] > darkest {
				n++
			}
		}
		out[h] = n >= fewestBins
	}
	return out
}

// outshone looks for a hold that shows more light, over a part of the picture,
// than a hold whose lamps include all of its own: only a camera that adjusts
// itself does that, or daylight (cloud). It needs no spare hold.
func outshone(holds []Hold, s *Separation) *Automatic {
	b := newBins(binSide(s.W), s.W, s.H, nil)
	y := make([][]float64, len(holds))
	for i := range holds {
		y[i] = b.means(holds[i].Mean.Image)
	}
	out := &Automatic{Gain: make([]unit.Stop, len(holds))}
	for small := range holds {
		// The nearest in time, so that a lamp that warms up isn't blamed on the camera.
		nearest := len(holds)
		for large := range holds {
			if includes(s.Design.Level[large], s.Design.Level[small]) {
				nearest = min(nearest, max(large-small, small-large))
			}
		}
		for _, large := range []int{small - nearest, small + nearest} {
			if large < 0 || large >= len(holds) || !includes(s.Design.Level[large], s.Design.Level[small]) {
				continue
			}
			var ratios []float64
			for i, area := range b.count {
				if area == 0 || s.Figure != nil && s.Figure[i] {
					continue
				}
				const c = 1 // saturated colours may be negative in the others
				u, v := y[small][3*i+c], y[large][3*i+c]
				noise := math.Sqrt((s.variance(c, v)*s.Noise.together()/area)*(1/s.Effective[small]+1/s.Effective[large])) / max(v, 1e-9)
				if v > darkest && noise < brighterBy/4 {
					ratios = append(ratios, u/v)
				}
			}
			if len(ratios) < fewestBins {
				continue
			}
			if q := quantile(ratios, .9); q > 1+brighterBy {
				stops := unit.StopsOf(q)
				out.Gain[small] = max(out.Gain[small], stops)
				if stops > out.Largest {
					out.Largest, out.Hold = stops, small
				}
			}
		}
	}
	if out.Largest == 0 {
		return nil
	}
	return out
}

// includes says whether every lamp is at least as high in large as in small,
// and one is higher.
func includes(large, small []float64) bool {
	more := false
	for i, v := range large {
		if v < small[i] {
			return false
		}
		more = more || v > small[i]
	}
	return more
}

// String says in a sentence what moved; empty when nothing did.
func (c *Constancy) String() string {
	switch {
	case c.Automatic != nil:
		return "the camera was on automatic"
	case c.LampDrift != "":
		return fmt.Sprintf("%s changed by %+.1f %% over the clip (warming up?)", c.LampDrift, 100*c.LampBy)
	case c.AmbientDrift != [3]float64{}:
		return fmt.Sprintf("the ambient light changed by %+.0f %% over the clip", 100*c.AmbientDrift[1])
	}
	return ""
}
