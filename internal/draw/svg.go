package draw

import (
	"bytes"
	"encoding/base64"
	"encoding/xml"
	"fmt"
	"image"
	"image/color"
	"image/png"
)

// SVG is a canvas that becomes an SVG file.
type SVG struct {
	w, h float64
	body bytes.Buffer
}

// NewSVG makes a drawing of w×h on our ground.
func NewSVG(w, h float64) *SVG {
	s := &SVG{w: w, h: h}
	s.Rect(0, 0, w, h, Ground)
	return s
}

func hex(c color.RGBA) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }

// Rect implements Canvas.
func (s *SVG) Rect(x, y, w, h float64, c color.RGBA) {
	fmt.Fprintf(&s.body, "<rect x=\"%.2f\" y=\"%.2f\" width=\"%.2f\" height=\"%.2f\" fill=\"%s\"/>\n", x, y, w, h, hex(c))
}

// Line implements Canvas.
func (s *SVG) Line(x0, y0, x1, y1, width float64, c color.RGBA) {
	fmt.Fprintf(&s.body, "<line x1=\"%.2f\" y1=\"%.2f\" x2=\"%.2f\" y2=\"%.2f\" stroke=\"%s\" stroke-width=\"%.2f\"/>\n", x0, y0, x1, y1, hex(c), width)
}

// Text implements Canvas.
func (s *SVG) Text(x, y, size float64, at Anchor, c color.RGBA, text string) {
	fmt.Fprintf(&s.body, "<text x=\"%.2f\" y=\"%.2f\" font-family=\"sans-serif\" font-size=\"%.1f\" fill=\"%s\" text-anchor=\"%s\">", x, y, size, hex(c), [...]string{"start", "middle", "end"}[at])
	_ = xml.EscapeText(&s.body, []byte(text)) // a buffer's writes don't fail
	s.body.WriteString("</text>\n")
}

// Cells puts a picture in the drawing, each of its pixels a sharp rectangle.
func (s *SVG) Cells(x, y, w, h float64, im image.Image) {
	var b bytes.Buffer
	_ = png.Encode(&b, im) // a buffer's writes don't fail, and the picture's size is ours
	fmt.Fprintf(&s.body, "<image x=\"%.2f\" y=\"%.2f\" width=\"%.2f\" height=\"%.2f\" preserveAspectRatio=\"none\" style=\"image-rendering:pixelated\" href=\"data:image/png;base64,%s\"/>\n",
		x, y, w, h, base64.StdEncoding.EncodeToString(b.Bytes()))
}

// Bytes is the file.
func (s *SVG) Bytes() []byte {
	var out bytes.Buffer
	fmt.Fprintf(&out, "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%.0f\" height=\"%.0f\" viewBox=\"0 0 %.0f %.0f\">\n", s.w, s.h, s.w, s.h)
	out.Write(s.body.Bytes())
	out.WriteString("</svg>\n")
	return out.Bytes()
}
