package job

import (
	"fmt"
	"slices"

	"lampwise/internal/book"
	"lampwise/internal/fault"
	"lampwise/internal/lamps"
	"lampwise/internal/picture"
	"lampwise/internal/region"
)

// wholeFrame is the region a set has when none was named and none was found.
const wholeFrame = "frame"

// regions are those a person drew, and those that were found and not drawn; a
// region that is doubted is left out, with the reason in a note.
func (f *film) regions(r LearnRequest, set *lamps.Set) (out []lamps.Region, notes []string, err error) {
	out = slices.Clone(r.Regions)
	drawn := map[string]bool{}
	for _, a := range out {
		if drawn[a.Name] {
			return nil, nil, fault.New(fault.Usage, "region-twice", "Give each region once.", "region %q is drawn twice", a.Name)
		}
		drawn[a.Name] = true
	}
	s := region.Scene{Picture: set.PictureOf(set.Mix), Key: set.Lamps[keyLamp(set)].Name, Clip: set.Clip}
	for i, l := range set.Lamps {
		im := picture.NewImage(set.W, set.H, picture.SpaceSceneLinear)
		w := set.Weights(set.Mix)[i]
		for p, v := range set.Picture[i].Pix {
			im.Pix[p] = float32(w[p%3]) * v
		}
		s.Lamps = append(s.Lamps, region.Lamp{Name: l.Name, Picture: im})
	}
	found, err := region.Find(s)
	if err != nil {
		return nil, nil, fmt.Errorf("find regions: %w", err)
	}
	for _, g := range found.Regions {
		if drawn[g.Name] {
			continue
		}
		x := lamps.Region{Name: g.Name, X: g.Box.X, Y: g.Box.Y, W: g.Box.W, H: g.Box.H}
		if g.Mask != nil || g.Shape != region.ShapeBox {
			x.Mask = make([]bool, set.W*set.H)
			for _, p := range g.Pixels(set.W, set.H) {
				x.Mask[p] = true
			}
		}
		if len(x.Pixels(set.W, set.H)) == 0 {
			continue
		}
		out = append(out, x)
	}
	for _, g := range found.Doubts {
		switch {
		case drawn[g.Name]:
		case g.Confidence > 0 && g.Box.W > 0 && g.Box.H > 0:
			notes = append(notes, fmt.Sprintf("%s is not used, being sure of it to %.0f %% only (%s); if it's right: --region %s=%.1f,%.1f,%.1f,%.1f",
				g.Name, 100*g.Confidence, g.Reason, g.Name, 100*g.Box.X, 100*g.Box.Y, 100*g.Box.W, 100*g.Box.H))
		default:
			notes = append(notes, fmt.Sprintf("%s was not found: %s", g.Name, g.Reason))
		}
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
