package lamps

import "lampwise/internal/picture"

// moved marks pixels whose spread, over their 3×3 neighbourhood, is more than
// movedTimes the median spread of pixels of about the same light.
func moved(img *picture.Image, spread []float32) []bool {
	usual := usualSpread(img, spread)
	w, h := img.W, img.H
	out := make([]bool, len(spread))
	far := func(p int, mean float64) bool {
		u := usual[spreadLevel(img, p)]
		return u > 0 && mean > movedTimes*u
	}
	edge := func(x, y int) {
		s, n := 0.0, 0.0
		for j := max(0, y-1); j <= min(h-1, y+1); j++ {
			for i := max(0, x-1); i <= min(w-1, x+1); i++ {
				s += float64(spread[j*w+i])
				n++
			}
		}
		out[y*w+x] = far(y*w+x, s/n)
	}
	for y := range h {
		if y == 0 || y == h-1 || w < 3 {
			for x := range w {
				edge(x, y)
			}
			continue
		}
		edge(0, y)
		a, b, c := spread[(y-1)*w:y*w], spread[y*w:(y+1)*w], spread[(y+1)*w:(y+2)*w]
		for x := 1; x+1 < w; x++ {
			u, v, z := a[x-1:x+2:x+2], b[x-1:x+2:x+2], c[x-1:x+2:x+2]
			s := float64(u[0]) + float64(u[1]) + float64(u[2]) + float64(v[0]) + float64(v[1]) + float64(v[2]) + float64(z[0]) + float64(z[1]) + float64(z[2])
			out[y*w+x] = far(y*w+x, s/9)
		}
		edge(w-1, y)
	}
	return out
}

// movedTimes: the mean of nine squared ranges exceeds four times the median
// squared range of one with a probability below 1e-4 for normal noise.
const movedTimes = 4

// usualSpread is the median spread of pixels of about the same light; 0 where
// there are too few to say.
func usualSpread(img *picture.Image, spread []float32) (usual [spreadLevels]float64) {
	const every = 3 // pixels
	levels := make([]uint8, 0, len(spread)/every+1)
	var count [spreadLevels]int
	for p := 0; p < len(spread); p += every {
		l := spreadLevel(img, p)
		levels = append(levels, uint8(l))
		count[l]++
	}
	var by [spreadLevels][]float64
	for l, n := range count {
		by[l] = make([]float64, 0, n)
	}
	for k, l := range levels {
		by[l] = append(by[l], float64(spread[every*k]))
	}
	for l := range by {
		if len(by[l]) >= leastSpread {
			usual[l] = median(by[l])
		}
	}
	return usual
}

const (
	spreadLevels = 32 // half a stop each
	leastSpread  = 30 // pixels
)

func spreadLevel(img *picture.Image, p int) int {
	x := float64(img.Pix[3*p+1])
	return min(max(floorLog2(max(x, noiseLowest)/noiseLowest, 2), 0), spreadLevels-1)
}
