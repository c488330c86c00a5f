package draw

import (
	"image"
	"image/color"
	"image/draw"
	"math"
	"slices"
)

// Scope is a plot of how many samples lie where: one panel or several side by
// side, with ticks at the left, the right and below, and lines and names on top.
type Scope struct {
	Title  string
	Note   string // below the plot
	Panels []Panel
	Left   Ticks
	Inner  Ticks // a second scale at the left, inside the first
	Right  Ticks
	Bottom Ticks
	Top    Ticks // names a little apart, above the plot
	Square bool
}

// Panel is one plot. Places run 0..1 from its left and from its bottom.
type Panel struct {
	Name string
	// Count is W×H, row 0 lowest.
	W, H   int
	Count  []uint32
	Colour func(x, y float64) color.RGBA // of a full cell; nil: ink
	Lines  []Stroke
	Names  []Label
	Bars   bool   // Count is one row: heights, drawn as bars
	Most   uint32 // of bars: the count that reaches BarsTop; 0: the largest
}

// Ticks are the marks of a scale.
type Ticks struct {
	Title string
	At    []Tick
}

// Tick is one mark: At runs 0..1 along the scale.
type Tick struct {
	At     float64
	Name   string
	Strong bool
}

// Stroke is a straight line in a panel; Dashed lines are those of another kind.
type Stroke struct {
	X0, Y0, X1, Y1 float64
	Width          float64
	Dashed         bool
	Faint          bool
	Colour         *color.RGBA // nil: ink
}

// Label is a name in a panel.
type Label struct {
	X, Y float64
	At   Anchor
	Text string
}

const (
	scopeWide   = 600.0
	scopeTop    = 66.0
	scopeSide   = 84.0
	scopeRight  = 64.0
	scopeBottom = 56.0
	scopeTall   = 300.0
	scopeText   = 13.0
	scopeGap    = 8.0 // between panels
	topName     = 7.5 // of a letter above the plot
)

// scopeBed is the plot's own ground, a little darker than the surround.
var scopeBed = color.RGBA{0x48, 0x48, 0x48, 0xff}

// Size is the size the scope wants: 600 pixels wide.
func (s *Scope) Size() (w, h float64) {
	if s.Square {
		return scopeWide, scopeTop + (scopeWide - scopeSide - scopeRight) + scopeBottom
	}
	return scopeWide, scopeTop + scopeTall + scopeBottom
}

// Draw draws the scope.
func (s *Scope) Draw(c Canvas) {
	w, h := s.Size()
	x0, y0, x1, y1 := scopeSide, scopeTop, w-scopeRight, h-scopeBottom
	c.Text(12, 26, 17, Start, Ink, s.Title)
	n := float64(len(s.Panels))
	for i, p := range s.Panels {
		a := x0 + (x1-x0+scopeGap)*float64(i)/n
		b := x0 + (x1-x0+scopeGap)*float64(i+1)/n - scopeGap
		s.panel(c, &p, a, y0, b, y1)
	}
	scale := func(t Ticks, x float64, at Anchor, grid bool) {
		if len(t.At) == 0 {
			return
		}
		c.Text(x, y0-18, 12, at, Ink, t.Title)
		for _, k := range t.At {
			y := y1 - k.At*(y1-y0)
			c.Text(x, y+4, scopeText, at, Ink, k.Name)
		}
	}
	scale(s.Left, 40, End, true)
	scale(s.Inner, x0-6, End, false)
	scale(s.Right, x1+6, Start, false)
	for _, k := range s.Bottom.At {
		x := x0 + k.At*(x1-x0)
		c.Line(x, y1, x, y1+5, 1.5, Ink)
		c.Text(x, y1+19, scopeText, Middle, Ink, k.Name)
	}
	if len(s.Top.At) > 0 {
		c.Text(x0-8, y0-7, 12, End, Ink, s.Top.Title)
	}
	free := math.Inf(-1)
	for _, k := range slices.Backward(s.Top.At) {
		// The scale runs from its end; where it is narrow not every mark is named.
		x := x0 + k.At*(x1-x0)
		if half := topName * float64(len(k.Name)) / 2; x-half >= free {
			c.Text(x, y0-7, scopeText, Middle, Ink, k.Name)
			free = x + half + topName
		}
	}
	if s.Bottom.Title != "" {
		c.Text((x0+x1)/2, y1+34, 12, Middle, Ink, s.Bottom.Title)
	}
	c.Text(12, h-8, 12, Start, Ink, s.Note)
}

func (s *Scope) panel(c Canvas, p *Panel, x0, y0, x1, y1 float64) {
	c.Rect(x0, y0, x1-x0, y1-y0, scopeBed)
	for _, t := range s.grid().At {
		y := y1 - t.At*(y1-y0)
		width := 0.6
		if t.Strong {
			width = 1.6
		}
		c.Line(x0, y, x1, y, width, Faint)
	}
	if p.Bars {
		s.bars(c, p, x0, y0, x1, y1)
	} else {
		p.cells(c, x0, y0, x1, y1)
	}
	for _, l := range p.Lines {
		p.line(c, l, x0, y0, x1, y1)
	}
	for _, l := range p.Names {
		c.Text(x0+l.X*(x1-x0), y1-l.Y*(y1-y0), 12, l.At, Ink, l.Text)
	}
	if p.Name != "" {
		c.Text(x0+6, y0+16, 14, Start, Ink, p.Name)
	}
}

// grid is the scale whose marks run across: that in stops where there is one.
func (s *Scope) grid() Ticks {
	if len(s.Right.At) > 0 {
		return s.Right
	}
	return s.Inner
}

func (p *Panel) line(c Canvas, l Stroke, x0, y0, x1, y1 float64) {
	ink := Ink
	if l.Faint {
		ink = Faint
	}
	if l.Colour != nil {
		ink = *l.Colour
	}
	l, ok := l.inside()
	if !ok {
		return
	}
	ax, ay, bx, by := x0+l.X0*(x1-x0), y1-l.Y0*(y1-y0), x0+l.X1*(x1-x0), y1-l.Y1*(y1-y0)
	if !l.Dashed {
		c.Line(ax, ay, bx, by, l.Width, ink)
		return
	}
	const dash = 6.0
	d := math.Hypot(bx-ax, by-ay)
	for t := 0.0; t < d; t += 2 * dash {
		e := math.Min(t+dash, d)
		c.Line(ax+(bx-ax)*t/d, ay+(by-ay)*t/d, ax+(bx-ax)*e/d, ay+(by-ay)*e/d, l.Width, ink)
	}
}

// inside is the part of a line that lies in the panel (Liang & Barsky 1984).
func (l Stroke) inside() (Stroke, bool) {
	dx, dy := l.X1-l.X0, l.Y1-l.Y0
	from, to := 0.0, 1.0
	for _, e := range [4][2]float64{{-dx, l.X0}, {dx, 1 - l.X0}, {-dy, l.Y0}, {dy, 1 - l.Y0}} {
		switch p, q := e[0], e[1]; {
		case p == 0 && q < 0:
			return l, false
		case p < 0:
			from = math.Max(from, q/p)
		case p > 0:
			to = math.Min(to, q/p)
		}
	}
	if from > to {
		return l, false
	}
	l.X0, l.Y0, l.X1, l.Y1 = l.X0+from*dx, l.Y0+from*dy, l.X0+to*dx, l.Y0+to*dy
	return l, true
}

// tones is how many strengths a cell is drawn in; each doubles the count.
const tones = 12

// cells draws the counts, each doubling a step stronger; runs of one strength
// are drawn as one.
func (p *Panel) cells(c Canvas, x0, y0, x1, y1 float64) {
	most := uint32(0)
	for _, n := range p.Count {
		most = max(most, n)
	}
	if most == 0 {
		return
	}
	strength := func(n uint32) int {
		if n == 0 {
			return 0
		}
		// 1 for a single sample up to tones for the most.
		return 1 + int(math.Round((tones-1)*math.Log(float64(n))/math.Max(math.Log(float64(most)), 1)))
	}
	if s, ok := c.(*SVG); ok {
		// As one small picture: a rectangle for each would be megabytes.
		im := image.NewNRGBA(image.Rect(0, 0, p.W, p.H))
		for i, n := range p.Count {
			if k := strength(n); k > 0 {
				x, y := i%p.W, i/p.W
				m := p.tone(x, y, k)
				im.SetNRGBA(x, p.H-1-y, color.NRGBA{m.R, m.G, m.B, 0xff})
			}
		}
		s.Cells(x0, y0, x1-x0, y1-y0, im)
		return
	}
	// Whole pixels, so that no seam shows between cells.
	left := func(x int) float64 { return math.Round(x0 + (x1-x0)*float64(x)/float64(p.W)) }
	up := func(y int) float64 { return math.Round(y1 - (y1-y0)*float64(y)/float64(p.H)) }
	for y := range p.H {
		top, bottom := up(y+1), up(y)
		for x := 0; x < p.W; {
			k := strength(p.Count[y*p.W+x])
			to := x + 1
			for p.Colour == nil && to < p.W && strength(p.Count[y*p.W+to]) == k {
				to++
			}
			if k > 0 {
				block(c, left(x), top, left(to)-left(x), bottom-top, p.tone(x, y, k))
			}
			x = to
		}
	}
}

// tone is a cell's colour at a strength of 1 to tones.
func (p *Panel) tone(x, y, k int) color.RGBA {
	full := Ink
	if p.Colour != nil {
		full = p.Colour((float64(x)+0.5)/float64(p.W), (float64(y)+0.5)/float64(p.H))
	}
	return mixed(scopeBed, full, 0.18+0.82*float64(k)/tones)
}

func mixed(a, b color.RGBA, k float64) color.RGBA {
	m := func(u, v uint8) uint8 { return uint8(math.Round(float64(u) + k*(float64(v)-float64(u)))) }
	return color.RGBA{m(a.R, b.R), m(a.G, b.G), m(a.B, b.B), 0xff}
}

// BarsTop is how high the highest bar reaches; names stand above it.
const BarsTop = 0.9

// bars draws counts as heights, on a scale of the square root, so that little
// is seen beside much.
func (s *Scope) bars(c Canvas, p *Panel, x0, y0, x1, y1 float64) {
	most := max(1, p.Most)
	if p.Most == 0 {
		most = max(1, slices.Max(p.Count))
	}
	full := Ink
	if p.Colour != nil {
		full = p.Colour(0.5, 0.5)
	}
	for x, n := range p.Count {
		a, b := math.Round(x0+(x1-x0)*float64(x)/float64(p.W)), math.Round(x0+(x1-x0)*float64(x+1)/float64(p.W))
		h := math.Round(BarsTop * (y1 - y0) * math.Sqrt(float64(n)/float64(most)))
		if n > 0 {
			block(c, a, y1-math.Max(h, 1), b-a, math.Max(h, 1), full)
		}
	}
}

// block is a rectangle of whole pixels, which a raster fills at once.
func block(c Canvas, x, y, w, h float64, k color.RGBA) {
	if r, ok := c.(*Raster); ok {
		draw.Draw(r.RGBA, image.Rect(int(x), int(y), int(x+w), int(y+h)), image.NewUniform(k), image.Point{}, draw.Src)
		return
	}
	if w > 0 && h > 0 {
		c.Rect(x, y, w, h, k)
	}
}
