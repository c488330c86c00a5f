package region

import (
	"fmt"
	"math"
)

// hairRegion is the arch between the face and the top of the head. Whether
// hair, a cap or a bald head is there can't be told from its place; whether it
// differs from what is behind the head can.
func (l *light) hairRegion(f Face) Region {
	m := NewMask(l.w, l.h)
	var arch []float64
	for _, p := range f.pixels(headTop, l.w, l.h) {
		u, v := f.local(l.place(p))
		if v < hairLine && !faceAll.holds(u, v) && !l.clipped(p) {
			m.In[p] = true
			arch = append(arch, l.stopsAt(p))
		}
	}
	if len(arch) < leastPixels {
		return doubt(Hair, 0, "too little of the head's top is in the picture or below clip")
	}
	var behind, skin []float64
	for _, p := range f.pixels(ellipse{0, -0.3, 1.1, 1.1}, l.w, l.h) {
		if u, v := f.local(l.place(p)); v < hairLine && !headRoom.holds(u, v) {
			behind = append(behind, l.stopsAt(p))
		}
	}
	for _, p := range f.pixels(faceSkin, l.w, l.h) {
		skin = append(skin, l.stopsAt(p))
	}
	c, reason := 0.95*f.Confidence, "the arch above the face"
	if len(behind) >= leastPixels && math.Abs(median(arch)-median(behind)) < 0.3 {
		c *= 0.7
		reason += ", which is as bright as what is behind it: it may not be hair alone"
	}
	if math.Abs(median(arch)-median(skin)) < 0.2 {
		c *= 0.7
		reason += ", which is as bright as the face: it may be bare"
	}
	return m.region(Hair, c, reason)
}

// stopsAt is a pixel's luminance in stops from grey, not endlessly low.
func (l *light) stopsAt(p int) float64 {
	return math.Log2(max(l.lum[p], sceneGrey*math.Exp2(-12)) / sceneGrey)
}

const (
	outerSide = 0.28 // of the width, from each side, is the frame's outer part
	outerTop  = 0.22 // of the height, from above
	leastBack = 0.03 // of the frame that a background has at least
)

// backgroundRegion is what remains of the frame's outer parts when people,
// lamps in the picture, a card and what is clipped are taken out.
func (l *light) backgroundRegion(people *Mask, anybody bool, leave []Region) Region {
	m := NewMask(l.w, l.h)
	for p := range m.In {
		x, y := l.place(p)
		outer := x < outerSide || x > 1-outerSide || y < outerTop
		m.In[p] = outer && !people.In[p] && !l.clipped(p)
	}
	for _, r := range leave {
		for _, p := range grown(r.On(l.w, l.h), l.w, l.h, max(2, l.w/100)) {
			m.In[p] = false
		}
	}
	share := m.Share()
	if share < leastBack {
		return doubt(Background, 0, fmt.Sprintf("only %.1f %% of the frame is left beside people, lamps and what is clipped", 100*share))
	}
	c := 0.9
	reason := fmt.Sprintf("the frame's sides and top without people, lamps and what is clipped: %.0f %% of it", 100*share)
	if !anybody {
		c = 0.6
		reason += "; no face was found, so that somebody may stand in it"
	}
	c *= min(1, 0.6+share/(4*leastBack))
	return m.region(Background, c, reason)
}

// grown lists the pixels within r (in rows and columns) of a mask's.
func grown(in []bool, w, h, r int) []int {
	// Rows first, columns after: a square is the sum of both.
	wide := make([]bool, w*h)
	for y := range h {
		last := -r - 1
		for x := range w + r {
			if x < w && in[y*w+x] {
				last = x
			}
			if at := x - r; at >= 0 && last >= at-r {
				wide[y*w+at] = true
			}
		}
	}
	var out []int
	tall := make([]bool, w*h)
	for x := range w {
		last := -r - 1
		for y := range h + r {
			if y < h && wide[y*w+x] {
				last = y
			}
			if at := y - r; at >= 0 && last >= at-r {
				tall[at*w+x] = true
			}
		}
	}
	for p, t := range tall {
		if t {
			out = append(out, p)
		}
	}
	return out
}
