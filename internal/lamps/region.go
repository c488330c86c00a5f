package lamps

import (
	"math"
	"strconv"
	"strings"

	"lampwise/internal/fault"
)

// Names of the regions every set has a use for.
const (
	FaceLit    = "face-lit"
	FaceShade  = "face-shade"
	Hair       = "hair"
	Background = "background"
	Practical  = "practical"
	Card       = "card"
)

// Region is a named patch of the picture, as fractions of its width and
// height (0..1, from the upper left corner).
type Region struct {
	Name       string
	X, Y, W, H float64
	// Mask, when not nil, says which working pixels inside belong (W·H of the
	// working picture), for a patch that isn't a rectangle.
	Mask []bool
}

// ParseRegion reads "name=x,y,w,h" in per cent of the picture.
func ParseRegion(text string) (Region, error) {
	const hint = "write name=x,y,w,h in per cent of the picture, for example face-lit=41,22,6,9"
	bad := func(format string, args ...any) (Region, error) {
		return Region{}, fault.New(fault.Usage, "region-syntax", hint, format, args...)
	}
	name, numbers, ok := strings.Cut(text, "=")
	if !ok || name == "" || len(name) > maxLampName || strings.ContainsAny(name, " ,/=±") {
		return bad("region %q has no name", text)
	}
	parts := strings.Split(numbers, ",")
	if len(parts) != 4 {
		return bad("region %q has %d numbers, not 4", text, len(parts))
	}
	var v [4]float64
	for i, p := range parts {
		x, err := strconv.ParseFloat(strings.TrimSpace(p), 64)
		if err != nil || math.IsNaN(x) || x < 0 || x > 100 {
			return bad("region %q: %q is no per cent from 0 to 100", text, p)
		}
		v[i] = x / 100
	}
	r := Region{Name: name, X: v[0], Y: v[1], W: v[2], H: v[3]}
	if r.W == 0 || r.H == 0 || r.X+r.W > 1+1e-9 || r.Y+r.H > 1+1e-9 {
		return bad("region %q reaches outside the picture or is empty", text)
	}
	return r, nil
}

// Pixels lists the working pixels (of a w×h picture) that belong to the
// region, at least one.
func (r Region) Pixels(w, h int) []int {
	x0, x1 := wholePixels(r.X, r.W, w)
	y0, y1 := wholePixels(r.Y, r.H, h)
	var out []int
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			if r.Mask == nil || r.Mask[y*w+x] {
				out = append(out, y*w+x)
			}
		}
	}
	return out
}

// wholePixels turns a fraction's start and length into whole pixels, at least one.
func wholePixels(start, length float64, n int) (from, to int) {
	from = min(max(int(math.Round(start*float64(n))), 0), n-1)
	to = min(max(int(math.Round((start+length)*float64(n))), from+1), n)
	return from, to
}
