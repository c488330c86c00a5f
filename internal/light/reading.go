package light

import (
	"math"

	"lampwise/internal/unit"
)

// Lit is what a lamp gives at a place, at its level in the plan. Where the place
// has a coat, what the lens sees of the lamp in it counts as so much more light.
type Lit struct {
	Direct  unit.Lux // from its face
	Bounced unit.Lux // by way of the room
}

// Total is both.
func (l Lit) Total() unit.Lux { return l.Direct + l.Bounced }

// Level is lamp l's level in the plan.
func (s *Scene) Level(l int) float64 { return *s.Plan.Lamps[l].Level }

// At is what each lamp gives on a small plane, at full level; body says what of
// the subject stands in its way.
func (s *Scene) At(p, n Vec, body Body) []Lit {
	return s.at(Place{At: p, Normal: n, Body: body})
}

func (s *Scene) at(q Place) []Lit {
	out := make([]Lit, len(s.lamps))
	if len(q.spots) > 0 {
		// What the camera averages is light given back: each spot counts by what
		// it reflects.
		for _, p := range q.spots {
			p.At, p.moved = p.At.Add(q.moved), q.moved
			k := unit.Lux(p.Reflectance / (q.Reflectance * float64(len(q.spots))))
			for l, lit := range s.at(p) {
				out[l].Direct += k * lit.Direct
				out[l].Bounced += k * lit.Bounced
			}
		}
		return out
	}
	v := s.viewFrom(seat{q.At, q.Normal, q.moved, q.Body, q.Finish})
	row := append([]float64(nil), v.shares...)
	s.hide(q.At, row)
	under := q.Finish.under(s.Eye().Sub(q.At).Unit().Dot(q.Normal))
	for l := range out {
		sum := 0.0
		for j, v := range row {
			sum += v * s.exitance[l][j]
		}
		sum = max(0, sum+s.unevenly(l, q.At, q.Normal, v.shares, row))
		// Where a fold sees its own head, that's lit as it is itself and gives back
		// as much: E = E₀ + own·ρ·E.
		k := v.own * q.Reflectance
		sum += k / (1 - k) * (v.direct[l] + sum)
		out[l] = Lit{unit.Lux(under * v.direct[l]), unit.Lux(under * sum)}
		if v.shine[l] > 0 {
			out[l].Direct += unit.Lux(v.shine[l] / q.Reflectance)
		}
	}
	return out
}

// Full is At for a place, spots and all.
func (s *Scene) Full(p Place) []Lit { return s.at(p) }

// Read is Full for a place, at the plan's levels.
func (s *Scene) Read(p Place) []Lit {
	out := s.at(p)
	for l := range out {
		k := unit.Lux(s.Level(l))
		out[l].Direct *= k
		out[l].Bounced *= k
	}
	return out
}

// Sum adds lamps up.
func Sum(lit []Lit) unit.Lux {
	var e unit.Lux
	for _, l := range lit {
		e += l.Total()
	}
	return e
}

// Mean is the customary estimate of what the room gives back of lamp l's light
// at its level, the same everywhere: Φ·ρ/(A·(1−ρ)).
func (s *Scene) Mean(l int) unit.Lux {
	return unit.Lux(s.mean(s.lamps[l].face.flux() * s.Level(l)))
}

// Flux is lamp l's at full level.
func (s *Scene) Flux(l int) unit.Lumen { return unit.Lumen(s.lamps[l].face.flux()) }

// Axis is where lamp l stands and the way it faces, and its width's and
// height's directions.
func (s *Scene) Axis(l int) (at, z, x, y Vec) {
	f := s.lamps[l].face.axis()
	return f.o, f.z, f.x, f.y
}

// Distance is from lamp l to a place.
func (s *Scene) Distance(l int, p Vec) unit.Metre {
	return unit.Metre(s.lamps[l].face.axis().o.Sub(p).Length())
}

// InverseSquareFrom is the distance from which the inverse square of the
// distance tells lamp l's light on its axis within the share err (0.05): found
// by halving on the face itself. A point obeys it everywhere: 0.
func (s *Scene) InverseSquareFrom(l int, err float64) unit.Metre {
	f := s.lamps[l].face
	if p, point := f.(*pointFace); point && p.halfX == 0 {
		return 0
	}
	ax := f.axis()
	far := 200.0
	value := func(d float64) float64 {
		return f.at(ax.o.Add(ax.z.Times(d)), ax.z.Times(-1)) * d * d
	}
	limit := value(far)
	off := func(d float64) bool { return !(math.Abs(value(d)/limit-1) <= err) }
	lo, hi := 0.01, far
	if !off(lo) {
		return 0
	}
	for range 60 {
		m := math.Sqrt(lo * hi)
		if off(m) {
			lo = m
		} else {
			hi = m
		}
	}
	return unit.Metre(hi)
}

// Shift is how a place's light changes when the subject moves.
type Shift struct {
	Place  string
	Toward string // "left", "right", "nearer", "farther" as the camera sees it
	Stops  unit.Stop
}

// Falloff moves the subject by its plan's distance to each side and reads the
// face again, in stops against the middle.
func (s *Scene) Falloff() []Shift {
	by := float64(s.Plan.Subject.Move)
	toward := s.Eye().Sub(s.Head())
	toward.Z = 0
	toward = toward.Unit()
	right := toward.Cross(Vec{0, 0, -1}) // of the camera, which looks along −toward
	var out []Shift
	for _, name := range []string{FaceLit, FaceShade} {
		p := s.place(name)
		middle := Sum(s.Read(p))
		for _, m := range []struct {
			name string
			d    Vec
		}{{"left", right.Times(-by)}, {"right", right.Times(by)}, {"nearer", toward.Times(by)}, {"farther", toward.Times(-by)}} {
			q := p
			q.At, q.moved = p.At.Add(m.d), m.d
			if q.At.X <= 0 || q.At.Y <= 0 || q.At.X >= s.w || q.At.Y >= s.d {
				continue // the wall is nearer than that
			}
			if e := Sum(s.Read(q)); e > 0 && middle > 0 { // from or into the dark there's no number of stops
				out = append(out, Shift{name, m.name, unit.StopsOf(float64(e / middle))})
			}
		}
	}
	return out
}

// IntoWall is how far lamp l's face reaches through a wall, floor or ceiling;
// 0 when it stands in the room.
func (s *Scene) IntoWall(l int) unit.Metre {
	p := &s.Plan.Lamps[l]
	f := s.lamps[l].face.axis()
	hx, hy := 0.0, 0.0
	switch {
	case p.Shape == ShapeTube:
		hx = float64(p.Size[0]) / 2
	case len(p.Size) == 2:
		hx, hy = float64(p.Size[0])/2, float64(p.Size[1])/2
	}
	most := 0.0
	for _, a := range []float64{-1, 1} {
		for _, b := range []float64{-1, 1} {
			q := f.point(a*hx, b*hy, 0)
			for _, out := range []float64{-q.X, q.X - s.w, -q.Y, q.Y - s.d, -q.Z, q.Z - s.h} {
				most = max(most, out)
			}
		}
	}
	return unit.Metre(most)
}
