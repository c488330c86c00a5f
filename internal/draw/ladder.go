package draw

import (
	"fmt"
	"math"
	"slices"
)

// Ladder is the stop ladder: a ruler in stops from grey with the recording's
// clip and noise floor as its ends, a column for each region, and the screen as
// its other rail.
type Ladder struct {
	Title   string
	Clip    float64 // stops from grey; NaN: not known
	Floor   float64 // where signal equals noise; NaN: not known
	Columns []Column
	Rungs   []Rung // from scene to screen, for the other rail; may be nil
}

// Column is a region: its reading in the mix, and what each lamp gives alone.
type Column struct {
	Name  string
	Mix   float64
	Marks []Mark
}

// Mark is a lamp's reading alone.
type Mark struct {
	Lamp  int // for its colour; −1 = ambient
	Name  string
	Stops float64
}

// Rung joins a scene light to where it comes to on the screen, in stops from
// grey and in per cent of the signal.
type Rung struct{ Scene, Screen, Signal float64 }

const (
	ladderTop    = 64.0
	ladderBottom = 40.0
	ladderStop   = 44.0 // pixels of a stop
	ladderLeft   = 92.0
	ladderColumn = 168.0
	ladderRight  = 150.0
	nameGap      = 14.0 // least distance between two names
)

// Size is the size the ladder wants.
func (l *Ladder) Size() (w, h float64) {
	lo, hi := l.reach()
	return ladderLeft + ladderColumn*float64(len(l.Columns)) + ladderRight, ladderTop + ladderBottom + ladderStop*(hi-lo)
}

// reach is the stops shown: what is marked, within reason, and some to spare.
func (l *Ladder) reach() (lo, hi float64) {
	lo, hi = -6, 3
	take := func(v float64) {
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			lo, hi = math.Min(lo, math.Max(v, -9)), math.Max(hi, math.Min(v, 8))
		}
	}
	take(l.Clip)
	for _, c := range l.Columns {
		take(c.Mix)
		for _, m := range c.Marks {
			take(m.Stops)
		}
	}
	return math.Floor(lo - 0.5), math.Ceil(hi + 0.5)
}

// Draw draws the ladder.
func (l *Ladder) Draw(c Canvas) {
	lo, hi := l.reach()
	y := func(stops float64) float64 { return ladderTop + ladderStop*(hi-stops) }
	w, _ := l.Size()
	right := w - ladderRight
	c.Text(16, 30, 20, Start, Ink, l.Title)
	// What lies beyond the recording.
	if l.Clip < hi {
		c.Rect(ladderLeft, y(hi), right-ladderLeft, y(l.Clip)-y(hi), Dark)
		c.Text(ladderLeft+8, y(l.Clip)-6, 12, Start, Ink, fmt.Sprintf("clipped from %+.1f", l.Clip))
	}
	if l.Floor > lo {
		c.Rect(ladderLeft, y(l.Floor), right-ladderLeft, y(lo)-y(l.Floor), Dark)
		c.Text(ladderLeft+8, y(l.Floor)+16, 12, Start, Ink, fmt.Sprintf("noise as large as the signal below %+.1f (one working pixel)", l.Floor))
	}
	for s := lo; s <= hi; s++ {
		width := 1.0
		if s == 0 {
			width = 2.5
		}
		c.Line(ladderLeft-8, y(s), right, y(s), width, Faint)
		name := fmt.Sprintf("%+.0f", s)
		if s == 0 {
			name = "grey 0"
		}
		c.Text(ladderLeft-14, y(s)+5, 14, End, Ink, name)
	}
	c.Text(ladderLeft-14, y(hi)-14, 12, End, Ink, "scene, stops")
	c.Line(ladderLeft, y(hi), ladderLeft, y(lo), 2, Ink)
	for i, col := range l.Columns {
		l.column(c, col, ladderLeft+ladderColumn*float64(i), y, lo, hi)
	}
	l.rail(c, right, y, lo, hi)
}

func (l *Ladder) column(c Canvas, col Column, x float64, y func(float64) float64, lo, hi float64) {
	c.Text(x+20, ladderTop-12, 15, Start, Ink, col.Name)
	marks := slices.Clone(col.Marks)
	slices.SortStableFunc(marks, func(a, b Mark) int {
		switch {
		case a.Stops > b.Stops:
			return -1
		case a.Stops < b.Stops:
			return 1
		}
		return 0
	})
	free := math.Inf(-1)
	for _, m := range marks {
		if math.IsNaN(m.Stops) || m.Stops < lo || m.Stops > hi {
			continue
		}
		ink := Ambient
		if m.Lamp >= 0 {
			ink = Lamp(m.Lamp)
		}
		at := y(m.Stops)
		c.Line(x+20, at, x+44, at, 4, ink)
		name := math.Max(at, free+nameGap)
		if name-at > 1 {
			c.Line(x+44, at, x+52, name, 1, Faint)
		}
		c.Text(x+54, name+4, 12, Start, Ink, fmt.Sprintf("%s %+.1f", m.Name, m.Stops))
		free = name
	}
	if !math.IsNaN(col.Mix) && col.Mix >= lo && col.Mix <= hi {
		at := y(col.Mix)
		c.Rect(x+12, at-5, 5, 10, Ink)
		c.Line(x+12, at, x+52, at, 2.5, Ink)
		name := fmt.Sprintf("%+.2f", col.Mix)
		if len(col.Marks) > 0 {
			name = "mix " + name // beside what each lamp gives alone
		}
		c.Text(x+54, at-9, 14, Start, Ink, name)
	}
}

// rail is the screen's: what each stop of the scene comes to.
func (l *Ladder) rail(c Canvas, x float64, y func(float64) float64, lo, hi float64) {
	if len(l.Rungs) == 0 {
		return
	}
	c.Text(x+16, y(hi)-14, 12, Start, Ink, "screen, signal")
	c.Line(x+10, y(hi), x+10, y(lo), 2, Ink)
	for _, r := range l.Rungs {
		if r.Scene < lo || r.Scene > hi {
			continue
		}
		c.Line(x+4, y(r.Scene), x+16, y(r.Scene), 1.5, Ink)
		screen := "black"
		if r.Screen > -16 {
			screen = fmt.Sprintf("%+.1f stop", r.Screen)
		}
		c.Text(x+22, y(r.Scene)+5, 13, Start, Ink, fmt.Sprintf("%s, %.0f %%", screen, 100*r.Signal))
	}
}
