package draw

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"
)

// Raster is a canvas of pixels.
type Raster struct {
	*image.RGBA
	font  *opentype.Font
	faces map[float64]font.Face
}

// NewRaster makes a picture of w×h on our ground.
func NewRaster(w, h int) (*Raster, error) {
	f, err := opentype.Parse(goregular.TTF)
	if err != nil {
		return nil, err
	}
	r := &Raster{RGBA: image.NewRGBA(image.Rect(0, 0, w, h)), font: f, faces: map[float64]font.Face{}}
	draw.Draw(r, r.Bounds(), image.NewUniform(Ground), image.Point{}, draw.Src)
	return r, nil
}

// Rect implements Canvas.
func (r *Raster) Rect(x, y, w, h float64, c color.RGBA) {
	r.fill(c, x, y, x+w, y, x+w, y+h, x, y+h)
}

// Line implements Canvas.
func (r *Raster) Line(x0, y0, x1, y1, width float64, c color.RGBA) {
	dx, dy := x1-x0, y1-y0
	l := math.Hypot(dx, dy)
	if l == 0 {
		return
	}
	nx, ny := -dy/l*width/2, dx/l*width/2
	r.fill(c, x0+nx, y0+ny, x1+nx, y1+ny, x1-nx, y1-ny, x0-nx, y0-ny)
}

// fill fills a polygon with smooth edges.
func (r *Raster) fill(c color.RGBA, p ...float64) {
	b := r.Bounds()
	z := vector.NewRasterizer(b.Dx(), b.Dy())
	z.MoveTo(float32(p[0]), float32(p[1]))
	for i := 2; i < len(p); i += 2 {
		z.LineTo(float32(p[i]), float32(p[i+1]))
	}
	z.ClosePath()
	z.Draw(r.RGBA, b, image.NewUniform(c), image.Point{})
}

// Text implements Canvas.
func (r *Raster) Text(x, y, size float64, at Anchor, c color.RGBA, text string) {
	face := r.faces[size]
	if face == nil {
		var err error
		if face, err = opentype.NewFace(r.font, &opentype.FaceOptions{Size: size, DPI: 72, Hinting: font.HintingFull}); err != nil {
			return // a size of nothing
		}
		r.faces[size] = face
	}
	d := font.Drawer{Dst: r.RGBA, Src: image.NewUniform(c), Face: face}
	width := float64(d.MeasureString(text)) / 64
	switch at {
	case Middle:
		x -= width / 2
	case End:
		x -= width
	}
	d.Dot = fixed.Point26_6{X: fixed.Int26_6(math.Round(64 * x)), Y: fixed.Int26_6(math.Round(64 * y))}
	d.DrawString(text)
}

// PNG is the picture as a file.
func (r *Raster) PNG() ([]byte, error) {
	var out bytes.Buffer
	err := png.Encode(&out, r.RGBA)
	return out.Bytes(), err
}
