package job

import (
	"context"
	"fmt"
	"path/filepath"

	"lampwise/internal/book"
	"lampwise/internal/colour"
	"lampwise/internal/gauge"
	"lampwise/internal/grade"
	"lampwise/internal/media"
	"lampwise/internal/picture"
	"lampwise/internal/region"
	"lampwise/internal/unit"
)

// MeasureRequest reads a clip.
type MeasureRequest struct {
	Clip       string
	Set        string // whose regions, curve, clip and intentions hold; empty: none
	Grade      string // whose curve and overrides hold, and by which the screen is told; empty: none
	Curve      string // empty: the grade's, the set's, or as said before of clips like it
	Gamut      string // empty: the curve's first
	Override   media.Override
	White      colour.XY // what the camera was balanced to; zero: the set's, or not known
	Regions    []region.Region
	EveryFrame bool
	Intended   []string // what is so on purpose; with a set it is kept (see ParseIntended)
	Smooth     bool     // tell smooth areas, for the budget
	Scopes     string   // folder for the scopes; empty: none are made
	KeepScopes bool     // count what scopes show without writing them
	Threads    int
}

// MeasuredClip is what a clip reads and what is wrong with it: docs/json.md, measure.
type MeasuredClip struct {
	File      string          `json:"file"`
	Set       string          `json:"set,omitempty"`
	Curve     string          `json:"curve"` // empty: not known
	Plan      MeasurePlan     `json:"plan"`
	Readings  []ClipReading   `json:"readings"`
	Gaps      []gauge.Gap     `json:"gaps"` // colour of light between regions
	Ladder    LadderEnds      `json:"ladder"`
	Problems  []gauge.Problem `json:"problems"`
	Intended  []IntendedFound `json:"intended"`
	Preflight []PreflightItem `json:"preflight"`
	Found     gauge.Measured  `json:"found"`
	Regions   []region.Region `json:"regions"`
	Files     []string        `json:"files,omitempty"`
	Notes     []string        `json:"notes"`

	camera gauge.Camera
}

// Camera is what the clip's codes were taken to stand for.
func (m *MeasuredClip) Camera() gauge.Camera { return m.camera }

// ClipReading is a region's reading, and where a grade brings it to on the screen.
type ClipReading struct {
	gauge.Reading
	Screen *ScreenReading `json:"screen,omitempty"`
}

// ScreenReading is what a region comes to under a grade.
type ScreenReading struct {
	Signal float64    `json:"signal"` // mean luma, per cent
	Stops  *unit.Stop `json:"stops"`  // of screen light from grey; nil: black
}

// LadderEnds are the ends of the stop ladder, in stops from grey; nil where not known.
type LadderEnds struct {
	Clip  *unit.Stop `json:"clip_stops"`
	Floor *unit.Stop `json:"floor_stops"`
	// Top is the light of the curve's last code: an upper bound of the clip.
	Top *unit.Stop `json:"top_stops"`
}

// Measure reads a clip in light, and says what is wrong with it.
func Measure(ctx context.Context, store Sets, r MeasureRequest, report Progress) (*MeasuredClip, error) {
	j, _, err := measureWith(ctx, store, r, report)
	if err != nil {
		return nil, err
	}
	return j.out, nil
}

// measureWith is Measure; it gives the frames that were looked at, too.
func measureWith(ctx context.Context, store Sets, r MeasureRequest, report Progress) (*measuring, []*picture.Frame, error) {
	info, err := media.Probe(ctx, r.Clip)
	if err != nil {
		return nil, nil, err
	}
	j := &measuring{request: r, info: info, out: &MeasuredClip{
		File: r.Clip, Set: r.Set, Gaps: []gauge.Gap{}, Problems: []gauge.Problem{}, Intended: []IntendedFound{}, Preflight: []PreflightItem{}, Notes: []string{}, Regions: []region.Region{},
	}}
	if err := j.settle(ctx, store); err != nil {
		return nil, nil, err
	}
	looks, err := j.look(ctx)
	if err != nil {
		return nil, nil, err
	}
	if err := j.regions(looks); err != nil {
		return nil, nil, err
	}
	if err := j.read(ctx, report); err != nil {
		return nil, nil, err
	}
	_, err = j.answer(looks)
	return j, looks, err
}

// measuring is a measurement under way.
type measuring struct {
	request  MeasureRequest
	info     *media.Info
	override media.Override
	camera   gauge.Camera
	work     *Work // nil without a grade
	set      *book.Set
	intended []Intended
	found    []gauge.Region
	face     *gauge.Region
	out      *MeasuredClip
}

// settle finds what the clip's codes stand for, from what was said now, by the
// grade, by the set, or before.
func (j *measuring) settle(ctx context.Context, store Sets) error {
	r := j.request
	intended, err := ParseIntended(r.Intended)
	if err != nil {
		return err
	}
	j.override = r.Override
	curve, gamut := r.Curve, r.Gamut
	if r.Grade != "" {
		g, err := grade.Load(r.Grade)
		if err != nil {
			return err
		}
		if j.work, err = OpenWith(j.info, g, filepath.Dir(r.Grade)); err != nil {
			return err
		}
		o := Override(g)
		j.orElse(o)
		if curve == "" {
			curve = g.Decode.Curve
		}
		j.camera.ClipCode = g.Decode.Clip
	}
	if r.Set != "" {
		kept, err := store.Set(ctx, r.Set)
		if err != nil {
			return err
		}
		j.set = &kept
		c := kept.Settings.Clip
		j.orElse(media.Override{Range: colour.Range(c.Range), Matrix: colour.MatrixCoefficients(c.Matrix)})
		if curve == "" {
			curve = c.Curve
		}
		if gamut == "" && curve == c.Curve {
			gamut = c.Gamut
		}
		if j.camera.ClipCode == 0 && curve == c.Curve {
			j.camera.ClipCode = c.ClipCode
		}
		if c.White != nil {
			j.camera.White = &colour.XY{X: c.White[0], Y: c.White[1]}
		}
		if len(intended) > 0 {
			if err := keepIntended(ctx, store, j.set, intended); err != nil {
				return err
			}
		}
		if intended, err = ParseIntended(j.set.Settings.Intended); err != nil {
			return err
		}
	}
	j.intended = intended
	if r.White != (colour.XY{}) {
		j.camera.White = &r.White
	}
	if curve == "" || r.Curve != "" {
		if curve, err = knownCurve(ctx, store, j.info, r.Curve); err != nil {
			return err
		}
	}
	if curve == "" {
		curve = j.taggedCurve()
	}
	for _, n := range j.info.Notes {
		j.out.Notes = append(j.out.Notes, n.Message)
	}
	if curve == "" {
		return nil
	}
	d, err := decodingOf(curve, j.override)
	if err != nil {
		return err
	}
	j.camera.Curve = d.Curve
	if name := hdrName[j.info.Video.Transfer]; name != "" && d.Curve.Kind == colour.KindCamera {
		j.out.Notes = append(j.out.Notes, fmt.Sprintf("the clip is tagged %s and was read as %s, as was said; were it %s, every reading in stops would be wrong", name, curve, name))
	}
	if j.camera.Gamut, err = gamutOf(d.Curve, gamut); err != nil {
		return err
	}
	j.out.Curve = curve
	return nil
}

// orElse fills in what nothing was said of yet.
func (j *measuring) orElse(o media.Override) {
	if j.override.Range == "" {
		j.override.Range = o.Range
	}
	if j.override.Matrix == "" {
		j.override.Matrix = o.Matrix
	}
}

// hdrName is what a transfer tag of high dynamic range is called.
var hdrName = map[string]string{"smpte2084": "PQ", "arib-std-b67": "HLG"}

// taggedCurve is the curve where nobody said one: a scene curve that the tags
// name, or none, which is said.
func (j *measuring) taggedCurve() string {
	note := func(format string, args ...any) { j.out.Notes = append(j.out.Notes, fmt.Sprintf(format, args...)) }
	switch t := j.info.Video.Transfer; t {
	case "arib-std-b67":
		note("the clip is tagged HLG (high dynamic range) and was read as that; if it is log, say which with --curve")
		return "hlg"
	case "smpte2084":
		note("the clip is tagged PQ (high dynamic range for a screen): its codes stand for screen light, so nothing is told in stops of the scene. If it is log, say which with --curve")
	case "bt709", "smpte170m", "iec61966-2-1":
		note("no camera curve is known, and the clip is tagged %s: if it is a finished file, lampwise verify checks it; if it is log, say which with --curve. So nothing is told in stops", t)
	default:
		note("no camera curve is known, so nothing is told in stops: say which with --curve (lampwise curves lists them)")
	}
	return ""
}

// format is how the clip's frames are read.
func (j *measuring) format() picture.Format { return j.info.FormatWith(j.override) }
