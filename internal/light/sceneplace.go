package light

import (
	"fmt"
	"math"

	"lampwise/internal/unit"
)

// Place is where the light is read: a small plane.
type Place struct {
	Name        string
	At          Vec
	Normal      Vec
	Reflectance float64
	Body        Body   // what of the subject's own body stands in its light
	Finish      Finish // its coat

	moved Vec     // how far the subject stands from where the plan has it
	spots []Place // where the light is read, when at more than At alone
}

// Sizes are a grown person's (round figures, common practice); head.go has the
// head's.
const (
	chinDrop    = 0.13 // from eyes to chin
	bodyWidth   = 0.40
	bodyDepth   = 0.22
	faceOut     = 0.10 // the crown from the head's middle
	cheekAngle  = 40.0 // degrees that a cheek looks away from where the face does
	leastEyes   = 0.4
	backdropOut = 0.8 // how far beside the head the background is read
)

// Body says what of the subject's own body stands in a place's light.
type Body int

// A place of the room has all of the body in its light's way; one held before
// the face has none of it. On the skin a lamp is hidden behind the head's own
// horizon and behind the nose; the rest is the normal's to say.
const (
	Whole Body = iota
	Apart
	Skin
)

// A place nearer to the head's middle than this lies on its skin, or before it.
const (
	skinWithin  = 0.14
	apartWithin = 0.2
)

// Head is the middle of the subject's head.
func (s *Scene) Head() Vec {
	p := &s.Plan.Subject
	return Vec{float64(p.At[0]), float64(p.At[1]), float64(p.Eyes)}
}

// Eye is the camera's place.
func (s *Scene) Eye() Vec { return vecOf(s.Plan.Camera.At) }

// ahead is the level way the subject faces: toward the camera when not said.
func (s *Scene) ahead() Vec {
	if d := s.Plan.Subject.Facing; d != nil {
		sin, cos := math.Sincos(float64(d.Radian()))
		return Vec{cos, sin, 0}
	}
	d := s.Eye().Sub(s.Head())
	d.Z = 0
	if d.Length() < 1e-6 {
		return Vec{0, -1, 0}
	}
	return d.Unit()
}

// leveled turns a level direction by degrees, anticlockwise from above.
func leveled(d Vec, degrees float64) Vec {
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	return Vec{cos*d.X - sin*d.Y, sin*d.X + cos*d.Y, 0}
}

// keySide is +1 when the key stands anticlockwise of the way the face looks,
// else −1: the lamp named key, or the one that the plan has first.
func (s *Scene) keySide() float64 {
	key := &s.Plan.Lamps[0]
	for i := range s.Plan.Lamps {
		if s.Plan.Lamps[i].Name == "key" {
			key = &s.Plan.Lamps[i]
		}
	}
	d := vecOf(key.At).Sub(s.Head())
	if s.ahead().Cross(d).Z < 0 {
		return -1
	}
	return 1
}

// makePlaces sets the places that every plan has, then the plan's own.
func (s *Scene) makePlaces() {
	head, ahead, side := s.Head(), s.ahead(), s.keySide()
	sub := &s.Plan.Subject
	for _, c := range []struct {
		name string
		turn float64
	}{{FaceLit, side * cheekAngle}, {FaceShade, -side * cheekAngle}} {
		at, n := s.cheek(c.turn)
		s.Places = append(s.Places, Place{Name: c.name, At: at, Normal: n, Reflectance: sub.Reflectance, Body: Skin, Finish: finishes["skin"]})
	}
	// The crown, as a lamp behind sees it: up and away from the camera.
	n := ahead.Times(-1).Add(Vec{0, 0, 1}).Unit()
	s.Places = append(s.Places, Place{Name: Hair, At: head.Add(Vec{0, 0, 0.02}).Add(n.Times(faceOut)), Normal: n, Reflectance: sub.Hair, Body: Skin})
	s.Places = append(s.Places, s.backdrop())
	s.Places = append(s.Places, Place{Name: Card, At: head.Add(ahead.Times(faceOut + 0.02)), Normal: s.Eye().Sub(head).Unit(), Reflectance: 0.18, Body: Apart})
	given := map[string][]Place{}
	for i := range s.Plan.Places {
		t := &s.Plan.Places[i]
		q := Place{Name: t.Name, At: vecOf(t.At), Normal: Vec{t.Normal[0], t.Normal[1], t.Normal[2]}.Unit(), Reflectance: t.Reflectance, Finish: finishes[t.Finish]}
		switch away := q.At.Sub(head).Length(); {
		case away < skinWithin && q.Name != Card:
			q.Body = Skin
			if q.Name != Hair && t.Finish == "" {
				q.Finish = finishes["skin"]
			}
		case away < apartWithin:
			q.Body = Apart
		}
		given[q.Name] = append(given[q.Name], q)
	}
	for i := range s.Plan.Places {
		name := s.Plan.Places[i].Name
		if given[name] == nil {
			continue // with its first
		}
		q := together(given[name])
		delete(given, name)
		known := false
		for k := range s.Places {
			if s.Places[k].Name == name {
				s.Places[k], known = q, true
			}
		}
		if !known {
			s.Places = append(s.Places, q)
		}
	}
}

// together is one place of several spots: a curved or mixed patch is read as
// the camera averages it. It stands and faces as they do in the mean.
func together(spots []Place) Place {
	q := spots[0]
	if len(spots) == 1 {
		return q
	}
	var at, n Vec
	sum := 0.0
	for _, s := range spots {
		at, n = at.Add(s.At), n.Add(s.Normal)
		sum += s.Reflectance
	}
	k := 1 / float64(len(spots))
	q.At, q.Reflectance, q.spots = at.Times(k), sum*k, spots
	if n.Length() > 1e-3 {
		q.Normal = n.Unit()
	}
	return q
}

// backdrop is the background's place: as the plan says, or where the camera
// sees past the head, on the side away from the key, to the wall behind.
func (s *Scene) backdrop() Place {
	p := Place{Name: Background, Reflectance: *s.Plan.Room.Back}
	if b := s.Plan.Background; b != nil {
		p.At, p.Reflectance, p.Finish = vecOf(b.At), b.Reflectance, finishes[b.Finish]
		p.Normal = s.inward(p.At)
		if b.Normal != nil {
			p.Normal = Vec{b.Normal[0], b.Normal[1], b.Normal[2]}.Unit()
		}
		return p
	}
	eye, head := s.Eye(), s.Head()
	across := leveled(s.ahead(), -90*s.keySide())
	d := head.Add(across.Times(backdropOut)).Sub(eye).Unit()
	p.At = s.hit(eye, d)
	p.Normal = s.inward(p.At)
	p.At = p.At.Add(p.Normal.Times(0.01))
	return p
}

// hit is where a way from inside the room meets its side.
func (s *Scene) hit(o, d Vec) Vec {
	t := math.Inf(1)
	for _, a := range [][3]float64{{o.X, d.X, s.w}, {o.Y, d.Y, s.d}, {o.Z, d.Z, s.h}} {
		if a[1] > 1e-12 {
			t = math.Min(t, (a[2]-a[0])/a[1])
		} else if a[1] < -1e-12 {
			t = math.Min(t, -a[0]/a[1])
		}
	}
	return o.Add(d.Times(t))
}

// inward is the normal of the side that p is nearest to.
func (s *Scene) inward(p Vec) Vec {
	best, n := math.Inf(1), Vec{}
	for _, c := range []struct {
		d float64
		n Vec
	}{{p.X, Vec{1, 0, 0}}, {s.w - p.X, Vec{-1, 0, 0}}, {p.Y, Vec{0, 1, 0}}, {s.d - p.Y, Vec{0, -1, 0}}, {p.Z, Vec{0, 0, 1}}, {s.h - p.Z, Vec{0, 0, -1}}} {
		if c.d < best {
			best, n = c.d, c.n
		}
	}
	return n
}

// place gives a place of the scene by name.
func (s *Scene) place(name string) Place {
	for _, p := range s.Places {
		if p.Name == name {
			return p
		}
	}
	return Place{}
}

// aimed is where lamp l points.
func (s *Scene) aimed(l *LampPlan) Vec {
	o := vecOf(l.At)
	switch a := l.Aim.(type) {
	case []unit.Metre:
		return vecOf(a)
	case string:
		switch a {
		case "hair", "background":
			return s.place(a).At
		case "down":
			return o.Add(Vec{0, 0, -1})
		case "up":
			return o.Add(Vec{0, 0, 1})
		case "left":
			return o.Add(Vec{-1, 0, 0})
		case "right":
			return o.Add(Vec{1, 0, 0})
		case "front":
			return o.Add(Vec{0, -1, 0})
		case "back":
			return o.Add(Vec{0, 1, 0})
		}
		return s.Head()
	}
	return o.Add(Vec{0, -1, 0}) // a ball: it doesn't matter
}

// checkPlaces refuses lamps, subject and camera inside things, and places inside
// lamps.
func (s *Scene) checkPlaces() error {
	p := s.Plan
	h := s.Head()
	for _, v := range []float64{h.X, s.w - h.X, h.Y, s.d - h.Y, h.Z, s.h - h.Z} {
		if v < headRadius {
			return p.fault("subject.at", "plan-inside", "Its place is the middle of the head.", "the subject's head stands in a wall or the ceiling: only %.2f m of room", v)
		}
	}
	for k := range s.solids {
		t := &s.solids[k]
		switch {
		case t.subject:
		case t.inside(h):
			return p.fault("subject.at", "plan-inside", "Move one of them.", "the subject's head is inside %s", t.name)
		case t.inside(s.Eye()):
			return p.fault("camera.at", "plan-inside", "Move one of them.", "the camera stands inside %s", t.name)
		}
	}
	for i := range p.Lamps {
		l := &p.Lamps[i]
		o := vecOf(l.At)
		key := fmt.Sprintf("lamp.%d.at", i)
		for k := range s.solids {
			if s.solids[k].inside(o) {
				return p.fault(key, "plan-inside", "Move one of them.", "lamp %s stands inside %s", l.Name, s.solids[k].called())
			}
		}
		if l.Shape == ShapeBall {
			r := float64(l.Size[0]) / 2
			for _, v := range []float64{o.X, s.w - o.X, o.Y, s.d - o.Y, o.Z, s.h - o.Z} {
				if v < r-1e-9 {
					return p.fault(key, "plan-inside", "Its place is the ball's middle.", "lamp %s is a ball of %g m and stands in the wall: only %.2f m of room", l.Name, 2*r, v)
				}
			}
			for _, q := range s.Places {
				if q.At.Sub(o).Length() <= r {
					return p.fault(key, "plan-zero-distance", "Move the lamp or the place.", "%s is inside lamp %s", q.Name, l.Name)
				}
			}
		}
		for _, q := range s.Places {
			if q.At.Sub(o).Length() < 0.01 {
				return p.fault(key, "plan-zero-distance", "Move the lamp or the place.", "%s is at no distance from lamp %s", q.Name, l.Name)
			}
		}
	}
	return nil
}
