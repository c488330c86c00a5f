package gauge

import (
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/unit"
)

// Gap is how much warmer (positive) or colder one region's light is than
// another's, in mired, told even when the camera's white isn't known.
type Gap struct {
	Region string     `json:"region"`
	To     string     `json:"to"`
	Mired  unit.Mired `json:"mired"`
	// Error is by how much the figure moves over the whites the camera may
	// have been balanced to, from 2800 to 7500 K; 0 when the white is known.
	Error unit.Mired `json:"error"`
	// Duv is the gap across the locus, positive toward green.
	Duv float64 `json:"duv"`
}

// Whites a camera is likely to have been balanced to (common practice, no
// source), and the middle one, which is taken when nothing is known.
var gapWhites = []unit.Kelvin{2800, 3200, 4300, 5600, 7500}

const gapWhiteMiddle = 2

// Gaps compares the light on regions with that on the one named. Surfaces are
// taken as neutral: of a coloured surface the gap says nothing of the lamp. A
// region without chromaticity, or too far from the locus, is left out.
func Gaps(cam Camera, readings []Reading, to string) []Gap {
	if cam.Gamut == nil {
		return nil
	}
	whites := []colour.XY{}
	middle := 0
	if cam.White != nil {
		whites = append(whites, *cam.White)
	} else {
		for _, k := range gapWhites {
			whites = append(whites, colour.XYFromCCT(k, 0))
		}
		middle = gapWhiteMiddle
	}
	type light struct{ mired, duv float64 }
	read := func(r Reading, white colour.XY) (light, bool) {
		if r.XY == nil {
			return light{}, false
		}
		xyz := colour.Adapt(cam.Gamut.W, white, colour.CAT16).Apply(r.XY.XYZ())
		k, duv, err := colour.CCT(colour.XYZ(xyz).XY())
		return light{float64(k.Mired()), duv}, err == nil
	}
	var base *Reading
	for i := range readings {
		if readings[i].Region == to {
			base = &readings[i]
		}
	}
	if base == nil {
		return nil
	}
	var out []Gap
	for _, r := range readings {
		if r.Region == to {
			continue
		}
		g := Gap{Region: r.Region, To: to}
		lo, hi, ok := math.Inf(1), math.Inf(-1), false
		for i, w := range whites {
			a, okA := read(*base, w)
			b, okB := read(r, w)
			if !okA || !okB {
				continue
			}
			d := b.mired - a.mired
			lo, hi = min(lo, d), max(hi, d)
			if i == middle {
				g.Mired, g.Duv, ok = unit.Mired(d), b.duv-a.duv, true
			}
		}
		if ok {
			g.Error = unit.Mired(max(hi-float64(g.Mired), float64(g.Mired)-lo))
			out = append(out, g)
		}
	}
	return out
}
