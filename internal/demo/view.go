package demo

import "math"

// view is the camera as the tracer needs it: a pinhole, for depth of field is
// put in afterwards, layer by layer (layers.go). w and h include the margin.
type view struct {
	eye            vec
	right, up, fwd vec
	w, h           int
	scale          float32 // tangent per pixel
	cx, cy         float32 // where the axis falls, in pixels
}

// newView looks from eye to target with the given vertical angle for the inner
// height; margin pixels are added on each side.
func newView(eye, target vec, degrees float64, w, h, margin int) *view {
	v := &view{eye: eye, w: w + 2*margin, h: h + 2*margin}
	v.fwd = target.sub(eye).unit()
	v.right = v.fwd.cross(vec{0, 1, 0}).unit()
	v.up = v.right.cross(v.fwd)
	v.scale = float32(2 * math.Tan(degrees*math.Pi/360) / float64(h))
	v.cx, v.cy = 0.5*float32(v.w), 0.5*float32(v.h)
	return v
}

// ray goes through a place of the picture, in pixels from its top left corner.
func (v *view) ray(x, y float32) (o, d vec) {
	a := (x - v.cx) * v.scale
	b := (v.cy - y) * v.scale
	return v.eye, v.fwd.add(v.right.mul(a)).add(v.up.mul(b)).unit()
}

// place is where a point of the room falls in the picture, and its distance
// along the view.
func (v *view) place(p vec) (x, y, depth float32) {
	r := p.sub(v.eye)
	depth = r.dot(v.fwd)
	x = r.dot(v.right)/(depth*v.scale) + v.cx
	y = v.cy - r.dot(v.up)/(depth*v.scale)
	return x, y, depth
}

// window is the part of the view inside b.
func (v *view) window(b box) *view {
	c := *v
	c.w, c.h = b.w(), b.h()
	c.cx, c.cy = v.cx-float32(b.x0), v.cy-float32(b.y0)
	return &c
}
