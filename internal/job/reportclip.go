package job

import (
	"bytes"
	"context"
	"encoding/base64"
	"fmt"
	"html/template"
	"image"
	"image/color"
	"image/png"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"lampwise/internal/draw"
	"lampwise/internal/gauge"
	"lampwise/internal/picture"
)

// reportWidth is the least width of the page's pictures, in pixels.
const reportWidth = 640

// reportClip is what the page shows of a clip.
type reportClip struct {
	Title, Grade, Facts, Plan string
	Read                      bool // false: the clip could not be read, and Gone says why
	Gone                      string
	Match                     *reportMatch // of an episode's clip
	Pictures                  []reportPicture
	Ladder                    template.HTML
	Readings                  []reportReading
	Screen                    bool
	Problems                  []reportProblem
	Intended                  []IntendedFound
	Stages                    []StageWords
	Budget                    []string
	Scopes                    []reportDrawing
	Notes                     []string

	found int // problems
}

type reportPicture struct {
	Title, Alt string
	Data       template.URL
}

// reportDrawing is a plot, drawn in the page.
type reportDrawing struct {
	Alt string
	SVG template.HTML
}

type reportReading struct{ Region, Stops, Span, Colour, Clipped, Screen string }

type reportProblem struct{ Severity, What, Size, Advice string }

// clip measures a clip and puts it on the page.
func (p *reportPage) clip(ctx context.Context, store Sets, r ReportRequest, report Progress) (*reportClip, error) {
	ask := MeasureRequest{Clip: r.Of, Set: r.Set, Grade: r.Grade, Curve: r.Curve, Regions: r.Regions, EveryFrame: r.EveryFrame, Threads: r.Threads, Smooth: true, KeepScopes: true}
	j, looks, err := measureWith(ctx, store, ask, report)
	if err != nil {
		return nil, err
	}
	d := &reportClip{
		Title: filepath.Base(r.Of), Read: true, Facts: clipFacts(j), Plan: capital(j.out.Plan.Words), Intended: j.out.Intended,
		Notes: j.out.Notes, Screen: j.work != nil, found: len(j.out.Problems),
	}
	if err := d.fill(j, looks); err != nil {
		return nil, err
	}
	p.Clips = append(p.Clips, d)
	p.warn(j.out.Preflight)
	if w := j.out.Found.Flicker.Wave; w != nil {
		p.Cautions = append(p.Cautions, fmt.Sprintf("A lamp pulses in %s: %s.", d.Title, flickerWords(w)))
	}
	return d, nil
}

func (d *reportClip) fill(j *measuring, looks []*picture.Frame) error {
	for _, r := range j.out.Readings {
		d.Readings = append(d.Readings, readingWords(j, r))
	}
	for _, p := range j.out.Problems {
		size := p.Amount()
		if p.To > p.From {
			size += fmt.Sprintf(", from %.1f to %.1f s", p.From, p.To)
		}
		d.Problems = append(d.Problems, reportProblem{string(p.Severity), held(p.What), held(size), held(p.Advice)})
	}
	frame := looks[len(looks)/2]
	before := func(x, y int) [3]float64 { return frame.RGB(x, y) }
	if err := d.picture(&d.Pictures, "As recorded", frame, before); err != nil {
		return err
	}
	if j.work != nil {
		d.Grade = filepath.Base(j.request.Grade)
		if err := d.picture(&d.Pictures, "Finished, by the exact path", frame, exactFrame(j.work.Path, j.work.Program, frame)); err != nil {
			return err
		}
		d.Stages = GradeWords(j.work.Path)
		s, st := &sight{measuring: j, looks: looks}, &state{j.work.Grade, j.work}
		b, err := s.budget(st, 0, 0)
		if err != nil {
			return err
		}
		if err := s.budgetStages(&adviser{sight: s, folder: filepath.Dir(j.request.Grade)}, st, b); err != nil {
			return err
		}
		for _, w := range b.words() {
			d.Budget = append(d.Budget, held(w))
		}
	}
	d.Ladder = ladderOf(j)
	return d.scopes(j, looks)
}

// picture puts a frame on the page, in its own shape.
func (d *reportClip) picture(into *[]reportPicture, title string, f *picture.Frame, at func(x, y int) [3]float64) error {
	step := max(1, f.Width/(2*reportWidth))
	im := picture.NewImage(f.Width/step, f.Height/step, picture.SpaceDisplay)
	parallel(im.H, func(y int) {
		for x := range im.W {
			im.Set(x, y, at(x*step, y*step))
		}
	})
	if im.W >= 2*reportWidth {
		im = im.Shrink(im.W/2, im.H/2)
	}
	out := image.NewNRGBA(image.Rect(0, 0, im.W, im.H))
	for y := range im.H {
		for x := range im.W {
			p := im.Pix[3*(y*im.W+x):]
			out.SetNRGBA(x, y, color.NRGBA{byteOf(p[0]), byteOf(p[1]), byteOf(p[2]), 0xff})
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, out); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	*into = append(*into, reportPicture{title, fmt.Sprintf("%s, %.1f s into the clip", title, f.Time), pngData(b.Bytes())})
	return nil
}

func pngData(b []byte) template.URL {
	return template.URL("data:image/png;base64," + base64.StdEncoding.EncodeToString(b))
}

func (d *reportClip) scopes(j *measuring, looks []*picture.Frame) error {
	if j.out.Found.Scopes == nil {
		return nil
	}
	words := "as recorded"
	if j.camera.Curve != nil {
		words += ", " + j.camera.Curve.ID
	}
	kind := scopeKind{words: words, rng: j.format().Range, curve: j.camera.Curve, clip: j.camera.ClipCode, gamut: j.camera.Gamut}
	all := kind.pictures(j.out.Found.Scopes)
	if j.work != nil {
		// Side by side: what was recorded, and what the grade makes of it.
		screen := scopeKind{name: "screen-", words: "on the screen", rng: j.work.Program.Output.Range, screen: true}
		shown := screen.pictures(j.screenScopes(looks))
		for i, p := range shown {
			all = slices.Insert(all, 2*i+1, p)
		}
	}
	for _, p := range all {
		w, h := p.scope.Size()
		s := draw.NewSVG(w, h)
		p.scope.Draw(s)
		d.Scopes = append(d.Scopes, reportDrawing{p.scope.Title, inPage(s)})
	}
	return nil
}

// ladderOf draws the stop ladder of what was read.
func ladderOf(j *measuring) template.HTML {
	if j.camera.Curve == nil {
		return ""
	}
	l := draw.Ladder{Title: "Stop ladder", Clip: math.NaN(), Floor: math.NaN()}
	if j.out.Ladder.Clip != nil {
		l.Clip = float64(*j.out.Ladder.Clip)
	}
	if j.out.Ladder.Floor != nil {
		l.Floor = float64(*j.out.Ladder.Floor)
	}
	for _, r := range j.out.Readings {
		if r.Stops != nil && r.Region != wholeFrame {
			l.Columns = append(l.Columns, draw.Column{Name: r.Region, Mix: float64(*r.Stops)})
		}
	}
	if j.work != nil {
		for _, r := range j.work.Path.Ladder([]float64{-6, -5, -4, -3, -2, -1, 0, 1, 2, 3, 4, 5, 6}) {
			l.Rungs = append(l.Rungs, draw.Rung{Scene: r.SceneStops, Screen: r.ScreenStops, Signal: r.Signal})
		}
	}
	w, h := l.Size()
	s := draw.NewSVG(w, h)
	l.Draw(s)
	return inPage(s)
}

// inPage is a drawing as part of the page: sharp at any size, and on paper.
// There an SVG needs no name space; text in it is escaped already.
func inPage(s *draw.SVG) template.HTML {
	return template.HTML(strings.Replace(string(s.Bytes()), ` xmlns="http://www.w3.org/2000/svg"`, "", 1)) //nolint:gosec // our own drawing
}

// held keeps a sign on the line of its number.
func held(words string) string { return strings.ReplaceAll(words, " %", "\u00a0%") }

func flickerWords(w *gauge.Wave) string {
	return fmt.Sprintf("%.3g\u00a0%% of the light", w.Amplitude)
}

func clipFacts(j *measuring) string {
	v := j.info.Video
	curve := "curve not known"
	if j.out.Curve != "" {
		curve = j.out.Curve
	}
	return fmt.Sprintf("%d × %d, %d bits, %.3g frames/s, %.1f s, %s", v.Width, v.Height, v.Bits, float64(v.Rate.Num)/float64(max(1, v.Rate.Den)), j.info.Duration, curve)
}

// capital begins a sentence.
func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

func readingWords(j *measuring, r ClipReading) reportReading {
	out := reportReading{Region: r.Region, Stops: "not known", Clipped: "not known"}
	if r.Stops != nil {
		out.Stops = fmt.Sprintf("%+.2f", math.Round(100*float64(*r.Stops))/100+0)
	}
	if r.Low != nil && r.High != nil {
		tenth := func(v float64) float64 { return math.Round(10*v)/10 + 0 } // + 0: no −0.0
		out.Span = fmt.Sprintf("%+.1f to %+.1f", tenth(float64(*r.Low)), tenth(float64(*r.High)))
	}
	if r.Clipped != nil {
		out.Clipped = percent(*r.Clipped, 2)
	}
	if r.CCT != nil {
		out.Colour = fmt.Sprintf("%.0f K, Duv %+.3f", float64(*r.CCT), *r.Duv)
	} else if r.Hue != nil {
		out.Colour = fmt.Sprintf("hue %.0f°, purity %.2f", *r.Hue, *r.Purity)
	} else {
		for _, g := range j.out.Gaps {
			if g.Region == r.Region {
				out.Colour = fmt.Sprintf("%+.0f mired to %s", float64(g.Mired), g.To)
			}
		}
	}
	if r.Screen != nil {
		out.Screen = percent(r.Screen.Signal/100, 1)
	}
	return out
}
