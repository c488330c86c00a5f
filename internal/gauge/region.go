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
			f(x, y)
			some = true
		}
	}
	if !some {
		f(int(cx), int(cy))
	}
}
