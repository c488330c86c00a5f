package job

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/gauge"
	"lampwise/internal/grade"
	"lampwise/internal/region"
)

// MatchRequest brings a clip to another clip, or to a set's reference mix,
// under one grade.
type MatchRequest struct {
	Clip, Grade string
	To          string // a clip's file, or a set's name
	Set         string // whose regions hold in both; empty: none (or the one matched to)
	Out         string // the grade that is written; empty: none
	Overwrite   bool
	Regions     []region.Region
	Threads     int
}

// Matched is what came of it: docs/json.md, grade match.
type Matched struct {
	File     string          `json:"file"`
	To       string          `json:"to"`
	ToSet    bool            `json:"to_set"`
	Grade    string          `json:"grade"`
	Out      string          `json:"out,omitempty"`
	Exposure float64         `json:"exposure_stops"` // change against the grade
	Mired    *float64        `json:"mired"`          // warmth taken out of the clip against the grade; null: too far from daylight to tell
	Duv      *float64        `json:"duv"`
	Curve    bool            `json:"curve"` // a curve was needed, too
	Settings []string        `json:"settings"`
	Regions  []MatchedRegion `json:"regions"`
	Before   MatchLeft       `json:"before"`
	After    MatchLeft       `json:"after"`
	Notes    []string        `json:"notes"`
}

// MatchedRegion is a region in both clips.
type MatchedRegion struct {
	Region string  `json:"region"`
	Weight float64 `json:"weight"`
	Stops  float64 `json:"stops_before"` // of screen light, the clip over what it is matched to
	Left   float64 `json:"stops_after"`
	DE00   float64 `json:"de00_before"`
	Left00 float64 `json:"de00_after"`
}

// MatchLeft is the weighted difference of all regions.
type MatchLeft struct {
	Stops float64 `json:"stops"` // root mean square
	DE00  float64 `json:"de00"`  // mean
	Max   float64 `json:"max_de00"`
}

// matchWeights say how much a region counts: a face is what is looked at, a
// card is even (common practice, no source). A lamp seen in the picture is
// blown as often as not and is told, not matched by.
var matchWeights = map[string]float64{region.FaceLit: 3, region.FaceShade: 2, region.Card: 3, region.Background: 1, region.Hair: 0.5, region.Practical: 0, wholeFrame: 0}

const (
	matchClipped = 0.02 // part of a region that may be clipped
	matchLeft    = 0.3  // stops from which a region that stays off is spoken of
	matchCurve   = 0.08 // stops left, root mean square, from which a curve is tried
	matchGain    = 0.7  // and it must bring that under this part
)

// Match finds exposure, balance and, where they don't do, a curve.
func Match(ctx context.Context, store Sets, r MatchRequest, report Progress) (*Matched, error) {
	g, err := grade.Load(r.Grade)
	if err != nil {
		return nil, err
	}
	if g.Off(grade.StageDecode) {
		return nil, fault.New(fault.Usage, "match-decode", "Match the log clips, before they are finished.", "%s: decode is off, so there is no scene light to match", r.Grade)
	}
	if r.Out != "" && filepath.Clean(filepath.Dir(r.Out)) != filepath.Clean(filepath.Dir(r.Grade)) && (g.Look.LUT != "" || g.Convert.LUT != "") {
		return nil, fault.New(fault.Usage, "match-folder", "Name it in the folder of "+r.Grade+".", "%s: the grade names LUT files beside it, so a grade made from it belongs in the same folder", r.Out)
	}
	if r.Out != "" && !r.Overwrite {
		if err := absent(r.Out); err != nil {
			return nil, err
		}
	}
	out := &Matched{File: r.Clip, To: r.To, Grade: r.Grade, Settings: []string{}, Regions: []MatchedRegion{}, Notes: []string{}}
	if _, err := os.Stat(r.To); errors.Is(err, fs.ErrNotExist) {
		if _, err := store.Set(ctx, r.To); err != nil {
			return nil, fault.Wrap(err, fault.Usage, "match-to", "Give another clip's file, or the name of a set (lampwise sets list).", "%s: neither a file nor a set", r.To)
		}
		out.ToSet = true
		if r.Set == "" {
			r.Set = r.To
		}
	}
	ask := MeasureRequest{Clip: r.Clip, Set: r.Set, Grade: r.Grade, Regions: r.Regions, Threads: r.Threads}
	s, err := sightOf(ctx, store, ask, report)
	if err != nil {
		return nil, err
	}
	out.Notes = append(out.Notes, s.out.Notes...)
	like, err := matchTo(ctx, store, r, ask, out, report)
	if err != nil {
		return nil, err
	}
	names, pairs := matchPairs(s.out.Found.Readings, like)
	if len(pairs) == 0 {
		return nil, fault.New(fault.Unsure, "match-regions", "Draw one that both show: --region card=x,y,w,h.", "%s and %s have no region in common that could be read in both", r.Clip, r.To)
	}
	return matchWith(s, g, r, out, names, pairs)
}

func matchWith(s *sight, g *grade.Grade, r MatchRequest, out *Matched, names []string, pairs []grade.Pair) (*Matched, error) {
	a := &adviser{sight: s, folder: filepath.Dir(r.Grade)}
	base, err := a.state(g)
	if err != nil {
		return nil, err
	}
	next := *g
	if next.Exposure, next.Balance, err = grade.MatchScene(base.work.Path, pairs); err != nil {
		return nil, err
	}
	next.Exposure.Stops = math.Round(1000*next.Exposure.Stops) / 1000
	for _, w := range []grade.White{next.Balance.White, next.Balance.Target} {
		for i := range w.XY {
			w.XY[i] = math.Round(1e5*w.XY[i]) / 1e5
		}
	}
	next.SetOff(grade.StageExposure, false)
	next.SetOff(grade.StageBalance, false)
	if err := next.Check(); err != nil {
		return nil, err
	}
	then, err := a.state(&next)
	if err != nil {
		return nil, err
	}
	out.Settings = append(out.Settings, setting("exposure.stops", "%g", next.Exposure.Stops), "exposure.off=false",
		setting("balance.white", "{ xy = [%g, %g] }", next.Balance.White.XY[0], next.Balance.White.XY[1]),
		setting("balance.target", "{ xy = [%g, %g] }", next.Balance.Target.XY[0], next.Balance.Target.XY[1]), "balance.keep=0", "balance.off=false")
	points, before, after := grade.MatchCurve(then.work.Path, base.work.Path, pairs)
	if before > matchCurve && after < before*matchGain && len(pairs) >= 3 {
		curved := next
		curved.Curve.Master = points
		curved.SetOff(grade.StageCurve, false)
		if curved.Check() == nil {
			if st, err := a.state(&curved); err == nil {
				then, next, out.Curve = st, curved, true
				out.Settings = append(out.Settings, setting("curve.master", "%s", stopPairs(points)), "curve.off=false")
			}
		}
	}
	was := 0.0
	if !g.Off(grade.StageExposure) {
		was = g.Exposure.Stops
	}
	out.Exposure = next.Exposure.Stops - was
	out.tellBalance(base, &next)
	for i, q := range pairs {
		like := s.signalOf(base, q.To)
		one := MatchedRegion{Region: names[i], Weight: q.Weight}
		one.Stops, one.DE00 = apart(base.work.Path.Exact(s.signalOf(base, q.From)), base.work.Path.Exact(like))
		one.Left, one.Left00 = apart(then.work.Path.Exact(s.signalOf(then, q.From)), base.work.Path.Exact(like))
		out.Regions = append(out.Regions, one)
	}
	out.Before, out.After = left(out.Regions, false), left(out.Regions, true)
	for _, x := range out.Regions {
		if math.Abs(x.Left) >= matchLeft {
			out.Notes = append(out.Notes, fmt.Sprintf("%s stays %+.2f stop off: its own light changed, or what is seen there; lampwise check says which lamp drifted", x.Region, x.Left))
		}
	}
	if out.After.DE00 > out.Before.DE00 {
		out.Notes = append(out.Notes, "the match makes the mean difference larger: what changed is not one change of light; lampwise check says which lamp did")
	}
	if r.Out == "" {
		return out, nil
	}
	out.Out = r.Out
	return out, then.grade.Save(r.Out)
}

// tellBalance says what the balance takes out on top of the grade's own.
func (m *Matched) tellBalance(base *state, next *grade.Grade) {
	xy := colour.XY{X: next.Balance.White.XY[0], Y: next.Balance.White.XY[1]}
	was, err := base.work.Path.White()
	if err != nil {
		return
	}
	a, da, errA := colour.CCT(was)
	b, db, errB := colour.CCT(xy)
	if errA != nil || errB != nil {
		return
	}
	mired, duv := float64(b.Mired()-a.Mired()), db-da
	m.Mired, m.Duv = &mired, &duv
}

// matchTo reads what is matched to.
func matchTo(ctx context.Context, store Sets, r MatchRequest, ask MeasureRequest, out *Matched, report Progress) ([]gauge.Reading, error) {
	if !out.ToSet {
		ask.Clip = r.To
		other, err := Measure(ctx, store, ask, report)
		if err != nil {
			return nil, err
		}
		return other.Found.Readings, nil
	}
	set, kept, err := OpenSet(ctx, store, r.To)
	if err != nil {
		return nil, err
	}
	g, err := grade.Load(r.Grade)
	if err != nil {
		return nil, err
	}
	if kept.Settings.Clip.Curve != g.Decode.Curve {
		out.Notes = append(out.Notes, fmt.Sprintf("the set was learned with %s, the grade decodes %s: they are compared in scene light", kept.Settings.Clip.Curve, g.Decode.Curve))
	}
	im := set.PictureOf(set.Mix)
	var readings []gauge.Reading
	for _, x := range set.Regions {
		px := x.Pixels(set.W, set.H)
		if len(px) == 0 {
			continue
		}
		var sum [3]float64
		clipped := 0
		for _, p := range px {
			top := 0.0
			for k := range sum {
				v := float64(im.Pix[3*p+k])
				sum[k] += v / float64(len(px))
				top = math.Max(top, v)
			}
			if set.Clip > 0 && top >= set.Clip {
				clipped++
			}
		}
		part := float64(clipped) / float64(len(px))
		readings = append(readings, gauge.Reading{Region: x.Name, Linear: &sum, Clipped: &part})
	}
	return readings, nil
}

// matchPairs are the regions that both hold, whole in both.
func matchPairs(a, b []gauge.Reading) (names []string, pairs []grade.Pair) {
	for _, x := range a {
		y := readingOf(b, x.Region)
		w, known := matchWeights[x.Region]
		if !known {
			w = 1 // a person drew it
		}
		if y == nil || w == 0 || x.Linear == nil || y.Linear == nil || over(&x) || over(y) {
			continue
		}
		names, pairs = append(names, x.Region), append(pairs, grade.Pair{From: *x.Linear, To: *y.Linear, Weight: w})
	}
	return names, pairs
}

func over(r *gauge.Reading) bool { return r.Clipped != nil && *r.Clipped > matchClipped }

// apart is how far two colours on the screen lie apart: stops of light, and CIEDE2000.
func apart(a, b [3]float64) (stops, de float64) {
	light := func(v [3]float64) float64 {
		r, g, bl := colour.MatrixBT709.Weights()
		return r*screenLight(v[0]) + g*screenLight(v[1]) + bl*screenLight(v[2])
	}
	const dark = 1e-6
	return math.Log2(math.Max(light(a), dark) / math.Max(light(b), dark)), colour.DeltaE2000(colour.DisplayLab(a), colour.DisplayLab(b))
}

func left(regions []MatchedRegion, after bool) (m MatchLeft) {
	total := 0.0
	for _, r := range regions {
		s, d := r.Stops, r.DE00
		if after {
			s, d = r.Left, r.Left00
		}
		m.Stops += r.Weight * s * s
		m.DE00 += r.Weight * d
		m.Max = math.Max(m.Max, d)
		total += r.Weight
	}
	m.Stops, m.DE00 = math.Sqrt(m.Stops/total), m.DE00/total
	return m
}
