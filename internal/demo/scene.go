package demo

// Where things are (metres). The camera looks along −z; the mechanic stands
// behind the bench with the wheel on it, the pegboard is on the wall behind.
const (
	wallBack  = -1.75
	wallLeft  = -1.95
	wallRight = 1.72
	wallFront = 3.6
	ceiling   = 2.5
	benchTop  = 0.955
	focusAt   = 2.33 // from the camera to the mechanic's eyes
)

var (
	cameraEye    = v3(0.06, 1.43, 2.42)
	cameraTarget = v3(0.07, 1.325, 0)
)

const cameraAngle = 27.2 // vertical, degrees: about a 50 mm lens on a 24 mm high sensor

// exampleLamps are the five lamps and the daylight, with the levels of the
// reference mix.
func exampleLamps() []Lamp {
	one := func(s spectrum) []spectrum { return []spectrum{s} }
	const filament = 2750
	var nodes []spectrum
	for _, l := range filamentNodes {
		nodes = append(nodes, planckSpectrum(FilamentKelvin(filament, l)))
	}
	// A beam's frame: y looks from its place to where it points.
	aim := func(from, to vec) frame { return along(from, to) }
	fillCard := along(v3(1.45, 1.75, 1.15), v3(0.05, 1.45, 0.1))
	return []Lamp{
		{
			Name: "key", Level: 0.5, Kelvin: 5500, Duv: 0.002, spectra: one(whiteLED(whitePoint(5500, 0.002))),
			face: emitter{shape: shapeSphere, frame: at(-1.52, 1.98, 0.80), halfX: 0.325, radiance: 3600},
			rise: 0.10, fall: 0.06, warm: 0.015, warmFor: 2.5,
		},
		{
			Name: "fill", Level: 0.6, Kelvin: 4900, Duv: -0.001, spectra: one(whiteLED(whitePoint(4900, -0.001))),
			face: emitter{shape: shapeRect, frame: fillCard, halfX: 0.5, halfZ: 0.35, radiance: 150, hot: 1.8},
			rise: 0.03, fall: 0.03, warm: 0.008, warmFor: 3,
		},
		{
			Name: "rim", Level: 0.7, Kelvin: filament, Filament: true, spectra: nodes,
			face: emitter{shape: shapeDisc, frame: aim(v3(1.20, 2.27, -0.88), v3(-0.12, 1.60, 0.0)), halfX: 0.05, radiance: 100000, beam: 0.36},
			rise: 0.05, fall: 0.05, warm: 0, warmFor: 1,
		},
		{
			Name: "tube", Level: 0.8, Kelvin: 4300, Duv: 0.012, spectra: one(tubeLight(whitePoint(4300, 0.012))),
			face: emitter{shape: shapeTube, frame: at(tubeX, 2.158, -1.62), halfX: 0.58, halfZ: 0.013, radiance: 4200},
			rise: 0.04, fall: 0.02, warm: -0.02, warmFor: 4,
		},
		{
			Name: "tail", Level: 1, spectra: one(whitened(peak(632, 9))),
			face: emitter{shape: shapeDisc, frame: tailFrame, halfX: 0.022, radiance: 330, hot: 5},
			rise: 0.01, fall: 0.01, warm: 0.01, warmFor: 2,
		},
		{
			Name: "daylight", Level: 1, Kelvin: 6900, Ambient: true, spectra: one(daylightSpectrum(6900)),
			face: emitter{shape: shapeRect, frame: doorway, halfX: (doorFront - doorBack) / 2, halfZ: 1.0, radiance: 90},
		},
	}
}

// doorway is the opening's middle; it faces into the room.
var doorway = frame{o: v3(wallRight-0.005, 1.05, (doorBack+doorFront)/2), y: vec{-1, 0, 0}, x: vec{0, 0, 1}, z: vec{0, 1, 0}}

// buildScene puts the room, its things and the mechanic together.
func buildScene(lamps []Lamp, detail float64) (*builder, []material) {
	b := newBuilder()
	for i := range lamps {
		b.layer = layerLamp
		if lamps[i].Name == "tail" {
			b.layer = layerBack
		}
		lamps[i].face.build(b, i)
	}
	m := newMaterials(lamps)
	b.layer = layerBack
	buildRoom(b, m)
	b.layer = layerFigure
	buildBench(b, m)
	buildFigure(b, m, detail)
	return b, m.list
}

// materialSet holds the materials by name; the lamps' faces come first.
type materialSet struct {
	list []material
	id   map[string]int
}

func newMaterials(lamps []Lamp) *materialSet {
	m := &materialSet{id: map[string]int{}}
	for i := range lamps {
		m.put(lamps[i].Name+" face", func(s *spot, _ frame) { s.lamp = int8(i) })
	}
	for _, x := range surfaces() {
		m.put(x.name, x.paint)
	}
	return m
}

func (m *materialSet) put(name string, paint func(*spot, frame)) {
	m.id[name] = len(m.list)
	m.list = append(m.list, material{name, paint})
}

// get gives a material by name; a name that isn't there is a slip of ours.
func (m *materialSet) get(name string) int {
	i, ok := m.id[name]
	if !ok {
		panic("demo: no material " + name)
	}
	return i
}
