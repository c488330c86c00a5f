package region

import "math"

// patch is a connected part of a w×h picture.
type patch struct {
	pixels         []int // in rising order of discovery from the first
	x0, y0, x1, y1 int   // its box, ends exclusive
}

// touchesEdge says whether it reaches the picture's edge.
func (c *patch) touchesEdge(w, h int) bool {
	return c.x0 == 0 || c.y0 == 0 || c.x1 == w || c.y1 == h
}

// patches lists the connected parts of in (neighbours by side), each of at
// least least pixels, in the order of their first pixel.
func patches(in []bool, w, h, least int) []*patch {
	seen := make([]bool, len(in))
	var out []*patch
	for start := range in {
		if !in[start] || seen[start] {
			continue
		}
		c := &patch{x0: w, y0: h}
		seen[start] = true
		c.pixels = append(c.pixels, start)
		for i := 0; i < len(c.pixels); i++ {
			p := c.pixels[i]
			x, y := p%w, p/w
			c.x0, c.x1, c.y0, c.y1 = min(c.x0, x), max(c.x1, x+1), min(c.y0, y), max(c.y1, y+1)
			next := func(n int, there bool) {
				if there && in[n] && !seen[n] {
					seen[n] = true
					c.pixels = append(c.pixels, n)
				}
			}
			next(p-1, x > 0)
			next(p+1, x < w-1)
			next(p-w, y > 0)
			next(p+w, y < h-1)
		}
		if len(c.pixels) >= least {
			out = append(out, c)
		}
	}
	return out
}

// mask of the patch.
func (c *patch) mask(w, h int) *Mask {
	m := NewMask(w, h)
	for _, p := range c.pixels {
		m.In[p] = true
	}
	return m
}

// ring lists the pixels between near and far rows or columns outside the patch.
func (c *patch) ring(w, h, near, far int) []int {
	// Only the patch's surroundings are looked at.
	x0, y0, x1, y1 := max(c.x0-far, 0), max(c.y0-far, 0), min(c.x1+far, w), min(c.y1+far, h)
	bw, bh := x1-x0, y1-y0
	in := make([]bool, bw*bh)
	for _, p := range c.pixels {
		in[(p/w-y0)*bw+p%w-x0] = true
	}
	inner := make([]bool, bw*bh)
	for _, p := range grown(in, bw, bh, near) {
		inner[p] = true
	}
	var out []int
	for _, p := range grown(in, bw, bh, far) {
		if !inner[p] {
			out = append(out, (p/bw+y0)*w+p%bw+x0)
		}
	}
	return out
}

// diameter of the disc of the same area.
func (c *patch) diameter() float64 { return 2 * math.Sqrt(float64(len(c.pixels))/math.Pi) }
