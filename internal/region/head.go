package region

import "math"

// ellipse in a face's own measure (Face.local).
type ellipse struct{ u, v, ru, rv float64 }

func (e ellipse) holds(u, v float64) bool {
	x, y := (u-e.u)/e.ru, (v-e.v)/e.rv
	return x*x+y*y <= 1
}

// Where a head's parts lie, in sides of the face finder's box. Measured by eye
// on the portraits of the tests: the face proper is 0.76..0.84 wide and 0.98
// high, its middle 0.06..0.12 below the box's.
var (
	faceSkin = ellipse{0, 0.06, 0.32, 0.42} // well inside: no hair, no ground
	faceAll  = ellipse{0, 0.07, 0.41, 0.53}
	headTop  = ellipse{0, -0.08, 0.50, 0.66} // with hair
	headRoom = ellipse{0, -0.05, 0.80, 1.00} // with big hair, a cap, a small turn
)

const (
	hairLine = -0.36 // above this is hair, not temple
	chin     = 0.55
	// Half the breadth of neck and shoulders, and where they are reached. Upper
	// arms at rest lie within 1.3 sides (shoulders about 48 cm broad over a box of
	// 18 to 19 cm: from memory); the rest is room for movement.
	neckHalf      = 0.55
	shoulderHalf  = 1.9
	shoulderDepth = 1.35
	lapHalf       = 2.3
	lapDepth      = 5
)

// onPerson says whether a place belongs to the person of a face by a simple
// model: head, neck, shoulders, and what is below them down to the frame's foot.
// It errs on the side of too much: it serves to leave people out.
func (f Face) onPerson(x, y float64) bool {
	if headRoom.holds(f.local(x, y)) {
		return true
	}
	// A body stands upright though the head leans.
	mx, my := f.Box.Middle()
	u, v := math.Abs(x-mx)/f.Box.W, (y-my)/f.Box.H
	if v < chin {
		return false
	}
	half := lapHalf
	switch {
	case v < shoulderDepth:
		half = neckHalf + (shoulderHalf-neckHalf)*(v-chin)/(shoulderDepth-chin)
	case v < lapDepth:
		half = shoulderHalf + (lapHalf-shoulderHalf)*(v-shoulderDepth)/(lapDepth-shoulderDepth)
	}
	return u <= half
}

// Person is where the people of these faces may be, on a w×h grid, by a model
// of head and shoulders. It covers rather too much than too little.
func Person(faces []Face, w, h int) *Mask {
	m := NewMask(w, h)
	for i := range m.In {
		x, y := (float64(i%w)+0.5)/float64(w), (float64(i/w)+0.5)/float64(h)
		for _, f := range faces {
			if f.onPerson(x, y) {
				m.In[i] = true
				break
			}
		}
	}
	return m
}

// pixels lists the working pixels in a part of the face.
func (f Face) pixels(e ellipse, w, h int) []int {
	var out []int
	reach := math.Hypot(e.u, e.v) + max(e.ru, e.rv) // whichever way the head leans
	mx, my := f.Box.Middle()
	x0, x1 := pixelSpan(mx-reach*f.Box.W, 2*reach*f.Box.W, w)
	y0, y1 := pixelSpan(my-reach*f.Box.H, 2*reach*f.Box.H, h)
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			if e.holds(f.local((float64(x)+0.5)/float64(w), (float64(y)+0.5)/float64(h))) {
				out = append(out, y*w+x)
			}
		}
	}
	return out
}
