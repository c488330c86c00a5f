package lamps

import (
	"math"

	"lampwise/internal/unit"
)

// Correction is the one change of exposure and of channel gains that brings a
// clip shot today nearest to the reference mix. It can't put one lamp right
// against another: Left says what stays.
type Correction struct {
	Exposure unit.Stop
	Balance  [3]unit.Stop // red, green, blue on top of the exposure, green 0
	Mired    unit.Mired   // the same along the daylight axis, redder positive
	Left     []RegionLeft
}

// RegionLeft is what a region still differs by after the correction.
type RegionLeft struct {
	Region string
	Stops  unit.Stop
}

// Correct finds the correction for what a check found: over the faces when the
// set has such regions, else over the whole picture, each place counting by
// its light in the reference.
func (s *Set) Correct(r *CheckReport) Correction {
	var out Correction
	if r.Model == nil {
		return out
	}
	reference := s.PictureOf(s.Mix)
	var pixels []int
	for _, g := range s.Regions {
		if g.Name == FaceLit || g.Name == FaceShade {
			pixels = append(pixels, g.Pixels(s.W, s.H)...)
		}
	}
	if len(pixels) == 0 {
		for p := 0; p < s.W*s.H; p += 3 {
			pixels = append(pixels, p)
		}
	}
	var logs [3]float64
	for c := range 3 {
		var x []weighted
		for _, p := range pixels {
			was, is := float64(reference.Pix[3*p+c]), float64(r.Model.Pix[3*p+c])
			if was > 0 && is > 0 {
				x = append(x, weighted{math.Log2(was / is), was})
			}
		}
		if len(x) == 0 {
			return Correction{}
		}
		logs[c] = weightedMedian(x)
	}
	out.Exposure = unit.Stop(logs[1])
	for c := range 3 {
		out.Balance[c] = unit.Stop(logs[c] - logs[1])
	}
	out.Mired = unit.Mired(miredOf([3]float64{logs[0], logs[1], logs[2]}))
	luma := s.luma()
	gain := [3]float64{math.Exp2(logs[0]), math.Exp2(logs[1]), math.Exp2(logs[2])}
	for _, g := range s.Regions {
		var was, is float64
		for _, p := range g.Pixels(s.W, s.H) {
			var a, b [3]float64
			for c := range 3 {
				a[c] = float64(reference.Pix[3*p+c])
				b[c] = float64(r.Model.Pix[3*p+c]) * gain[c]
			}
			was += luma.of(a)
			is += luma.of(b)
		}
		if was > 0 && is > 0 {
			out.Left = append(out.Left, RegionLeft{g.Name, unit.StopsOf(is / was)})
		}
	}
	return out
}
