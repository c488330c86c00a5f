package gauge

import (
	"math"

	"lampwise/internal/fault"
)

// Shape is a region's outline inside its box.
type Shape string

const (
	ShapeBox     Shape = "box" // the default
	ShapeEllipse Shape = "ellipse"
)

// Region is a named patch of the picture.
type Region struct {
	Name  string `json:"name"`
	Box   Box    `json:"box"`
	Shape Shape  `json:"shape,omitempty"`
	// Mask, when not nil, says which places inside the box belong.
	Mask *Mask `json:"-"`
}

// Mask is a patch of any form, on a grid of W×H cells laid over the whole
// picture, row by row.
type Mask struct {
	W, H int
	In   []bool
}

// holds says whether pixel x, y of a w×h picture belongs.
func (m *Mask) holds(x, y, w, h int) bool {
	return m.In[(2*y+1)*m.H/(2*h)*m.W+(2*x+1)*m.W/(2*w)]
}

// Check says, as a fault, what is wrong with a region.
func (r Region) Check() error {
	for _, v := range []float64{r.Box.X, r.Box.Y, r.Box.W, r.Box.H} {
		if math.IsNaN(v) || v < 0 || v > 1 {
			return fault.New(fault.Usage, "region-box", "Sides are parts of the picture, 0 to 1.", "region %q: box %v is not inside the picture", r.Name, r.Box)
		}
	}
	if r.Box.W <= 0 || r.Box.H <= 0 || r.Box.X+r.Box.W > 1+boxSlack || r.Box.Y+r.Box.H > 1+boxSlack {
		return fault.New(fault.Usage, "region-box", "Sides are parts of the picture, 0 to 1.", "region %q: box %v is empty or reaches out of the picture", r.Name, r.Box)
	}
	if m := r.Mask; m != nil && (m.W < 1 || m.H < 1 || len(m.In) != m.W*m.H) {
		return fault.New(fault.Usage, "region-mask", "", "region %q: its mask has %d cells, not %d×%d", r.Name, len(m.In), m.W, m.H)
	}
	if r.Shape != "" && r.Shape != ShapeBox && r.Shape != ShapeEllipse {
		return fault.New(fault.Usage, "region-shape", "A region's shape is box or ellipse.", "region %q: shape %q is not known", r.Name, r.Shape)
	}
	return nil
}

const boxSlack = 1e-9 // rounding of X + W

// points calls f for every step-th pixel of every step-th row inside the
// region of a w×h picture, at least for one.
func (r Region) points(w, h, step int, f func(x, y int)) {
	x0, y0, x1, y1 := r.Box.Pixels(w, h)
	cx, cy := float64(x0+x1-1)/2, float64(y0+y1-1)/2
	rx, ry := float64(x1-x0)/2, float64(y1-y0)/2
	some := false
	for y := y0 + (y1-y0-1)%step/2; y < y1; y += step {
		for x := x0 + (x1-x0-1)%step/2; x < x1; x += step {
			if r.Shape == ShapeEllipse {
				dx, dy := (float64(x)-cx)/rx, (float64(y)-cy)/ry
				if dx*dx+dy*dy > 1 {
					continue
				}
			}
			if r.Mask != nil && !r.Mask.holds(x, y, w, h) {
				continue
			}
			f(x, y)
			some = true
		}
	}
	if !some {
		f(int(cx), int(cy))
	}
}
