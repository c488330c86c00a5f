package job

import (
	"bytes"
	"context"
	_ "embed"
	"fmt"
	"html/template"
	"os"
	"path/filepath"
	"strings"

	"lampwise/internal/fault"
	"lampwise/internal/region"
)

// ReportRequest asks for a page about a clip or about an episode.
type ReportRequest struct {
	Of         string // a clip's file, or an episode's name
	Grade      string // empty: what was recorded, and no more; an episode has its own
	Set        string
	Curve      string // where no grade says it
	Out        string
	Overwrite  bool
	Regions    []region.Region
	EveryFrame bool
	Threads    int
}

// Reported is what was written: docs/json.md, report.
type Reported struct {
	File     string   `json:"file"`
	Clip     string   `json:"clip,omitempty"`
	Episode  string   `json:"episode,omitempty"`
	Clips    int      `json:"clips"` // that were read
	Bytes    int      `json:"bytes"`
	Sections []string `json:"sections"`
	Problems int      `json:"problems"`
	Notes    []string `json:"notes"`
}

//go:embed report.html
var reportHTML string

// reportPage is what the page shows.
type reportPage struct {
	Title, Facts      string
	Episode           *reportEpisode // nil: the page of one clip
	Clips             []*reportClip
	Set               string
	Lamps             []reportLamp
	Preflight         []PreflightItem
	Cautions, Sources []string
}

type reportLamp struct{ Name, Level, Face, Mired, Colour string }

// Report writes one page that holds all it shows, about a clip or an episode.
func Report(ctx context.Context, store Episodes, r ReportRequest, report Progress) (*Reported, error) {
	if kind := strings.ToLower(filepath.Ext(r.Out)); kind != ".html" && kind != ".htm" {
		return nil, fault.New(fault.Usage, "report-kind", "Name it .html; a browser prints it to PDF.", "%s: a report is written as .html", r.Out)
	}
	if !r.Overwrite {
		if err := absent(r.Out); err != nil {
			return nil, err
		}
	}
	page := &reportPage{Set: r.Set, Cautions: reportCautions(), Sources: sourceLines()}
	done := &Reported{File: r.Out, Notes: []string{}}
	if isEpisode(ctx, store, r) {
		if err := page.episode(ctx, store, r, report); err != nil {
			return nil, err
		}
		done.Episode = page.Episode.Name
	} else {
		c, err := page.clip(ctx, store, r, report)
		if err != nil {
			return nil, err
		}
		page.Title, page.Facts = c.Title, c.Facts
		done.Clip = r.Of
	}
	if err := page.lamps(ctx, store); err != nil {
		return nil, err
	}
	for _, c := range page.Clips {
		if c.Read {
			done.Clips++
		}
		done.Problems += c.found
		done.Notes = append(done.Notes, c.Notes...)
	}
	b, err := page.html()
	if err != nil {
		return nil, err
	}
	if err := writeFile(r.Out, r.Overwrite, b); err != nil {
		return nil, err
	}
	done.Bytes, done.Sections = len(b), page.sections()
	return done, nil
}

// isEpisode says whether an episode is meant: what is no file (a folder of clips
// often has the name), but an episode's name.
func isEpisode(ctx context.Context, store Episodes, r ReportRequest) bool {
	if info, err := os.Stat(r.Of); err == nil && !info.IsDir() {
		return false
	}
	_, err := FindEpisode(ctx, store, r.Set, r.Of)
	if f, ok := fault.As(err); ok && f.Code == "episode-set" {
		return true // which of several is asked for there
	}
	if _, gone := os.Stat(r.Of); gone != nil && filepath.Base(r.Of) == r.Of && filepath.Ext(r.Of) == "" {
		return true // no clip is called so; which episodes there are is said there
	}
	return err == nil
}

func (p *reportPage) html() ([]byte, error) {
	page, err := template.New("report").Parse(reportHTML)
	if err != nil {
		return nil, fmt.Errorf("report: %w", err)
	}
	var b bytes.Buffer
	if err := page.Execute(&b, p); err != nil {
		return nil, fmt.Errorf("report: %w", err)
	}
	return b.Bytes(), nil
}

// lamps tells what the set's lamps do.
func (p *reportPage) lamps(ctx context.Context, store Sets) error {
	if p.Set == "" {
		return nil
	}
	set, kept, err := OpenSet(ctx, store, p.Set)
	if err != nil {
		return err
	}
	l := &LearnedSet{Files: map[string]string{}}
	describe(set, kept, l)
	for _, x := range l.Lamps {
		p.Lamps = append(p.Lamps, lampWords(x))
	}
	return nil
}

func (p *reportPage) sections() []string {
	var any reportClip
	for _, c := range p.Clips {
		any.Stages, any.Budget, any.Scopes = append(any.Stages, c.Stages...), append(any.Budget, c.Budget...), append(any.Scopes, c.Scopes...)
	}
	out := []string{"pictures", "ladder", "readings", "problems"}
	if p.Episode != nil {
		head := []string{"clips"}
		if len(p.Episode.Course.Plots) > 0 {
			head = append(head, "history")
		}
		out = append(head, out...)
	}
	for _, x := range []struct {
		name string
		is   bool
	}{{"lamps", len(p.Lamps) > 0}, {"grade", len(any.Stages) > 0}, {"budget", len(any.Budget) > 0}, {"scopes", len(any.Scopes) > 0}, {"cautions", true}, {"sources", len(p.Sources) > 0}} {
		if x.is {
			out = append(out, x.name)
		}
	}
	return out
}

// warn keeps what a clip shows to have been set wrong on the camera.
func (p *reportPage) warn(items []PreflightItem) {
	if p.Preflight == nil {
		p.Preflight = append([]PreflightItem{}, items...)
		return
	}
	for _, x := range items {
		for i, o := range p.Preflight {
			if o.Item == x.Item && x.Evident && !o.Evident {
				p.Preflight[i] = x
			}
		}
	}
}

func reportCautions() []string {
	return []string{
		"Mains: unplug a lamp before opening it or changing its bulb; no cable under a rug, none across the way; a damaged plug or cord is out of use.",
		"Load: add up the lamps of one circuit and stay under 80\u00a0% of its breaker for hours of use.",
		"Heat: filament lamps and their housings burn skin, diffusion and curtains; leave room about them and let them cool.",
		"Overhead: what hangs over people has a second hold (safety bond) that bears it alone; stands carry a sandbag.",
		"Bright sources: don't look into a bare lamp close by; a lamp sold for the purpose states its risk group (IEC 62471).",
		"Flashing light can set off seizures: ITU-R BT.1702 says what a picture may do, and lampwise verify looks for it in the finished file.",
		deferral,
	}
}

func lampWords(l LampReport) reportLamp {
	out := reportLamp{Name: l.Name, Level: percent(l.Level, 0), Mired: "coloured", Face: "too faint to tell", Colour: "not known"}
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

// percent writes a part as per cent; the sign stays with its number.
func percent(v float64, digits int) string { return fmt.Sprintf("%.*f\u00a0%%", digits, 100*v) }
