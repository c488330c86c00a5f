package job

import (
	"fmt"
	"math"

	"lampwise/internal/draw"
)

// lensdraw.go draws what a lens sees on an A4 sheet: the picture with a grown
// person in it, to scale, and the same from the side.

// A standing person, m from the floor: round figures.
const (
	personEyes     = 1.63
	personTall     = 1.75
	personShoulder = 0.23 // half of their width
)

// DrawLens draws a lens's figures; overwrite replaces a file that is there.
func DrawLens(l *LensFigures, file string, overwrite bool) error {
	return writeFile(file, overwrite, lensSheet(l))
}

// lensDrawing is the drawing in progress.
type lensDrawing struct {
	*draw.Paper
	l *LensFigures
}

func lensSheet(l *LensFigures) []byte {
	s := &lensDrawing{draw.NewPaper(sheetW, sheetH), l}
	s.framing([4]float64{sheetMargin, 32, sheetW - sheetMargin, 118})
	s.fromTheSide([4]float64{sheetMargin, 130, sheetW - sheetMargin, sheetH - sheetMargin})
	s.Words(sheetMargin, sheetMargin+6, 6, draw.Start, draw.Black, fmt.Sprintf("%.4g mm at f/%.3g, subject at %.2f m", l.Focal, l.F, l.Distance))
	s.Words(sheetMargin, sheetMargin+11.5, 3.4, draw.Start, draw.Pencil, fmt.Sprintf("sees %.1f° × %.1f° · the picture is %.2f × %.2f m there · a head fills %.0f %% of its height", l.Horizontal, l.Vertical, l.Width, l.Height, 100*l.Head))
	return s.Bytes()
}

// framing is the picture: the person's eyes a third from its top (common
// practice), lower where that would show more under the floor than over it.
func (s *lensDrawing) framing(in [4]float64) {
	l := s.l
	k := math.Min((in[2]-in[0])/l.Width, (in[3]-in[1])/l.Height) // mm a metre
	w, h := k*l.Width, k*l.Height
	x0, y0 := (in[0]+in[2]-w)/2, in[1]
	bottom := math.Max(personEyes-2*l.Height/3, -l.Height/12)
	at := func(x, z float64) [2]float64 { return [2]float64{x0 + w/2 + k*x, y0 + h - k*(z-bottom)} }
	floor := at(0, 0)[1]
	if floor < y0+h {
		s.Shape([][2]float64{{x0, floor}, {x0 + w, floor}, {x0 + w, y0 + h}, {x0, y0 + h}}, draw.Style{Fill: draw.Tint})
	}
	line := draw.Style{Stroke: draw.Pencil, Width: 0.12, Dash: []float64{1, 1}, Open: true}
	for i := 1; i < 3; i++ {
		s.Shape([][2]float64{{x0 + w*float64(i)/3, y0}, {x0 + w*float64(i)/3, y0 + h}}, line)
		s.Shape([][2]float64{{x0, y0 + h*float64(i)/3}, {x0 + w, y0 + h*float64(i)/3}}, line)
	}
	for _, part := range person() {
		var points [][2]float64
		for _, q := range clipped(part, l.Width/2, bottom, bottom+l.Height) {
			points = append(points, at(q[0], q[1]))
		}
		s.Shape(points, draw.Style{Stroke: draw.Black, Width: 0.25, Fill: draw.Tint})
	}
	// How large a point of the background comes out.
	if r := l.Blur * h / 2; r > 0.4 && r < h/2 {
		x, y := x0+math.Max(w/7, r+1), y0+math.Max(h/6, r+1)
		s.Circle(x, y, r, draw.Style{Stroke: draw.Pencil, Width: 0.25, Dash: []float64{0.8, 0.5}})
		s.Words(x, y+r+3.6, 2.6, draw.Middle, draw.Pencil, "a point of the background")
	}
	s.Shape([][2]float64{{x0, y0}, {x0 + w, y0}, {x0 + w, y0 + h}, {x0, y0 + h}}, draw.Style{Stroke: draw.Black, Width: 0.6})
	s.Words(x0+w/2, y0+h+4.4, 3, draw.Middle, draw.Black, fmt.Sprintf("%.2f m", l.Width))
	s.Words(x0+w+1.5, y0+h/2, 3, draw.Start, draw.Black, fmt.Sprintf("%.2f m", l.Height))
}

// person is a standing one, x across and z up from the floor, part by part.
func person() [][][2]float64 {
	egg := func(z, w, h float64) (out [][2]float64) {
		for i := range 48 {
			sin, cos := math.Sincos(2 * math.Pi * float64(i) / 48)
			out = append(out, [2]float64{w * cos, z + h*sin})
		}
		return out
	}
	const sh, neck = personShoulder, personEyes - 0.22
	return [][][2]float64{
		{{-0.055, neck + 0.14}, {0.055, neck + 0.14}, {0.065, neck}, {-0.065, neck}},
		{
			{-0.065, neck + 0.03},
			{0.065, neck + 0.03},
			{sh - 0.06, neck - 0.02},
			{sh - 0.02, neck - 0.05},
			{sh, neck - 0.11},
			{sh + 0.02, 1.10},
			{sh + 0.01, 0.80},
			{sh - 0.06, 0.80},
			{sh - 0.07, 0.92},
			{0.15, 0.05},
			{0.17, 0},
			{0.03, 0},
			{0.03, 0.75},
			{-0.03, 0.75},
			{-0.03, 0},
			{-0.17, 0},
			{-0.15, 0.05},
			{-sh + 0.07, 0.92},
			{-sh + 0.06, 0.80},
			{-sh - 0.01, 0.80},
			{-sh - 0.02, 1.10},
			{-sh, neck - 0.11},
			{-sh + 0.02, neck - 0.05},
			{-sh + 0.06, neck - 0.02},
		},
		egg(personTall-headHeight/2, 0.0775, headHeight/2),
	}
}

// clipped cuts a polygon off at ±x and at z0 and z1 (Sutherland & Hodgman, CACM
// 17(1), 1974).
func clipped(p [][2]float64, x, z0, z1 float64) [][2]float64 {
	for _, side := range []struct {
		axis  int
		limit float64
		sign  float64
	}{{0, -x, 1}, {0, x, -1}, {1, z0, 1}, {1, z1, -1}} {
		in := func(q [2]float64) float64 { return side.sign * (q[side.axis] - side.limit) }
		var out [][2]float64
		for i, a := range p {
			b := p[(i+1)%len(p)]
			u, v := in(a), in(b)
			if u >= 0 {
				out = append(out, a)
			}
			if (u >= 0) != (v >= 0) {
				t := u / (u - v)
				out = append(out, [2]float64{a[0] + t*(b[0]-a[0]), a[1] + t*(b[1]-a[1])})
			}
		}
		p = out
	}
	return p
}

// fromTheSide is the lens's cone over the ground, what is sharp in it, the person
// and the background.
func (s *lensDrawing) fromTheSide(in [4]float64) {
	l := s.l
	far := math.Max(l.Background, l.Distance)
	k := (in[2] - in[0] - 8) / far
	axis := math.Max(personEyes-l.Height/6, l.Height/2-l.Height/12) // as the picture has it
	half := math.Tan(l.Vertical * math.Pi / 360)
	top := math.Max(personTall, axis+half*far) + 0.1
	if kz := (in[3] - in[1] - 14) / top; kz < k {
		k = kz
	}
	x0, floor := in[0]+5, in[3]-9
	at := func(x, z float64) [2]float64 {
		return [2]float64{x0 + k*x, math.Max(in[1], math.Min(floor, floor-k*z))}
	}
	edge := func(x float64, up float64) [2]float64 { return at(x, axis+up*half*x) }
	sharpTo := far
	if l.Far != nil {
		sharpTo = math.Min(far, *l.Far)
	}
	cone := func(from, to float64) [][2]float64 {
		var up, down [][2]float64
		for i := range 25 {
			x := from + (to-from)*float64(i)/24
			up, down = append(up, edge(x, 1)), append([][2]float64{edge(x, -1)}, down...)
		}
		return append(up, down...)
	}
	if l.Near < far {
		s.Shape(cone(l.Near, sharpTo), draw.Style{Fill: draw.SharpTint})
	}
	s.Shape(cone(0, far), draw.Style{Stroke: draw.Pencil, Width: 0.25})
	for _, x := range []float64{l.Near, sharpTo} {
		if x < far {
			s.Shape([][2]float64{edge(x, 1), edge(x, -1)}, draw.Style{Stroke: draw.Pencil, Width: 0.2, Dash: []float64{0.8, 0.5}, Open: true})
		}
	}
	s.Shape([][2]float64{{in[0], floor}, {in[2], floor}}, draw.Style{Stroke: draw.Black, Width: 0.35, Open: true})
	for _, part := range person() {
		var points [][2]float64
		for _, q := range part { // as broad as deep from the side, to half
			points = append(points, at(l.Distance+q[0]/2, q[1]))
		}
		s.Shape(points, draw.Style{Stroke: draw.Black, Width: 0.25, Fill: draw.White})
	}
	s.Shape([][2]float64{at(l.Background, 0), at(l.Background, top)}, draw.Style{Stroke: draw.Black, Width: 0.5, Open: true})
	lens := at(0, axis)
	s.Circle(lens[0], lens[1], 1.6, draw.Style{Stroke: draw.Black, Width: 0.4, Fill: draw.White})
	row := floor + 4
	mark := func(x float64, text string, beside bool) {
		p := at(x, 0)
		s.Shape([][2]float64{{p[0], floor}, {p[0], floor + 1.2}}, draw.Style{Stroke: draw.Black, Width: 0.25, Open: true})
		switch {
		case !beside:
			s.Words(p[0], row, 2.6, draw.Middle, draw.Black, text)
		case p[0]+draw.Width(text, 2.6) < in[2]:
			s.Words(p[0], row, 2.6, draw.Start, draw.Black, text)
		default:
			s.Words(in[2], row, 2.6, draw.End, draw.Black, text)
		}
	}
	near, wall := fmt.Sprintf("%.2f m", l.Distance), fmt.Sprintf("background %.2f m: %.2f m of it across", l.Background, l.BackWidth)
	if math.Abs(l.Background-l.Distance)*k < draw.Width(near, 2.6)/2 {
		near = "" // the sheet's title says it
	}
	mark(l.Distance, near, false)
	mark(l.Background, wall, true)
	text := fmt.Sprintf("sharp from %.2f m on", l.Near)
	if l.Far != nil {
		text = fmt.Sprintf("sharp from %.2f to %.2f m", l.Near, *l.Far)
	}
	s.Words(in[0], in[3], 2.8, draw.Start, draw.Pencil, fmt.Sprintf("shaded: %s (circle %.4f mm, two pixels) · hyperfocal %.3g m · background blurred to %.1f %% of the picture's height · 1 : %.0f on A4", text, l.Circle, l.Hyperfocal, 100*l.Blur, 1000/k))
}
