// Package draw puts rectangles, lines and words on a canvas: an SVG file or a
// picture of pixels, from the same calls.
//
// Invariants: the ground is a mid-grey neutral, since the eye judges a picture
// best against neutral grey (ISO 3664); what colour tells is told by a pattern
// or a word, too.
package draw

import "image/color"

// Anchor says which part of a text stands at its place.
type Anchor int

// The anchors.
const (
	Start Anchor = iota
	Middle
	End
)

// Canvas is what can be drawn on. Lengths are pixels, x to the right, y down.
type Canvas interface {
	Rect(x, y, w, h float64, c color.RGBA)
	Line(x0, y0, x1, y1, width float64, c color.RGBA)
	// Text stands on the baseline y.
	Text(x, y, size float64, at Anchor, c color.RGBA, text string)
}

// The neutrals of every picture.
var (
	Ground = color.RGBA{0x5a, 0x5a, 0x5a, 0xff}
	Ink    = color.RGBA{0xff, 0xff, 0xff, 0xff}
	Faint  = color.RGBA{0x9a, 0x9a, 0x9a, 0xff}
	Dark   = color.RGBA{0x22, 0x22, 0x22, 0xff}
)

// lampColours tell lamps apart: of our own making, alternately lighter and
// darker, so that neighbours in the list differ without colour as well.
var lampColours = []color.RGBA{
	{0xf2, 0xc1, 0x4e, 0xff}, // straw
	{0x3f, 0x6f, 0xb5, 0xff}, // slate blue
	{0xe8, 0x7d, 0x5b, 0xff}, // brick
	{0x2f, 0x8f, 0x83, 0xff}, // pine
	{0xd7, 0xa6, 0xd9, 0xff}, // mauve
	{0x8a, 0x5a, 0x2b, 0xff}, // umber
	{0x9c, 0xd0, 0x7c, 0xff}, // leaf
	{0x6d, 0x4f, 0x9c, 0xff}, // plum
	{0x7f, 0xc4, 0xe0, 0xff}, // sky
	{0xa8, 0x3a, 0x54, 0xff}, // wine
	{0xe4, 0xe0, 0xb0, 0xff}, // chalk
	{0x4c, 0x7a, 0x3a, 0xff}, // moss
}

// Ambient is the colour of the light that no switch turns off.
var Ambient = color.RGBA{0xb8, 0xb8, 0xb8, 0xff}

// Lamp is the colour of lamp i.
func Lamp(i int) color.RGBA { return lampColours[i%len(lampColours)] }

// Patterned says whether the pixel x, y lies on lamp i's pattern: stripes and
// dots that differ in direction and width, so that lamps are told apart without
// colour.
func Patterned(i, x, y int) bool {
	const wide, narrow = 14, 8
	on := func(v, period int) bool { return ((v%period)+period)%period < 2 }
	switch i % 12 {
	case 0:
		return false // plain: the first lamp, mostly the key, covers most
	case 1:
		return on(x+y, wide)
	case 2:
		return on(x-y, wide)
	case 3:
		return on(y, wide)
	case 4:
		return on(x, wide)
	case 5:
		return on(x, narrow) && on(y, narrow)
	case 6:
		return on(x+y, wide) || on(x-y, wide)
	case 7:
		return on(x, wide) || on(y, wide)
	case 8:
		return on(x+y, narrow)
	case 9:
		return on(x-y, narrow)
	case 10:
		return on(y, narrow)
	}
	return on(x+2*y, wide)
}
