package job

import (
	"context"
	"math"
	"slices"
	"time"

	"lampwise/internal/fault"
)

// EpisodeHistory is what changed from episode to episode of a set.
type EpisodeHistory struct {
	Set    string          `json:"set"`
	Series []HistorySeries `json:"series"`
	// Strays are clips that lie far from the others of their series.
	Strays []HistoryStray `json:"strays"`
}

// HistorySeries is one number over the clips of all episodes, in their order.
type HistorySeries struct {
	Group  string         `json:"group"` // lamps, camera, white balance, readings, exposure by match, warmth by match, left after matching
	What   string         `json:"what"`  // "tube", "exposure", "face-lit"
	Unit   string         `json:"unit"`
	Points []HistoryPoint `json:"points"`
	Trend  *HistoryTrend  `json:"trend"` // null: fewer than four episodes have it
}

// HistoryPoint is one clip's value.
type HistoryPoint struct {
	Episode string    `json:"episode"`
	Clip    int       `json:"clip"`
	Made    time.Time `json:"made"`
	Value   *float64  `json:"value"` // null: not known of this clip
}

// HistoryTrend is how a number changes from episode to episode.
type HistoryTrend struct {
	PerEpisode float64 `json:"per_episode"`
	Total      float64 `json:"total"` // from the first to the last
	Episodes   int     `json:"episodes"`
	// P is how often an order as steady as this comes about when nothing changes.
	P    float64 `json:"p"`
	Sure bool    `json:"sure"`
}

// HistoryStray is a value far from what is usual.
type HistoryStray struct {
	What    string  `json:"what"`
	Unit    string  `json:"unit"`
	Episode string  `json:"episode"`
	Clip    int     `json:"clip"`
	Value   float64 `json:"value"`
	Usual   float64 `json:"usual"`
}

const (
	// leastTrend is how many episodes a trend needs: with four, an order that is
	// wholly steady still comes about by chance in 2 of 24 cases.
	leastTrend = 4
	sureTrend  = 0.05
	// strayMAD is how many scaled median deviations make a stray (Iglewicz and
	// Hoaglin, How to Detect and Handle Outliers, ASQC 1993: 3.5).
	strayMAD = 3.5
	// madToSigma scales a median absolute deviation to a normal distribution's
	// standard deviation (1/Φ⁻¹(3/4)).
	madToSigma = 1.4826
)

// strayLeast is what a difference must come to to be worth a word, whatever the
// others scatter by: about what an eye finds side by side (common practice, no
// source).
var strayLeast = map[string]float64{"stop": 0.1, "mired": 8, "ΔE00": 1}

// History reads a set's record as numbers over time.
func History(ctx context.Context, store Episodes, set string) (*EpisodeHistory, error) {
	b, err := ShowEpisodes(ctx, store, set)
	if err != nil {
		return nil, err
	}
	h := &EpisodeHistory{Set: set, Series: []HistorySeries{}, Strays: []HistoryStray{}}
	if len(b.Episodes) == 0 {
		return nil, fault.New(fault.Usage, "no-episodes", "lampwise episodes add makes one.", "set %s has no episode yet", set)
	}
	var clips []HistoryPoint // every clip, in order, without a value
	for _, e := range b.Episodes {
		for _, c := range e.Clips {
			clips = append(clips, HistoryPoint{Episode: e.Name, Clip: c.Number, Made: e.Made})
		}
	}
	at, n := map[[2]string]int{}, 0
	for _, e := range b.Episodes {
		for _, c := range e.Clips {
			if c.Found != nil {
				c.Found.history(func(group, what, unit string, v *float64) {
					k := [2]string{group, what}
					if _, known := at[k]; !known {
						at[k] = len(h.Series)
						h.Series = append(h.Series, HistorySeries{Group: group, What: what, Unit: unit, Points: slices.Clone(clips)})
					}
					h.Series[at[k]].Points[n].Value = v
				})
			}
			n++
		}
	}
	for i := range h.Series {
		s := &h.Series[i]
		s.Trend = trendOf(s.Points)
		h.Strays = append(h.Strays, straysOf(s)...)
	}
	return h, nil
}

// history tells the numbers of a clip that are worth following.
func (a *EpisodeAnswer) history(put func(group, what, unit string, v *float64)) {
	if c := a.Check; c != nil {
		names := make([]string, 0, len(c.Lamps))
		for n := range c.Lamps {
			names = append(names, n)
		}
		slices.Sort(names)
		for _, n := range names {
			put("lamps", n, "stop", c.Lamps[n])
		}
		put("lamps", "ambient", "stop", c.Ambient)
		put("camera", "exposure", "stop", c.Gain)
		put("white balance", "white balance", "mired", c.Balance)
	}
	for _, r := range a.Readings {
		put("readings", r.Region, "stop", r.Stops)
	}
	if a.After != nil {
		put("exposure by match", "exposure by match", "stop", &a.Exposure)
		put("warmth by match", "warmth by match", "mired", a.Mired)
		put("left after matching", "stops", "stop", &a.After.Stops)
		put("left after matching, in ΔE00", "ΔE00", "ΔE00", &a.After.DE00)
	}
}

// trendOf fits episodes' medians by the median of all slopes (Sen, JASA 63,
// 1968), and asks Kendall's test whether their order is more than chance, by its
// exact distribution.
func trendOf(points []HistoryPoint) *HistoryTrend {
	var y []float64
	for i := 0; i < len(points); {
		j := i
		var day []float64
		for ; j < len(points) && points[j].Episode == points[i].Episode; j++ {
			if v := points[j].Value; v != nil {
				day = append(day, *v)
			}
		}
		if len(day) > 0 {
			y = append(y, median(day))
		}
		i = j
	}
	n := len(y)
	if n < leastTrend {
		return nil
	}
	var slopes []float64
	s := 0
	for i := range y {
		for j := i + 1; j < n; j++ {
			slopes = append(slopes, (y[j]-y[i])/float64(j-i))
			switch {
			case y[j] > y[i]:
				s++
			case y[j] < y[i]:
				s--
			}
		}
	}
	t := &HistoryTrend{PerEpisode: median(slopes), Episodes: n, P: kendallP(n, s)}
	t.Total = t.PerEpisode * float64(n-1)
	t.Sure = t.P < sureTrend
	return t
}

// kendallP is how often |S| or more comes about among the n! orders of n
// different values, all as likely: Kendall, Rank Correlation Methods, ch. 5. The
// counts of orders by their number of inversions are built up value by value.
func kendallP(n, s int) float64 {
	share := []float64{1}
	for k := 2; k <= n; k++ {
		next := make([]float64, len(share)+k-1)
		for i, v := range share {
			for d := range k {
				next[i+d] += v / float64(k)
			}
		}
		share = next
	}
	pairs := n * (n - 1) / 2
	p := 0.0
	for inversions, v := range share {
		if d := pairs - 2*inversions; d >= s && d >= -s || -d >= s && -d >= -s {
			p += v
		}
	}
	return p
}

func straysOf(s *HistorySeries) []HistoryStray {
	var values []float64
	for _, p := range s.Points {
		if p.Value != nil {
			values = append(values, *p.Value)
		}
	}
	if len(values) < leastTrend {
		return nil
	}
	usual := median(values)
	away := make([]float64, len(values))
	for i, v := range values {
		away[i] = math.Abs(v - usual)
	}
	limit := math.Max(strayMAD*madToSigma*median(away), strayLeast[s.Unit])
	var out []HistoryStray
	for _, p := range s.Points {
		if p.Value != nil && math.Abs(*p.Value-usual) > limit {
			out = append(out, HistoryStray{What: s.What, Unit: s.Unit, Episode: p.Episode, Clip: p.Clip, Value: *p.Value, Usual: usual})
		}
	}
	return out
}

func median(x []float64) float64 {
	y := slices.Clone(x)
	slices.Sort(y)
	n := len(y)
	if n%2 == 1 {
		return y[n/2]
	}
	return (y[n/2-1] + y[n/2]) / 2
}
