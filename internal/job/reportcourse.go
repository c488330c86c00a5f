package job

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"lampwise/internal/book"
	"lampwise/internal/draw"
)

// reportCourse is how the set's numbers went from episode to episode, as the
// page of one of them tells it.
type reportCourse struct {
	Words []string
	Plots []reportDrawing
}

// courseTitles say what a group of numbers is, and what it is measured from.
var courseTitles = map[string]string{
	"lamps":                        "Lamps, from the reference",
	"camera":                       "Camera’s exposure, from the reference",
	"white balance":                "White balance, from the reference",
	"readings":                     "Readings as recorded, from grey",
	"exposure by match":            "Exposure that the match gave",
	"warmth by match":              "Warmth that the match took out",
	"left after matching":          "Left after the match",
	"left after matching, in ΔE00": "Left after the match, as colour",
}

// courseLeast is the least span of a plot's scale by unit, so that what nobody
// sees doesn't fill the plot (common practice, no source).
var courseLeast = map[string]float64{"stop": 0.5, "mired": 20, "ΔE00": 2}

// courseOf reads the set's record and draws it.
func courseOf(ctx context.Context, store Episodes, e book.Episode) (*reportCourse, error) {
	h, err := History(ctx, store, e.Set)
	if err != nil {
		return nil, err
	}
	out := &reportCourse{}
	days := courseDays(h, e.Name)
	if len(days) < 2 {
		out.Words = []string{"This is the set’s first episode: from the second on, this part shows what changed"}
		return out, nil
	}
	out.Words = h.words(e.Name)
	var groups []string
	for _, s := range h.Series {
		if !slices.Contains(groups, s.Group) && slices.ContainsFunc(s.Points, func(p HistoryPoint) bool { return p.Value != nil }) {
			groups = append(groups, s.Group)
		}
	}
	for _, g := range groups {
		p := &draw.Course{Title: courseTitles[g], Days: days, Zero: g != "readings", Whole: strings.HasPrefix(g, "left")}
		if p.Title == "" {
			p.Title = capital(g)
		}
		alt := p.Title
		for _, s := range h.Series {
			if s.Group != g {
				continue
			}
			p.Unit, p.Least = s.Unit, courseLeast[s.Unit]
			line := draw.CourseLine{Name: s.What}
			for _, v := range s.Points {
				line.Values = append(line.Values, valueOr(v.Value, math.NaN()))
			}
			p.Lines = append(p.Lines, line)
			if first, last, ok := ends(line.Values); ok {
				alt += fmt.Sprintf("; %s from %s to %s", s.What, signed(first), signed(last))
			}
		}
		if len(p.Lines) == 1 {
			p.Lines[0].Name = "" // the title says it
		}
		w, height := p.Size()
		s := draw.NewSVG(w, height)
		p.Draw(s)
		out.Plots = append(out.Plots, reportDrawing{alt + " (" + p.Unit + ")", inPage(s)})
	}
	return out, nil
}

func courseDays(h *EpisodeHistory, here string) (days []draw.CourseDay) {
	if len(h.Series) == 0 {
		return nil
	}
	for _, p := range h.Series[0].Points {
		if n := len(days); n == 0 || days[n-1].Name != p.Episode {
			days = append(days, draw.CourseDay{Name: p.Episode, Here: p.Episode == here})
		}
		days[len(days)-1].Points++
	}
	return days
}

// words say what changes steadily, and where an episode strays from the others.
func (h *EpisodeHistory) words(episode string) (out []string) {
	for _, s := range h.Series {
		if t := s.Trend; t != nil && t.Sure && math.Abs(t.Total) >= strayLeast[s.Unit]/2 {
			out = append(out, fmt.Sprintf("%s changes steadily: %s %s over %d episodes", capital(s.What), signed(t.Total), s.Unit, t.Episodes))
		}
	}
	strays := map[int][]string{}
	var clips []int
	for _, s := range h.Strays {
		if s.Episode != episode {
			continue
		}
		if strays[s.Clip] == nil {
			clips = append(clips, s.Clip)
		}
		strays[s.Clip] = append(strays[s.Clip], fmt.Sprintf("%s %s %s (usual: %s)", s.What, signed(s.Value), s.Unit, signed(s.Usual)))
	}
	slices.Sort(clips)
	for _, c := range clips {
		out = append(out, fmt.Sprintf("Clip %d strays from the other episodes: %s", c, strings.Join(strays[c], ", ")))
	}
	if len(out) == 0 {
		out = []string{"No number changes steadily, and no clip of this episode lies far from the others"}
	}
	return out
}

func ends(values []float64) (first, last float64, ok bool) {
	for _, v := range values {
		if math.IsNaN(v) {
			continue
		}
		if !ok {
			first = v
		}
		last, ok = v, true
	}
	return first, last, ok
}

// signed writes a number with its sign and two digits, nought without one.
func signed(v float64) string {
	if math.Abs(v) < 0.005 {
		return "0"
	}
	return strings.ReplaceAll(fmt.Sprintf("%+.2f", v), "-", "−")
}

func valueOr(v *float64, otherwise float64) float64 {
	if v == nil {
		return otherwise
	}
	return *v
}
