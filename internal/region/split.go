package region

import (
	"fmt"
	"math"
	"slices"

	"lampwise/internal/unit"
)

// sides is how light falls on a face.
type sides struct {
	lit, shade *Mask
	// contrast from the lit to the shaded side.
	contrast unit.Stop
	// from is where the light comes from, as seen: radians, 0 right, rising downward.
	from       float64
	confidence float64
}

const (
	leastSide   = 0.15 // of the face that each side has at least
	betweenHalf = 0.05 // half the strip between the sides, in sides of the face's box
	cutDepth    = 3.0  // stops below the lit side that count where the line is looked for
	deepShade   = 8.0  // stops below the lit side that are told apart at most
	evenFace    = 0.2  // stops from lit to shaded below which there are no sides
	clearFace   = 0.7  // and from which they are clear
	leastPixels = 24   // of a side
	outlier     = 3.0  // robust deviations from its side's light at which a pixel is left out
	ownLightCap = 0.8  // on what one frame's own light can tell
	specular    = 1.5  // stops above the face's median that are shine, not skin
)

// splitFace divides a face by the light of one lamp, or by the frame's own:
// a plane is fitted robustly to the light over the face, and where along its
// slope the light falls off most is the line between the sides. v is that light.
//
// Only across the face when level: the frame's own light falls off downward
// with beard, brows and cheeks as much as with the lamps.
func (l *light) splitFace(f Face, v []float64, level bool) (s sides, ok bool) {
	pts := l.skin(f, v)
	if len(pts) < 2*leastPixels {
		return s, false
	}
	gu, gv := slope(pts)
	if level {
		gv = 0
	}
	n := math.Hypot(gu, gv)
	if n == 0 {
		return s, false
	}
	gu, gv = gu/n, gv/n
	for i := range pts {
		pts[i].along = pts[i].u*gu + pts[i].v*gv
	}
	slices.SortStableFunc(pts, func(a, b skinPoint) int {
		switch {
		case a.along < b.along:
			return -1
		case a.along > b.along:
			return 1
		}
		return a.p - b.p
	})
	at := pts[fallOff(pts)].along
	var lit, shade []skinPoint
	for _, p := range pts {
		switch d := p.along - at; {
		case d > betweenHalf:
			lit = append(lit, p)
		case d < -betweenHalf:
			shade = append(shade, p)
		}
	}
	if len(lit) < leastPixels || len(shade) < leastPixels {
		return s, false
	}
	litAt, litSpread := middle(lit)
	shadeAt, shadeSpread := middle(shade)
	s.contrast = unit.Stop(litAt - shadeAt)
	sin, cos := math.Sincos(float64(f.Roll.Radian()))
	s.from = math.Atan2(gu*sin+gv*cos, gu*cos-gv*sin)
	s.lit, s.shade = l.sideMask(lit, litAt, litSpread), l.sideMask(shade, shadeAt, shadeSpread)
	clear := (float64(s.contrast) - evenFace) / (clearFace - evenFace)
	apart := float64(s.contrast) / max(litSpread+min(shadeSpread, float64(s.contrast)/2), 1e-3)
	s.confidence = min(max(clear, 0), 1) * min(apart/1.2, 1)
	return s, true
}

// skinPoint is one working pixel of a face.
type skinPoint struct {
	p     int
	u, v  float64 // in the face's own measure
	stops float64 // of the light, over its median on the face
	along float64 // the light's slope
}

// skin is the face's pixels without what is clipped and what shines.
func (l *light) skin(f Face, v []float64) []skinPoint {
	var pix []int
	var own, lit []float64
	for _, p := range f.pixels(faceSkin, l.w, l.h) {
		if !l.clipped(p) {
			pix, own, lit = append(pix, p), append(own, l.lum[p]), append(lit, v[p])
		}
	}
	// Of the light that falls on the lit half the upper quarter's edge is typical.
	shine := quantile(own, 0.75) * math.Exp2(specular)
	typical := quantile(lit, 0.75)
	if typical <= 0 {
		return nil
	}
	floor := typical * math.Exp2(-deepShade)
	var out []skinPoint
	for i, p := range pix {
		if own[i] > shine {
			continue
		}
		x, y := l.place(p)
		u, w := f.local(x, y)
		out = append(out, skinPoint{p: p, u: u, v: w, stops: math.Log2(max(lit[i], floor) / typical)})
	}
	return out
}

// slope fits light ≈ a + b·u + c·v, the light being linear (a shade without
// any light is then just dark, not endlessly so), and returns b and c. Eyes,
// brows and beard lose weight by Tukey's function.
func slope(pts []skinPoint) (b, c float64) {
	weights := make([]float64, len(pts))
	light := make([]float64, len(pts))
	for i, p := range pts {
		weights[i], light[i] = 1, math.Exp2(p.stops)
	}
	residues := make([]float64, len(pts))
	for range 8 {
		var m [3][4]float64
		for i, p := range pts {
			row := [4]float64{1, p.u, p.v, light[i]}
			for j := range m {
				for k := range m[j] {
					m[j][k] += weights[i] * row[j] * row[k]
				}
			}
		}
		x, ok := solve3(m)
		if !ok {
			return b, c
		}
		b, c = x[1], x[2]
		for i, p := range pts {
			residues[i] = math.Abs(light[i] - x[0] - b*p.u - c*p.v)
		}
		scale := 1.4826 * median(residues)
		if scale == 0 {
			return b, c
		}
		for i, r := range residues {
			q := r / (4.685 * scale) // Tukey's biweight at 95 % efficiency
			weights[i] = 0
			if q < 1 {
				weights[i] = (1 - q*q) * (1 - q*q)
			}
		}
	}
	return b, c
}

// solve3 solves three linear equations by elimination with pivots.
func solve3(m [3][4]float64) (x [3]float64, ok bool) {
	for c := range 3 {
		best := c
		for r := c + 1; r < 3; r++ {
			if math.Abs(m[r][c]) > math.Abs(m[best][c]) {
				best = r
			}
		}
		m[c], m[best] = m[best], m[c]
		if math.Abs(m[c][c]) < 1e-12 {
			return x, false
		}
		for r := range 3 {
			if r == c {
				continue
			}
			k := m[r][c] / m[c][c]
			for j := c; j < 4; j++ {
				m[r][j] -= k * m[c][j]
			}
		}
	}
	for c := range 3 {
		x[c] = m[c][3] / m[c][c]
	}
	return x, true
}

// fallOff finds where to cut points in order so that the two parts' light (in
// stops) differs most between them and least within (Otsu 1979), each part
// having its least share. How black the shade is has no say. It returns the first point of the second part.
//
// Source: N. Otsu 1979, IEEE Transactions on Systems, Man, and Cybernetics 9(1)
func fallOff(pts []skinPoint) int {
	stops := func(p skinPoint) float64 { return max(p.stops, -cutDepth) }
	total := 0.0
	for _, p := range pts {
		total += stops(p)
	}
	n := float64(len(pts))
	sum, best, at := 0.0, -1.0, len(pts)/2
	for i, p := range pts {
		k := float64(i)
		if k >= leastSide*n && k <= (1-leastSide)*n {
			d := sum/k - (total-sum)/(n-k)
			if between := k * (n - k) * d * d; between > best {
				best, at = between, i
			}
		}
		sum += stops(p)
	}
	return at
}

// middle is the median of a side's light in stops, and its robust deviation.
func middle(pts []skinPoint) (at, spread float64) {
	v := make([]float64, len(pts))
	for i, p := range pts {
		v[i] = p.stops
	}
	at = median(v)
	for i := range v {
		v[i] = math.Abs(v[i] - at)
	}
	return at, 1.4826 * median(v)
}

// sideMask marks a side without what doesn't belong to its light.
func (l *light) sideMask(pts []skinPoint, at, spread float64) *Mask {
	m := NewMask(l.w, l.h)
	for _, p := range pts {
		if math.Abs(p.stops-at) <= outlier*max(spread, 0.1) {
			m.In[p.p] = true
		}
	}
	return m
}

// keyLamp picks the lamp that lights the face, by name, else by its light.
func (l *light) keyLamp(f Face, name string) (k lampLight, how string, ok bool) {
	for _, want := range []string{name, "key"} {
		for _, lamp := range l.lamps {
			if want != "" && lamp.name == want {
				return lamp, "the light of " + lamp.name, true
			}
		}
	}
	best := 0.0
	for _, lamp := range l.lamps {
		sum := 0.0
		for _, p := range f.pixels(faceSkin, l.w, l.h) {
			sum += lamp.lum[p]
		}
		if sum > best {
			best, k, ok = sum, lamp, true
		}
	}
	return k, "the light of " + k.name + ", which gives the face most", ok
}

// faceRegions are the lit and the shaded side of a face, or what is doubted.
func (l *light) faceRegions(f Face, key string) []Region {
	v, how, limit, level := l.lum, "the frame's own light (no lamp pictures)", ownLightCap, true
	if lamp, by, ok := l.keyLamp(f, key); ok {
		v, how, limit, level = lamp.lum, by, 1, false
	}
	whole := NewMask(l.w, l.h)
	for _, p := range l.skin(f, v) {
		whole.In[p.p] = true
	}
	if whole.Count() < leastPixels {
		return []Region{
			doubt(FaceLit, 0, "the face is too small, clipped or not lit at all"),
			doubt(FaceShade, 0, "the face is too small, clipped or not lit at all"),
		}
	}
	s, ok := l.splitFace(f, v, level)
	if !ok || s.contrast < evenFace {
		return []Region{
			whole.region(FaceLit, min(f.Confidence, limit), "the whole face: by "+how+" it is lit evenly"),
			doubt(FaceShade, 0, "by "+how+" the face is lit evenly and has no shaded side"),
		}
	}
	text := fmt.Sprintf("by %s, which falls from the %s and drops %.1f stops across the face", how, direction(s.from), float64(s.contrast))
	// The half toward the light is the better lit one, however little it differs.
	c := min(f.Confidence, limit)
	shaded := "the shaded side " + text
	if s.confidence < Sure {
		shaded += "; too little or too patchily to call it a side"
	}
	return []Region{s.lit.region(FaceLit, c, "the lit side "+text), s.shade.region(FaceShade, c*s.confidence, shaded)}
}

// direction names where light comes from as seen in the picture.
func direction(radians float64) string {
	names := [8]string{"right", "lower right", "below", "lower left", "left", "upper left", "above", "upper right"}
	return names[(int(math.Round(radians/(math.Pi/4)))+8)%8]
}

// doubt is a region that isn't there, and why.
func doubt(name string, confidence float64, reason string) Region {
	return Region{Name: name, Confidence: confidence, Reason: reason}
}
