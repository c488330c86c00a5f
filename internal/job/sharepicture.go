package job

import (
	"fmt"
	"image/color"
	"math"

	"lampwise/internal/draw"
	"lampwise/internal/lamps"
)

// The share picture's measures, in pixels.
const (
	shareMargin = 16
	shareTitle  = 46
	shareLine   = 26
	shareSmall  = 0.01 // of the picture: a lamp that rules less of it isn't labelled in it
)

// sharePicture paints each pixel by the lamp that gives most of its light in
// the mix, paler where it gives little of it, with a pattern and a label for
// each lamp.
func sharePicture(set *lamps.Set, name string) ([]byte, error) {
	most, share := set.ShareMap(set.Mix)
	n := len(set.Lamps)
	names := make([]string, n+1)
	ruled := make([]int, n+1)
	for i := range set.Lamps {
		names[i] = set.Lamps[i].Name
	}
	names[n] = "ambient"
	for _, k := range most {
		ruled[k]++
	}
	r, err := draw.NewRaster(set.W+2*shareMargin, set.H+shareTitle+shareMargin+shareLine*(n+2))
	if err != nil {
		return nil, err
	}
	r.Text(shareMargin, 30, 20, draw.Start, draw.Ink, "set "+name+": who gives most of the light")
	ink := func(k int) color.RGBA {
		if k == n {
			return draw.Ambient
		}
		return draw.Lamp(k)
	}
	paint := func(k, x, y int, strength float64) color.RGBA {
		c := ink(k)
		if draw.Patterned(k, x, y) {
			c = draw.Dark
		}
		// Toward the ground where another gives nearly as much.
		mix := func(a, b uint8) uint8 { return uint8(math.Round(float64(b) + strength*(float64(a)-float64(b)))) }
		return color.RGBA{mix(c.R, draw.Ground.R), mix(c.G, draw.Ground.G), mix(c.B, draw.Ground.B), 0xff}
	}
	for y := range set.H {
		for x := range set.W {
			p := y*set.W + x
			strength := 0.25 + 0.75*min(1, max(0, (float64(share[p])-0.3)/0.6))
			r.SetRGBA(x+shareMargin, y+shareTitle, paint(int(most[p]), x, y, strength))
		}
	}
	for k := range names {
		if float64(ruled[k]) < shareSmall*float64(set.W*set.H) {
			continue
		}
		x, y := labelPlace(most, uint8(k), set.W, set.H)
		r.Rect(float64(x+shareMargin)-4-5*float64(len(names[k])), float64(y+shareTitle)-15, 8+10*float64(len(names[k])), 21, draw.Dark)
		r.Text(float64(x+shareMargin), float64(y+shareTitle), 16, draw.Middle, draw.Ink, names[k])
	}
	y := set.H + shareTitle + shareLine
	for k := range names {
		for dy := range shareLine - 8 {
			for dx := range 60 {
				r.SetRGBA(shareMargin+dx, y+dy, paint(k, dx, dy, 1))
			}
		}
		r.Text(shareMargin+72, float64(y+14), 15, draw.Start, draw.Ink, fmt.Sprintf("%s: most of the light in %.1f %% of the picture", names[k], 100*float64(ruled[k])/float64(set.W*set.H)))
		y += shareLine
	}
	return r.PNG()
}

// labelPlace is a place well inside what lamp k rules: the pixel, on a coarse
// grid, with most of it around.
func labelPlace(most []uint8, k uint8, w, h int) (x, y int) {
	const reach, step = 28, 6
	best := -1
	for cy := reach; cy < h-reach; cy += step {
		for cx := 2 * reach; cx < w-2*reach; cx += step {
			n := 0
			for dy := -reach; dy <= reach; dy += 4 {
				for dx := -2 * reach; dx <= 2*reach; dx += 4 {
					if most[(cy+dy)*w+cx+dx] == k {
						n++
					}
				}
			}
			if n > best {
				best, x, y = n, cx, cy
			}
		}
	}
	return x, y
}
