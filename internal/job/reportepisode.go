package job

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"lampwise/internal/book"
	"lampwise/internal/fault"
)

// reportEpisode is what the page shows of an episode as a whole.
type reportEpisode struct {
	Name, Tolerance string
	Rows            []reportEpisodeRow
	Course          *reportCourse
}

// reportEpisodeRow is a clip in the episode's table.
type reportEpisodeRow struct {
	Number                                              int
	Clip, State, Check, Exposure, Warmth, Left, Checked string
}

// reportMatch is what the day's work did to a clip and found in it.
type reportMatch struct {
	State, Reason string
	Advice        []string // of the set check
	Regions       []reportMatchedRegion
	Finished      string
}

type reportMatchedRegion struct{ Region, Before, After string }

// episode puts an episode of the store on the page: what was found of its clips
// when they were worked on, and a reading of each that is still there, by the
// grade it was matched with.
func (p *reportPage) episode(ctx context.Context, store Episodes, r ReportRequest, report Progress) error {
	if r.Grade != "" || r.Curve != "" || len(r.Regions) > 0 {
		return fault.New(fault.Usage, "report-episode", "Leave --grade, --curve and --region out, or name a clip.", "%s is an episode: its grades and its set's curve and regions hold", r.Of)
	}
	e, err := FindEpisode(ctx, store, r.Set, r.Of)
	if err != nil {
		return err
	}
	s := e.Settings
	waiting, done, aside := Left(e)
	p.Title, p.Set = "Episode "+e.Name, e.Set
	p.Facts = fmt.Sprintf("%s of %s; set %s, grade %s, written as %s into %s; %d done, %d set aside, %d waiting",
		clipCount(len(e.Clips)), e.Made.Local().Format("2 January 2006"), e.Set, filepath.Base(s.Grade), s.Preset, s.Out, done, aside, waiting)
	p.Episode = &reportEpisode{Name: e.Name, Tolerance: fmt.Sprintf("A clip is brought to the set's reference picture; on face and background %g stop and ΔE00 %g may be left", s.Stops, s.DE00)}
	if p.Episode.Course, err = courseOf(ctx, store, e); err != nil {
		return err
	}
	for _, c := range e.Clips {
		found, err := answerIn(c)
		if err != nil {
			return err
		}
		p.Episode.Rows = append(p.Episode.Rows, episodeRow(c, found))
		if err := p.episodeClip(ctx, store, r, e, c, found, report); err != nil {
			return err
		}
	}
	return nil
}

func clipCount(n int) string {
	if n == 1 {
		return "1 clip"
	}
	return fmt.Sprintf("%d clips", n)
}

func episodeRow(c book.EpisodeClip, found *EpisodeAnswer) reportEpisodeRow {
	const none = "–"
	row := reportEpisodeRow{Number: c.Number, Clip: filepath.Base(c.File), State: stateWords(c.State), Check: none, Exposure: none, Warmth: none, Left: none, Checked: none}
	if found == nil {
		return row
	}
	if found.Check != nil {
		row.Check = found.Check.Verdict
	}
	if found.After != nil {
		row.Exposure = fmt.Sprintf("%+.2f stop", found.Exposure)
		row.Left = fmt.Sprintf("%.2f stop, ΔE00 %.1f", found.After.Stops, found.After.DE00)
		if found.Mired != nil {
			row.Warmth = fmt.Sprintf("%+.0f mired", *found.Mired)
		}
	}
	if found.Frames > 0 {
		row.Checked = fmt.Sprintf("%d frames, mean ΔE00 %.2f", found.Frames, found.MeanDE00)
	}
	return row
}

func stateWords(s book.ClipState) string {
	if s == book.ClipAside {
		return "set aside"
	}
	return string(s)
}

// episodeClip adds a clip's own part.
func (p *reportPage) episodeClip(ctx context.Context, store Sets, r ReportRequest, e book.Episode, c book.EpisodeClip, found *EpisodeAnswer, report Progress) error {
	grade := e.Settings.Grade
	if found != nil && found.Grade != "" {
		if _, err := os.Stat(found.Grade); err == nil {
			grade = found.Grade
		}
	}
	one := ReportRequest{Of: c.File, Set: e.Set, Grade: grade, EveryFrame: r.EveryFrame, Threads: r.Threads}
	d, err := p.clip(ctx, store, one, report)
	if err != nil {
		// One clip that is gone or broken leaves the others their page.
		f, ok := fault.As(err)
		if !ok || ctx.Err() != nil {
			return err
		}
		d = &reportClip{Gone: f.Message}
		p.Clips = append(p.Clips, d)
	}
	d.Title = fmt.Sprintf("%d · %s", c.Number, filepath.Base(c.File))
	m := &reportMatch{State: stateWords(c.State), Reason: c.Reason}
	if c.State == book.ClipDone {
		m.Finished = c.Out
	}
	d.Match = m
	// Of several clips the scopes that say most.
	var few []reportDrawing
	for _, x := range d.Scopes {
		if strings.HasPrefix(x.Alt, "Waveform") || strings.HasPrefix(x.Alt, "Vectorscope") {
			few = append(few, x)
		}
	}
	d.Scopes = few
	if found == nil {
		return nil
	}
	if found.Check != nil {
		for _, a := range found.Check.Advice {
			m.Advice = append(m.Advice, strings.TrimSuffix(a, "."))
		}
	}
	for _, g := range found.Regions {
		m.Regions = append(m.Regions, reportMatchedRegion{
			g.Region, fmt.Sprintf("%+.2f stop, ΔE00 %.1f", g.Stops, g.DE00), fmt.Sprintf("%+.2f stop, ΔE00 %.1f", g.Left, g.Left00),
		})
	}
	return nil
}
