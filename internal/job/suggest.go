package job

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"lampwise/internal/fault"
	"lampwise/internal/gauge"
	"lampwise/internal/grade"
	"lampwise/internal/picture"
	"lampwise/internal/region"
	"lampwise/internal/unit"
)

// SuggestRequest asks what a grade should be for a clip.
type SuggestRequest struct {
	Clip, Grade string
	Set         string // whose regions and lamps are known; empty: none
	Regions     []region.Region
	Apply       []string    // stages whose suggestion is written into the grade; none: nothing is
	Face        unit.Stop   // where the lit side of a face belongs when no card is seen
	Strength    float64     // of the curve, 0..1
	Skin        unit.Degree // by how much the look may turn skin off the skin line
	EveryFrame  bool
	Threads     int
}

// The defaults of SuggestRequest. Common practice, no source.
const (
	SuggestFace     unit.Stop   = 0.3
	SuggestStrength             = 0.5
	SuggestSkin     unit.Degree = 6
)

// Suggested is what came of it: docs/json.md, grade suggest.
type Suggested struct {
	File        string        `json:"file"`
	Grade       string        `json:"grade"`
	Set         string        `json:"set,omitempty"`
	Suggestions []Suggestion  `json:"suggestions"`
	Mixed       []MixedLight  `json:"mixed_light"`
	Applied     []grade.Stage `json:"applied"`
	Notes       []string      `json:"notes"`
}

// Suggestion is what one stage should be set to, and why.
type Suggestion struct {
	Stage    grade.Stage     `json:"stage"`
	Change   bool            `json:"change"`   // false: leave it as it is
	Unknown  bool            `json:"unknown"`  // nothing was seen that could tell
	Settings []string        `json:"settings"` // as lampwise grade set takes them
	Reason   string          `json:"reason"`
	Numbers  []Number        `json:"numbers"`
	Before   []RegionOnScene `json:"before"`
	After    []RegionOnScene `json:"after"`
	Applied  bool            `json:"applied"`
}

// Number is a figure that a suggestion rests on.
type Number struct {
	Name  string  `json:"name"`
	Value float64 `json:"value"`
	Unit  string  `json:"unit"`
}

// RegionOnScene is a region as a grade shows it.
type RegionOnScene struct {
	Region string     `json:"region"`
	Signal float64    `json:"signal"` // mean luma on the screen, per cent
	Screen *unit.Stop `json:"screen_stops"`
	Chroma float64    `json:"chroma"` // distance from neutral on the screen, CIELAB
}

// suggestStages are the stages that have a suggestion, in the path's order.
var suggestStages = []grade.Stage{grade.StageExposure, grade.StageBalance, grade.StageSplit, grade.StageCurve, grade.StageLook, grade.StageVignette}

// Suggest reads the clip and says what the grade should be. Each suggestion is
// for the grade as it stands with those that were applied before it, so that
// what is told of each alone is so. Nothing is written without Apply.
func Suggest(ctx context.Context, store Sets, r SuggestRequest, report Progress) (*Suggested, error) {
	if err := checkStages(r.Apply); err != nil {
		return nil, err
	}
	g, err := grade.Load(r.Grade)
	if err != nil {
		return nil, err
	}
	if g.Off(grade.StageDecode) {
		return nil, fault.New(fault.Usage, "suggest-decode", "Suggestions are for log clips: make a grade with lampwise grade new.", "%s: decode is off, so the clip counts as finished already", r.Grade)
	}
	s, err := sightOf(ctx, store, MeasureRequest{Clip: r.Clip, Set: r.Set, Grade: r.Grade, Regions: r.Regions, EveryFrame: r.EveryFrame, Threads: r.Threads, Smooth: true}, report)
	if err != nil {
		return nil, err
	}
	out := &Suggested{File: r.Clip, Grade: r.Grade, Set: r.Set, Suggestions: []Suggestion{}, Mixed: []MixedLight{}, Applied: []grade.Stage{}, Notes: slices.Clone(s.out.Notes)}
	if out.Mixed, err = s.mixedLight(ctx, store); err != nil {
		return nil, err
	}
	a := &adviser{request: r, sight: s, mixed: out.Mixed, folder: filepath.Dir(r.Grade)}
	if a.now, err = a.state(g); err != nil {
		return nil, err
	}
	for _, stage := range suggestStages {
		one, next, err := a.advise(stage)
		if err != nil {
			return nil, err
		}
		one.Stage, one.Change = stage, next != nil
		one.Before = s.shown(a.now)
		one.After = one.Before
		if next != nil {
			then, err := a.state(next)
			if err != nil {
				return nil, err
			}
			one.After = s.shown(then)
			if stage == grade.StageExposure {
				one.Reason += cardOnScreen(one.After)
			}
			if slices.Contains(r.Apply, string(stage)) {
				a.now, one.Applied = then, true
				out.Applied = append(out.Applied, stage)
			}
		}
		if one.Settings == nil {
			one.Settings = []string{}
		}
		if one.Numbers == nil {
			one.Numbers = []Number{}
		}
		out.Suggestions = append(out.Suggestions, one)
	}
	if len(out.Applied) > 0 {
		if err := a.now.grade.Save(r.Grade); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// cardOnScreen says where a card that reads 0 in the scene comes out, so that
// nobody takes what the later stages do for a fault of the exposure.
func cardOnScreen(after []RegionOnScene) string {
	for _, r := range after {
		if r.Region == region.Card && r.Screen != nil && math.Abs(float64(*r.Screen)) >= exposureStep {
			return fmt.Sprintf("; on the screen it then comes out %+.2f stop from grey, which is the work of the grade's later stages (lampwise grade show tells each one's part)", float64(*r.Screen))
		}
	}
	return ""
}

func checkStages(names []string) error {
	var known []string
	for _, s := range suggestStages {
		known = append(known, string(s))
	}
	for _, n := range names {
		if !slices.Contains(known, n) {
			hint := "Known: " + strings.Join(known, ", ") + "."
			if near, ok := fault.Nearest(n, known); ok {
				hint = "Did you mean “" + near + "”? " + hint
			}
			return fault.New(fault.Usage, "suggest-stage", hint, "there is no suggestion for %q", n)
		}
	}
	return nil
}

// adviser makes suggestions for a grade under way.
type adviser struct {
	request SuggestRequest
	sight   *sight
	mixed   []MixedLight
	folder  string
	now     *state
}

// state is a grade built for the clip.
type state struct {
	grade *grade.Grade
	work  *Work
}

func (a *adviser) state(g *grade.Grade) (*state, error) {
	w, err := OpenWith(a.sight.info, g, a.folder)
	return &state{g, w}, err
}

// advise returns a suggestion and the grade with it; nil: leave it.
func (a *adviser) advise(stage grade.Stage) (Suggestion, *grade.Grade, error) {
	g := *a.now.grade
	switch stage {
	case grade.StageExposure:
		return a.exposure(&g)
	case grade.StageBalance:
		return a.balance(&g)
	case grade.StageSplit:
		return a.split(&g)
	case grade.StageCurve:
		return a.curve(&g)
	case grade.StageLook:
		return a.look(&g)
	}
	return a.vignette(&g)
}

// sight is a clip that was measured, with the frames that were looked at.
type sight struct {
	*measuring
	looks   []*picture.Frame
	samples []sample
}

// sightOf measures a clip as Measure does and keeps what was looked at.
func sightOf(ctx context.Context, store Sets, r MeasureRequest, report Progress) (*sight, error) {
	j, looks, err := measureWith(ctx, store, r, report)
	if err != nil {
		return nil, err
	}
	s := &sight{measuring: j, looks: looks}
	s.gather()
	return s, nil
}

// reading is a region's reading; nil where it wasn't read.
func (s *sight) reading(name string) *gauge.Reading { return readingOf(s.out.Found.Readings, name) }

// place is a region that was read.
func (s *sight) place(name string) (region.Region, bool) {
	for _, g := range s.out.Regions {
		if g.Name == name {
			return g, true
		}
	}
	return region.Region{}, false
}

func number(name string, value float64, unit string) Number { return Number{name, value, unit} }

// setting writes key=value as lampwise grade set takes it.
func setting(key, format string, args ...any) string {
	return key + "=" + fmt.Sprintf(format, args...)
}
