package job

import (
	"slices"

	"lampwise/internal/fault"
	"lampwise/internal/lamps"
)

// wholeFrame is the region a set has when none was named and none was found.
const wholeFrame = "frame"

// regions are those a person drew, and those that were found and not drawn.
func (f *film) regions(r LearnRequest, _ *lamps.Set) ([]lamps.Region, error) {
	out := slices.Clone(r.Regions)
	for i, a := range out {
		for _, b := range out[:i] {
			if a.Name == b.Name {
				return nil, fault.New(fault.Usage, "region-twice", "Give each region once.", "region %q is drawn twice", a.Name)
			}
		}
	}
	if len(out) == 0 {
		out = append(out, lamps.Region{Name: wholeFrame, W: 1, H: 1})
	}
	return out, nil
}
