package job

import (
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/gauge"
	"lampwise/internal/grade"
	"lampwise/internal/picture"
	"lampwise/internal/unit"
)

// countedStrip is a smooth ramp of neutral across the picture, in 10-bit codes
// of the recording, with camera noise of σ 10-bit codes.
type countedStrip struct {
	from, to float64
	sigma    float64
}

const (
	stripHeight = 32
	stripWidth  = 640
)

// Distances, in pixels, over which an edge is looked for: sharp ones and soft
// ones; and the standard errors, of the rows' own scatter, that it must stand
// above: noise is no contour.
var edgeSides = []int{4, 8, 16, 32}

const (
	edgeSure   = 5.0
	rowsAGroup = 4
)

// falseContours looks at what the eye is given: the picture's luma in codes of
// so many bits, against the ramp that it should show (the display signal for
// each column). Columns are averaged over the strip's rows and the frames, as
// the eye does along an edge. An edge is a place where the picture steps more
// than the ramp does; it counts when the step is over one just noticeable one
// and stands along the strip. It returns their number and the part of the ramp
// that they spoil: each step of J takes J of the ramp's just noticeable steps,
// of which J − 1 are spoilt. Nothing here knows how the picture came about.
func falseContours(frames []*picture.Frame, y0, height int, ideal []float64, peak unit.CandelaPerSquareMetre) (n int, spoilt float64) {
	f := frames[0]
	span, black := colour.Narrow.LumaScale(f.Bits)
	var groups [][]float64 // running sums along x, for each group of rows
	const border = 2       // rows that a codec may have mixed with the next strip
	for y := y0 + border; y+rowsAGroup <= y0+height-border; y += rowsAGroup {
		sums := make([]float64, f.Width+1)
		for x := range f.Width {
			v := 0.0
			for _, f := range frames {
				for k := range rowsAGroup {
					v += (float64(f.Y[(y+k)*f.Width+x]) - black) / span
				}
			}
			sums[x+1] = sums[x] + v/float64(len(frames)*rowsAGroup)
		}
		groups = append(groups, sums)
	}
	wanted := make([]float64, f.Width+1)
	for x, v := range ideal {
		wanted[x+1] = wanted[x] + v
	}
	light := func(v float64) unit.CandelaPerSquareMetre {
		return peak * unit.CandelaPerSquareMetre(screenLight(v))
	}
	visible := make([]float64, f.Width)
	for _, side := range edgeSides {
		rise := func(s []float64, x int) float64 {
			return (s[x+side] - 2*s[x] + s[x-side]) / float64(side)
		}
		// The rows' scatter is taken over the whole strip: noise is alike along it.
		steps, scatter := make([]float64, f.Width), 0.0
		k := float64(len(groups))
		for x := side; x+side <= f.Width; x++ {
			sum, square := 0.0, 0.0
			for _, g := range groups {
				d := rise(g, x) - rise(wanted, x)
				sum, square = sum+d, square+d*d
			}
			steps[min(x, f.Width-1)] = sum / k
			scatter += math.Max(square/k-sum*sum/(k*k), 0) / (k - 1) / float64(f.Width-2*side+1)
		}
		for x, step := range steps {
			// Between two edges the picture stands still while the ramp goes on:
			// that is no edge.
			if step <= edgeSure*math.Sqrt(scatter) {
				continue
			}
			at := math.Max(ideal[x], step/2)
			visible[x] = math.Max(visible[x], gauge.StepVisibility(light(at-step/2), light(at+step/2)))
		}
	}
	total := 0.0
	for x := 1; x < f.Width; x++ {
		total += gauge.StepVisibility(light(ideal[x-1]), light(ideal[x]))
	}
	for x := range visible {
		top := visible[x] > 1
		for d := -edgeSides[0]; d <= edgeSides[0] && top; d++ {
			if o := x + d; o >= 0 && o < f.Width && (visible[o] > visible[x] || visible[o] == visible[x] && d < 0) {
				top = false
			}
		}
		if top {
			n++
			spoilt += visible[x] - 1
		}
	}
	return n, math.Min(spoilt/total, 1)
}

// spearman is the rank correlation, ties sharing the mean of their ranks.
func spearman(a, b []float64) float64 {
	ra, rb := ranks(a), ranks(b)
	ma, mb := float64(len(a)+1)/2, float64(len(b)+1)/2
	var ab, aa, bb float64
	for i := range ra {
		ab += (ra[i] - ma) * (rb[i] - mb)
		aa += (ra[i] - ma) * (ra[i] - ma)
		bb += (rb[i] - mb) * (rb[i] - mb)
	}
	return ab / math.Sqrt(aa*bb)
}

func ranks(v []float64) []float64 {
	out := make([]float64, len(v))
	for i, x := range v {
		less, same := 0, 0
		for _, y := range v {
			switch {
			case y < x:
				less++
			case y == x:
				same++
			}
		}
		out[i] = float64(less) + float64(same+1)/2
	}
	return out
}

// predictStrip is the model's word on a strip of the set's width.
func predictStrip(p *grade.Path, s countedStrip, bits, outBits int, dither bool) BandingRisks {
	return predictRamp(p, s, stripWidth, bits, outBits, dither, WebQuality)
}

func predictRamp(p *grade.Path, s countedStrip, width, bits, outBits int, dither bool, quality float64) BandingRisks {
	m := bandingModel{path: p, rng: colour.Narrow, peak: BudgetPeak, sigma10: func(float64) float64 { return s.sigma }, dither: dither, again: quality}
	area, slope := make([]float64, 128), make([]float64, 128)
	for x := range width {
		code := s.from + (s.to-s.from)*(float64(x)+0.5)/float64(width)
		area[int(code/8)]++
		slope[int(code/8)] = (s.to - s.from) / float64(width)
	}
	return m.risks(area, slope, bits, outBits)
}
