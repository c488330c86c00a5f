package region

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// A lamp seen in the picture, in parts of the frame.
const (
	leastLamp  = 0.00006 // of its area: about 120 pixels of 1920×1080
	mostLamp   = 0.03
	leastGlow  = 2.0 // stops over what is around it
	clearGlow  = 4.0
	glowLevels = 4 // levels it is looked for at, a stop apart, from clip down
	// White paper lies 2.3 stops above grey in the light that grey is exposed for
	// (log2 of 90 % over 18 %); a lamp seen is brighter than paper. What isn't a
	// stop brighter may be a white thing.
	overPaper = 3.3
	glintMost = 0.65 // confidence at most of what may be a glint
	likePaper = 0.5  // confidence at most of what may be a white thing
)

// practicals finds lamps seen in the picture: connected areas near clip, or
// else far brighter than all around, of a lamp's size. The surest come first.
// Windows reach the frame's edge or are large; shine on a face is left to the face.
func (l *light) practicals(faces []Face) []Region {
	top, known := l.clip, l.clip > 0
	if !known {
		top = quantile(l.peak, 1)
	}
	if top <= 0 {
		return nil
	}
	area := float64(l.w * l.h)
	taken := make([]bool, l.w*l.h)
	var out []Region
	for level := range glowLevels {
		bar := nearClip * top * math.Exp2(-float64(level))
		in := make([]bool, l.w*l.h)
		for p, v := range l.peak {
			in[p] = v >= bar
		}
		// A window's brightest panes stand out of it, but what is around them is
		// still nearly as bright; bars between panes are bridged.
		wide := make([]bool, len(in))
		for p, v := range l.peak {
			wide[p] = v >= bar/4
		}
		for _, p := range grown(wide, l.w, l.h, max(1, l.w/200)) {
			wide[p] = true
		}
		pane := l.nearLarge(patches(wide, l.w, l.h, int(mostLamp*area)))
		for _, c := range patches(in, l.w, l.h, max(3, int(leastLamp*area))) {
			if slices.ContainsFunc(c.pixels, func(p int) bool { return taken[p] }) {
				continue // a brighter level had it
			}
			r, ok := l.asLamp(c, faces, level == 0 && known, float64(level))
			if !ok {
				continue
			}
			if beside := pane[c.pixels[0]]; beside > 4*len(c.pixels) {
				r.Confidence = max(0, r.Confidence-0.3)
				r.Reason += ", beside a large bright area: perhaps part of a window"
			}
			for _, p := range c.pixels {
				taken[p] = true
			}
			out = append(out, r)
		}
	}
	slices.SortStableFunc(out, func(a, b Region) int { return cmp.Compare(b.Confidence, a.Confidence) })
	return out
}

// nearLarge tells, for pixels within a thirtieth of the frame's width of a
// patch too large for a lamp, how many pixels that has; 0 elsewhere.
func (l *light) nearLarge(spots []*patch) []int {
	size := make([]int, l.w*l.h)
	for _, c := range spots {
		if float64(len(c.pixels)) <= mostLamp*float64(l.w*l.h) {
			continue
		}
		for _, p := range grown(c.mask(l.w, l.h).In, l.w, l.h, max(1, l.w/30)) {
			size[p] = max(size[p], len(c.pixels))
		}
	}
	return size
}

// asLamp judges a bright patch.
func (l *light) asLamp(c *patch, faces []Face, clipped bool, under float64) (Region, bool) {
	area := float64(len(c.pixels)) / float64(l.w*l.h)
	if area > mostLamp {
		return Region{}, false
	}
	inside := make([]float64, len(c.pixels))
	for i, p := range c.pixels {
		inside[i] = l.peak[p]
		x, y := l.place(p)
		for _, f := range faces {
			if f.Confidence > 0.3 && faceAll.holds(f.local(x, y)) {
				return Region{}, false // shine on skin
			}
		}
	}
	// The glow next to a lamp is still its own, so what is around starts further out.
	gap := max(2, int(math.Round(c.diameter()/2)))
	var around []float64
	for _, p := range c.ring(l.w, l.h, gap, 2*gap+2) {
		around = append(around, l.peak[p])
	}
	if len(around) == 0 {
		return Region{}, false
	}
	glow := math.Log2(median(inside) / max(quantile(around, 0.75), sceneGrey*math.Exp2(-10)))
	if glow < leastGlow {
		return Region{}, false
	}
	confidence := 0.5 + 0.4*min((glow-leastGlow)/(clearGlow-leastGlow), 1)
	reason := fmt.Sprintf("a spot %.1f stops brighter than what is around it", glow)
	switch {
	case clipped:
		reason += ", and clipped"
	case under > 0:
		confidence -= 0.07 * under
	}
	level := math.Log2(max(median(inside), 1e-9)/sceneGrey) - max(0, l.ordinary)
	filled := float64(len(c.pixels)) / float64((c.x1-c.x0)*(c.y1-c.y0))
	long := float64(max(c.x1-c.x0, c.y1-c.y0)) / float64(min(c.x1-c.x0, c.y1-c.y0))
	if filled < 0.4 || (long > 4 && filled < 0.7) {
		confidence -= 0.3
		reason += ", of no lamp's form: perhaps shine"
	}
	small := area < 4*leastLamp
	if small {
		confidence = min(confidence-0.15, glintMost)
		reason += ", so small that it may be a glint"
	}
	if c.touchesEdge(l.w, l.h) {
		confidence -= 0.3
		reason += ", cut by the frame's edge: perhaps a window or a door"
	}
	if share, name := l.lampShare(c); name != "" {
		if share > 0.9 {
			if !small { // shine is one lamp's as well
				confidence += 0.1
			}
			reason += fmt.Sprintf(", lit by %s alone", name)
		} else {
			confidence -= 0.4
			reason += fmt.Sprintf(", but %s gives only %.0f %% of it: rather a bright thing than a lamp", name, 100*share)
		}
	}
	if level < overPaper {
		confidence = min(confidence, likePaper)
		reason += ", but no brighter than a white thing may be"
	}
	return c.mask(l.w, l.h).region(Practical, min(max(confidence, 0), 0.95), reason), true
}

// lampShare names the lamp that gives most of a patch's light, and its share
// of all lamps' light there; no name without lamp pictures.
func (l *light) lampShare(c *patch) (share float64, name string) {
	total, best := 0.0, 0.0
	for _, lamp := range l.lamps {
		sum := 0.0
		for _, p := range c.pixels {
			q := lamp.rgb.Pix[3*p:][:3]
			sum += max(0, float64(max(q[0], q[1], q[2])))
		}
		total += sum
		if sum > best {
			best, name = sum, lamp.name
		}
	}
	if total <= 0 {
		return 0, ""
	}
	return best / total, name
}
