package light

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"sync"

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

// Scene is a plan made ready to compute with. Once made it says the same for
// ever, and many may ask it at a time.
type Scene struct {
	Plan   *Plan
	Places []Place

	w, d, h  float64
	reflect  [6]float64
	lamps    []sceneLamp
	solids   []solid
	skull    solid
	features []solid // of the face
	bodies   []solid // of lamps
	patches  []patch
	raw      []float64     // what patch i sees of patch j, row by row
	shares   []float64     // the same past the lamps' bodies
	lit      [][]float64   // direct light on each patch, for each lamp at full level
	uneven   [][][]float64 // the same by a patch's cells, where it differs across it
	exitance [][]float64   // of each patch, for each lamp at full level
	webs     map[string]Distribution

	keeping     sync.Mutex // over views
	views       map[seat]*view
	earlier     map[seat]*view // of the scene that this one was made from
	earlierLamp []int
}

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
	t.lit, t.uneven = make([][]float64, len(t.lamps)), make([][][]float64, len(t.lamps))
	t.exitance = make([][]float64, len(t.lamps))
	t.makeBodies()
	alike := slices.Equal(t.bodies, s.bodies)
	if t.shares = s.shares; !alike {
		t.mask() // a large lamp hides other parts of the walls
	}
	was := make([]int, len(t.lamps))
	for l := range t.lamps {
		was[l] = -1
		for k := range s.lamps {
			if same(&p.Lamps[l], &old.Lamps[k]) && *t.lamps[l].face.axis() == *s.lamps[k].face.axis() {
				was[l] = k
				t.lit[l], t.uneven[l] = s.lit[k], s.uneven[k]
				if alike {
					t.exitance[l] = s.exitance[k]
				}
			}
		}
	}
	t.takeViews(s, was)
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
		f, err := s.makeFace(i, webs)
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
	s.makeHead()
	if top := eye.Z - chinDrop - 0.05; top > leastEyes {
		side := ahead.Cross(Vec{0, 0, 1})
		s.solids = append(s.solids, solid{
			name: "body", subject: true, reflectance: 0.1,
			f:  frame{o: Vec{eye.X - 0.03*ahead.X, eye.Y - 0.03*ahead.Y, (top + leastEyes) / 2}, x: side, y: ahead, z: Vec{0, 0, 1}},
			hx: bodyWidth / 2, hy: bodyDepth / 2, hz: (top - leastEyes) / 2,
		})
	}
}

// makeFace places a lamp and sets how much it gives.
func (s *Scene) makeFace(i int, webs map[string]Distribution) (face, error) {
	l := &s.Plan.Lamps[i]
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
		// On its axis: of a tube that is squarely to its length.
		ax := f.axis()
		e := f.at(ax.o.Add(ax.z.Times(float64(l.Distance))), ax.z.Times(-1))
		if !(e > 0) {
			return nil, s.Plan.fault(fmt.Sprintf("lamp.%d.distance", i), "plan-output", "Measure the lux outside the lamp.", "lamp %s: at %g m one is inside the lamp", l.Name, float64(l.Distance))
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
