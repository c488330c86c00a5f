package draw

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
)

// Course is a plot of numbers over episodes: a line for each, named at its end
// and told apart by dashes and marks, not by colour.
type Course struct {
	Title string
	Unit  string
	Days  []CourseDay
	Lines []CourseLine
	Zero  bool    // the scale holds zero
	Whole bool    // values are sizes: no sign, and the scale begins at zero
	Least float64 // the least span of the scale, so that nothing looks like much
}

// CourseDay is an episode: how many points in a row are its.
type CourseDay struct {
	Name   string
	Points int
	Here   bool // the one that is spoken of
}

// CourseLine is one number over all points; NaN where it isn't known.
type CourseLine struct {
	Name   string
	Values []float64
}

const (
	courseWide   = 420.0
	courseTall   = 240.0
	courseLeft   = 54.0
	courseRight  = 112.0 // where lines are named
	courseBare   = 16.0  // where none is
	courseTop    = 40.0
	courseBottom = 34.0
	courseApart  = 15.0 // between names
	courseLetter = 7.5
	courseMarks  = 80 // points beyond which single ones aren't marked
)

// courseHere is the ground of the episode that is spoken of.
var courseHere = mixed(scopeBed, Ink, 0.14)

// dashes of the lines, in pixels of line and gap.
var courseDashes = [][]float64{nil, {7, 3}, {2, 3}, {10, 3, 2, 3}, {14, 4}, {4, 2, 1, 2, 1, 2}}

// Size is the size the plot wants.
func (p *Course) Size() (w, h float64) { return courseWide, courseTall }

// right is where the bed ends: names stand beside it, if there are any.
func (p *Course) right() float64 {
	if slices.ContainsFunc(p.Lines, func(l CourseLine) bool { return l.Name != "" }) {
		return courseWide - courseRight
	}
	return courseWide - courseBare
}

// scale is the range of the values, with air about them.
func (p *Course) scale() (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, l := range p.Lines {
		for _, v := range l.Values {
			if !math.IsNaN(v) {
				lo, hi = math.Min(lo, v), math.Max(hi, v)
			}
		}
	}
	if math.IsInf(lo, 0) {
		return 0, 1
	}
	if p.Zero {
		lo, hi = math.Min(lo, 0), math.Max(hi, 0)
	}
	if p.Whole && lo >= 0 {
		return 0, math.Max(hi*1.08, math.Max(p.Least, 1e-6))
	}
	pad := math.Max(0.08*(hi-lo), math.Max((p.Least-(hi-lo))/2, 1e-6))
	return lo - pad, hi + pad
}

// courseStep is the distance of the marks: 1, 2 or 5 of a power of ten, at most
// five to a span.
func courseStep(span float64) float64 {
	ten := math.Pow(10, math.Floor(math.Log10(span/5)))
	for _, k := range []float64{1, 2, 5} {
		if k*ten >= span/5*(1-1e-9) {
			return k * ten
		}
	}
	return 10 * ten
}

// Draw draws the plot.
func (p *Course) Draw(c Canvas) {
	x0, y0, x1, y1 := courseLeft, courseTop, p.right(), courseTall-courseBottom
	c.Text(10, 24, 15, Start, Ink, p.Title+", "+p.Unit)
	n := 0
	for _, d := range p.Days {
		n += d.Points
	}
	if n == 0 {
		return
	}
	wide := (x1 - x0) / float64(n)
	x := func(i int) float64 { return x0 + (float64(i)+0.5)*wide }
	lo, hi := p.scale()
	y := func(v float64) float64 { return y1 - (v-lo)/(hi-lo)*(y1-y0) }
	c.Rect(x0, y0, x1-x0, y1-y0, scopeBed)
	p.days(c, wide)
	step := courseStep(hi - lo)
	digits := max(0, int(math.Ceil(-math.Log10(step)-1e-9)))
	for k := math.Ceil(lo / step); k*step <= hi; k++ {
		width := 0.6
		if k == 0 {
			width = 1.6
		}
		c.Line(x0, y(k*step), x1, y(k*step), width, Faint)
		name := strings.ReplaceAll(fmt.Sprintf("%+.*f", digits, k*step), "-", "−")
		switch {
		case k == 0:
			name = "0"
		case p.Whole:
			name = fmt.Sprintf("%.*f", digits, k*step)
		}
		c.Text(x0-6, y(k*step)+4, scopeText, End, Ink, name)
	}
	var ends []courseEnd
	for k, l := range p.Lines {
		before := -1
		for i, v := range l.Values {
			if math.IsNaN(v) || i >= n {
				continue
			}
			if before == i-1 && i > 0 {
				dashed(c, x(i-1), y(l.Values[i-1]), x(i), y(v), courseDashes[k%len(courseDashes)])
			}
			before = i
			if n <= courseMarks {
				courseMark(c, k, x(i), y(v))
			}
		}
		if before >= 0 && l.Name != "" {
			ends = append(ends, courseEnd{l.Name, x(before), y(l.Values[before]), 0})
		}
	}
	for _, e := range spread(ends, y0+4, y1) {
		c.Line(e.x+6, e.y, x1+10, e.at, 0.6, Faint)
		c.Text(x1+13, e.at+4, 12, Start, Ink, shortened(e.name, courseRight-16))
	}
}

// days divides the bed by episodes and names as many as there is room for.
func (p *Course) days(c Canvas, wide float64) {
	y0, y1 := courseTop, courseTall-courseBottom
	at, free := courseLeft, math.Inf(-1)
	for i, d := range p.Days {
		to := at + float64(d.Points)*wide
		if d.Here {
			c.Rect(at, y0, to-at, y1-y0, courseHere)
		}
		if i > 0 {
			c.Line(at, y0, at, y1, 0.6, Faint)
		}
		name := shortened(d.Name, 96)
		half := courseLetter * float64(len([]rune(name))) / 2
		if m := (at + to) / 2; d.Points > 0 && m-half >= free {
			c.Text(m, y1+18, scopeText, Middle, Ink, name)
			free = m + half + courseLetter
		}
		at = to
	}
}

type courseEnd struct {
	name     string
	x, y, at float64
}

// spread moves names apart where lines end close together, between top and
// bottom as far as there is room.
func spread(ends []courseEnd, top, bottom float64) []courseEnd {
	slices.SortStableFunc(ends, func(a, b courseEnd) int { return cmp.Compare(a.y, b.y) })
	at := top
	for i := range ends {
		ends[i].at = math.Max(ends[i].y, at)
		at = ends[i].at + courseApart
	}
	limit := bottom
	for i := len(ends) - 1; i >= 0; i-- {
		ends[i].at = math.Min(ends[i].at, limit)
		limit = ends[i].at - courseApart
	}
	return ends
}

// shortened cuts a name that is wider than its place.
func shortened(name string, wide float64) string {
	r := []rune(name)
	if most := int(wide / courseLetter); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return name
}

// dashed draws a line of dashes and gaps by turns; none of them: a full line.
func dashed(c Canvas, x0, y0, x1, y1 float64, pattern []float64) {
	const width = 1.6
	if pattern == nil {
		c.Line(x0, y0, x1, y1, width, Ink)
		return
	}
	d := math.Hypot(x1-x0, y1-y0)
	for t, k := 0.0, 0; t < d; k++ {
		e := math.Min(t+pattern[k%len(pattern)], d)
		if k%2 == 0 {
			c.Line(x0+(x1-x0)*t/d, y0+(y1-y0)*t/d, x0+(x1-x0)*e/d, y0+(y1-y0)*e/d, width, Ink)
		}
		t = e
	}
}

// courseMark is the mark of a point of line k.
func courseMark(c Canvas, k int, x, y float64) {
	const r = 3.5
	closed := func(points ...[2]float64) {
		for i, a := range points {
			b := points[(i+1)%len(points)]
			c.Line(x+r*a[0], y+r*a[1], x+r*b[0], y+r*b[1], 1.6, Ink)
		}
	}
	switch k % 6 {
	case 0:
		c.Rect(x-r, y-r, 2*r, 2*r, Ink)
	case 1:
		closed([2]float64{-1, -1}, [2]float64{1, -1}, [2]float64{1, 1}, [2]float64{-1, 1})
	case 2:
		closed([2]float64{0, -1.2}, [2]float64{1.2, 1}, [2]float64{-1.2, 1})
	case 3:
		closed([2]float64{0, -1.3}, [2]float64{1.3, 0}, [2]float64{0, 1.3}, [2]float64{-1.3, 0})
	case 4:
		c.Line(x-r, y-r, x+r, y+r, 1.6, Ink)
		c.Line(x-r, y+r, x+r, y-r, 1.6, Ink)
	default:
		c.Line(x-r-1, y, x+r+1, y, 1.6, Ink)
		c.Line(x, y-r-1, x, y+r+1, 1.6, Ink)
	}
}
