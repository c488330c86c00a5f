package job

import (
	"fmt"
	"math"

	"lampwise/internal/draw"
)

// lyingLadder is a stop ladder lying on its side, so that it takes a hand's
// breadth of a page: stops from grey across, a row a region, figures to the
// right.
type lyingLadder struct {
	*draw.Paper
	lo, hi, left, right, bottom float64
	figures                     []float64 // where each column of figures ends, mm
}

// Of a lying ladder, mm.
const (
	lyingW         = 190.0
	lyingNames     = 26.0
	lyingFigures   = 54.0
	lyingRow       = 6.4
	lyingHead      = 7.0
	lyingFoot      = 5.0
	lyingMostStops = 14.0
)

// newLyingLadder draws the ruler for so many rows that reaches over all marks
// and the recording's clip; clip and floor are stops from grey, NaN where they
// aren't known.
func newLyingLadder(rows int, marks []float64, clip, floor float64, heads []string) *lyingLadder {
	lo, hi := -5.0, 3.0
	for _, v := range marks {
		lo, hi = math.Min(lo, math.Floor(v-0.3)), math.Max(hi, math.Ceil(v+0.3))
	}
	if !math.IsNaN(clip) {
		hi = math.Max(hi, math.Ceil(clip+0.3))
	}
	l := &lyingLadder{lo: math.Max(lo, hi-lyingMostStops), hi: hi, left: lyingNames, right: lyingW - lyingFigures, bottom: lyingHead + lyingRow*float64(rows)}
	l.Paper = draw.NewPaper(lyingW, l.bottom+lyingFoot)
	for v := l.lo; v <= l.hi; v++ {
		line, name := draw.Style{Stroke: draw.Hairline, Width: 0.15, Open: true}, minus(fmt.Sprintf("%+.0f", v))
		if v == 0 {
			line, name = draw.Style{Stroke: draw.Pencil, Width: 0.5, Open: true}, "grey"
		}
		l.Shape([][2]float64{{l.x(v), lyingHead - 1.5}, {l.x(v), l.bottom}}, line)
		l.Words(l.x(v), lyingHead-2.6, 2.6, draw.Middle, draw.Black, name)
	}
	l.hatch(clip, l.hi, "clips")
	l.hatch(l.lo, math.Min(floor, l.hi), "noise")
	for i, head := range heads {
		l.figures = append(l.figures, l.right+[]float64{22, 38, 53}[i])
		l.Words(l.figures[i], lyingHead-2.6, 2.6, draw.End, draw.Pencil, shorten(head, 12))
	}
	return l
}

// x is where a reading lies, held to the ruler.
func (l *lyingLadder) x(stops float64) float64 {
	return l.left + (math.Max(l.lo, math.Min(l.hi, stops))-l.lo)/(l.hi-l.lo)*(l.right-l.left)
}

func (l *lyingLadder) hatch(from, to float64, words string) {
	if math.IsNaN(from) || math.IsNaN(to) || to-from < 0.05 {
		return
	}
	l.Shape([][2]float64{{l.x(from), lyingHead}, {l.x(to), lyingHead}, {l.x(to), l.bottom}, {l.x(from), l.bottom}}, draw.Style{Stroke: draw.Hairline, Width: 0.2, Hatch: true})
	l.Words((l.x(from)+l.x(to))/2, l.bottom+3.4, 2.5, draw.Middle, draw.Pencil, words)
}

// row draws a row's rail, name and figures, and says how far down it is.
func (l *lyingLadder) row(i int, name string, figures ...string) (y float64) {
	y = lyingHead + lyingRow*(float64(i)+0.5)
	l.Words(l.left-3, y+1.1, 3.3, draw.End, draw.Black, shorten(name, 15))
	l.Shape([][2]float64{{l.left, y}, {l.right, y}}, draw.Style{Stroke: draw.Black, Width: 0.2, Open: true})
	for k, text := range figures {
		l.Words(l.figures[k], y+1.1, 3.1, draw.End, draw.Black, text)
	}
	return y
}

// dot marks a reading, filled or hollow.
func (l *lyingLadder) dot(stops, y float64, filled bool) {
	fill := draw.White
	if filled {
		fill = draw.Black
	}
	l.Circle(l.x(stops), y, 1.3, draw.Style{Stroke: draw.Black, Width: 0.4, Fill: fill})
}

// brackets mark what a reading may be.
func (l *lyingLadder) brackets(from, to, y float64) {
	for _, end := range []struct{ stops, inward float64 }{{from, 1.1}, {to, -1.1}} {
		u := l.x(end.stops)
		l.Shape([][2]float64{{u + end.inward, y - 2.1}, {u, y - 2.1}, {u, y + 2.1}, {u + end.inward, y + 2.1}}, draw.Style{Stroke: draw.Black, Width: 0.45, Open: true})
	}
}
