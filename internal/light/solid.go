package light

import "math"

// solid is something that stands in the light: a box or a ball.
type solid struct {
	name   string
	f      frame // of the box's middle; a ball's middle
	hx     float64
	hy, hz float64 // 0: a ball of radius hx
	// reflectance of its sides.
	reflectance float64
	// subject: a part of the person (Body says what it hides).
	subject bool
}

func (s *solid) ball() bool { return s.hy == 0 && s.hz == 0 }

// crossed says whether the straight way from a to b goes through the solid.
func (s *solid) crossed(a, b Vec) bool {
	if s.ball() {
		d := b.Sub(a)
		o := a.Sub(s.f.o)
		A, B, C := d.Dot(d), d.Dot(o), o.Dot(o)-s.hx*s.hx
		disc := B*B - A*C
		if disc <= 0 {
			return false
		}
		root := math.Sqrt(disc)
		t0, t1 := (-B-root)/A, (-B+root)/A
		return t1 > clear && t0 < 1-clear
	}
	p, q := s.f.local(a), s.f.local(b)
	d := q.Sub(p)
	t0, t1 := clear, 1-clear
	for i := range 3 {
		var o, v, h float64
		switch i {
		case 0:
			o, v, h = p.X, d.X, s.hx
		case 1:
			o, v, h = p.Y, d.Y, s.hy
		default:
			o, v, h = p.Z, d.Z, s.hz
		}
		if math.Abs(v) < 1e-12 {
			if math.Abs(o) >= h {
				return false
			}
			continue
		}
		a, b := (-h-o)/v, (h-o)/v
		if a > b {
			a, b = b, a
		}
		t0, t1 = math.Max(t0, a), math.Min(t1, b)
		if t0 >= t1 {
			return false
		}
	}
	return true
}

// clear is how much of a way's ends (as a fraction) may touch a solid without
// being hidden by it: a lamp may stand in its own housing's mouth.
const clear = 1e-4

// inside says whether p lies in the solid.
func (s *solid) inside(p Vec) bool {
	q := s.f.local(p)
	if s.ball() {
		return q.Length() < s.hx
	}
	return math.Abs(q.X) < s.hx && math.Abs(q.Y) < s.hy && math.Abs(q.Z) < s.hz
}

// seen says whether nothing stands between a and b; of the subject's body all
// or nothing.
func (s *Scene) seen(a, b Vec, body Body) bool {
	for i := range s.solids {
		if !(body != Whole && s.solids[i].subject) && s.solids[i].crossed(a, b) {
			return false
		}
	}
	return true
}

// Between names the first thing that stands in the straight way from a to b;
// empty: nothing does.
func (s *Scene) Between(a, b Vec) string {
	for i := range s.solids {
		if t := &s.solids[i]; !t.subject && t.crossed(a, b) {
			return t.name
		}
	}
	return ""
}

// overSkin says whether the head itself lets a place on its skin see q: over the
// head's own horizon, a ball's, and past the nose. A fold of the skin may face
// any way; what lies behind the head stays hidden from it. moved is how far the
// head stands from where the plan has it.
func (s *Scene) overSkin(p, q, moved Vec) bool {
	a, b := p.Sub(moved), q.Sub(moved)
	// A face is flatter than the ball: a place inside it is brought out onto it,
	// so that the nose stands over the skin as far as noses do.
	if out := a.Sub(s.Head()); out.Length() < headRadius && out.Length() > 0 {
		a = s.Head().Add(out.Times(headRadius / out.Length()))
	}
	if b.Sub(a).Dot(a.Sub(s.Head())) <= 0 {
		return false
	}
	for i := range s.nose {
		if n := &s.nose[i]; !n.inside(a) && n.crossed(a, b) {
			return false
		}
	}
	return true
}

// direct is what lamp l's face gives, at full level, on a plane at p, with what
// stands between.
func (s *Scene) direct(l int, p, n Vec, body Body, moved Vec) float64 {
	face := s.lamps[l].face
	e := face.at(p, n)
	if e <= 0 || len(s.solids) == 0 {
		return e
	}
	return e * s.share(l, p, n, body, moved)
}

// share is how much of the light from lamp l's face reaches p past what stands
// between, each spot of the face weighed by what it gives there.
func (s *Scene) share(l int, p, n Vec, body Body, moved Vec) float64 {
	reaches := func(q Vec) bool {
		return s.seen(p, q, body) && (body != Skin || s.overSkin(p, q, moved))
	}
	all, seen := 0.0, 0.0
	spots := s.lamps[l].spots
	if b, ok := s.lamps[l].face.(*sphereFace); ok {
		var disc [ballSpots]Vec
		b.shown(p, &disc)
		spots = disc[:]
	}
	z := s.lamps[l].face.axis().z
	for _, q := range spots {
		d := q.Sub(p)
		w := d.Dot(n)
		if w <= 0 {
			continue
		}
		d2 := d.Dot(d)
		w /= d2 * math.Sqrt(d2)
		if s.lamps[l].flat {
			w *= math.Max(0, -d.Dot(z)) / math.Sqrt(d2)
		}
		all += w
		if reaches(q) {
			seen += w
		}
	}
	if all == 0 {
		// Only a rim of the face looks over the horizon: its middle decides.
		if reaches(s.lamps[l].face.axis().o) {
			return 1
		}
		return 0
	}
	return seen / all
}
