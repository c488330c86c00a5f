package light

import "maps"

// kept.go keeps what a place sees, so that a scene made again from another
// computes only what a moved lamp changed: what the patches give a place hangs
// on the room alone, and each lamp's direct light on that lamp alone.

// seat is a place as its light depends on it.
type seat struct {
	at, normal, moved Vec
	body              Body
	finish            Finish
}

// view is what a seat sees: the patches' shares, lamps' bodies not yet taken
// out, the share that the head takes which the place lies on, each lamp's direct
// light at full level, and what the coat shows of it as a white in so much light
// would. It isn't changed once kept.
type view struct {
	shares []float64
	own    float64
	direct []float64
	shine  []float64
}

// mostViews bounds what a scene keeps; a plan has far fewer places.
const mostViews = 2048

// viewFrom gives a seat's view, from what was kept where that still holds.
func (s *Scene) viewFrom(k seat) *view {
	s.keeping.Lock()
	v := s.views[k]
	s.keeping.Unlock()
	if v != nil {
		return v
	}
	v = &view{direct: make([]float64, len(s.lamps)), shine: make([]float64, len(s.lamps))}
	old := s.earlier[k]
	if old != nil {
		v.shares, v.own = old.shares, old.own
	} else {
		v.shares = make([]float64, len(s.patches))
		s.factors(k.at, k.normal, k.body, v.shares)
		if k.body == Skin {
			v.own = s.behindHead(k.at, k.moved, v.shares)
		}
	}
	for l := range v.direct {
		if old != nil && s.earlierLamp[l] >= 0 {
			v.direct[l], v.shine[l] = old.direct[s.earlierLamp[l]], old.shine[s.earlierLamp[l]]
		} else if e := s.lamps[l].face.at(k.at, k.normal); !(e <= 0) {
			open, shine := s.share(l, k.at, k.normal, k)
			v.direct[l], v.shine[l] = e*open, e*shine
		}
	}
	s.keeping.Lock()
	defer s.keeping.Unlock()
	if s.views == nil {
		s.views = map[seat]*view{}
	}
	if len(s.views) < mostViews {
		s.views[k] = v
	}
	return v
}

// takeViews hands the views of a scene with the same room to this one; lamps
// says for each lamp which it was there, −1 for one that is another now.
func (s *Scene) takeViews(from *Scene, lamps []int) {
	from.keeping.Lock()
	defer from.keeping.Unlock()
	s.earlier, s.earlierLamp = maps.Clone(from.views), lamps
}
