package job

import (
	"fmt"
	"strings"

	"lampwise/internal/draw"
	"lampwise/internal/light"
)

// legend writes beside a drawing what it can't show: each lamp's figures, the
// readings with their doubt, and the cautions.
func (s *sheet) legend(above bool) {
	x := sheetW - sheetMargin - legendW
	y := sheetMargin + 6.0
	line := func(size float64, text string) {
		s.Words(x, y, size, draw.Start, draw.Black, text)
		y += 1.45 * size
	}
	line(3.6, "Lamps: level, stops from grey alone")
	cols := []float64{legendW - 40, legendW - 26, legendW - 13, legendW}
	heads := []string{"level", "face", "shade", "backgr."}
	for i, h := range heads {
		s.Words(x+cols[i], y, 2.5, draw.End, draw.Pencil, h)
	}
	y += 4
	for i, l := range s.out.Lamps {
		s.Circle(x+1.4, y-0.9, 1.3, draw.Style{Stroke: draw.PaperLamp(i), Width: 0.4, Fill: draw.Lamp(i)})
		s.Words(x+4, y, 3, draw.Start, draw.PaperLamp(i), fmt.Sprintf("%d %s", i+1, shorten(l.Name, 24)))
		vals := []string{fmt.Sprintf("%.0f %%", 100*l.Level), stopsShort(l.Stops[light.FaceLit]), stopsShort(l.Stops[light.FaceShade]), stopsShort(l.Stops[light.Background])}
		for k, v := range vals {
			s.Words(x+cols[k], y, 2.8, draw.End, draw.Black, v)
		}
		y += 4.3
	}
	y += 2
	line(3.6, "All together")
	for _, r := range s.out.Readings {
		s.Words(x+4, y, 3, draw.Start, draw.Black, shorten(r.Region, 24))
		s.Words(x+cols[1], y, 2.8, draw.End, draw.Black, fmt.Sprintf("%.0f lx", r.Lux))
		s.Words(x+cols[3], y, 2.8, draw.End, draw.Black, fmt.Sprintf("%s ± %.1f", stopsShort(r.Stops), r.SE))
		y += 4.3
	}
	y += 2
	if above {
		s.key(x, &y)
	}
	e, l := s.out.Exposure, s.out.Lens
	for _, t := range []string{
		fmt.Sprintf("f/%.3g, 1/%.4g s, index %g, ND %.1f stop: grey at %.0f lx", e.F, 1/e.Time, e.Sensitivity, e.ND, e.GreyLux),
		fmt.Sprintf("%.3g mm: %.2f × %.2f m at %.2f m; sharp %.2f m to %s", l.Focal, l.Width, l.Height, l.Distance, l.Near, metresOr(l.Far)),
	} {
		s.Words(x, y, 2.6, draw.Start, draw.Pencil, t)
		y += 3.8
	}
	for _, c := range s.out.Power.Circuits {
		s.Words(x, y, 2.6, draw.Start, draw.Pencil, fmt.Sprintf("circuit %s: %.1f of %.1f A", c.Name, c.Amperes, c.Limit))
		y += 3.8
	}
	// Cautions along the foot, the whole width of it.
	y = sheetH - sheetMargin - 9
	for _, t := range wrapped("Before anything was measured a plan is good to about ±0.5 stop. "+usual+" "+deferral, 190) {
		s.Words(sheetMargin, y, 2.5, draw.Start, draw.Pencil, t)
		y += 3.6
	}
}

// key explains the plan's lines.
func (s *sheet) key(x float64, y *float64) {
	put := func(mark func(y float64), text string) {
		mark(*y - 1)
		s.Words(x+13, *y, 2.6, draw.Start, draw.Pencil, text)
		*y += 4
	}
	band := func(c draw.Style) func(float64) {
		return func(y float64) {
			s.Shape([][2]float64{{x, y - 1.4}, {x + 10, y - 1.4}, {x + 10, y + 1.4}, {x, y + 1.4}}, c)
		}
	}
	put(band(draw.Style{Fill: draw.Tint}), "what the lens sees")
	put(band(draw.Style{Fill: draw.SharpTint}), "sharp")
	put(func(y float64) {
		s.Shape([][2]float64{{x, y}, {x + 10, y}}, draw.Style{Stroke: draw.Pencil, Width: 0.4, Open: true})
	}, "light that the exposure calls grey (upright, eye height,")
	s.Words(x+13, *y-0.6, 2.6, draw.Start, draw.Pencil, "facing the camera); thin lines: a stop apart")
	*y += 3.6
	put(func(y float64) {
		s.Shape([][2]float64{{x, y}, {x + 10, y}}, draw.Style{Stroke: draw.Pencil, Width: 0.25, Dash: []float64{0.5, 0.9}, Open: true})
	}, "cable")
	*y += 1.5
}

func shorten(s string, n int) string {
	r := []rune(s)
	if len(r) > n {
		return string(r[:n-1]) + "…"
	}
	return s
}

func stopsShort(v *float64) string {
	if v == nil {
		return "dark"
	}
	return minus(fmt.Sprintf("%+.1f", *v))
}

func metresOr(v *float64) string {
	if v == nil {
		return "infinity"
	}
	return fmt.Sprintf("%.2f m", *v)
}

// wrapped cuts a text into lines of at most n letters.
func wrapped(text string, n int) []string {
	var out []string
	line := ""
	for _, w := range strings.Fields(text) {
		if len(line)+1+len(w) > n && line != "" {
			out, line = append(out, line), ""
		}
		if line != "" {
			line += " "
		}
		line += w
	}
	return append(out, line)
}
