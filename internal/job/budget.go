package job

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"slices"

	"lampwise/internal/fault"
	"lampwise/internal/grade"
	"lampwise/internal/unit"
)

// BudgetRequest asks what a grade costs on a clip.
type BudgetRequest struct {
	Clip, Grade string
	Set         string
	Peak        unit.CandelaPerSquareMetre // of the screen; 0: 100
	Again       float64                    // quality of a web site's second encode; 0: WebQuality
	Threads     int
}

// BudgetPeak is the screen's luminance where none is said (ITU-R BT.2035).
const BudgetPeak unit.CandelaPerSquareMetre = 100

// Budget is what the path costs: docs/json.md, grade show --budget.
type Budget struct {
	File    string                     `json:"file"`
	Grade   string                     `json:"grade"`
	Peak    unit.CandelaPerSquareMetre `json:"peak"`
	Again   float64                    `json:"again_quality"` // of a web site's encode
	Bits    int                        `json:"recorded_bits"`
	OutBits int                        `json:"out_bits"`
	Dither  string                     `json:"dither"`
	Smooth  float64                    `json:"smooth_share"` // of the picture
	Noise   bool                       `json:"noise_known"`
	Risk    BandingRisks               `json:"risk"`
	Other   []OtherBits                `json:"other_bits"` // the same at 8 and 10 bits
	Levels  []BudgetLevel              `json:"levels"`     // along the stop ladder, on neutral
	Colours []BudgetLevel              `json:"colours"`    // of the regions
	Stages  []BudgetStage              `json:"stages"`
	Cost    *float64                   `json:"noise_cost_stops"` // at grey, against the conversion alone
	Words   []string                   `json:"words"`
	Notes   []string                   `json:"notes"`
}

// BandingRisks are parts of the smooth area, 0..1, in which bands may be seen:
// a step of J just noticeable ones counts 1 − 1/J.
type BandingRisks struct {
	Rendered  float64 `json:"rendered"`  // as computed, before a codec
	Delivered float64 `json:"delivered"` // after the codec at its usual quality
	Web       float64 `json:"web"`       // encoded again by a web site, 8 bits
}

// OtherBits is the risk with other bits recorded and written.
type OtherBits struct {
	Recorded int          `json:"recorded_bits"`
	Out      int          `json:"out_bits"`
	Risk     BandingRisks `json:"risk"`
}

// BudgetLevel is the cost at one light.
type BudgetLevel struct {
	Region string   `json:"region,omitempty"`
	Stops  float64  `json:"stops"`      // scene, from grey
	Code   float64  `json:"code"`       // recorded luma, of 10 bits
	Signal float64  `json:"signal"`     // on the screen, per cent
	Step   float64  `json:"step_jnd"`   // one recorded step, in just noticeable ones
	Step8  float64  `json:"step_jnd_8"` // had 8 bits been recorded
	Out    float64  `json:"out_jnd"`    // one step of the finished file
	Gain   float64  `json:"gain"`       // output codes per recorded code, both of 10 bits
	Noise  *float64 `json:"noise"`      // σ recorded, in recorded steps; null: not known
	Sigma  *float64 `json:"sigma"`      // σ on the screen, in the finished file's steps
	Cost   *float64 `json:"noise_cost"` // stops against the conversion alone
	Hidden bool     `json:"hidden"`     // noise hides the recorded step
	Area   float64  `json:"area"`       // part of the smooth area about here
}

// BudgetStage is what one stage spends: the whole against the path without it.
type BudgetStage struct {
	Stage     grade.Stage `json:"stage"`
	Rendered  float64     `json:"rendered"`
	Delivered float64     `json:"delivered"`
	Web       float64     `json:"web"`
	Noise     *float64    `json:"noise_stops"` // at grey
}

// BudgetOf measures the clip and carries its codes and noise through the path.
func BudgetOf(ctx context.Context, store Sets, r BudgetRequest, report Progress) (*Budget, error) {
	if r.Again != 0 && (r.Again < bestAgain || r.Again > worstAgain) {
		return nil, fault.New(fault.Usage, "again", "Encoders' constant quality: less is better; web sites lie about 22 to 34.", "a web site's quality of %g is outside %g to %g, for which bands were counted", r.Again, bestAgain, worstAgain)
	}
	g, err := grade.Load(r.Grade)
	if err != nil {
		return nil, err
	}
	s, err := sightOf(ctx, store, MeasureRequest{Clip: r.Clip, Set: r.Set, Grade: r.Grade, Threads: r.Threads, Smooth: true}, report)
	if err != nil {
		return nil, err
	}
	a := &adviser{sight: s, folder: filepath.Dir(r.Grade)}
	st, err := a.state(g)
	if err != nil {
		return nil, err
	}
	b, err := s.budget(st, r.Peak, r.Again)
	if err != nil {
		return nil, err
	}
	b.Grade = r.Grade
	if err := s.budgetStages(a, st, b); err != nil {
		return nil, err
	}
	b.Words = b.words()
	return b, nil
}

// ladderBudget are the scene stops at which the budget is told.
var ladderBudget = []float64{-6, -5, -4, -3, -2, -1, 0, 1, 2, 3, 4, 5}

// budget is the cost of a path on this clip, without what each stage spends.
func (s *sight) budget(st *state, peak unit.CandelaPerSquareMetre, again float64) (*Budget, error) {
	if peak <= 0 {
		peak = BudgetPeak
	}
	if again == 0 {
		again = WebQuality
	}
	out := st.work.Program.Output
	b := &Budget{
		File: s.info.Path, Peak: peak, Again: again, Bits: s.info.Video.Bits, OutBits: out.Bits, Dither: string(out.Dither),
		Other: []OtherBits{}, Levels: []BudgetLevel{}, Colours: []BudgetLevel{}, Stages: []BudgetStage{}, Words: []string{}, Notes: slices.Clone(s.out.Notes),
	}
	if s.out.Found.Smooth != nil {
		b.Smooth = s.out.Found.Smooth.Share
	}
	sigma10, known := s.noiseByCode()
	b.Noise = known
	if !known {
		b.Notes = append(b.Notes, "the clip's noise could not be measured, so nothing is taken to hide a step")
	}
	m := bandingModel{path: st.work.Path, rng: s.format().Range, peak: peak, sigma10: sigma10, dither: out.Dither != "none" && out.Dither != "", again: again}
	var area, slope []float64
	if s.out.Found.Smooth != nil {
		area, slope = s.out.Found.Smooth.Area, s.out.Found.Smooth.Slope
	}
	b.Risk = m.risks(area, slope, b.Bits, b.OutBits)
	for _, rec := range []int{8, 10} {
		for _, o := range []int{8, 10} {
			b.Other = append(b.Other, OtherBits{rec, o, m.risks(area, slope, rec, o)})
		}
	}
	alone, err := s.conversionAlone(st)
	if err != nil {
		return nil, err
	}
	for _, x := range ladderBudget {
		e, ok := m.neutralE(x)
		if !ok {
			continue
		}
		l := m.level([3]float64{e, e, e}, b.Bits, b.OutBits, alone)
		l.Area = areaAbout(area, e, m)
		b.Levels = append(b.Levels, l)
		if x == 0 {
			b.Cost = l.Cost
		}
	}
	for _, r := range s.out.Found.Readings {
		if r.Linear == nil || r.Region == wholeFrame || st.work.Path.Curve == nil {
			continue
		}
		var e [3]float64
		slope, offset := st.work.Path.SignalOfE()
		for i, y := range s.signalOf(st, *r.Linear) {
			e[i] = (y - offset) / slope
		}
		l := m.level(e, b.Bits, b.OutBits, alone)
		l.Region = r.Region
		b.Colours = append(b.Colours, l)
	}
	return b, nil
}

// conversionAlone is the grade with everything off but decode, convert and encode.
func (s *sight) conversionAlone(st *state) (*grade.Path, error) {
	g := *st.grade
	for _, x := range grade.Stages() {
		switch x {
		case grade.StageDecode, grade.StageConvert, grade.StageEncode:
		default:
			g.SetOff(x, true)
		}
	}
	w, err := OpenWith(s.info, &g, "")
	if err != nil {
		// A conversion LUT lies beside the grade; then the path as it is stands in.
		return st.work.Path, nil //nolint:nilerr // said by a cost of 0
	}
	return w.Path, nil
}

// noiseByCode is the measured luma noise, in 10-bit codes, at a luma code of 10
// bits: that in space, which is what hides a step in one picture, or that over
// time where it is larger or alone. Between the levels that were measured it is interpolated, beyond them
// the nearest holds.
func (s *sight) noiseByCode() (func(code float64) float64, bool) {
	type point struct{ code, sigma float64 }
	var at []point
	for _, l := range s.out.Found.Noise.Levels {
		v := -1.0
		for _, x := range []*float64{l.Time, l.Space} {
			if x != nil {
				v = math.Max(v, *x)
			}
		}
		if v >= 0 {
			at = append(at, point{l.Code, v})
		}
	}
	if len(at) == 0 {
		return func(float64) float64 { return 0 }, false
	}
	slices.SortFunc(at, func(a, b point) int { return order(a.code - b.code) })
	return func(code float64) float64 {
		if code <= at[0].code {
			return at[0].sigma
		}
		for i := 1; i < len(at); i++ {
			if code <= at[i].code {
				t := (code - at[i-1].code) / (at[i].code - at[i-1].code)
				return at[i-1].sigma + t*(at[i].sigma-at[i-1].sigma)
			}
		}
		return at[len(at)-1].sigma
	}, true
}

// areaAbout is the part of the smooth area within half a stop of a level.
func areaAbout(area []float64, e float64, m bandingModel) float64 {
	total, here := 0.0, 0.0
	stops := m.path.Step(e, 1.0/876).Stops
	for i, a := range area {
		total += a
		if a == 0 {
			continue
		}
		if s := m.path.Step(m.eOfBin(i, len(area)), 1.0/876).Stops; math.Abs(s-stops) <= 0.5 {
			here += a
		}
	}
	if total == 0 {
		return 0
	}
	return here / total
}

// budgetStages tells what each stage spends.
func (s *sight) budgetStages(a *adviser, st *state, b *Budget) error {
	for _, x := range grade.Stages() {
		if x == grade.StageDecode || x == grade.StageConvert || x == grade.StageEncode || x == grade.StageVignette || !st.work.Path.Runs(x) {
			continue
		}
		g := *st.grade
		g.SetOff(x, true)
		without, err := a.state(&g)
		if err != nil {
			return err
		}
		o, err := s.budget(without, b.Peak, b.Again)
		if err != nil {
			return err
		}
		one := BudgetStage{Stage: x, Rendered: b.Risk.Rendered - o.Risk.Rendered, Delivered: b.Risk.Delivered - o.Risk.Delivered, Web: b.Risk.Web - o.Risk.Web}
		if b.Cost != nil && o.Cost != nil {
			v := *b.Cost - *o.Cost
			one.Noise = &v
		}
		b.Stages = append(b.Stages, one)
	}
	return nil
}

// worthTelling is how much more of the smooth area must be at risk after a web
// site's encode for advice on it.
const worthTelling = 0.05

// webWords say what, if anything, helps against a web site's encode.
func (b *Budget) webWords() string {
	var worst *BudgetStage
	for i := range b.Stages {
		if x := &b.Stages[i]; worst == nil || x.Web > worst.Web {
			worst = x
		}
	}
	if worst != nil && worst.Web > worthTelling {
		return fmt.Sprintf("of the web site's encode %s spends most: without it the risk there would be %.0f %%", worst.Stage, 100*(b.Risk.Web-worst.Web))
	}
	return "what a web site's encode adds hardly depends on this grade: a file of more lines or a higher data rate is encoded better there, and light or texture that breaks up a smooth wall helps most (common practice, no source)"
}

// words says what to make of it.
func (b *Budget) words() []string {
	pc := func(v float64) string { return fmt.Sprintf("%.0f %%", 100*v) }
	if b.Smooth == 0 {
		return []string{"nothing in the picture is a smooth gradient, so nothing in it can band"}
	}
	out := []string{fmt.Sprintf("%s of the picture is smooth enough to show bands; the risk there is %s as rendered, %s once delivered, %s after a web site's encode at quality %.0f",
		pc(b.Smooth), pc(b.Risk.Rendered), pc(b.Risk.Delivered), pc(b.Risk.Web), b.Again)}
	var worst *BudgetStage
	for i := range b.Stages {
		if x := &b.Stages[i]; worst == nil || x.Rendered+x.Delivered > worst.Rendered+worst.Delivered {
			worst = x
		}
	}
	const worth = 0.01
	if worst != nil && worst.Rendered+worst.Delivered > worth {
		out = append(out, fmt.Sprintf("%s spends most of it: without it the risk as rendered would be %s, as delivered %s", worst.Stage, pc(b.Risk.Rendered-worst.Rendered), pc(b.Risk.Delivered-worst.Delivered)))
	}
	if b.Risk.Web > b.Risk.Delivered+worthTelling {
		out = append(out, b.webWords())
	}
	for _, o := range b.Other {
		if o.Recorded == b.Bits && o.Out == 10 && b.OutBits == 8 && o.Risk.Delivered < b.Risk.Delivered-worth {
			out = append(out, fmt.Sprintf("written with 10 bits the delivered risk would be %s (encode.bits = 10)", pc(o.Risk.Delivered)))
		}
		if o.Recorded == 8 && o.Out == b.OutBits && b.Bits > 8 {
			out = append(out, fmt.Sprintf("had 8 bits been recorded, the risk as rendered would be %s", pc(o.Risk.Rendered)))
		}
	}
	if b.Cost != nil {
		out = append(out, fmt.Sprintf("noise at grey comes out %+.2f stop against the conversion alone", *b.Cost))
	}
	return out
}
