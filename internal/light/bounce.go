package light

import (
	"math"
	"runtime"
	"sync"
)

// bounce.go finds the light that surfaces give back. Every surface is cut into
// patches, each matt and evenly lit; what one patch sees of another is the
// exact configuration factor of a rectangle to the patch's middle (polygon
// sum), and the light is passed on until it has died away (radiosity; Goral et
// al., SIGGRAPH 1984). The customary estimate Φ·ρ/(A·(1−ρ)) stands beside it.

// patch is a piece of a surface.
type patch struct {
	at, n       Vec
	flat        flatFace // its rectangle, luminance unused
	area        float64
	reflectance float64
	solid       int // whose side it is; −1: the room's
}

// mostPatches bounds the work: the exchange takes its square.
const mostPatches = 260

// makePatches cuts the room's six sides and the solids' faces.
func (s *Scene) makePatches() {
	size := 0.30
	for {
		s.patches = s.patches[:0]
		s.cut(size)
		if len(s.patches) <= mostPatches {
			s.openWindows()
			return
		}
		size *= 1.12
	}
}

// glass is what a window gives back of the light in the room: the panes' own
// reflection; the rest goes out (two surfaces of 4 %; Fresnel, n = 1.5).
const glass = 0.08

// openWindows lowers the reflectance of the patches that a window takes up:
// ambient rectangles that lie in a wall.
func (s *Scene) openWindows() {
	for l := range s.Plan.Lamps {
		if !s.Plan.Lamps[l].Ambient || s.Plan.Lamps[l].Shape != ShapeRect {
			continue
		}
		f, ok := s.lamps[l].face.(*flatFace)
		if !ok {
			continue
		}
		for j := range s.patches {
			p := &s.patches[j]
			if q := f.local(p.at); p.solid >= 0 || p.n.Dot(f.z) < 0.99 || math.Abs(q.Z) > 0.1 {
				continue
			}
			// How much of the patch the window covers, by its points.
			const n = 5
			covered := 0
			for a := range n {
				for b := range n {
					c := p.at.Add(p.flat.x.Times(p.flat.halfX * (2*(float64(a)+0.5)/n - 1))).Add(p.flat.y.Times(p.flat.halfY * (2*(float64(b)+0.5)/n - 1)))
					if q := f.local(c); math.Abs(q.X) <= f.halfX && math.Abs(q.Y) <= f.halfY {
						covered++
					}
				}
			}
			k := float64(covered) / (n * n)
			p.reflectance = (1-k)*p.reflectance + k*glass
		}
	}
}

// backGap is how near a thing's side may face a wall and still count.
const backGap = 0.05 // m

func (s *Scene) cut(size float64) {
	w, d, h := s.w, s.d, s.h
	r := s.reflect
	add := func(o, z, x Vec, hx, hy, reflectance float64, solid int) {
		if q := o.Add(z.Times(backGap)); solid >= 0 && (q.X < 0 || q.X > w || q.Y < 0 || q.Y > d || q.Z < 0 || q.Z > h) {
			return // it looks at the wall that it hangs on
		}
		f := flatFace{frame: frame{o: o, z: z, x: x, y: z.Cross(x)}, halfX: hx, halfY: hy}
		nx, ny := max(1, int(math.Round(2*hx/size))), max(1, int(math.Round(2*hy/size)))
		for i := range nx {
			for j := range ny {
				c := f
				c.halfX, c.halfY = hx/float64(nx), hy/float64(ny)
				c.o = f.point(hx*(2*(float64(i)+0.5)/float64(nx)-1), hy*(2*(float64(j)+0.5)/float64(ny)-1), 0)
				s.patches = append(s.patches, patch{at: c.o.Add(z.Times(1e-3)), n: z, flat: c, area: 4 * c.halfX * c.halfY, reflectance: reflectance, solid: solid})
			}
		}
	}
	add(Vec{w / 2, d / 2, 0}, Vec{0, 0, 1}, Vec{1, 0, 0}, w/2, d/2, r[floor], -1)
	add(Vec{w / 2, d / 2, h}, Vec{0, 0, -1}, Vec{1, 0, 0}, w/2, d/2, r[ceiling], -1)
	add(Vec{w / 2, d, h / 2}, Vec{0, -1, 0}, Vec{1, 0, 0}, w/2, h/2, r[wallBack], -1)
	add(Vec{w / 2, 0, h / 2}, Vec{0, 1, 0}, Vec{1, 0, 0}, w/2, h/2, r[wallFront], -1)
	add(Vec{0, d / 2, h / 2}, Vec{1, 0, 0}, Vec{0, 1, 0}, d/2, h/2, r[wallLeft], -1)
	add(Vec{w, d / 2, h / 2}, Vec{-1, 0, 0}, Vec{0, 1, 0}, d/2, h/2, r[wallRight], -1)
	for i := range s.solids {
		b := &s.solids[i]
		if b.round {
			continue // small: it hides, and what it gives back is nothing much
		}
		f := b.f
		add(f.point(b.hx, 0, 0), f.x, f.y, b.hy, b.hz, b.reflectance, i)
		add(f.point(-b.hx, 0, 0), f.x.Times(-1), f.y, b.hy, b.hz, b.reflectance, i)
		add(f.point(0, b.hy, 0), f.y, f.z, b.hz, b.hx, b.reflectance, i)
		add(f.point(0, -b.hy, 0), f.y.Times(-1), f.z, b.hz, b.hx, b.reflectance, i)
		add(f.point(0, 0, b.hz), f.z, f.x, b.hx, b.hy, b.reflectance, i)
		add(f.point(0, 0, -b.hz), f.z.Times(-1), f.x, b.hx, b.hy, b.reflectance, i)
	}
}

// spread fills row with the share of what the plane at p, n is lit by that
// comes from each patch, per unit of the patch's exitance. body as in seen.
func (s *Scene) spread(p, n Vec, body Body, row []float64) {
	s.factors(p, n, body, row)
	s.hide(p, row)
}

// factors are the configuration factors of the patches, which add up to 1 in a
// closed room; lamps' bodies are left out.
func (s *Scene) factors(p, n Vec, body Body, row []float64) {
	sum := 0.0
	for j := range s.patches {
		b := &s.patches[j]
		row[j] = 0
		q := b.flat.local(p)
		if q.Z <= 1e-6 {
			continue
		}
		f := b.flat.rectAt(q, n, -b.flat.halfX, b.flat.halfX, -b.flat.halfY, b.flat.halfY) / math.Pi
		if f > 0 && len(s.solids) > 0 && !s.seen(p, b.at, body) {
			f = 0
		}
		row[j] = f
		sum += f
	}
	// What is hidden from a patch's middle may still be seen in part: in a room
	// every direction ends on some patch, so the shares are brought to 1.
	if sum > 0 && len(s.solids) > 0 {
		for j := range row {
			row[j] /= sum
		}
	}
}

// behindHead takes out of a row what a place on the skin doesn't see of the room
// past its own head, and gives the share of what it sees that is its own head.
func (s *Scene) behindHead(p, moved Vec, row []float64) (own float64) {
	for j, f := range row {
		if f == 0 {
			continue
		}
		b := &s.patches[j]
		hidden := 0.0
		for _, u := range quarters {
			q := b.at.Add(b.flat.x.Times(u[0] * b.flat.halfX)).Add(b.flat.y.Times(u[1] * b.flat.halfY))
			if !s.overSkin(p, q, moved) {
				hidden += 1.0 / float64(len(quarters))
			}
		}
		own += hidden * f
		row[j] -= hidden * f
	}
	return own
}

// hide takes out of a row what lamps' bodies stand before: it ends on them and
// is lost.
func (s *Scene) hide(p Vec, row []float64) {
	if len(s.bodies) == 0 {
		return
	}
	for j, f := range row {
		if f == 0 {
			continue
		}
		b := &s.patches[j]
		hidden := 0
		for k := range s.bodies {
			body := &s.bodies[k]
			if far(p, b.at, body.f.o, body.reach()+math.Hypot(b.flat.halfX, b.flat.halfY)) {
				continue // as it is of most
			}
			hidden = 0
			for _, u := range quarters {
				if s.behindLamp(p, b.at.Add(b.flat.x.Times(u[0]*b.flat.halfX)).Add(b.flat.y.Times(u[1]*b.flat.halfY))) {
					hidden++
				}
			}
			break
		}
		row[j] -= float64(hidden) / float64(len(quarters)) * f
	}
}

// quarters are the middles of a patch's quarters, in half sizes.
var quarters = [4][2]float64{{-0.5, -0.5}, {0.5, -0.5}, {-0.5, 0.5}, {0.5, 0.5}}

// A lamp's body hides what lies behind it from the light that surfaces give
// back, though it throws no shadow of its own light. It's taken as dark. Small
// ones don't matter.
const smallBody = 0.15 // m, half of its size

// behindLamp says whether a lamp's body stands between two places.
func (s *Scene) behindLamp(a, b Vec) bool {
	for i := range s.bodies {
		if s.bodies[i].crossed(a, b) {
			return true
		}
	}
	return false
}

// makeBodies finds the lamps large enough to hide something: balls, and flat
// faces that stand in the room.
func (s *Scene) makeBodies() {
	s.bodies = s.bodies[:0]
	for l := range s.lamps {
		if s.Plan.Lamps[l].Ambient {
			continue
		}
		switch f := s.lamps[l].face.(type) {
		case *sphereFace:
			if f.radius >= smallBody {
				s.bodies = append(s.bodies, solid{f: f.frame, hx: f.radius, hy: f.radius, hz: f.radius, round: true})
			}
		case *flatFace:
			if math.Max(f.halfX, f.halfY) >= smallBody {
				b := solid{f: f.frame, hx: f.halfX, hy: f.halfY, hz: 0.01}
				b.f.o = f.point(0, 0, -0.011)
				if f.disc { // a square of its area
					b.hx *= math.Sqrt(math.Pi) / 2
					b.hy = b.hx
				}
				s.bodies = append(s.bodies, b)
			}
		}
	}
}

// parallel runs f(0..n−1) on all processors.
func parallel(n int, f func(i int)) {
	workers := min(runtime.GOMAXPROCS(0), n)
	if workers <= 1 {
		for i := range n {
			f(i)
		}
		return
	}
	var wg sync.WaitGroup
	for w := range workers {
		wg.Go(func() {
			for i := w; i < n; i += workers {
				f(i)
			}
		})
	}
	wg.Wait()
}

// Mean is the customary estimate of the light that comes back, the same
// everywhere: E = Φ·ρ/(A·(1−ρ)), with the surfaces' mean reflectance (an
// integrating sphere's; handbooks of lighting).
func (s *Scene) mean(flux float64) float64 {
	area, weighed := 0.0, 0.0
	for i := range s.patches {
		if s.patches[i].solid < 0 {
			area += s.patches[i].area
			weighed += s.patches[i].area * s.patches[i].reflectance
		}
	}
	rho := weighed / area
	return flux * rho / (area * (1 - rho))
}
