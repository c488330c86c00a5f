package gauge

import (
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// Box is a rectangle in parts of the picture's width and height.
type Box struct {
	X float64 `json:"x"`
	Y float64 `json:"y"`
	W float64 `json:"w"`
	H float64 `json:"h"`
}

// Pixels is the box in whole pixels of a w×h picture: at least one, all inside.
func (b Box) Pixels(w, h int) (x0, y0, x1, y1 int) {
	hold := func(v float64, hi int) int { return int(math.Round(min(max(v, 0), 1) * float64(hi))) }
	x0, y0, x1, y1 = hold(b.X, w), hold(b.Y, h), hold(b.X+b.W, w), hold(b.Y+b.H, h)
	x0, y0 = min(x0, w-1), min(y0, h-1)
	return x0, y0, max(x1, x0+1), max(y1, y0+1)
}

// Patch is the luma of a box over some frames, as E′ of the frames' range
// (0 = black, 1 = white).
type Patch struct {
	Mean  float64
	SE    float64 // standard error of the mean, from the frames' spread; 0 for one frame
	SD    float64 // of single samples, inside the box
	Range colour.Range
}

// ReadPatch averages a box of one or more frames of one format.
func ReadPatch(frames []*picture.Frame, b Box) Patch {
	var p Patch
	var means []float64
	var n, sum, square float64
	for _, f := range frames {
		p.Range = f.Range
		x0, y0, x1, y1 := b.Pixels(f.Width, f.Height)
		m, k := 0.0, 0.0
		for y := y0; y < y1; y++ {
			for _, c := range f.Y[y*f.Width+x0 : y*f.Width+x1] {
				e := f.Range.LumaFromCode(float64(c), f.Bits)
				m, k = m+e, k+1
				square += e * e
			}
		}
		means = append(means, m/k)
		sum, n = sum+m, n+k
	}
	p.Mean = sum / n
	p.SD = math.Sqrt(math.Max(0, square/n-p.Mean*p.Mean))
	if len(means) > 1 {
		var v float64
		for _, m := range means {
			v += (m - p.Mean) * (m - p.Mean)
		}
		p.SE = math.Sqrt(v / float64(len(means)*(len(means)-1)))
	}
	return p
}
