package job

import (
	"fmt"
	"math"

	"lampwise/internal/draw"
	"lampwise/internal/light"
	"lampwise/internal/unit"
)

// contourReach is how far the contours go, in stops from the lux that the
// exposure calls grey.
const contourReach = 8

// isolux maps the plane that the camera sees lit: upright at the eyes' height,
// facing the camera.
func (out *Planned) isolux(step float64) *light.Map {
	s := out.scene
	n := s.Eye().Sub(s.Head())
	n.Z = 0
	if n.Length() < 1e-6 {
		n = light.Vec{Y: -1}
	}
	return s.Isolux(step, s.Head().Z, n.Unit())
}

// clipped cuts a polygon at the room's outline (Sutherland and Hodgman, 1974).
func (s *sheet) clipped(pts [][2]float64) [][2]float64 {
	for side := range 4 {
		inside := func(p [2]float64) float64 {
			switch side {
			case 0:
				return p[0]
			case 1:
				return s.w - p[0]
			case 2:
				return p[1]
			}
			return s.h - p[1]
		}
		var out [][2]float64
		for i, b := range pts {
			a := pts[(i+len(pts)-1)%len(pts)]
			da, db := inside(a), inside(b)
			if (da >= 0) != (db >= 0) {
				t := da / (da - db)
				out = append(out, [2]float64{a[0] + t*(b[0]-a[0]), a[1] + t*(b[1]-a[1])})
			}
			if db >= 0 {
				out = append(out, b)
			}
		}
		pts = out
	}
	return pts
}

func (s *sheet) inRoom(pts [][2]float64, st draw.Style) {
	var out [][2]float64
	for _, p := range s.clipped(pts) {
		out = append(out, s.at(p[0], p[1]))
	}
	if len(out) > 2 {
		s.Shape(out, st)
	}
}

// cone draws what the lens sees and the part of it that is sharp.
func (s *sheet) cone() {
	sc := s.out.scene
	eye := sc.Eye()
	look := light.Vec{X: float64(sc.Plan.Camera.Look[0]), Y: float64(sc.Plan.Camera.Look[1]), Z: float64(sc.Plan.Camera.Look[2])}.Sub(eye)
	u, v := s.flat(look)
	ex, ey := s.flat(eye)
	along := math.Atan2(v, u)
	half := s.out.Lens.Horizontal / 2
	if s.side {
		half = s.out.Lens.Vertical / 2
	}
	half *= math.Pi / 180
	reach := 3 * (s.w + s.h)
	wedge := func(from, to float64) [][2]float64 {
		var pts [][2]float64
		add := func(a, d float64) {
			// The sharp range is a slab square to the lens's axis.
			d /= math.Cos(a - along)
			pts = append(pts, [2]float64{ex + d*math.Cos(a), ey + d*math.Sin(a)})
		}
		add(along-half, from)
		add(along-half, to)
		add(along+half, to)
		add(along+half, from)
		return pts
	}
	s.inRoom(wedge(0.01, reach), draw.Style{Fill: draw.Tint})
	far := reach
	if f := s.out.Lens.Far; f != nil {
		far = math.Min(*f, reach)
	}
	s.inRoom(wedge(s.out.Lens.Near, far), draw.Style{Fill: draw.SharpTint})
	for _, a := range []float64{along - half, along + half} {
		end := s.clipped([][2]float64{{ex, ey}, {ex + reach*math.Cos(a), ey + reach*math.Sin(a)}, {ex + reach*math.Cos(a), ey + reach*math.Sin(a)}})
		if len(end) > 1 {
			var pts [][2]float64
			for _, p := range end[:2] {
				pts = append(pts, s.at(p[0], p[1]))
			}
			s.Shape(pts, draw.Style{Stroke: draw.Pencil, Width: 0.2, Dash: []float64{2, 1.2}, Open: true})
		}
	}
}

// onLine writes a line's name where it runs free of what else is drawn; nowhere
// where it runs free nowhere.
func (s *sheet) onLine(pts [][2]float64, name string) {
	if len(pts) <= 6 {
		return
	}
	w := draw.Width(name, 2.4)
	left, top := s.at(0, s.h)[0], s.at(0, s.h)[1]
	right, bottom := s.at(s.w, 0)[0], s.at(s.w, 0)[1]
	for k := range len(pts) {
		q := pts[(len(pts)/3+k)%len(pts)]
		box := [4]float64{q[0] - w/2, q[1] - 1.4, q[0] + w/2, q[1] + 1.4}
		if box[0] > left && box[1] > top && box[2] < right && box[3] < bottom && s.Free(box[0], box[1], box[2], box[3]) {
			s.Words(q[0], q[1]+0.9, 2.4, draw.Middle, draw.Pencil, name)
			s.Keep(box[0], box[1], box[2], box[3])
			return
		}
	}
}

// contours draws lines of equal light, a stop apart.
func (s *sheet) contours() {
	m := s.out.isolux(0.02)
	for stop := -contourReach; stop <= contourReach; stop++ {
		lux := s.out.Exposure.GreyLux * unit.Stop(stop).Factor()
		st := draw.Style{Stroke: draw.Pencil, Width: 0.15, Open: true}
		if stop == 0 {
			st.Width = 0.4
		}
		for _, c := range m.Contours(lux) {
			if len(c.Points) < 50 {
				continue // a speck, or the inside of a thing
			}
			var pts [][2]float64
			for i, p := range c.Points {
				// Every tenth of a metre is enough on paper.
				if i%4 == 0 || i == len(c.Points)-1 {
					pts = append(pts, s.at(p[0], p[1]))
				}
			}
			s.Shape(pts, st)
			name := minus(fmt.Sprintf("%+d", stop))
			if stop == 0 {
				name = "0"
			}
			s.late = append(s.late, func() { s.onLine(pts, name) })
		}
	}
}
