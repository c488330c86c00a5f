package demo

// Surface is a place of the example's room as a tape measure and a paint chart
// would tell it: where it is, which way it faces, how much it reflects. It
// says nothing of the light there.
type Surface struct {
	Spot
	Box   [4]float64 // in frame pixels: x, y, width, height
	Spots []Spot     // spread evenly over it as the camera sees it; Spot is their mean
}

// Spot is one point of a surface.
type Spot struct {
	At          [3]float64 // m: x to the right, y up, z toward the camera
	Normal      [3]float64
	Reflectance float64 // of the sensor's green channel under an even spectrum, without gloss
}

// BareWall is a place of the back wall where nothing hangs, beside
// the pegboard; PlainBoard one of the pegboard between its tools.
const (
	BareWall   = "bare-wall"
	PlainBoard = "plain-board"
)

// plainSpots are such places: where, how wide and how high.
var plainSpots = []struct {
	name string
	at   vec
	w, h float32
}{
	{BareWall, v3(1.5, 1.5, wallBack), 0.16, 0.16},
	{PlainBoard, v3(-0.85, 1.67, wallBack+0.025), 0.30, 0.09},
}

// Surfaces looks along the camera's rays at the named places of the reference
// pose and at the plain places, for frames of the given height.
func Surfaces(height int) map[string]Surface {
	sc := placeScene(height)
	out := map[string]Surface{}
	for _, m := range sc.marks {
		out[m.name] = sc.tracer.surface(sc.view, m)
	}
	return out
}

// surface samples a box of the picture.
func (t *tracer) surface(v *view, m mark) Surface {
	green := sensorBands()[1]
	out := Surface{Box: [4]float64{float64(m.x), float64(m.y), float64(m.w), float64(m.h)}}
	var at, normal vec
	rho := 0.0
	const n = 9
	for i := range n * n {
		x, y := m.x+m.w*(float32(i%n)+0.5)/n, m.y+m.h*(float32(i/n)+0.5)/n
		o, d := v.ray(x, y)
		h, ok := t.tree.nearest(o, d, 0, 100, layerAll)
		if !ok {
			continue
		}
		p := t.spotAt(o, d, h)
		var sum, all float64
		for w, g := range green {
			all += float64(g)
			for _, k := range p.tints {
				if k.share != 0 {
					sum += float64(k.share * t.palette[k.colour][w] * g)
				}
			}
		}
		at, normal = at.add(p.p), normal.add(p.n)
		rho += sum / all
		out.Spots = append(out.Spots, Spot{plainVec(p.p), plainVec(p.n), sum / all})
	}
	if k := len(out.Spots); k > 0 {
		out.Spot = Spot{plainVec(at.mul(1 / float32(k))), plainVec(normal.unit()), rho / float64(k)}
	}
	return out
}

func plainVec(v vec) [3]float64 { return [3]float64{float64(v.x), float64(v.y), float64(v.z)} }
