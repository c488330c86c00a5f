package job

import (
	"fmt"
	"math"
	"path/filepath"
	"sort"
	"strings"

	"lampwise/internal/draw"
)

// planladder.go draws the predicted stop ladder on an A4 sheet: a rail a place,
// a hollow mark for all lamps with a bar for how far the plan may err, a filled
// mark with its number for each lamp alone.

// Of the sheet, mm.
const (
	ladderTop    = 34.0
	ladderBottom = 186.0
	ladderLeft   = 34.0
	ladderRight  = 287.0
	ladderNames  = 3.9 // from one lamp's name down to the next
)

// ladderSheet is the drawing in progress.
type ladderSheet struct {
	*draw.Paper
	out    *Planned
	hi, lo float64  // stops at top and bottom
	last   []func() // words that lie over everything
}

func (s *ladderSheet) y(stops float64) float64 {
	return ladderTop + (s.hi-stops)/(s.hi-s.lo)*(ladderBottom-ladderTop)
}

// drawLadder is the predicted stop ladder.
func drawLadder(out *Planned) []byte {
	s := &ladderSheet{Paper: draw.NewPaper(sheetW, sheetH), out: out, hi: 4, lo: -6}
	s.reach()
	title := out.Title
	if title == "" {
		title = filepath.Base(out.File)
	}
	s.Words(sheetMargin, sheetMargin+6, 6, draw.Start, draw.Black, title)
	s.Words(sheetMargin, sheetMargin+11.5, 3.4, draw.Start, draw.Pencil, fmt.Sprintf("predicted stop ladder · stops from grey at f/%.3g, 1/%.3g s, index %.0f, ND %.1f stop", out.Exposure.F, 1/out.Exposure.Time, out.Exposure.Sensitivity, out.Exposure.ND))
	s.ruler()
	wide := math.Min(60, (ladderRight-ladderLeft)/float64(max(1, len(out.Readings))))
	for i := range out.Readings {
		s.rail(&out.Readings[i], ladderLeft+wide*(float64(i)+0.22), wide)
	}
	for _, f := range s.last {
		f()
	}
	y := ladderBottom + 9
	s.Circle(sheetMargin+3, y-1, 1.5, draw.Style{Stroke: draw.Black, Width: 0.5, Fill: draw.White})
	s.Words(sheetMargin+7, y, 2.8, draw.Start, draw.Pencil, "all lamps, predicted; its bar: how far the plan may err · numbers: each lamp alone · brackets: what is wanted")
	s.Words(sheetMargin, y+5, 2.8, draw.Start, draw.Pencil, "Before anything was measured a plan is good to about ±0.5 stop.")
	return s.Bytes()
}

// reach makes the ruler long enough for clip, marks and bars; what is more than
// ten stops under grey is left out and said so at the place.
func (s *ladderSheet) reach() {
	grow := func(v, by float64) {
		s.hi = math.Max(s.hi, math.Ceil(v+by))
		s.lo = math.Max(-10, math.Min(s.lo, math.Floor(v-by)))
	}
	if c := s.out.Exposure.Clip; c != nil {
		grow(*c, 0.3)
	}
	if f := s.out.Exposure.Floor; f != nil {
		grow(*f, 0.3)
	}
	for _, r := range s.out.Readings {
		if r.Stops != nil {
			grow(*r.Stops, r.SE)
		}
		for _, l := range s.out.Lamps {
			if v := l.Stops[r.Region]; v != nil {
				grow(*v, 0.3)
			}
		}
	}
}

// ruler is the scale, grey, clip and noise across the sheet.
func (s *ladderSheet) ruler() {
	for v := s.lo; v <= s.hi; v++ {
		line, name := draw.Style{Stroke: draw.Hairline, Width: 0.15, Open: true}, minus(fmt.Sprintf("%+.0f", v))
		if v == 0 {
			line, name = draw.Style{Stroke: draw.Pencil, Width: 0.5, Open: true}, "grey"
		}
		s.Shape([][2]float64{{ladderLeft - 8, s.y(v)}, {ladderRight, s.y(v)}}, line)
		s.Words(ladderLeft-10, s.y(v)+1.1, 3.2, draw.End, draw.Black, name)
	}
	band := func(from, to float64, words string, at float64) {
		box := [][2]float64{{ladderLeft - 8, s.y(from)}, {ladderRight, s.y(from)}, {ladderRight, s.y(to)}, {ladderLeft - 8, s.y(to)}}
		s.Shape(box, draw.Style{Stroke: draw.Hairline, Width: 0.25, Hatch: true})
		s.Shape([][2]float64{box[0], box[1]}, draw.Style{Stroke: draw.Black, Width: 0.4, Open: true})
		s.last = append(s.last, func() {
			left := ladderRight - draw.Width(words, 3) - 3
			s.Shape([][2]float64{{left, at - 3.2}, {ladderRight, at - 3.2}, {ladderRight, at + 1.2}, {left, at + 1.2}}, draw.Style{Fill: draw.White})
			s.Words(ladderRight-1, at, 3, draw.End, draw.Black, words)
		})
	}
	if c := s.out.Exposure.Clip; c != nil {
		band(*c, s.hi, "the recording clips from "+minus(fmt.Sprintf("%+.1f", *c)), s.y(*c)-2)
	}
	if f := s.out.Exposure.Floor; f != nil && *f > s.lo {
		band(*f, s.lo, "noise = signal at "+minus(fmt.Sprintf("%+.1f", *f)), s.y(*f)+4)
	}
}

// rail is one place: its rail at x, names to the right of it.
func (s *ladderSheet) rail(r *PlannedReading, x, wide float64) {
	s.Words(x, ladderTop-4, 3.6, draw.Middle, draw.Black, r.Region)
	s.Shape([][2]float64{{x, ladderTop}, {x, ladderBottom}}, draw.Style{Stroke: draw.Black, Width: 0.35, Open: true})
	s.wanted(r.Region, x)
	type name struct {
		y, at float64
		lamp  int // −1: all together
		text  string
	}
	var names []name
	if r.Stops != nil {
		up, down := s.y(math.Min(*r.Stops+r.SE, s.hi)), s.y(math.Max(*r.Stops-r.SE, s.lo))
		for _, line := range [][2][2]float64{{{x, up}, {x, down}}, {{x - 1.5, up}, {x + 1.5, up}}, {{x - 1.5, down}, {x + 1.5, down}}} {
			s.Shape(line[:], draw.Style{Stroke: draw.Black, Width: 0.9, Open: true})
		}
		text := minus(fmt.Sprintf("%+.1f", *r.Stops)) + fmt.Sprintf(" ±%.1f", r.SE)
		if r.Clipped {
			text += " clips"
		} else if r.Noise {
			text += " in noise"
		}
		names = append(names, name{y: s.y(*r.Stops), lamp: -1, text: text})
	}
	for i := range s.out.Lamps {
		l := &s.out.Lamps[i]
		if v := l.Stops[r.Region]; v != nil && *v >= s.lo {
			names = append(names, name{y: s.y(*v), lamp: i, text: minus(fmt.Sprintf("%d %s %+.1f", i+1, l.Name, *v))})
		}
	}
	sort.SliceStable(names, func(i, j int) bool { return names[i].y < names[j].y })
	// Names keep their order and a line's distance, as near to their marks as that goes.
	for i := range names {
		names[i].at = names[i].y
		if i > 0 {
			names[i].at = math.Max(names[i].y, names[i-1].at+ladderNames)
		}
	}
	for i := len(names) - 1; i >= 0; i-- {
		limit := ladderBottom
		if i+1 < len(names) {
			limit = names[i+1].at - ladderNames
		}
		names[i].at = math.Min(names[i].at, limit)
	}
	for _, n := range names {
		ink, size := draw.Black, 3.4
		if n.lamp >= 0 {
			ink, size = draw.PaperLamp(n.lamp), 2.9
			s.Shape([][2]float64{{x - 2, n.y}, {x + 2, n.y}}, draw.Style{Stroke: ink, Width: 0.9, Open: true})
		}
		s.Shape([][2]float64{{x + 2.2, n.y}, {x + 5.2, n.at}}, draw.Style{Stroke: draw.Pencil, Width: 0.15, Open: true})
		s.Words(x+6, n.at+1, size, draw.Start, ink, n.text)
	}
	if r.Stops != nil {
		s.Circle(x, s.y(*r.Stops), 1.7, draw.Style{Stroke: draw.Black, Width: 0.5, Fill: draw.White})
	}
	if len(r.Mirrors) > 0 {
		s.Words(x, ladderBottom+3.4, 2.5, draw.Middle, draw.Pencil, "mirrors "+listed(r.Mirrors))
	}
}

// wanted draws the plan's own targets for a place's stops as brackets.
func (s *ladderSheet) wanted(region string, x float64) {
	for _, text := range s.out.scene.Plan.Targets {
		targets, err := ParseTargets([]string{text})
		if err != nil || len(targets) != 1 {
			continue
		}
		t := &targets[0]
		if t.Over != "" || t.Neutral || t.Region != region {
			continue
		}
		up, down := s.y(float64(t.Want+t.Tolerance)), s.y(float64(t.Want-t.Tolerance))
		for _, side := range []float64{-1, 1} {
			s.Shape([][2]float64{{x + side*3, up}, {x + side*4.5, up}, {x + side*4.5, down}, {x + side*3, down}}, draw.Style{Stroke: draw.Black, Width: 0.45, Open: true})
		}
	}
}

// minus writes a true minus.
func minus(s string) string { return strings.ReplaceAll(" "+s, " -", " −")[1:] }
