package light

import "math"

// diffusionCells is how finely a diffusion frame is cut across: its middle is
// brighter than its rim.
const diffusionCells = 6

// frameFace is a lamp behind a diffusion frame: what the frame catches it gives
// on, in part spread all round as from a matt face, in part straight through.
// Light that passes beside the frame is taken to be flagged off.
type frameFace struct {
	spread   flatFace
	straight face // the lamp behind, its light lessened; nil when all is spread
	opening  flatFace
}

// diffused puts the frame before the lamp, square to its axis.
func diffused(lamp face, d *DiffusionPlan) face {
	ax := lamp.axis()
	fr := frame{o: ax.o.Add(ax.z.Times(float64(d.Distance))), x: ax.x, y: ax.y, z: ax.z}
	f := &frameFace{spread: flatFace{frame: fr, halfX: float64(d.Size[0]) / 2, halfY: float64(d.Size[1]) / 2, nx: diffusionCells, ny: diffusionCells}}
	f.opening = f.spread
	sum := 0.0
	for j := range diffusionCells {
		for i := range diffusionCells {
			p := fr.point(f.spread.halfX*(2*(float64(i)+0.5)/diffusionCells-1), f.spread.halfY*(2*(float64(j)+0.5)/diffusionCells-1), 0)
			e := lamp.at(p, fr.z.Times(-1))
			f.spread.cells = append(f.spread.cells, e)
			sum += e
		}
	}
	mean := sum / (diffusionCells * diffusionCells)
	for i := range f.spread.cells {
		if mean > 0 {
			f.spread.cells[i] /= mean
		}
	}
	// The frame's luminance: what falls on it, what passes, what of that is spread.
	f.spread.luminance = mean * d.Transmission * *d.Spread / math.Pi
	if *d.Spread < 1 {
		lamp.scale(d.Transmission * (1 - *d.Spread))
		f.straight = lamp
	}
	return f
}

func (f *frameFace) at(p, n Vec) float64 {
	e := f.spread.at(p, n)
	if f.straight != nil && f.through(p) {
		e += f.straight.at(p, n)
	}
	return e
}

// through says whether the way from the lamp's middle to p passes the frame's opening.
func (f *frameFace) through(p Vec) bool {
	a, b := f.opening.local(f.straight.axis().o), f.opening.local(p)
	if b.Z <= 0 {
		return false
	}
	t := a.Z / (a.Z - b.Z)
	x, y := a.X+t*(b.X-a.X), a.Y+t*(b.Y-a.Y)
	return math.Abs(x) <= f.opening.halfX && math.Abs(y) <= f.opening.halfY
}

func (f *frameFace) flux() float64 {
	v := math.Pi * f.spread.luminance * f.spread.area()
	if f.straight != nil {
		// What of the lamp's own light meets the frame.
		k := f.opening
		const n = 12
		for i := range n {
			for j := range n {
				q := k.point(k.halfX*(2*(float64(i)+0.5)/n-1), k.halfY*(2*(float64(j)+0.5)/n-1), 0)
				v += f.straight.at(q, k.z.Times(-1)) * k.area() / (n * n)
			}
		}
	}
	return v
}

func (f *frameFace) scale(k float64) {
	f.spread.luminance *= k
	if f.straight != nil {
		f.straight.scale(k)
	}
}
func (f *frameFace) axis() *frame { return &f.spread.frame }
func (f *frameFace) spots() []Vec {
	if f.straight != nil && f.spread.luminance == 0 {
		return f.straight.spots() // nothing shines on the frame itself
	}
	return f.spread.spots()
}
