package job

import (
	"fmt"
	"math"

	"lampwise/internal/draw"
)

// setcardladder.go draws the ladder of a set card, lying, so that it takes a
// hand's breadth of the page: a row a region, what it is to read as a mark with
// brackets for how far it may be off.

// cardRow is a region on the card.
type cardRow struct {
	Region  string
	Reads   float64 // stops from grey, in the reference mix
	Want    float64 // what it is to read; the reference's where nothing else is wanted
	Within  float64 // either side
	Planned bool    // Want is a plan's target
	Percent float64 // of the camera's waveform (narrow range), at Want
	Screen  float64 // of the finished signal, per cent, at Want
}

// Of the card's ladder, mm.
const (
	cardW         = 190.0
	cardNames     = 26.0
	cardFigures   = 54.0
	cardRowH      = 6.4
	cardHead      = 7.0
	cardFoot      = 5.0
	cardMostStops = 14.0
)

// drawCardLadder draws the rows; clip and floor are stops from grey, NaN where
// they aren't known.
func drawCardLadder(rows []cardRow, clip, floor float64) []byte {
	lo, hi := -5.0, 3.0
	for _, r := range rows {
		for _, v := range []float64{r.Reads, r.Want - r.Within, r.Want + r.Within} {
			lo, hi = math.Min(lo, math.Floor(v-0.3)), math.Max(hi, math.Ceil(v+0.3))
		}
	}
	if !math.IsNaN(clip) {
		hi = math.Max(hi, math.Ceil(clip+0.3))
	}
	lo = math.Max(lo, hi-cardMostStops)
	bottom := cardHead + cardRowH*float64(len(rows))
	p := draw.NewPaper(cardW, bottom+cardFoot)
	left, right := cardNames, cardW-cardFigures
	x := func(stops float64) float64 { return left + (stops-lo)/(hi-lo)*(right-left) }
	for v := lo; v <= hi; v++ {
		line, name := draw.Style{Stroke: draw.Hairline, Width: 0.15, Open: true}, minus(fmt.Sprintf("%+.0f", v))
		if v == 0 {
			line, name = draw.Style{Stroke: draw.Pencil, Width: 0.5, Open: true}, "grey"
		}
		p.Shape([][2]float64{{x(v), cardHead - 1.5}, {x(v), bottom}}, line)
		p.Words(x(v), cardHead-2.6, 2.6, draw.Middle, draw.Black, name)
	}
	hatch := func(from, to float64, words string) {
		if math.IsNaN(from) || math.IsNaN(to) || to-from < 0.05 {
			return
		}
		p.Shape([][2]float64{{x(from), cardHead}, {x(to), cardHead}, {x(to), bottom}, {x(from), bottom}}, draw.Style{Stroke: draw.Hairline, Width: 0.2, Hatch: true})
		p.Words((x(from)+x(to))/2, bottom+3.4, 2.5, draw.Middle, draw.Pencil, words)
	}
	hatch(clip, hi, "clips")
	hatch(lo, math.Min(floor, hi), "noise")
	for i, head := range []string{"stops", "waveform", "screen"} {
		p.Words(figureAt(right, i), cardHead-2.6, 2.6, draw.End, draw.Pencil, head)
	}
	for i, r := range rows {
		y := cardHead + cardRowH*(float64(i)+0.5)
		p.Words(left-3, y+1.1, 3.3, draw.End, draw.Black, shorten(r.Region, 15))
		p.Shape([][2]float64{{left, y}, {right, y}}, draw.Style{Stroke: draw.Black, Width: 0.2, Open: true})
		at := func(v float64) float64 { return x(math.Max(lo, math.Min(hi, v))) }
		for _, side := range []float64{-1, 1} {
			u := at(r.Want + side*r.Within)
			p.Shape([][2]float64{{u - side*1.1, y - 2.1}, {u, y - 2.1}, {u, y + 2.1}, {u - side*1.1, y + 2.1}}, draw.Style{Stroke: draw.Black, Width: 0.45, Open: true})
		}
		p.Circle(at(r.Reads), y, 1.3, draw.Style{Stroke: draw.Black, Width: 0.3, Fill: draw.Black})
		for k, text := range []string{minus(fmt.Sprintf("%+.2f ±%.1f", r.Want, r.Within)), fmt.Sprintf("%.0f %%", r.Percent), fmt.Sprintf("%.0f %%", r.Screen)} {
			p.Words(figureAt(right, k), y+1.1, 3.1, draw.End, draw.Black, text)
		}
	}
	return p.Bytes()
}

// figureAt is where column k of the figures ends.
func figureAt(right float64, k int) float64 { return right + []float64{22, 38, 53}[k] }
