package picture

import "lampwise/internal/colour"

// Subsampling is how chroma planes relate to luma.
type Subsampling string

const (
	Sub444 Subsampling = "4:4:4"
	Sub422 Subsampling = "4:2:2"
	Sub420 Subsampling = "4:2:0"
)

// Siting is where chroma samples lie against luma (ITU-T H.273, chroma sample location).
type Siting string

const (
	SiteLeft    Siting = "left"    // co-sited horizontally; 4:2:0: midway between rows
	SiteTopLeft Siting = "topleft" // co-sited in both directions
	SiteCentre  Siting = "centre"  // midway in both directions
)

// Format is all that is needed to read a frame's numbers.
type Format struct {
	Width, Height int
	Bits          int // 8, 10, 12 or 16
	Sub           Subsampling
	Range         colour.Range
	Matrix        colour.MatrixCoefficients
	Siting        Siting
}

// ChromaSize gives the chroma planes' width and height (rounded up for odd sizes).
func (f Format) ChromaSize() (w, h int) {
	w, h = f.Width, f.Height
	if f.Sub != Sub444 {
		w = (w + 1) / 2
	}
	if f.Sub == Sub420 {
		h = (h + 1) / 2
	}
	return w, h
}

// Frame is one picture of planar Y′CbCr integer codes, as the file stores
// them. Samples of any depth sit in uint16. Stride = plane width.
type Frame struct {
	Format
	Y, Cb, Cr []uint16
	Index     int     // frame number from the start of the read stretch
	Time      float64 // presentation time in s
}

// NewFrame allocates the planes.
func NewFrame(f Format) *Frame {
	cw, ch := f.ChromaSize()
	return &Frame{Format: f, Y: make([]uint16, f.Width*f.Height), Cb: make([]uint16, cw*ch), Cr: make([]uint16, cw*ch)}
}

// Space says what the numbers of an Image are.
type Space string

const (
	SpaceSceneLinear Space = "scene-linear" // camera RGB or named gamut, 0.18 = grey
	SpaceSignal      Space = "signal"       // the camera curve's y
	SpaceDisplay     Space = "display"      // BT.709 display signal, 0..1
)

// Image is a picture of float32 RGB, interleaved.
type Image struct {
	W, H  int
	Space Space
	Pix   []float32 // 3·W·H
}

// NewImage allocates an image.
func NewImage(w, h int, s Space) *Image {
	return &Image{W: w, H: h, Space: s, Pix: make([]float32, 3*w*h)}
}
