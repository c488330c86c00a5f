package job

import (
	"fmt"
	"math"
	"os"
	"path/filepath"

	"lampwise/internal/draw"
	"lampwise/internal/light"
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
	late   []func() // the lines' names, where the others leave room
}

// at brings a place of the drawing (metres right and up) to paper.
func (s *sheet) at(u, v float64) [2]float64 {
	k := 1000 / s.scale
	return [2]float64{s.ox + k*u, s.oy - k*v}
}

func (s *sheet) mm(metres float64) float64 { return metres * 1000 / s.scale }

func newSheet(out *Planned, w, h float64, side bool) *sheet {
	return newSheetIn(out, w, h, side, sheetW, sheetH, [4]float64{sheetMargin + 6, sheetMargin + titleH, sheetW - sheetMargin - legendW - 6, sheetH - sheetMargin - footH})
}

// newSheetIn draws on a paper of paperW by paperH mm into the box (left, top,
// right, bottom), in the middle of it.
func newSheetIn(out *Planned, w, h float64, side bool, paperW, paperH float64, box [4]float64) *sheet {
	s := &sheet{Paper: draw.NewPaper(paperW, paperH), out: out, w: w, h: h, side: side}
	availW, availH := box[2]-box[0], box[3]-box[1]
	s.scale = drawScales[len(drawScales)-1]
	for _, k := range drawScales {
		if w*1000/k <= availW-8 && h*1000/k <= availH-8 {
			s.scale = k
			break
		}
	}
	s.ox = box[0] + (availW-s.mm(w))/2
	s.oy = box[1] + (availH+s.mm(h))/2
	s.frame = [4]float64{box[0] - 6, box[1] - 4, box[2] + 4, box[3] + 4}
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

func drawAbove(out *Planned) []byte {
	p := out.scene.Plan
	s := newSheet(out, float64(p.Room.Width), float64(p.Room.Depth), false)
	s.title("plan, seen from above")
	// The depth of field and the lens's cone lie under everything.
	s.cone()
	s.contours()
	s.above()
	s.legend(true)
	return s.Bytes()
}

// drawAboveSmall is the plan on a paper of w by h mm: where things stand, no
// light and no figures.
func drawAboveSmall(out *Planned, w, h float64) []byte {
	p := out.scene.Plan
	s := newSheetIn(out, float64(p.Room.Width), float64(p.Room.Depth), false, w, h, [4]float64{13, 0, w - 2, h - 9})
	s.cone()
	s.above()
	return s.Bytes()
}

// above draws everything that stands in the room, from above.
func (s *sheet) above() {
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

// flush writes the labels, lamps first: they must be found.
func (s *sheet) flush() {
	for _, f := range append(s.labels, s.late...) {
		f()
	}
}
