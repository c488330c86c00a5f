package job

import (
	"fmt"
	"image/color"
	"math"
	"os"
	"path/filepath"

	"lampwise/internal/draw"
	"lampwise/internal/light"
	"lampwise/internal/unit"
)

// plandraw.go draws a plan to scale on A4 sheets: the room from above with the
// light's contours, from the side, and the predicted stop ladder.

// A4, lying.
const (
	sheetW, sheetH = 297.0, 210.0
	sheetMargin    = 10.0
	legendW        = 92.0
	titleH         = 16.0
	footH          = 20.0
)

// drawScales are the scales that a rule has.
var drawScales = []float64{10, 20, 25, 30, 40, 50, 75, 100, 125, 150, 200, 250, 500}

// sheet is a drawing in progress: room metres to paper millimetres.
type sheet struct {
	*draw.Paper
	out    *Planned
	scale  float64 // 1:scale
	ox, oy float64 // of the room's 0, 0 (lower left), mm
	w, h   float64 // of what is drawn, m
	frame  [4]float64
	side   bool
	labels []func()
}

// at brings a place of the drawing (metres right and up) to paper.
func (s *sheet) at(u, v float64) [2]float64 {
	k := 1000 / s.scale
	return [2]float64{s.ox + k*u, s.oy - k*v}
}

func (s *sheet) mm(metres float64) float64 { return metres * 1000 / s.scale }

func newSheet(out *Planned, w, h float64, side bool) *sheet {
	s := &sheet{Paper: draw.NewPaper(sheetW, sheetH), out: out, w: w, h: h, side: side}
	availW, availH := sheetW-2*sheetMargin-legendW-12, sheetH-2*sheetMargin-titleH-footH
	s.scale = drawScales[len(drawScales)-1]
	for _, k := range drawScales {
		if w*1000/k <= availW-8 && h*1000/k <= availH-8 {
			s.scale = k
			break
		}
	}
	s.ox = sheetMargin + 6 + (availW-s.mm(w))/2
	s.oy = sheetMargin + titleH + (availH+s.mm(h))/2
	s.frame = [4]float64{sheetMargin, sheetMargin + titleH - 4, sheetW - sheetMargin - legendW - 2, sheetH - sheetMargin - footH + 4}
	return s
}

// DrawPlan writes the drawings into a folder and says where they are.
func DrawPlan(out *Planned, dir string) (map[string]string, error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, storageFault(dir, err)
	}
	files := map[string]string{}
	for _, d := range []struct {
		name, file string
		make       func() []byte
	}{
		{"plan", "plan.svg", func() []byte { return drawAbove(out) }},
		{"side view", "side.svg", func() []byte { return drawSide(out) }},
		{"stop ladder", "ladder.svg", func() []byte { return drawLadder(out) }},
	} {
		path := filepath.Join(dir, d.file)
		if err := writeFile(path, true, d.make()); err != nil {
			return nil, err
		}
		files[d.name] = path
	}
	return files, nil
}

// contourStops are the contours' steps, in stops from the lux that the
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

func drawAbove(out *Planned) []byte {
	p := out.scene.Plan
	s := newSheet(out, float64(p.Room.Width), float64(p.Room.Depth), false)
	s.title("plan, seen from above")
	// The depth of field and the lens's cone lie under everything.
	s.cone()
	s.contours()
	s.things(func(t *light.ThingPlan) [][2]float64 {
		sin, cos := math.Sincos(float64(t.Turn.Radian()))
		var pts [][2]float64
		for _, c := range [][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
			x, y := c[0]*float64(t.Size[0])/2, c[1]*float64(t.Size[1])/2
			pts = append(pts, s.at(float64(t.At[0])+cos*x-sin*y, float64(t.At[1])+sin*x+cos*y))
		}
		return pts
	})
	s.walls()
	s.cables()
	s.person()
	s.camera()
	s.backgroundMark()
	s.lamps()
	s.flush()
	s.legend(true)
	return s.Bytes()
}

func drawSide(out *Planned) []byte {
	p := out.scene.Plan
	s := newSheet(out, float64(p.Room.Depth), float64(p.Room.Height), true)
	s.title("seen from the right")
	s.cone()
	s.things(func(t *light.ThingPlan) [][2]float64 {
		sin, cos := math.Sincos(float64(t.Turn.Radian()))
		half := (math.Abs(sin)*float64(t.Size[0]) + math.Abs(cos)*float64(t.Size[1])) / 2
		y, z, hz := float64(t.At[1]), float64(t.At[2]), float64(t.Size[2])/2
		return [][2]float64{s.at(y-half, z-hz), s.at(y+half, z-hz), s.at(y+half, z+hz), s.at(y-half, z+hz)}
	})
	s.walls()
	s.person()
	s.camera()
	s.backgroundMark()
	s.lamps()
	s.flush()
	s.legend(false)
	return s.Bytes()
}

// flat is where a place of the room falls in the drawing, in metres.
func (s *sheet) flat(v light.Vec) (u, w float64) {
	if s.side {
		return v.Y, v.Z
	}
	return v.X, v.Y
}

func (s *sheet) place(v light.Vec) [2]float64 {
	u, w := s.flat(v)
	return s.at(u, w)
}

func (s *sheet) title(view string) {
	title := s.out.Title
	if title == "" {
		title = filepath.Base(s.out.File)
	}
	s.Words(sheetMargin, sheetMargin+6, 6, draw.Start, draw.Black, title)
	s.Words(sheetMargin, sheetMargin+11.5, 3.4, draw.Start, draw.Pencil, fmt.Sprintf("%s · 1 : %.0f on A4 · lengths in metres", view, s.scale))
}

// walls draws the room's outline with its measures.
func (s *sheet) walls() {
	const thick = 1.6
	a, b := s.at(0, 0), s.at(s.w, s.h)
	x0, y0, x1, y1 := a[0], b[1], b[0], a[1]
	for _, w := range [][4]float64{{x0 - thick, y0 - thick, x1 + thick, y0}, {x0 - thick, y1, x1 + thick, y1 + thick}, {x0 - thick, y0, x0, y1}, {x1, y0, x1 + thick, y1}} {
		s.Shape([][2]float64{{w[0], w[1]}, {w[2], w[1]}, {w[2], w[3]}, {w[0], w[3]}}, draw.Style{Fill: draw.Black})
		s.Keep(w[0], w[1], w[2], w[3])
	}
	s.Words((x0+x1)/2, y1+thick+4.2, 3, draw.Middle, draw.Pencil, fmt.Sprintf("%.2f m", s.w))
	s.Words(x0-thick-1.5, (y0+y1)/2, 3, draw.End, draw.Pencil, fmt.Sprintf("%.2f m", s.h))
	// A metre to measure by.
	k := s.mm(1)
	s.Shape([][2]float64{{x0, y1 + thick + 7}, {x0 + k, y1 + thick + 7}}, draw.Style{Stroke: draw.Black, Width: 0.5, Open: true})
	for _, x := range []float64{x0, x0 + k} {
		s.Shape([][2]float64{{x, y1 + thick + 6}, {x, y1 + thick + 8}}, draw.Style{Stroke: draw.Black, Width: 0.3, Open: true})
	}
	s.Words(x0+k+1.5, y1+thick+8, 2.8, draw.Start, draw.Pencil, "1 m")
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
			var pts [][2]float64
			for i, p := range c.Points {
				// Every tenth of a metre is enough on paper.
				if i%4 == 0 || i == len(c.Points)-1 {
					pts = append(pts, s.at(p[0], p[1]))
				}
			}
			if len(c.Points) < 50 {
				continue // a speck, or the inside of a thing
			}
			s.Shape(pts, st)
			name := fmt.Sprintf("%+d", stop)
			if stop == 0 {
				name = "0"
			}
			// Where the line runs free of what else is drawn.
			q := pts[len(pts)/3]
			s.labels = append(s.labels, func() {
				if w := draw.Width(name, 2.4); len(pts) > 6 {
					s.Words(q[0], q[1]+0.9, 2.4, draw.Middle, draw.Pencil, name)
					s.Keep(q[0]-w/2, q[1]-1.4, q[0]+w/2, q[1]+1.4)
				}
			})
		}
	}
}

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

// cables run from each lamp straight to the nearest wall and along the walls
// to its circuit's socket, the shorter way round.
func (s *sheet) cables() {
	p := s.out.scene.Plan
	for i := range p.Lamps {
		for k := range p.Circuits {
			c := &p.Circuits[k]
			if p.Lamps[i].Circuit != c.Name || c.At == nil {
				continue
			}
			o, _, _, _ := s.out.scene.Axis(i)
			path, metres := cableRun(s.w, s.h, [2]float64{o.X, o.Y}, [2]float64{float64(c.At[0]), float64(c.At[1])}, 0.04+0.02*float64(i))
			var pts [][2]float64
			for _, q := range path {
				pts = append(pts, s.at(q[0], q[1]))
			}
			s.Shape(pts, draw.Style{Stroke: draw.PaperLamp(i), Width: 0.22, Dash: []float64{0.5, 0.9}, Open: true})
			s.out.Lamps[i].Cable = metres + math.Max(0, o.Z)
		}
	}
	for k := range p.Circuits {
		c := &p.Circuits[k]
		if c.At == nil {
			continue
		}
		q := s.at(float64(c.At[0]), float64(c.At[1]))
		s.Circle(q[0], q[1], 1.1, draw.Style{Stroke: draw.Black, Width: 0.35, Fill: draw.White})
		s.Circle(q[0], q[1], 0.35, draw.Style{Fill: draw.Black})
		s.Keep(q[0]-1.2, q[1]-1.2, q[0]+1.2, q[1]+1.2)
		s.labels = append(s.labels, func() { s.Label(q[0], q[1], 1.6, 2.5, draw.Pencil, "socket, "+c.Name, s.frame) })
	}
}

// cableRun is a way from a lamp to a socket along the walls of a room of w×d,
// gap metres from them, and its length on the floor.
func cableRun(w, d float64, lamp, socket [2]float64, gap float64) (path [][2]float64, metres float64) {
	// A place on the walls by how far round it is, anticlockwise from 0, 0.
	round := 2 * (w + d)
	onWall := func(p [2]float64) float64 {
		type wall struct{ away, at float64 }
		best := wall{math.Inf(1), 0}
		for _, c := range []wall{{p[1], p[0]}, {w - p[0], w + p[1]}, {d - p[1], w + d + (w - p[0])}, {p[0], 2*w + d + (d - p[1])}} {
			if c.away < best.away {
				best = c
			}
		}
		return math.Mod(best.at, round)
	}
	place := func(t float64) [2]float64 {
		t = math.Mod(t+round, round)
		switch {
		case t < w:
			return [2]float64{math.Min(math.Max(t, gap), w-gap), gap}
		case t < w+d:
			return [2]float64{w - gap, math.Min(math.Max(t-w, gap), d-gap)}
		case t < 2*w+d:
			return [2]float64{math.Min(math.Max(2*w+d-t, gap), w-gap), d - gap}
		}
		return [2]float64{gap, math.Min(math.Max(round-t, gap), d-gap)}
	}
	a, b := onWall(lamp), onWall(socket)
	ahead := math.Mod(b-a+round, round)
	path = [][2]float64{lamp, place(a)}
	corners := []float64{0, w, w + d, 2*w + d}
	if ahead <= round/2 {
		for k := range 8 {
			if c := corners[k%4] + round*float64(k/4); c > a && c < a+ahead {
				path = append(path, place(c))
			}
		}
	} else {
		for k := 7; k >= 0; k-- {
			if c := corners[k%4] + round*float64(k/4) - round; c < a && c > a-(round-ahead) {
				path = append(path, place(c))
			}
		}
	}
	path = append(path, place(b), socket)
	for i := 1; i < len(path); i++ {
		metres += math.Hypot(path[i][0]-path[i-1][0], path[i][1]-path[i-1][1])
	}
	return path, metres
}

// flush writes the labels, lamps first: they must be found.
func (s *sheet) flush() {
	for _, f := range s.labels {
		f()
	}
}
