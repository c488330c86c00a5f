package job

import (
	"bytes"
	"context"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"image"
	"image/color"
	"image/png"
	"math"
	"path/filepath"
	"strings"

	"lampwise/internal/draw"
	"lampwise/internal/fault"
	"lampwise/internal/gauge"
	"lampwise/internal/grade"
	"lampwise/internal/picture"
	"lampwise/internal/region"
)

// ReportRequest asks for a page about a clip.
type ReportRequest struct {
	Clip, Grade string // Grade empty: what was recorded, and no more
	Set         string
	Curve       string // where no grade says it
	Out         string
	Overwrite   bool
	Regions     []region.Region
	EveryFrame  bool
	Threads     int
}

// Reported is what was written: docs/json.md, report.
type Reported struct {
	File     string   `json:"file"`
	Clip     string   `json:"clip"`
	Bytes    int      `json:"bytes"`
	Sections []string `json:"sections"`
	Problems int      `json:"problems"`
	Notes    []string `json:"notes"`
}

//go:embed report.html
var reportPage string

// reportWidth is the least width of the page's pictures, in pixels.
const reportWidth = 640

// reportData is what the page shows.
type reportData struct {
	Clip, Grade, Set, Facts, Plan string
	Pictures                      []reportPicture
	Ladder                        template.HTML
	Readings                      []reportReading
	Screen                        bool
	Problems                      []reportProblem
	Intended                      []IntendedFound
	Preflight                     []PreflightItem
	Lamps                         []reportLamp
	Stages                        []StageWords
	Budget                        []string
	Scopes                        []reportPicture
	Cautions, Sources, Notes      []string
}

type reportPicture struct {
	Title, Alt string
	Data       template.URL
}

type reportReading struct{ Region, Stops, Span, Colour, Clipped, Screen string }

type reportProblem struct{ Severity, What, Size, Advice string }

type reportLamp struct{ Name, Level, Face, Mired, Colour string }

// Report writes one page that holds all it shows.
func Report(ctx context.Context, store Sets, r ReportRequest, report Progress) (*Reported, error) {
	if kind := strings.ToLower(filepath.Ext(r.Out)); kind != ".html" && kind != ".htm" {
		return nil, fault.New(fault.Usage, "report-kind", "Name it .html; a browser prints it to PDF.", "%s: a report is written as .html", r.Out)
	}
	if !r.Overwrite {
		if err := absent(r.Out); err != nil {
			return nil, err
		}
	}
	ask := MeasureRequest{Clip: r.Clip, Set: r.Set, Grade: r.Grade, Curve: r.Curve, Regions: r.Regions, EveryFrame: r.EveryFrame, Threads: r.Threads, Smooth: true, KeepScopes: true}
	j, looks, err := measureWith(ctx, store, ask, report)
	if err != nil {
		return nil, err
	}
	d := &reportData{
		Clip: filepath.Base(r.Clip), Set: r.Set, Facts: clipFacts(j), Plan: capital(j.out.Plan.Words), Intended: j.out.Intended, Preflight: j.out.Preflight,
		Cautions: reportCautions(j.out), Sources: sourceLines(), Notes: j.out.Notes, Screen: j.work != nil,
	}
	if err := d.fill(ctx, store, j, looks); err != nil {
		return nil, err
	}
	page, err := template.New("report").Parse(reportPage)
	if err != nil {
		return nil, fmt.Errorf("report: %w", err)
	}
	var b bytes.Buffer
	if err := page.Execute(&b, d); err != nil {
		return nil, fmt.Errorf("report: %w", err)
	}
	if err := writeFile(r.Out, r.Overwrite, b.Bytes()); err != nil {
		return nil, err
	}
	return &Reported{File: r.Out, Clip: r.Clip, Bytes: b.Len(), Sections: d.sections(), Problems: len(j.out.Problems), Notes: d.Notes}, nil
}

func (d *reportData) fill(ctx context.Context, store Sets, j *measuring, looks []*picture.Frame) error {
	for _, r := range j.out.Readings {
		d.Readings = append(d.Readings, readingWords(j, r))
	}
	for _, p := range j.out.Problems {
		size := fmt.Sprintf("%.3g %s", p.Size, p.Unit)
		if p.To > p.From {
			size += fmt.Sprintf(", from %.1f to %.1f s", p.From, p.To)
		}
		d.Problems = append(d.Problems, reportProblem{string(p.Severity), p.What, size, p.Advice})
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
		s := &sight{measuring: j, looks: looks}
		b, err := s.budget(&state{j.work.Grade, j.work}, 0)
		if err != nil {
			return err
		}
		d.Budget = b.words()
	}
	d.Ladder = ladderOf(j)
	if err := d.scopes(j, looks); err != nil {
		return err
	}
	if j.set == nil {
		return nil
	}
	set, kept, err := OpenSet(ctx, store, j.set.Name)
	if err != nil {
		return err
	}
	l := &LearnedSet{Files: map[string]string{}}
	describe(set, kept, l)
	for _, x := range l.Lamps {
		d.Lamps = append(d.Lamps, lampWords(x))
	}
	return nil
}

func (d *reportData) sections() []string {
	out := []string{"pictures", "ladder", "readings", "problems"}
	for _, x := range []struct {
		name string
		is   bool
	}{{"lamps", len(d.Lamps) > 0}, {"grade", len(d.Stages) > 0}, {"budget", len(d.Budget) > 0}, {"scopes", len(d.Scopes) > 0}, {"cautions", true}, {"sources", len(d.Sources) > 0}} {
		if x.is {
			out = append(out, x.name)
		}
	}
	return out
}

// picture puts a frame on the page, in its own shape.
func (d *reportData) picture(into *[]reportPicture, title string, f *picture.Frame, at func(x, y int) [3]float64) error {
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

func (d *reportData) scopes(j *measuring, looks []*picture.Frame) error {
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
		screen := scopeKind{name: "screen-", words: "on the screen", rng: j.work.Program.Output.Range, screen: true}
		all = append(all, screen.pictures(j.screenScopes(looks))...)
	}
	for _, p := range all {
		w, h := p.scope.Size()
		r, err := draw.NewRaster(int(w), int(h))
		if err != nil {
			return err
		}
		p.scope.Draw(r)
		b, err := r.PNG()
		if err != nil {
			return err
		}
		d.Scopes = append(d.Scopes, reportPicture{"", p.scope.Title, pngData(b)})
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
	// Inside a page an SVG needs no name space; text in it is escaped already.
	return template.HTML(strings.Replace(string(s.Bytes()), ` xmlns="http://www.w3.org/2000/svg"`, "", 1)) //nolint:gosec // our own drawing
}

func reportCautions(m *MeasuredClip) []string {
	out := []string{
		"Mains: unplug a lamp before opening it or changing its bulb; no cable under a rug, none across the way; a damaged plug or cord is out of use.",
		"Load: add up the lamps of one circuit and stay under 80 % of its breaker for hours of use.",
		"Heat: filament lamps and their housings burn skin, diffusion and curtains; leave room about them and let them cool.",
		"Overhead: what hangs over people has a second hold (safety bond) that bears it alone; stands carry a sandbag.",
		"Bright sources: don't look into a bare lamp close by; a lamp sold for the purpose states its risk group (IEC 62471).",
		"Flashing light can set off seizures: ITU-R BT.1702 says what a picture may do, and lampwise verify looks for it in the finished file.",
	}
	if w := m.Found.Flicker.Wave; w != nil {
		out = append(out, fmt.Sprintf("A lamp on this set pulses: %s.", flickerWords(w)))
	}
	return append(out, usual, deferral)
}

func flickerWords(w *gauge.Wave) string {
	return fmt.Sprintf("%.3g %% of the light", w.Amplitude)
}

func lampWords(l LampReport) reportLamp {
	out := reportLamp{Name: l.Name, Level: fmt.Sprintf("%.0f %%", 100*l.Level), Mired: "coloured"}
	if l.Mired != nil {
		out.Mired = fmt.Sprintf("%+.0f mired", *l.Mired)
	}
	if s, ok := l.Stops[region.FaceLit]; ok && s.Alone != nil {
		out.Face = fmt.Sprintf("%+.1f", *s.Alone)
	}
	if l.CCT != nil {
		out.Colour = fmt.Sprintf("%.0f K", *l.CCT)
	}
	return out
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
		out.Stops = fmt.Sprintf("%+.2f", float64(*r.Stops))
	}
	if r.Low != nil && r.High != nil {
		out.Span = fmt.Sprintf("%+.1f to %+.1f", float64(*r.Low), float64(*r.High))
	}
	if r.Clipped != nil {
		out.Clipped = fmt.Sprintf("%.2f %%", 100**r.Clipped)
	}
	if r.CCT != nil {
		out.Colour = fmt.Sprintf("%.0f K, Duv %+.3f", float64(*r.CCT), *r.Duv)
	} else {
		for _, g := range j.out.Gaps {
			if g.Region == r.Region {
				out.Colour = fmt.Sprintf("%+.0f mired to %s", float64(g.Mired), g.To)
			}
		}
	}
	if r.Screen != nil {
		out.Screen = fmt.Sprintf("%.1f %%", r.Screen.Signal)
	}
	return out
}

// StageWords is a stage of a grade in words.
type StageWords struct {
	Stage grade.Stage `json:"stage"`
	Words string      `json:"words"`
}
