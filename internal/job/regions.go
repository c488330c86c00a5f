package job

import (
	"slices"

	"lampwise/internal/book"
	"lampwise/internal/fault"
	"lampwise/internal/lamps"
)

// wholeFrame is the region a set has when none was named and none was found.
const wholeFrame = "frame"

// regions are those a person drew, or else the whole frame.
func (f *film) regions(r LearnRequest, _ *lamps.Set) (out []lamps.Region, notes []string, err error) {
	out = slices.Clone(r.Regions)
	drawn := map[string]bool{}
	for _, a := range out {
		if drawn[a.Name] {
			return nil, nil, fault.New(fault.Usage, "region-twice", "Give each region once.", "region %q is drawn twice", a.Name)
		}
		drawn[a.Name] = true
	}
	if len(out) == 0 {
		out = append(out, lamps.Region{Name: wholeFrame, W: 1, H: 1})
	}
	return out, notes, nil
}

// runsOf writes a mask as lengths of runs, by turns outside and inside, from
// the upper left corner.
func runsOf(mask []bool) []int {
	if mask == nil {
		return nil
	}
	runs, now, n := []int{}, false, 0
	for _, m := range mask {
		if m != now {
			runs, now, n = append(runs, n), m, 0
		}
		n++
	}
	return append(runs, n)
}

// maskOf reads runs back; false when they don't make up so many pixels.
func maskOf(runs []int, pixels int) ([]bool, bool) {
	mask := make([]bool, 0, pixels)
	for i, n := range runs {
		if n < 0 || n > pixels-len(mask) {
			return nil, false
		}
		for range n {
			mask = append(mask, i%2 == 1)
		}
	}
	return mask, len(mask) == pixels && slices.Contains(mask, true)
}

func keepRegion(g lamps.Region, said bool, wobble float64) book.SetRegion {
	return book.SetRegion{Name: g.Name, X: g.X, Y: g.Y, W: g.W, H: g.H, Mask: runsOf(g.Mask), Said: said, Wobble: wobble}
}
