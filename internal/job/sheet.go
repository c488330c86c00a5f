package job

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

	"lampwise/internal/picture"
)

// Panel is one picture of a contact sheet with its caption.
type Panel struct {
	Caption string
	Image   *picture.Image // display signal, any size; drawn at its own size
}

// Sheet draws panels in rows under a title on a mid-grey neutral ground, since
// the eye judges a picture best against neutral grey (ISO 3664).
type Sheet struct {
	Title string
	Rows  [][]Panel
}

const (
	sheetGap     = 16
	sheetCaption = 30
	sheetTitle   = 46
)

var (
	sheetGround = color.RGBA{0x5a, 0x5a, 0x5a, 0xff}
	sheetInk    = color.RGBA{0xff, 0xff, 0xff, 0xff}
)

// PNG draws the sheet.
func (s *Sheet) PNG() ([]byte, error) {
	small, err := sheetFace(15)
	if err != nil {
		return nil, err
	}
	large, err := sheetFace(22)
	if err != nil {
		return nil, err
	}
	width, height := sheetGap, sheetTitle
	for _, row := range s.Rows {
		w, h := sheetGap, 0
		for _, p := range row {
			w += p.Image.W + sheetGap
			h = max(h, p.Image.H)
		}
		width = max(width, w)
		height += h + sheetCaption + sheetGap
	}
	canvas := image.NewRGBA(image.Rect(0, 0, width, height))
	draw.Draw(canvas, canvas.Bounds(), image.NewUniform(sheetGround), image.Point{}, draw.Src)
	write(canvas, large, sheetGap, 32, s.Title)
	y := sheetTitle
	for _, row := range s.Rows {
		x, h := sheetGap, 0
		for _, p := range row {
			paste(canvas, x, y, p.Image)
			write(canvas, small, x, y+p.Image.H+20, p.Caption)
			x += p.Image.W + sheetGap
			h = max(h, p.Image.H)
		}
		y += h + sheetCaption + sheetGap
	}
	var out bytes.Buffer
	err = png.Encode(&out, canvas)
	return out.Bytes(), err
}

// pngOf is one picture as a file of eight bits.
func pngOf(im *picture.Image) ([]byte, error) {
	canvas := image.NewRGBA(image.Rect(0, 0, im.W, im.H))
	paste(canvas, 0, 0, im)
	var out bytes.Buffer
	err := png.Encode(&out, canvas)
	return out.Bytes(), err
}

func sheetFace(size float64) (font.Face, error) {
	f, err := opentype.Parse(goregular.TTF)
	if err != nil {
		return nil, err
	}
	return opentype.NewFace(f, &opentype.FaceOptions{Size: size, DPI: 72, Hinting: font.HintingFull})
}

func write(canvas draw.Image, face font.Face, x, y int, text string) {
	d := font.Drawer{Dst: canvas, Src: image.NewUniform(sheetInk), Face: face, Dot: fixed.P(x, y)}
	d.DrawString(text)
}

func paste(canvas *image.RGBA, x0, y0 int, img *picture.Image) {
	for y := range img.H {
		for x := range img.W {
			p := img.Pix[3*(y*img.W+x):]
			canvas.SetRGBA(x0+x, y0+y, color.RGBA{byteOf(p[0]), byteOf(p[1]), byteOf(p[2]), 0xff})
		}
	}
}

// byteOf rounds a display signal to eight bits.
func byteOf(v float32) uint8 {
	return uint8(math.Round(255 * min(1, max(0, float64(v)))))
}
