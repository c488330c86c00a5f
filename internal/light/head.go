package light

import "math"

// head.go is the subject's head as it stands in light: an egg-shaped skull, and
// for places on its own skin the nose and the brows over the eyes. Sizes are
// round figures of a grown person's head from memory of body measures: 155 mm
// wide, 195 long, 230 high; the nose's tip 25 mm before the face and 52 mm long
// with the root level with the eyes. People differ by some millimetres either way.
const (
	headWide   = 0.0775 // half sizes
	headLong   = 0.0975
	headHigh   = 0.115
	headBack   = 0.0125 // the egg's middle lies that far behind the head's
	headRadius = 0.095  // of a ball about as large, for what is outside of it

	noseLong  = 0.052
	noseOut   = 0.025 // at the tip, before the face's front
	noseRoot  = 0.012 // wide
	noseWings = 0.035
	noseAbove = 0.008
	noseSteps = 3

	// The brows: a ridge across the face, over the eyes.
	browUp   = 0.019
	browAt   = 0.055 // its middle before the head's
	browWide = 0.055 // half sizes
	browOut  = 0.037
	browHigh = 0.010

	cheekDrop = 0.015 // a cheek under the eyes' level
	skinGap   = 2e-3  // a place lies that far off the skin
)

// makeHead puts the head among the solids, and what stands out of the face apart.
func (s *Scene) makeHead() {
	ahead := s.ahead()
	side, up := ahead.Cross(Vec{0, 0, 1}), Vec{0, 0, 1}
	at := func(out, high float64) frame {
		return frame{o: s.Head().Add(ahead.Times(out)).Add(up.Times(high)), x: side, y: ahead, z: up}
	}
	skin := s.Plan.Subject.Reflectance
	s.skull = solid{name: "head", subject: true, round: true, reflectance: skin, f: at(-headBack, 0), hx: headWide, hy: headLong, hz: headHigh}
	s.solids = append(s.solids, s.skull)
	s.features = []solid{{name: "brows", subject: true, round: true, reflectance: skin, f: at(browAt, browUp), hx: browWide, hy: browOut, hz: browHigh}}
	// The nose is a stair of boxes: from its root it stands out and widens evenly
	// down to tip and wings.
	const within, front = 0.05, headLong - headBack // the boxes begin in the head
	for k := range noseSteps {
		part := (float64(k) + 0.5) / noseSteps
		out := front + noseOut*part
		s.features = append(s.features, solid{
			name: "nose", subject: true, reflectance: skin,
			f:  at((within+out)/2, noseAbove-noseLong*part),
			hx: (noseRoot + (noseWings-noseRoot)*part) / 2, hy: (out - within) / 2, hz: noseLong / (2 * noseSteps),
		})
	}
}

// cheek is a place of the skin at a cheek's height that faces turn degrees away
// from where the face does, and the way it faces: a little down there.
func (s *Scene) cheek(turn float64) (at, normal Vec) {
	n := leveled(s.ahead(), turn)
	f := &s.skull.f
	u, v := n.Dot(f.x), n.Dot(f.y)
	k := math.Sqrt(1-cheekDrop*cheekDrop/(headHigh*headHigh)) / math.Hypot(headWide*u, headLong*v)
	p := f.point(headWide*headWide*u*k, headLong*headLong*v*k, -cheekDrop)
	normal = s.offHead(p)
	return p.Add(normal.Times(skinGap)), normal
}

// offHead is the way out of the egg at p, or on the egg of its shape through p.
func (s *Scene) offHead(p Vec) Vec {
	f := &s.skull.f
	l := f.local(p)
	return f.x.Times(l.X / (headWide * headWide)).Add(f.y.Times(l.Y / (headLong * headLong))).Add(f.z.Times(l.Z / (headHigh * headHigh))).Unit()
}

// overSkin says whether the head itself lets a place on its skin see q: over the
// skull's own horizon there, and past nose and brows, where the place isn't on
// them. A fold of the skin may face any way; what lies behind the head stays
// hidden from it. moved is how far the head stands from where the plan has it.
func (s *Scene) overSkin(p, q, moved Vec) bool {
	a, b := p.Sub(moved), q.Sub(moved)
	if b.Sub(a).Dot(s.offHead(a)) <= 0 {
		return false
	}
	for i := range s.features {
		if n := &s.features[i]; !n.inside(a) && n.crossed(a, b) {
			return false
		}
	}
	return true
}
