package light

import (
	"fmt"
	"math"
	"reflect"
	"slices"

	"lampwise/internal/fault"
	"lampwise/internal/unit"
)

// The room's sides, as indices of a scene's reflectances.
const (
	floor = iota
	ceiling
	wallLeft
	wallRight
	wallFront
	wallBack
)

// sceneLamp is a lamp, placed.
type sceneLamp struct {
	face  face
	spots []Vec
	flat  bool // it gives light on one side, with its cosine
}

// Scene is a plan made ready to compute with. It's read-only once made, so
// that many may ask it at a time.
type Scene struct {
	Plan   *Plan
	Places []Place

	w, d, h  float64
	reflect  [6]float64
	lamps    []sceneLamp
	solids   []solid
	bodies   []solid // of lamps
	patches  []patch
	raw      []float64   // what patch i sees of patch j, row by row
	shares   []float64   // the same past the lamps' bodies
	lit      [][]float64 // direct light on each patch, for each lamp at full level
	exitance [][]float64 // of each patch, for each lamp at full level
	webs     map[string]Distribution
}

// Place is where the light is read: a small plane.
type Place struct {
	Name        string
	At          Vec
	Normal      Vec
	Reflectance float64
	OnSubject   bool // a part of the subject's own body: the body doesn't hide it
}

// The head is taken as a ball, the body as a box under it. Sizes are a grown
// person's (round figures, common practice).
const (
	headRadius  = 0.095
	chinDrop    = 0.13 // from eyes to chin
	bodyWidth   = 0.40
	bodyDepth   = 0.22
	faceOut     = 0.10 // a cheek before the head's middle
	cheekAngle  = 40.0 // degrees that a cheek looks away from where the face does
	leastEyes   = 0.4
	backdropOut = 0.8 // how far beside the head the background is read
)

// NewScene makes a plan ready. webs are the photometric files' distributions,
// by the name the plan gives each file.
func NewScene(p *Plan, webs map[string]Distribution) (*Scene, error) {
	s, err := place(p, webs)
	if err != nil {
		return nil, err
	}
	s.makePatches()
	s.exchange()
	return s, nil
}

// Again makes a plan ready that differs from the scene's own, keeping what
// hasn't changed: with the same room, things and subject only the lamps that
// were moved or altered are computed anew. A level costs nothing. It's what
// dragging a lamp about needs.
func (s *Scene) Again(p *Plan) (*Scene, error) {
	q, old := p, s.Plan
	if !reflect.DeepEqual(q.Room, old.Room) || !reflect.DeepEqual(q.Things, old.Things) || !reflect.DeepEqual(q.Subject, old.Subject) || !reflect.DeepEqual(q.Camera.At, old.Camera.At) {
		return NewScene(p, s.webs)
	}
	t, err := place(p, s.webs)
	if err != nil {
		return nil, err
	}
	for l := range t.lamps {
		if p.Lamps[l].Ambient || l < len(old.Lamps) && old.Lamps[l].Ambient {
			if l >= len(old.Lamps) || !same(&p.Lamps[l], &old.Lamps[l]) {
				return NewScene(p, s.webs) // a window was moved: the walls are others
			}
		}
	}
	t.patches, t.raw = s.patches, s.raw
	t.lit = make([][]float64, len(t.lamps))
	t.exitance = make([][]float64, len(t.lamps))
	t.makeBodies()
	alike := slices.Equal(t.bodies, s.bodies)
	if t.shares = s.shares; !alike {
		t.mask() // a large lamp hides other parts of the walls
	}
	for l := range t.lamps {
		for k := range s.lamps {
			if same(&p.Lamps[l], &old.Lamps[k]) && *t.lamps[l].face.axis() == *s.lamps[k].face.axis() {
				t.lit[l] = s.lit[k]
				if alike {
					t.exitance[l] = s.exitance[k]
				}
			}
		}
	}
	t.passOn()
	return t, nil
}

// same says whether two lamps give the same light at full level.
func same(a, b *LampPlan) bool {
	x, y := *a, *b
	x.Level, y.Level = nil, nil
	return reflect.DeepEqual(x, y)
}

// place puts a plan's things, places and lamps into an empty scene.
func place(p *Plan, webs map[string]Distribution) (*Scene, error) {
	s := &Scene{Plan: p, webs: webs, w: float64(p.Room.Width), d: float64(p.Room.Depth), h: float64(p.Room.Height)}
	r := &p.Room
	s.reflect = [6]float64{floor: *r.Floor, ceiling: *r.Ceiling, wallLeft: *r.Left, wallRight: *r.Right, wallFront: *r.Front, wallBack: *r.Back}
	s.makeSolids()
	s.makePlaces()
	for i := range p.Lamps {
		f, err := s.makeFace(&p.Lamps[i], webs)
		if err != nil {
			return nil, err
		}
		_, ball := f.(*sphereFace)
		_, tube := f.(*tubeFace)
		_, dot := f.(*pointFace)
		s.lamps = append(s.lamps, sceneLamp{face: f, spots: f.spots(), flat: !ball && !tube && !dot})
	}
	if err := s.checkPlaces(); err != nil {
		return nil, err
	}
	return s, nil
}

func (s *Scene) makeSolids() {
	for i := range s.Plan.Things {
		t := &s.Plan.Things[i]
		sin, cos := math.Sincos(float64(t.Turn.Radian()))
		f := frame{o: vecOf(t.At), x: Vec{cos, sin, 0}, y: Vec{-sin, cos, 0}, z: Vec{0, 0, 1}}
		s.solids = append(s.solids, solid{name: t.Name, f: f, hx: float64(t.Size[0]) / 2, hy: float64(t.Size[1]) / 2, hz: float64(t.Size[2]) / 2, reflectance: t.Reflectance})
	}
	eye := s.Head()
	ahead := s.ahead()
	s.solids = append(s.solids, solid{name: "head", f: frame{o: eye, x: Vec{1, 0, 0}, y: Vec{0, 1, 0}, z: Vec{0, 0, 1}}, hx: headRadius, reflectance: s.Plan.Subject.Reflectance, subject: true})
	if top := eye.Z - chinDrop - 0.05; top > leastEyes {
		side := ahead.Cross(Vec{0, 0, 1})
		s.solids = append(s.solids, solid{
			name: "body", subject: true, reflectance: 0.1,
			f:  frame{o: Vec{eye.X - 0.03*ahead.X, eye.Y - 0.03*ahead.Y, (top + leastEyes) / 2}, x: side, y: ahead, z: Vec{0, 0, 1}},
			hx: bodyWidth / 2, hy: bodyDepth / 2, hz: (top - leastEyes) / 2,
		})
	}
}

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
		n := leveled(ahead, c.turn)
		s.Places = append(s.Places, Place{c.name, head.Add(n.Times(faceOut)), n, sub.Reflectance, true})
	}
	// The crown, as a lamp behind sees it: up and away from the camera.
	n := ahead.Times(-1).Add(Vec{0, 0, 1}).Unit()
	s.Places = append(s.Places, Place{Hair, head.Add(Vec{0, 0, 0.02}).Add(n.Times(faceOut)), n, sub.Hair, true})
	s.Places = append(s.Places, s.backdrop())
	s.Places = append(s.Places, Place{Card, head.Add(ahead.Times(faceOut + 0.02)), s.Eye().Sub(head).Unit(), 0.18, true})
	for i := range s.Plan.Places {
		t := &s.Plan.Places[i]
		q := Place{t.Name, vecOf(t.At), Vec{t.Normal[0], t.Normal[1], t.Normal[2]}.Unit(), t.Reflectance, false}
		// On the skin: the subject's own ball and box aren't in its way.
		q.OnSubject = q.At.Sub(head).Length() < 0.2
		known := false
		for k := range s.Places {
			if s.Places[k].Name == q.Name {
				s.Places[k], known = q, true
			}
		}
		if !known {
			s.Places = append(s.Places, q)
		}
	}
}

// backdrop is the background's place: as the plan says, or where the camera
// sees past the head, on the side away from the key, to the wall behind.
func (s *Scene) backdrop() Place {
	p := Place{Name: Background, Reflectance: *s.Plan.Room.Back}
	if b := s.Plan.Background; b != nil {
		p.At, p.Reflectance = vecOf(b.At), b.Reflectance
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

// makeFace places a lamp and sets how much it gives.
func (s *Scene) makeFace(l *LampPlan, webs map[string]Distribution) (face, error) {
	fr := facing(vecOf(l.At), s.aimed(l).Sub(vecOf(l.At)), float64(l.Turn.Radian()))
	var f face
	half := func(i int) float64 { return float64(l.Size[i]) / 2 }
	switch l.Shape {
	case ShapeBall:
		f = &sphereFace{frame: fr, radius: half(0), luminance: 1}
	case ShapeTube:
		f = &tubeFace{frame: fr, half: half(0), radius: half(1), luminance: 1}
	case ShapeRect:
		f = &flatFace{frame: fr, halfX: half(0), halfY: half(1), luminance: 1, grid: float64((l.Grid / 2).Radian())}
	case ShapeDisc:
		f = &flatFace{frame: fr, disc: true, halfX: half(0), halfY: half(0), luminance: 1, grid: float64((l.Grid / 2).Radian())}
	default:
		p := &pointFace{frame: fr, gain: 1}
		if len(l.Size) == 2 {
			p.halfX, p.halfY = half(0), half(1)
		}
		switch {
		case l.Photometry != "":
			d, ok := webs[l.Photometry]
			if !ok {
				return nil, fmt.Errorf("light: lamp %s: photometry %s was not loaded", l.Name, l.Photometry)
			}
			p.shape = d
			// A lamp whose light changes with its tilt says by how much; the angle is
			// from straight down, as it was measured.
			if t, ok := d.(interface{ TiltFactor(unit.Degree) float64 }); ok {
				angle := math.Acos(math.Max(-1, math.Min(1, -fr.z.Z)))
				p.gain = t.TiltFactor(unit.Radian(angle).Degree())
			}
		case l.Shape == ShapeBeam:
			p.shape = NewBeam(1, 1, l.Beam, l.Field)
		default:
			p.shape = Even(1)
		}
		f = p
	}
	switch {
	case l.Luminance > 0:
		f.scale(float64(l.Luminance))
	case l.Lumens > 0:
		f.scale(float64(l.Lumens) / f.flux())
	case l.Lux > 0:
		ax := f.axis()
		e := f.at(ax.o.Add(ax.z.Times(float64(l.Distance))), ax.z.Times(-1))
		if _, tube := f.(*tubeFace); tube { // lux are measured squarely to the tube
			e = f.at(ax.o.Add(ax.z.Times(float64(l.Distance))), ax.z.Times(-1))
		}
		if !(e > 0) {
			return nil, fault.New(fault.Usage, "plan-output", "Measure the lux outside the lamp.", "%s: lamp %s: at %g m one is inside the lamp", at(s.Plan.name, s.Plan.where.line("lamp")), l.Name, float64(l.Distance))
		}
		f.scale(float64(l.Lux) / e)
	}
	f.scale((-l.GelLoss).Factor())
	if l.Measured != nil {
		f.scale(l.Measured.Factor())
	}
	if l.Diffusion != nil {
		f = diffused(f, l.Diffusion)
	}
	return f, nil
}

// checkPlaces refuses lamps inside things and places inside lamps.
func (s *Scene) checkPlaces() error {
	p := s.Plan
	for i := range p.Lamps {
		l := &p.Lamps[i]
		o := vecOf(l.At)
		key := fmt.Sprintf("lamp.%d.at", i)
		for k := range s.solids {
			if s.solids[k].inside(o) {
				return p.fault(key, "plan-inside", "Move one of them.", "lamp %s stands inside %s", l.Name, s.solids[k].name)
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
