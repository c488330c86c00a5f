package light

import "math"

// solid is something that stands in the light: a box, or an ellipsoid.
type solid struct {
	name       string
	f          frame   // of its middle
	hx, hy, hz float64 // half sizes
	round      bool    // an ellipsoid
	// reflectance of its sides.
	reflectance float64
	// subject: a part of the person (Body says what it hides).
	subject bool
}

// called is the solid's name in a sentence.
func (s *solid) called() string {
	if s.subject {
		return "the subject's " + s.name
	}
	return s.name
}

// crossed says whether the straight way from a to b goes through the solid.
func (s *solid) crossed(a, b Vec) bool {
	if far(a, b, s.f.o, s.reach()) {
		return false // as most ways are
	}
	if s.round {
		// Drawn out to a ball of radius 1.
		o, e := s.unit(a), s.unit(b)
		d := e.Sub(o)
		A, B, C := d.Dot(d), d.Dot(o), o.Dot(o)-1
		disc := B*B - A*C
		if disc <= 0 {
			return false
		}
		root := math.Sqrt(disc)
		t0, t1 := (-B-root)/A, (-B+root)/A
		return t1 > clear && t0 < 1-clear
	}
	d, o := b.Sub(a), s.f.o.Sub(a)
	t0, t1 := clear, 1-clear
	return slab(-o.Dot(s.f.x), d.Dot(s.f.x), s.hx, &t0, &t1) &&
		slab(-o.Dot(s.f.y), d.Dot(s.f.y), s.hy, &t0, &t1) &&
		slab(-o.Dot(s.f.z), d.Dot(s.f.z), s.hz, &t0, &t1)
}

// reach is the radius of a ball round the solid.
func (s *solid) reach() float64 { return math.Sqrt(s.hx*s.hx + s.hy*s.hy + s.hz*s.hz) }

// far says whether the straight way from a to b stays farther than r from c.
func far(a, b, c Vec, r float64) bool {
	d, o := b.Sub(a), c.Sub(a)
	dd, along, oo := d.Dot(d), d.Dot(o), o.Dot(o)
	switch {
	case along <= 0:
		return oo > r*r
	case along >= dd:
		return oo-2*along+dd > r*r
	}
	return oo*dd-along*along > r*r*dd
}

// slab cuts t0..t1 down to where o + t·v lies within ±h; false when nothing is left.
func slab(o, v, h float64, t0, t1 *float64) bool {
	if v < 1e-12 && v > -1e-12 {
		return o < h && o > -h
	}
	k := 1 / v
	a, b := (-h-o)*k, (h-o)*k
	if a > b {
		a, b = b, a
	}
	if a > *t0 {
		*t0 = a
	}
	if b < *t1 {
		*t1 = b
	}
	return *t0 < *t1
}

// clear is how much of a way's ends (as a fraction) may touch a solid without
// being hidden by it: a lamp may stand in its own housing's mouth.
const clear = 1e-4

// unit is p in the solid's frame, in half sizes.
func (s *solid) unit(p Vec) Vec {
	q := s.f.local(p)
	return Vec{q.X / s.hx, q.Y / s.hy, q.Z / s.hz}
}

// inside says whether p lies in the solid.
func (s *solid) inside(p Vec) bool {
	if s.round {
		q := s.unit(p)
		return q.Dot(q) < 1
	}
	q := s.f.local(p)
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

// direct is what lamp l's face gives, at full level, on a plane at p, with what
// stands between.
func (s *Scene) direct(l int, p, n Vec, body Body, moved Vec) float64 {
	face := s.lamps[l].face
	e := face.at(p, n)
	if e <= 0 || len(s.solids) == 0 {
		return e
	}
	open, _ := s.share(l, p, n, seat{body: body, moved: moved})
	return e * open
}

// share is how much of the light from lamp l's face reaches p past what stands
// between, each spot of the face weighed by what it gives there; and how much of
// it k's coat shows to the lens, as a share of what a white would.
func (s *Scene) share(l int, p, n Vec, k seat) (open, shine float64) {
	reaches := func(q Vec) bool {
		return s.seen(p, q, k.body) && (k.body != Skin || s.overSkin(p, q, k.moved))
	}
	eye := Vec{}
	if k.finish.mirror > 0 {
		eye = s.Eye().Sub(p).Unit()
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
			if k.finish.mirror > 0 {
				shine += w * k.finish.toward(d.Times(1/math.Sqrt(d2)), eye, n)
			}
		}
	}
	if all == 0 {
		// Only a rim of the face looks over the horizon: its middle decides.
		if reaches(s.lamps[l].face.axis().o) {
			return 1, 0
		}
		return 0, 0
	}
	return seen / all, shine / all
}
