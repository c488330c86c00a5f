package region

import (
	"math"

	"lampwise/internal/fault"
)

// The names of regions that are looked for. Any other is the user's own.
const (
	FaceLit    = "face-lit"
	FaceShade  = "face-shade"
	Hair       = "hair"
	Background = "background"
	Practical  = "practical"
	Card       = "card"
)

// Names lists the regions that are looked for, in the order they are told in.
func Names() []string {
	return []string{FaceLit, FaceShade, Hair, Background, Practical, Card}
}

// Sure is the confidence from which something found may be used without being
// asked about.
const Sure = 0.7

// Box is a rectangle in parts of the picture's width and height.
type Box struct {
	X float64 `json:"x"`
	Y float64 `json:"y"`
	W float64 `json:"w"`
	H float64 `json:"h"`
}

// Middle is the box's centre.
func (b Box) Middle() (x, y float64) { return b.X + b.W/2, b.Y + b.H/2 }

// Moved is the box shifted by parts of the picture, held inside it at its size.
func (b Box) Moved(dx, dy float64) Box {
	b.X = min(max(b.X+dx, 0), max(0, 1-b.W))
	b.Y = min(max(b.Y+dy, 0), max(0, 1-b.H))
	return b
}

// Shape is a region's outline inside its box.
type Shape string

// The shapes a person can draw. Regions that are found may carry a mask.
const (
	ShapeBox     Shape = "box"
	ShapeEllipse Shape = "ellipse"
)

// Region is a named patch of the picture.
type Region struct {
	Name  string `json:"name"`
	Box   Box    `json:"box"` // around all of it
	Shape Shape  `json:"shape,omitempty"`
	// Mask, when not nil, says which places inside the box belong.
	Mask *Mask `json:"-"`
	// Confidence is how far it can be trusted, 0..1; 1 for what a person drew.
	Confidence float64 `json:"confidence"`
	// Reason says in words what it was found by, or why it is doubted.
	Reason string `json:"reason,omitempty"`
}

const boxSlack = 1e-9 // rounding of X + W

// Check says, as a fault, what is wrong with a region.
func (r Region) Check() error {
	const hint = "Sides are parts of the picture, 0 to 1."
	for _, v := range []float64{r.Box.X, r.Box.Y, r.Box.W, r.Box.H} {
		if math.IsNaN(v) || v < 0 || v > 1 {
			return fault.New(fault.Usage, "region-box", hint, "region %q: box %v is not inside the picture", r.Name, r.Box)
		}
	}
	if r.Box.W <= 0 || r.Box.H <= 0 || r.Box.X+r.Box.W > 1+boxSlack || r.Box.Y+r.Box.H > 1+boxSlack {
		return fault.New(fault.Usage, "region-box", hint, "region %q: box %v is empty or reaches out of the picture", r.Name, r.Box)
	}
	if r.Shape != "" && r.Shape != ShapeBox && r.Shape != ShapeEllipse {
		return fault.New(fault.Usage, "region-shape", "A region's shape is box or ellipse.", "region %q: shape %q is not known", r.Name, r.Shape)
	}
	return nil
}

// Contains says whether a place, in parts of the picture, belongs to the region.
func (r Region) Contains(x, y float64) bool {
	b := r.Box
	if x < b.X || y < b.Y || x >= b.X+b.W || y >= b.Y+b.H {
		return false
	}
	if r.Shape == ShapeEllipse {
		mx, my := b.Middle()
		u, v := 2*(x-mx)/b.W, 2*(y-my)/b.H
		if u*u+v*v > 1 {
			return false
		}
	}
	return r.Mask == nil || r.Mask.Contains(x, y)
}

// Pixels lists the pixels y·w+x of a w×h picture whose middles belong to the
// region, in rising order; at least one, the nearest to the box's middle.
func (r Region) Pixels(w, h int) []int {
	var out []int
	x0, x1 := pixelSpan(r.Box.X, r.Box.W, w)
	y0, y1 := pixelSpan(r.Box.Y, r.Box.H, h)
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			if r.Contains((float64(x)+0.5)/float64(w), (float64(y)+0.5)/float64(h)) {
				out = append(out, y*w+x)
			}
		}
	}
	if len(out) == 0 {
		mx, my := r.Box.Middle()
		x := min(max(int(mx*float64(w)), 0), w-1)
		y := min(max(int(my*float64(h)), 0), h-1)
		out = append(out, y*w+x)
	}
	return out
}

// pixelSpan is the run of pixels that a part of the picture touches.
func pixelSpan(start, length float64, n int) (from, to int) {
	from = min(max(int(math.Floor(start*float64(n))), 0), n)
	to = min(max(int(math.Ceil((start+length)*float64(n))), from), n)
	return from, to
}

// On is the region as a mask of a w×h picture's pixels, row by row.
func (r Region) On(w, h int) []bool {
	out := make([]bool, w*h)
	for _, p := range r.Pixels(w, h) {
		out[p] = true
	}
	return out
}

// Mask is a patch of any form, on a grid laid over the whole picture.
type Mask struct {
	W, H int
	In   []bool // W·H, row by row
}

// NewMask makes an empty mask.
func NewMask(w, h int) *Mask { return &Mask{W: w, H: h, In: make([]bool, w*h)} }

// Contains says whether the cell at a place, in parts of the picture, belongs.
func (m *Mask) Contains(x, y float64) bool {
	if !(x >= 0 && y >= 0 && x <= 1 && y <= 1) {
		return false
	}
	i, j := min(int(x*float64(m.W)), m.W-1), min(int(y*float64(m.H)), m.H-1)
	return m.In[j*m.W+i]
}

// Count is the number of cells that belong.
func (m *Mask) Count() int {
	n := 0
	for _, in := range m.In {
		if in {
			n++
		}
	}
	return n
}

// Share is the part of the picture that belongs.
func (m *Mask) Share() float64 { return float64(m.Count()) / float64(len(m.In)) }

// Box is the smallest box around what belongs; empty for an empty mask.
func (m *Mask) Box() Box {
	x0, y0, x1, y1 := m.W, m.H, 0, 0
	for i, in := range m.In {
		if in {
			x, y := i%m.W, i/m.W
			x0, x1, y0, y1 = min(x0, x), max(x1, x+1), min(y0, y), max(y1, y+1)
		}
	}
	if x1 == 0 {
		return Box{}
	}
	w, h := float64(m.W), float64(m.H)
	return Box{float64(x0) / w, float64(y0) / h, float64(x1-x0) / w, float64(y1-y0) / h}
}

// region makes a region of the mask.
func (m *Mask) region(name string, confidence float64, reason string) Region {
	return Region{Name: name, Box: m.Box(), Mask: m, Confidence: confidence, Reason: reason}
}
