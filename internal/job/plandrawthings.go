package job

import (
	"fmt"
	"image/color"
	"math"

	"lampwise/internal/draw"
	"lampwise/internal/light"
)

func (s *sheet) things(outline func(*light.ThingPlan) [][2]float64) {
	for i := range s.out.scene.Plan.Things {
		t := &s.out.scene.Plan.Things[i]
		pts := outline(t)
		s.Shape(pts, draw.Style{Fill: draw.White, Opacity: 0.6})
		s.Shape(pts, draw.Style{Stroke: draw.Hairline, Width: 0.3, Hatch: true})
		s.Shape(pts, draw.Style{Stroke: draw.Pencil, Width: 0.25})
		if t.Quiet {
			continue
		}
		var x, y float64
		for _, q := range pts {
			x += q[0] / float64(len(pts))
			y += q[1] / float64(len(pts))
		}
		s.labels = append(s.labels, func() { s.Label(x, y, 1.5, 2.5, draw.Pencil, t.Name, s.frame) })
	}
}

// person draws the subject: the head with its nose to where it faces, the
// shoulders, and in the side view the body down to the floor.
func (s *sheet) person() {
	sc := s.out.scene
	head := sc.Head()
	face := sc.Places[0].Normal.Add(sc.Places[1].Normal) // the cheeks' mean is ahead
	u, v := s.flat(face)
	l := math.Hypot(u, v)
	if l < 1e-6 {
		u, v, l = 0, -1, 1
	}
	u, v = u/l, v/l
	hu, hv := s.flat(head)
	line := draw.Style{Stroke: draw.Black, Width: 0.35, Fill: draw.White}
	if s.side {
		s.Shape([][2]float64{s.at(hu-0.11, hv-0.2), s.at(hu+0.11, hv-0.2), s.at(hu+0.13, 0.02), s.at(hu-0.13, 0.02)}, line)
	} else {
		var pts [][2]float64
		for k := range 24 {
			sin, cos := math.Sincos(2 * math.Pi * float64(k) / 24)
			a, b := 0.23*cos, 0.11*sin // across, along
			pts = append(pts, s.at(hu-v*a+u*b, hv+u*a+v*b))
		}
		s.Shape(pts, line)
	}
	c := s.at(hu, hv)
	s.Circle(c[0], c[1], s.mm(0.1), line)
	nose := s.at(hu+0.15*u, hv+0.15*v)
	a, b := s.at(hu+0.09*u-0.03*v, hv+0.09*v+0.03*u), s.at(hu+0.09*u+0.03*v, hv+0.09*v-0.03*u)
	s.Shape([][2]float64{a, nose, b}, draw.Style{Stroke: draw.Black, Width: 0.35, Open: true})
	r := s.mm(0.25)
	s.Keep(c[0]-r, c[1]-r, c[0]+r, c[1]+r)
	s.labels = append(s.labels, func() { s.Label(c[0], c[1], r*0.8, 3, draw.Black, "subject", s.frame) })
}

func (s *sheet) camera() {
	sc := s.out.scene
	eye := sc.Eye()
	k := sc.Plan.Camera.Look
	u, v := s.flat(light.Vec{X: float64(k[0]), Y: float64(k[1]), Z: float64(k[2])}.Sub(eye))
	l := math.Hypot(u, v)
	u, v = u/l, v/l
	eu, ev := s.flat(eye)
	at := func(along, across float64) [2]float64 { return s.at(eu+along*u-across*v, ev+along*v+across*u) }
	body := draw.Style{Fill: draw.Black}
	s.Shape([][2]float64{at(-0.2, -0.07), at(-0.05, -0.07), at(-0.05, 0.07), at(-0.2, 0.07)}, body)
	s.Shape([][2]float64{at(-0.05, -0.03), at(0, -0.055), at(0, 0.055), at(-0.05, 0.03)}, body)
	c := at(-0.1, 0)
	if s.side {
		foot := s.at(eu-0.1*u, 0)
		s.Shape([][2]float64{c, foot}, draw.Style{Stroke: draw.Pencil, Width: 0.25, Open: true})
	}
	r := s.mm(0.12)
	s.Keep(c[0]-r, c[1]-r, c[0]+r, c[1]+r)
	name := fmt.Sprintf("camera, %.3g mm", s.out.Lens.Focal)
	s.labels = append(s.labels, func() { s.Label(c[0], c[1], r, 3, draw.Black, name, s.frame) })
}

// backgroundMark shows where the background is read.
func (s *sheet) backgroundMark() {
	r := s.out.reading(light.Background)
	c := s.place(light.Vec{X: r.At[0], Y: r.At[1], Z: r.At[2]})
	for _, d := range [][2]float64{{1, 1}, {1, -1}} {
		s.Shape([][2]float64{{c[0] - 1.3*d[0], c[1] - 1.3*d[1]}, {c[0] + 1.3*d[0], c[1] + 1.3*d[1]}}, draw.Style{Stroke: draw.Black, Width: 0.4, Open: true})
	}
	s.Keep(c[0]-1.5, c[1]-1.5, c[0]+1.5, c[1]+1.5)
	s.labels = append(s.labels, func() { s.Label(c[0], c[1], 2, 2.8, draw.Black, "background", s.frame) })
}

// lamps draws each lamp's face to scale, where it points, and its number.
func (s *sheet) lamps() {
	sc := s.out.scene
	for i := range sc.Plan.Lamps {
		l := &sc.Plan.Lamps[i]
		o, z, x, y := sc.Axis(i)
		c := s.place(o)
		ink := draw.PaperLamp(i)
		line := draw.Style{Stroke: ink, Width: 0.45, Fill: draw.Lamp(i), Opacity: 0.75}
		corner := func(a, b float64) [2]float64 { return s.place(o.Add(x.Times(a)).Add(y.Times(b))) }
		size := func(k int) float64 {
			if k < len(l.Size) {
				return float64(l.Size[k]) / 2
			}
			return 0.04
		}
		reach := 2.2
		switch l.Shape {
		case light.ShapeBall:
			s.Circle(c[0], c[1], math.Max(1.2, s.mm(size(0))), line)
			reach = s.mm(size(0))
		case light.ShapeDisc:
			var pts [][2]float64
			r := math.Max(size(0), 1.2*s.scale/1000)
			for k := range 24 {
				sin, cos := math.Sincos(2 * math.Pi * float64(k) / 24)
				pts = append(pts, corner(r*cos, r*sin))
			}
			s.Shape(pts, draw.Style{Stroke: ink, Width: 0.9, Fill: draw.Lamp(i)})
		case light.ShapeTube:
			s.Shape([][2]float64{corner(-size(0), 0), corner(size(0), 0)}, draw.Style{Stroke: ink, Width: 1.1, Open: true})
		case light.ShapeRect:
			s.Shape([][2]float64{corner(-size(0), -size(1)), corner(size(0), -size(1)), corner(size(0), size(1)), corner(-size(0), size(1))}, draw.Style{Stroke: ink, Width: 1.0, Fill: draw.Lamp(i), Opacity: 0.5})
		default:
			s.Circle(c[0], c[1], 1.4, line)
		}
		if d := l.Diffusion; d != nil {
			hx, hy := float64(d.Size[0])/2, float64(d.Size[1])/2
			s.Shape([][2]float64{corner(-hx, -hy), corner(hx, -hy), corner(hx, hy), corner(-hx, hy)}, draw.Style{Stroke: ink, Width: 0.6, Dash: []float64{1, 0.8}})
		}
		if l.Shape != light.ShapeBall && l.Shape != light.ShapeTube {
			tip := s.place(o.Add(z.Times(0.45)))
			s.arrow(c, tip, ink)
		}
		if s.side && !l.Ambient {
			foot := s.at(o.Y, 0)
			s.Shape([][2]float64{c, foot}, draw.Style{Stroke: draw.Hairline, Width: 0.2, Dash: []float64{0.8, 0.8}, Open: true})
		}
		s.Keep(c[0]-1.6, c[1]-1.6, c[0]+1.6, c[1]+1.6)
		name := fmt.Sprintf("%d %s", i+1, l.Name)
		s.labels = append([]func(){func() { s.Label(c[0], c[1], math.Max(2.2, reach), 3.2, ink, name, s.frame) }}, s.labels...)
	}
}

func (s *sheet) arrow(from, to [2]float64, ink color.RGBA) {
	d := math.Hypot(to[0]-from[0], to[1]-from[1])
	if d < 1 {
		return // it points at the reader, or away
	}
	u, v := (to[0]-from[0])/d, (to[1]-from[1])/d
	s.Shape([][2]float64{from, to}, draw.Style{Stroke: ink, Width: 0.35, Open: true})
	s.Shape([][2]float64{{to[0] - 1.8*u - 0.8*v, to[1] - 1.8*v + 0.8*u}, to, {to[0] - 1.8*u + 0.8*v, to[1] - 1.8*v - 0.8*u}}, draw.Style{Stroke: ink, Width: 0.35, Open: true})
}
