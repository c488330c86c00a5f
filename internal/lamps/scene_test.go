package lamps

import (
	"math"
	"math/rand/v2"
	"sync"

	"lampwise/internal/picture"
)

// A small garage, ray-traced here one lamp at a time: geometry, shadows, soft
// sources and a person who moves. It exists to judge the estimates by scenes
// whose truth is known; povray's scenes (rendered_test.go) judge it in turn.

type vec [3]float64

func (a vec) add(b vec) vec       { return vec{a[0] + b[0], a[1] + b[1], a[2] + b[2]} }
func (a vec) sub(b vec) vec       { return vec{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }
func (a vec) times(k float64) vec { return vec{k * a[0], k * a[1], k * a[2]} }
func (a vec) dot(b vec) float64   { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
func (a vec) unit() vec           { return a.times(1 / math.Sqrt(a.dot(a))) }
func (a vec) cross(b vec) vec {
	return vec{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}
func (a vec) mix(b vec, t float64) vec { return a.times(1 - t).add(b.times(t)) }

// madeLamp is a lamp of the made garage.
type madeLamp struct {
	name   string
	at     vec
	size   float64 // radius of the source, m
	aim    *vec    // nil shines all round
	cone   float64 // cosine of the half angle of a spot
	colour vec     // its RGB on a white card, times power
	face   bool    // the source itself is in the picture (a practical)
}

type ball struct {
	at     vec
	r      float64
	albedo vec
}

// garage is a made scene.
type garage struct {
	lamps   []madeLamp
	day     vec // ambient light's colour and power
	patches []patch
	seed    uint64
}

type patch struct {
	x0, y0, x1, y1 float64
	albedo         vec
}

// pose is where the person is; absent leaves the chair empty.
type pose struct {
	x, z, lean float64
	absent     bool
	shirt      vec
}

// nudge is how the camera stands against its usual place, as an image shift.
type nudge struct{ dx, dy, degrees, scale float64 }

var usualShirt = vec{.08, .11, .20}

// newGarage makes a garage with n lamps; the first five are the usual ones.
func newGarage(rng *rand.Rand, n int) *garage {
	g := &garage{seed: rng.Uint64()}
	j := func(s float64) float64 { return s * (2*rng.Float64() - 1) }
	day, tung := vec{.93, 1, 1.12}, vec{1.30, 1, .58}
	person, wall := vec{0, 1.3, 0}, vec{.9, 1.5, 1.6}
	all := []madeLamp{
		{name: "key", at: vec{-1.6 + j(.3), 2.2 + j(.2), -1.6 + j(.3)}, size: .3, colour: day.times(3.2 + j(.8))},
		{name: "fill", at: vec{1.9 + j(.2), 1.9 + j(.2), -1.5 + j(.3)}, size: .5, colour: day.mix(tung, .3).times(1 + j(.3))},
		{name: "rim", at: vec{1.2 + j(.3), 2.4 + j(.1), 1.2 + j(.1)}, size: .04, aim: &person, cone: math.Cos(.45), colour: tung.times(3 + j(.8))},
		{name: "tube", at: vec{.9 + j(.4), 1.9 + j(.1), 1.35}, size: .2, aim: &wall, cone: -1, colour: vec{.12, .34, .5}.times(1 + j(.3))},
		{name: "tail", at: vec{-1.15 + j(.2), .95 + j(.05), 1.3}, size: .03, colour: vec{.30, .03, .015}.times(1 + j(.3)), face: true},
		{name: "bench", at: vec{-1.9 + j(.2), 1.5 + j(.1), .6 + j(.3)}, size: .1, colour: tung.times(.5 + j(.15))},
		{name: "strip", at: vec{2.2, .3 + j(.1), .9 + j(.3)}, size: .1, colour: vec{.5, .2, .6}.times(.6 + j(.2))},
	}
	for len(all) < n {
		all = append(all, madeLamp{name: string(rune('a' + len(all))), at: vec{j(2), 1.5 + j(1), j(1.2) - .3}, size: .1, colour: vec{.5 + j(.3), .5 + j(.2), .5 + j(.3)}.times(.6)})
	}
	g.lamps = all[:n]
	g.day = vec{.35, .42, .55}.times(.10 + .05*rng.Float64())
	for range 40 {
		x, y := 2.4*(2*rng.Float64()-1), 2.4*rng.Float64()
		tone := .04 + .6*rng.Float64()*rng.Float64()
		tint := vec{1 + j(.5), 1 + j(.4), 1 + j(.5)}
		g.patches = append(g.patches, patch{x, y, x + .05 + .4*rng.Float64(), y + .05 + .4*rng.Float64(), tint.times(tone)})
	}
	g.patches = append(g.patches, patch{.55, 1, .85, 1.3, vec{.18, .18, .18}}, patch{.9, 1, 1.2, 1.3, vec{.85, .85, .85}})
	return g
}

func (g *garage) names() []string {
	var n []string
	for _, l := range g.lamps {
		n = append(n, l.name)
	}
	return n
}

func hash2(x, y int, seed uint64) float64 {
	h := seed ^ uint64(x)*0x9E3779B97F4A7C15 ^ uint64(y)*0xC2B2AE3D27D4EB4F
	h ^= h >> 29
	h *= 0xBF58476D1CE4E5B9
	h ^= h >> 32
	return float64(h>>11) / (1 << 53)
}

// grain is smooth value noise in 0..1.
func grain(x, y float64, seed uint64) float64 {
	ix, iy := int(math.Floor(x)), int(math.Floor(y))
	fx, fy := x-float64(ix), y-float64(iy)
	fx, fy = fx*fx*(3-2*fx), fy*fy*(3-2*fy)
	a := hash2(ix, iy, seed)*(1-fx) + hash2(ix+1, iy, seed)*fx
	b := hash2(ix, iy+1, seed)*(1-fx) + hash2(ix+1, iy+1, seed)*fx
	return a*(1-fy) + b*fy
}

type surface struct {
	at, normal, albedo vec
	emits              int // lamp whose face this is, or −1
}

func hitBall(o, d vec, b ball) float64 {
	oc := o.sub(b.at)
	h, c := oc.dot(d), oc.dot(oc)-b.r*b.r
	s := h*h - c
	if s < 0 {
		return math.Inf(1)
	}
	if t := -h - math.Sqrt(s); t > 1e-4 {
		return t
	}
	return math.Inf(1)
}

func person(p pose) []ball {
	if p.absent {
		return nil
	}
	skin := vec{.44, .30, .24}
	shirt := p.shirt
	if shirt == (vec{}) {
		shirt = usualShirt
	}
	out := []ball{{vec{p.x + p.lean, 1.45, p.z}, .14, skin}}
	for i := range 5 {
		t := float64(i) / 4
		out = append(out, ball{vec{p.x + p.lean*t, .45 + .72*t, p.z}, .26 - .06*t, shirt})
	}
	return out
}

// bodyBound is a ball around the person, so that most rays need one test.
func bodyBound(body []ball) ball {
	return ball{at: vec{body[0].at[0], .9, body[0].at[2]}, r: .95}
}

const (
	benchLeft, benchRight, benchTop, benchFront, benchBack = -1.4, -.55, .8, -.3, .5
)

// covered is the share of a pixel's width at x that lies between lo and hi: a
// hard edge sampled once a pixel would only ever move by whole pixels.
func covered(x, lo, hi, pixel float64) float64 {
	return min(1, max(0, min(hi, x+pixel/2)-max(lo, x-pixel/2))/pixel)
}

// trace finds what a ray meets; pixel is a pixel's width on the back wall, m.
func (g *garage) trace(o, d vec, body []ball, pixel float64) (surface, bool) {
	best := math.Inf(1)
	var s surface
	s.emits = -1
	at := func(t float64) vec { return o.add(d.times(t)) }
	for i, l := range g.lamps {
		if !l.face {
			continue
		}
		if t := hitBall(o, d, ball{at: l.at, r: .035}); t < best {
			best, s = t, surface{at: at(t), emits: i}
		}
	}
	for _, b := range body {
		if t := hitBall(o, d, b); t < best {
			q := at(t)
			a := b.albedo.times(.85 + .3*grain(q[0]*18, q[1]*18, 7))
			best, s = t, surface{q, q.sub(b.at).unit(), a, -1}
		}
	}
	plane := func(axis int, where float64, normal vec, inside func(vec) bool, albedo func(vec) vec) {
		if d[axis] == 0 {
			return
		}
		t := (where - o[axis]) / d[axis]
		if t <= 1e-4 || t >= best {
			return
		}
		if q := at(t); inside(q) {
			best, s = t, surface{q, normal, albedo(q), -1}
		}
	}
	everywhere := func(vec) bool { return true }
	plane(2, 1.6, vec{0, 0, -1}, everywhere, func(q vec) vec {
		a := vec{.18, .20, .22}
		for _, p := range g.patches {
			if q[0] > p.x0-pixel && q[0] < p.x1+pixel && q[1] > p.y0-pixel && q[1] < p.y1+pixel {
				a = a.mix(p.albedo, covered(q[0], p.x0, p.x1, pixel)*covered(q[1], p.y0, p.y1, pixel))
			}
		}
		return a.times(.75 + .5*grain(q[0]*9, q[1]*9, g.seed))
	})
	plane(1, 0, vec{0, 1, 0}, everywhere, func(q vec) vec { return vec{.22, .20, .18}.times(.6 + .8*grain(q[0]*5, q[2]*5, g.seed+1)) })
	plane(0, -2.5, vec{1, 0, 0}, everywhere, func(q vec) vec { return vec{.32, .29, .26}.times(.7 + .6*grain(q[2]*4, q[1]*4, g.seed+2)) })
	plane(0, 2.5, vec{-1, 0, 0}, everywhere, func(q vec) vec { return vec{.30, .30, .28}.times(.7 + .6*grain(q[2]*4, q[1]*4, g.seed+3)) })
	plane(1, benchTop, vec{0, 1, 0}, func(q vec) bool {
		return q[0] > benchLeft && q[0] < benchRight && q[2] > benchFront && q[2] < benchBack
	}, func(q vec) vec { return vec{.28, .18, .10}.times(.6 + .8*grain(q[0]*14, q[2]*3, g.seed+4)) })
	return s, !math.IsInf(best, 1)
}

func (g *garage) shadowed(from, to vec, body []ball) bool {
	d := to.sub(from)
	far := math.Sqrt(d.dot(d))
	d = d.times(1 / far)
	if len(body) > 0 && hitBall(from, d, bodyBound(body)) < far {
		for _, b := range body {
			if hitBall(from, d, b) < far {
				return true
			}
		}
	}
	if d[1] != 0 {
		if t := (benchTop - .02 - from[1]) / d[1]; t > 1e-3 && t < far {
			q := from.add(d.times(t))
			if q[0] > benchLeft && q[0] < benchRight && q[2] > benchFront && q[2] < benchBack {
				return true
			}
		}
	}
	return false
}

// spread gives places on a source of the given size.
func spread(at vec, size float64) []vec {
	if size <= .05 {
		return []vec{at}
	}
	return []vec{
		at.add(vec{size, 0, size * .2}), at.add(vec{-size, 0, -size * .2}), at.add(vec{0, size, 0}), at.add(vec{0, -size, 0}), at,
	}
}

// render returns what each lamp alone adds at full, and the ambient light last.
func (g *garage) render(w, h int, p pose, n nudge) []*picture.Image {
	body := person(p)
	eye := vec{0, 1.4, -3.2}
	look := vec{0, 1.1, 0}.sub(eye).unit()
	right := vec{0, 1, 0}.cross(look).unit()
	up := look.cross(right)
	half := math.Tan(55. / 2 * math.Pi / 180)
	pixel := 2 * half * (1.6 + 3.2) / float64(w)
	k := len(g.lamps) + 1
	out := make([]*picture.Image, k)
	for i := range out {
		out[i] = picture.NewImage(w, h, picture.SpaceSceneLinear)
	}
	sources := make([][]vec, len(g.lamps))
	for i, l := range g.lamps {
		sources[i] = spread(l.at, l.size)
	}
	door := []vec{{2.4, .5, -2.2}, {2.4, 1.6, -2.2}, {2.4, .5, -1.2}, {2.4, 1.6, -1.2}}
	if n.scale == 0 {
		n.scale = 1
	}
	sin, cos := math.Sincos(n.degrees * math.Pi / 180)
	inRows(h, func(from, to int) {
		for y := from; y < to; y++ {
			for x := range w {
				// A nudged camera sees at (x, y) what was at the warped place.
				u, v := float64(x)-float64(w-1)/2-n.dx, float64(y)-float64(h-1)/2-n.dy
				u, v = (cos*u+sin*v)/n.scale, (-sin*u+cos*v)/n.scale
				px, py := 2*u/float64(w), -2*v/float64(w)
				d := look.add(right.times(px * half)).add(up.times(py * half)).unit()
				s, ok := g.trace(eye, d, body, pixel)
				if !ok {
					continue
				}
				i := 3 * (y*w + x)
				if s.emits >= 0 {
					for c := range 3 {
						out[s.emits].Pix[i+c] = float32(g.lamps[s.emits].colour[c] * 60)
					}
					continue
				}
				place := s.at.add(s.normal.times(1e-3))
				for l := range g.lamps {
					e := g.shine(&g.lamps[l], sources[l], place, s.normal, body)
					for c := range 3 {
						out[l].Pix[i+c] = float32(e * g.lamps[l].colour[c] * s.albedo[c])
					}
				}
				a := .35
				for _, q := range door {
					if t := q.sub(place); t.dot(s.normal) > 0 && !g.shadowed(place, q, body) {
						r2 := t.dot(t)
						a += 1.5 * t.dot(s.normal) / math.Sqrt(r2) / r2
					}
				}
				for c := range 3 {
					out[k-1].Pix[i+c] = float32(a * g.day[c] * s.albedo[c])
				}
			}
		}
	})
	for i := range out {
		out[i] = softened(out[i])
	}
	return out
}

// shine is the light, before colour and surface, that a lamp sends to a place.
func (g *garage) shine(l *madeLamp, from []vec, place, normal vec, body []ball) float64 {
	e := 0.0
	for _, q := range from {
		t := q.sub(place)
		f := t.dot(normal)
		if f <= 0 {
			continue
		}
		r2 := t.dot(t)
		f /= math.Sqrt(r2) * r2
		if l.aim != nil {
			a := t.times(-1).unit().dot(l.aim.sub(l.at).unit())
			if a < l.cone {
				continue
			}
			f *= min(1, (a-l.cone)/(1-l.cone)*4)
		}
		if !g.shadowed(place, q, body) {
			e += f
		}
	}
	return e / float64(len(from))
}

// softened blurs by the binomial 1 2 1 both ways, as a lens and a sensor's
// filter do, so that no edge is sharper than a pixel.
func softened(in *picture.Image) *picture.Image {
	w, h := in.W, in.H
	mid := make([]float32, len(in.Pix))
	out := picture.NewImage(w, h, in.Space)
	at := func(p []float32, x, y, c int) float32 {
		return p[3*(min(max(y, 0), h-1)*w+min(max(x, 0), w-1))+c]
	}
	for y := range h {
		for x := range w {
			for c := range 3 {
				mid[3*(y*w+x)+c] = (at(in.Pix, x-1, y, c) + 2*at(in.Pix, x, y, c) + at(in.Pix, x+1, y, c)) / 4
			}
		}
	}
	for y := range h {
		for x := range w {
			for c := range 3 {
				out.Pix[3*(y*w+x)+c] = (at(mid, x, y-1, c) + 2*at(mid, x, y, c) + at(mid, x, y+1, c)) / 4
			}
		}
	}
	return out
}

// coderShift drops bits of a float32: 2^(23−18) = 32 ranges to an octave.
const (
	coderShift  = 18
	coderOffset = .06 // below which no code lies
)

var (
	coderMutex sync.Mutex
	coders     = map[string]*coder{}
)
