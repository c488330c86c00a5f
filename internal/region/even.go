package region

import (
	"math"
	"slices"
)

// surface is a light as stops and tints with its noise, in which even patches
// are looked for.
type surface struct {
	*light
	stops []float64 // luminance, from grey
	red   []float64 // log2 R/G, of the mean of nine pixels
	blue  []float64 // log2 B/G
	soft  []float64 // stops of the mean of nine pixels
	noise []float64 // deviation of one pixel's stops, by whole stops from lowestStop up
}

// evenPatch is a connected patch without edges inside, and its form.
type evenPatch struct {
	*patch
	area        float64    // of the frame
	edge        bool       // reaches the frame's edge
	short, long float64    // sides of the smallest upright or leaning rectangle around it
	fourSided   float64    // the largest four-sided figure in its hull over the hull; less for a ragged outline
	level       float64    // median, stops from grey
	drop        float64    // stops that its light changes from side to side
	roughness   float64    // deviation from an even slope, over the noise there
	tint        [2]float64 // log2 R/G and B/G
	bordered    float64    // part of its surroundings that differ from it
}

const (
	lowestStop = -8
	noiseStops = 14
	// An edge is where neighbours (means of nine) differ by more than four
	// deviations of such a mean, or by more than a fortieth of a stop.
	edgeNoise = 4.0
	edgeLeast = 0.025
	tintLeast = 0.04
)

func (l *light) surface() *surface {
	s := &surface{light: l}
	n := l.w * l.h
	s.stops, s.soft, s.red, s.blue = make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	lowest := sceneGrey * math.Exp2(lowestStop)
	for p := range n {
		s.stops[p] = math.Log2(max(l.lum[p], lowest) / sceneGrey)
		m := l.nine(p)
		y := bt709Luma[0]*m[0] + bt709Luma[1]*m[1] + bt709Luma[2]*m[2]
		s.soft[p] = math.Log2(max(y, lowest) / sceneGrey)
		g := max(m[1], lowest)
		s.red[p], s.blue[p] = math.Log2(max(m[0], lowest)/g), math.Log2(max(m[2], lowest)/g)
	}
	s.noise = s.measureNoise()
	return s
}

// nine is the mean of a pixel and its neighbours.
func (l *light) nine(p int) (m [3]float64) {
	x, y := p%l.w, p/l.w
	n := 0.0
	for j := max(y-1, 0); j <= min(y+1, l.h-1); j++ {
		for i := max(x-1, 0); i <= min(x+1, l.w-1); i++ {
			q := l.rgb.Pix[3*(j*l.w+i):][:3]
			m[0], m[1], m[2] = m[0]+float64(q[0]), m[1]+float64(q[1]), m[2]+float64(q[2])
			n++
		}
	}
	return [3]float64{m[0] / n, m[1] / n, m[2] / n}
}

// measureNoise takes, at each level, how far a pixel lies from the mean of its
// neighbours left and right. The lower third of these tells the noise, as in
// most frames some surface is plain; in one without, it's overestimated, edges
// are missed, and no card is found.
func (s *surface) measureNoise() []float64 {
	var bins [noiseStops][]float64
	for p := range s.stops {
		if x := p % s.w; x == 0 || x == s.w-1 || s.clipped(p) {
			continue
		}
		d := s.stops[p] - (s.stops[p-1]+s.stops[p+1])/2
		b := stopBin(s.stops[p])
		bins[b] = append(bins[b], math.Abs(d))
	}
	// The lower third's edge of |N(0, σ²·3/2)| lies at 0.431·σ·√1.5.
	const third = 0.4307 * 1.2247
	out := make([]float64, noiseStops)
	last := 0.0
	for b := noiseStops - 1; b >= 0; b-- {
		if len(bins[b]) >= 200 {
			last = quantile(bins[b], 1.0/3) / third
		}
		out[b] = last
	}
	for b := 1; b < noiseStops; b++ {
		if out[b] == 0 {
			out[b] = out[b-1]
		}
	}
	return out
}

func stopBin(stops float64) int { return min(max(int(math.Floor(stops))-lowestStop, 0), noiseStops-1) }

// evenPatches lists the patches that have no edge inside, with their forms.
func (s *surface) evenPatches() []evenPatch {
	plain := make([]bool, s.w*s.h)
	for p := range plain {
		plain[p] = !s.clipped(p) && !s.onEdge(p)
	}
	var out []evenPatch
	for _, c := range patches(plain, s.w, s.h, max(25, int(leastCard*float64(s.w*s.h)/3))) {
		out = append(out, s.form(c))
	}
	return out
}

func (s *surface) onEdge(p int) bool {
	x, y := p%s.w, p/s.w
	// The difference of two means of nine that share six: 2·3/81 of one pixel's variance.
	bar := max(edgeLeast, edgeNoise*s.noise[stopBin(s.soft[p])]*math.Sqrt(6)/9)
	tintBar := max(tintLeast, 2*bar)
	for _, n := range [2]int{p + 1, p + s.w} {
		if (n == p+1 && x == s.w-1) || (n == p+s.w && y == s.h-1) {
			continue
		}
		if math.Abs(s.soft[n]-s.soft[p]) > bar || math.Abs(s.red[n]-s.red[p]) > tintBar || math.Abs(s.blue[n]-s.blue[p]) > tintBar {
			return true
		}
	}
	return false
}

// form measures a patch.
func (s *surface) form(c *patch) evenPatch {
	e := evenPatch{patch: c, area: float64(len(c.pixels)) / float64(s.w*s.h), edge: c.touchesEdge(s.w, s.h)}
	if e.edge || e.area > mostCard {
		return e // no card, and too large to spend time on
	}
	hull := c.hull(s.w)
	area := polygonArea(hull)
	e.short, e.long = leanBox(hull)
	// A wall's ragged rest has much air in its hull.
	solid := float64(len(c.pixels)) / max(area, 1)
	// Pixels' steps add a third of a pixel all round to what isn't upright.
	steps := (e.short + e.long) * 2 / 3 / max(area, 1)
	e.fourSided = min(1, largestFour(hull)/max(area, 1)+steps) * min(1, solid/0.95+steps)

	var v, r, b []float64
	for _, p := range c.pixels {
		v, r, b = append(v, s.stops[p]), append(r, s.red[p]), append(b, s.blue[p])
	}
	e.level, e.tint = median(v), [2]float64{median(r), median(b)}
	s.slopeOf(&e)
	e.bordered = s.borderOf(&e)
	return e
}

// slopeOf fits a plane to the patch's stops, for its drop and roughness.
func (s *surface) slopeOf(e *evenPatch) {
	var m [3][4]float64
	mx, my := float64(e.x0+e.x1)/2, float64(e.y0+e.y1)/2
	span := e.longSide()
	row := func(p int) [4]float64 {
		return [4]float64{1, (float64(p%s.w) - mx) / span, (float64(p/s.w) - my) / span, s.stops[p]}
	}
	for _, p := range e.pixels {
		q := row(p)
		for j := range m {
			for k := range m[j] {
				m[j][k] += q[j] * q[k]
			}
		}
	}
	x, ok := solve3(m)
	if !ok {
		e.roughness = math.Inf(1)
		return
	}
	e.drop = math.Hypot(x[1], x[2])
	residues := make([]float64, len(e.pixels))
	for i, p := range e.pixels {
		q := row(p)
		residues[i] = math.Abs(q[3] - x[0] - x[1]*q[1] - x[2]*q[2])
	}
	// Noise is at least what codes of eight bits leave (about a fiftieth of a stop).
	e.roughness = 1.4826 * median(residues) / max(s.noise[stopBin(e.level)], 0.02)
}

// borderOf is the part of the ring around a patch that differs from it in
// brightness or colour by a sixth of a stop.
func (s *surface) borderOf(e *evenPatch) float64 {
	const least = 1.0 / 6
	ring := e.ring(s.w, s.h, 2, 4)
	if len(ring) == 0 {
		return 0
	}
	n := 0
	for _, p := range ring {
		if math.Abs(s.soft[p]-e.level) > least || math.Abs(s.red[p]-e.tint[0]) > least || math.Abs(s.blue[p]-e.tint[1]) > least {
			n++
		}
	}
	return float64(n) / float64(len(ring))
}

// point of a hull, in pixels.
type point struct{ x, y float64 }

func cross(o, a, b point) float64 { return (a.x-o.x)*(b.y-o.y) - (a.y-o.y)*(b.x-o.x) }

// hull is the convex hull of the patch's pixels, corners included (Andrew's
// monotone chain), going round.
func (c *patch) hull(w int) []point {
	first, last := map[int]int{}, map[int]int{}
	for _, p := range c.pixels {
		x, y := p%w, p/w
		if v, ok := first[y]; !ok || x < v {
			first[y] = x
		}
		if v, ok := last[y]; !ok || x > v {
			last[y] = x
		}
	}
	var pts []point
	for y := c.y0; y < c.y1; y++ {
		if _, ok := first[y]; !ok {
			continue
		}
		for _, at := range []int{y, y + 1} {
			pts = append(pts, point{float64(first[y]), float64(at)}, point{float64(last[y] + 1), float64(at)})
		}
	}
	slices.SortFunc(pts, func(a, b point) int {
		switch {
		case a.x != b.x && a.x < b.x, a.x == b.x && a.y < b.y:
			return -1
		case a == b:
			return 0
		}
		return 1
	})
	pts = slices.Compact(pts)
	half := func(pts []point) []point {
		var out []point
		for _, p := range pts {
			for len(out) > 1 && cross(out[len(out)-2], out[len(out)-1], p) <= 0 {
				out = out[:len(out)-1]
			}
			out = append(out, p)
		}
		return out
	}
	lower := half(pts)
	slices.Reverse(pts)
	upper := half(pts)
	return append(lower[:len(lower)-1], upper[:len(upper)-1]...)
}

func polygonArea(p []point) float64 {
	sum := 0.0
	for i := range p {
		q := p[(i+1)%len(p)]
		sum += p[i].x*q.y - q.x*p[i].y
	}
	return math.Abs(sum) / 2
}

// leanBox is the sides of the smallest rectangle around a hull; one side of it
// lies along one of the hull's (Freeman & Shapira 1975).
func leanBox(hull []point) (short, long float64) {
	best := math.Inf(1)
	for i := range hull {
		q := hull[(i+1)%len(hull)]
		dx, dy := q.x-hull[i].x, q.y-hull[i].y
		n := math.Hypot(dx, dy)
		if n == 0 {
			continue
		}
		dx, dy = dx/n, dy/n
		u0, u1, v0, v1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
		for _, p := range hull {
			u, v := p.x*dx+p.y*dy, p.y*dx-p.x*dy
			u0, u1, v0, v1 = min(u0, u), max(u1, u), min(v0, v), max(v1, v)
		}
		if a := (u1 - u0) * (v1 - v0); a < best {
			best = a
			short, long = min(u1-u0, v1-v0), max(u1-u0, v1-v0)
		}
	}
	return short, long
}

// largestFour is the area of the largest four-sided figure whose corners are
// corners of the hull: nearly all of a rectangle's or a card's seen aslant, 0.64
// of a disc's.
func largestFour(hull []point) float64 {
	n := len(hull)
	if n < 4 {
		return 0
	}
	best := 0.0
	for i := range n {
		for k := i + 2; k < n; k++ {
			// The farthest corner on each side of the diagonal i–k.
			left, right := 0.0, 0.0
			for j := range n {
				if a := cross(hull[i], hull[k], hull[j]) / 2; a > left {
					left = a
				} else if -a > right {
					right = -a
				}
			}
			best = max(best, left+right)
		}
	}
	return best
}
