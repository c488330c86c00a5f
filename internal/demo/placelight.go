package demo

import "math"

// PlaceLight is what a place of the room sends to the camera of each lamp alone at
// its level, in the order of Studio.Lamps: the luminance in the sensor's green
// times π, in lx, so that a matt place in E lx has E times its reflectance. It's
// traced at each spot of the surface with the given number of paths, without the
// lens's glare and without what the pictures smooth.
func PlaceLight(height, paths int) map[string][]float64 {
	sc := placeScene(height)
	out := map[string][]float64{}
	const side = 9
	for _, m := range sc.marks {
		sum := make([]float64, len(sc.lamps))
		for i := range side * side {
			o, d := sc.view.ray(m.x+m.w*(float32(i%side)+0.5)/side, m.y+m.h*(float32(i/side)+0.5)/side)
			h, ok := sc.tracer.tree.nearest(o, d, 0, 100, layerAll)
			if !ok {
				continue
			}
			s := sc.tracer.spotAt(o, d, h)
			block := newBlockers()
			n := s.n
			if s.along != (vec{}) {
				n = s.ng
			}
			round := sc.tracer.gather(s.p, n, s.ng, draw{mix64(uint64(i)), 0, block}, paths)
			var seen light
			for k := range paths {
				sc.tracer.shade(o, d, h, draw{mix64(uint64(i) + 77), k, block}, &round, 0, &seen)
			}
			for l := range sc.lamps {
				for k, w := range levelShares(&sc.lamps[l], sc.lamps[l].Level) {
					p := sc.tracer.first[l] + k
					sum[l] += w * math.Pi * float64(seen[p][1]/sc.tracer.seen[p][sc.tracer.white][1]) / float64(paths)
				}
			}
		}
		for l := range sum {
			sum[l] /= side * side
		}
		out[m.name] = sum
	}
	return out
}

// LampNames are the lamps that PlaceLight tells of.
func LampNames() []string {
	var names []string
	for _, l := range exampleLamps() {
		names = append(names, l.Name)
	}
	return names
}

// placesScene is the room as places are looked up in it.
type placesScene struct {
	lamps  []Lamp
	tracer *tracer
	view   *view
	marks  []mark
}

func placeScene(height int) placesScene {
	lamps := exampleLamps()
	unit := float64(height) / 1080
	b, materials := buildScene(lamps, min(1, max(0.3, unit)))
	s := &Studio{Width: frameWidth(height), Height: height, lamps: lamps}
	v := newView(cameraEye, cameraTarget, cameraAngle, s.Width, s.Height, 0)
	s.w, s.h = s.Width, s.Height
	s.place(v)
	marks := append([]mark(nil), s.marks[:6]...)
	for _, p := range plainSpots {
		x, y, d := v.place(p.at)
		w, h := p.w/(d*v.scale), p.h/(d*v.scale)
		marks = append(marks, mark{p.name, x - w/2, y - h/2, w, h})
	}
	return placesScene{lamps, newTracer(b, materials, makePalette(), colWhite, lamps, sensorBands()), v, marks}
}
