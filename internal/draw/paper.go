package draw

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"image/color"
	"math"
)

// Paper is a sheet that is drawn to scale, in millimetres, x to the right and
// y down: an SVG file on white, for print. What colour tells is told by a word,
// a dash or a hatch, too, so that a grey print still says it.
type Paper struct {
	W, H float64
	body bytes.Buffer
	taken
	ids int
}

// Colours of paper.
var (
	Black     = color.RGBA{0x1a, 0x1a, 0x1a, 0xff}
	Pencil    = color.RGBA{0x6b, 0x6b, 0x6b, 0xff}
	Hairline  = color.RGBA{0xb5, 0xb5, 0xb5, 0xff}
	White     = color.RGBA{0xff, 0xff, 0xff, 0xff}
	Tint      = color.RGBA{0xee, 0xec, 0xe6, 0xff}
	SharpTint = color.RGBA{0xd3, 0xe4, 0xe2, 0xff}
)

// PaperLamp is lamp i's colour on white: as on the ground, darker.
func PaperLamp(i int) color.RGBA {
	c := Lamp(i)
	k := 0.62
	return color.RGBA{uint8(k * float64(c.R)), uint8(k * float64(c.G)), uint8(k * float64(c.B)), 0xff}
}

// NewPaper makes a sheet of w×h mm.
func NewPaper(w, h float64) *Paper {
	p := &Paper{W: w, H: h}
	p.Shape([][2]float64{{0, 0}, {w, 0}, {w, h}, {0, h}}, Style{Fill: White})
	return p
}

// Style is how a shape is drawn: no width, no outline; no fill (alpha 0), none.
type Style struct {
	Stroke  color.RGBA
	Width   float64 // mm
	Dash    []float64
	Fill    color.RGBA
	Opacity float64 // of the fill; 0 = 1
	Open    bool    // a line, not closed
	Hatch   bool    // filled with slanting lines in the stroke's colour
}

func (p *Paper) style(s Style) string {
	out := `fill="none"`
	switch {
	case s.Hatch:
		p.ids++
		fmt.Fprintf(&p.body, "<defs><pattern id=\"h%d\" width=\"1.6\" height=\"1.6\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\"><line x1=\"0\" y1=\"0\" x2=\"0\" y2=\"1.6\" stroke=\"%s\" stroke-width=\"0.25\"/></pattern></defs>\n", p.ids, hex(s.Stroke))
		out = fmt.Sprintf(`fill="url(#h%d)"`, p.ids)
	case s.Fill.A > 0:
		out = fmt.Sprintf("fill=%q", hex(s.Fill))
		if s.Opacity > 0 {
			out += fmt.Sprintf(` fill-opacity="%.2f"`, s.Opacity)
		}
	}
	if s.Width > 0 {
		out += fmt.Sprintf(` stroke=%q stroke-width="%.2f" stroke-linejoin="round" stroke-linecap="round"`, hex(s.Stroke), s.Width)
		if len(s.Dash) > 0 {
			out += ` stroke-dasharray="`
			for i, d := range s.Dash {
				if i > 0 {
					out += " "
				}
				out += fmt.Sprintf("%.2f", d)
			}
			out += `"`
		}
	}
	return out
}

// Shape draws a polygon, or a line when it's open.
func (p *Paper) Shape(points [][2]float64, s Style) {
	if len(points) < 2 {
		return
	}
	style := p.style(s)
	fmt.Fprintf(&p.body, "<path d=\"M")
	for i, q := range points {
		if i > 0 {
			p.body.WriteByte('L')
		}
		fmt.Fprintf(&p.body, "%.2f %.2f", q[0], q[1])
	}
	if !s.Open {
		p.body.WriteByte('Z')
	}
	fmt.Fprintf(&p.body, "\" %s/>\n", style)
}

// Circle draws a circle.
func (p *Paper) Circle(x, y, r float64, s Style) {
	style := p.style(s)
	fmt.Fprintf(&p.body, "<circle cx=\"%.2f\" cy=\"%.2f\" r=\"%.2f\" %s/>\n", x, y, r, style)
}

// Words writes a text of the given height in mm on the baseline y, with a rim
// of white so that lines under it don't cut it.
func (p *Paper) Words(x, y, size float64, at Anchor, c color.RGBA, text string) {
	fmt.Fprintf(&p.body, "<text x=\"%.2f\" y=\"%.2f\" font-family=\"sans-serif\" font-size=\"%.2f\" fill=\"%s\" text-anchor=\"%s\" stroke=\"#ffffff\" stroke-width=\"%.2f\" stroke-linejoin=\"round\" paint-order=\"stroke\">", x, y, size, hex(c), [...]string{"start", "middle", "end"}[at], 0.28*size)
	_ = xml.EscapeText(&p.body, []byte(text)) // a buffer's writes don't fail
	p.body.WriteString("</text>\n")
}

// Bytes is the file.
func (p *Paper) Bytes() []byte {
	var out bytes.Buffer
	fmt.Fprintf(&out, "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%.0fmm\" height=\"%.0fmm\" viewBox=\"0 0 %.2f %.2f\">\n", p.W, p.H, p.W, p.H)
	out.Write(p.body.Bytes())
	out.WriteString("</svg>\n")
	return out.Bytes()
}

// Width is about how wide a text is: sans-serif letters are 0.6 times as
// wide as the text is high, on the average.
func Width(text string, size float64) float64 {
	n := 0
	for range text {
		n++
	}
	return 0.6 * size * float64(n)
}

// taken remembers what lies where, so that labels keep clear of each other.
type taken struct{ boxes [][4]float64 }

// Keep marks a rectangle as taken.
func (t *taken) Keep(x0, y0, x1, y1 float64) { t.boxes = append(t.boxes, [4]float64{x0, y0, x1, y1}) }

// Free says whether nothing that is kept lies in a rectangle.
func (t *taken) Free(x0, y0, x1, y1 float64) bool { return t.overlap(x0, y0, x1, y1) == 0 }

// overlap is the area that a rectangle shares with what is taken.
func (t *taken) overlap(x0, y0, x1, y1 float64) float64 {
	sum := 0.0
	for _, b := range t.boxes {
		w, h := math.Min(x1, b[2])-math.Max(x0, b[0]), math.Min(y1, b[3])-math.Max(y0, b[1])
		if w > 0 && h > 0 {
			sum += w * h
		}
	}
	return sum
}

// Label writes a text near a place where it covers least of what is taken,
// inside the frame given, with a thin leader when it stands off.
func (p *Paper) Label(x, y, off, size float64, c color.RGBA, text string, frame [4]float64) {
	w, h := Width(text, size), 1.15*size
	best, least := [2]float64{}, math.Inf(1)
	for ring := range 6 {
		d := off + float64(ring)*0.9*size
		for k := range 12 {
			s, cs := math.Sincos(2 * math.Pi * float64(k) / 12)
			// The box's middle lies so that its near side is d away.
			mx, my := x+cs*(d+w/2), y+s*(d+h/2)
			x0, y0, x1, y1 := mx-w/2, my-h/2, mx+w/2, my+h/2
			cost := 10*p.overlap(x0, y0, x1, y1) + 0.6*float64(ring)*h
			if x0 < frame[0] || y0 < frame[1] || x1 > frame[2] || y1 > frame[3] {
				cost += 1e4
			}
			if k%6 != 0 {
				cost += 0.05 * h // rather beside than askew
			}
			if cost < least {
				least, best = cost, [2]float64{mx, my}
			}
		}
	}
	mx, my := best[0], best[1]
	if d := math.Hypot(mx-x, my-y); d > off+w/2+2*size {
		p.Shape([][2]float64{{x, y}, {x + (mx-x)*0.6, y + (my-y)*0.6}}, Style{Stroke: Pencil, Width: 0.12, Open: true})
	}
	p.Words(mx, my+0.36*size, size, Middle, c, text)
	p.Keep(mx-w/2, my-h/2, mx+w/2, my+h/2)
}
