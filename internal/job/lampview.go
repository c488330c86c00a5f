package job

import (
	"math"

	"lampwise/internal/lamps"
	"lampwise/internal/picture"
)

// Where a lamp's light doesn't stand above what noise and the figure's movement
// between the holds leave of it, its picture would show that: coloured grain,
// and the figure's outline. There the mix is shown in its stead, dimmed to the
// lamp's share of the light around.
const (
	viewFaint   = 1.0   // standard errors from which a lamp's own light is shown
	viewSure    = 3.0   // and from which it is shown alone
	viewAround  = 120.0 // part of the picture's width that is "around"
	viewSmooths = 3     // box averages in a row come near a bell
)

// lampViews are the lamps' light at their level in the mix, the ambient light
// after them, at w×h and as is to be looked at; part is how much of each is shown
// in another's stead.
func lampViews(set *lamps.Set, w, h int) (views []*picture.Image, part []float64) {
	n := len(set.Lamps)
	weights := set.Weights(set.Mix)
	mix := set.PictureOf(set.Mix).Shrink(w, h)
	for i := range n {
		im := set.Picture[i].Shrink(w, h)
		for p := range im.Pix {
			im.Pix[p] *= float32(weights[i][p%3])
		}
		views = append(views, im)
	}
	views = append(views, set.Ambient.Shrink(w, h))
	errors := viewErrors(set, views, w, h)
	part = make([]float64, n+1)
	around := max(1, int(float64(w)/viewAround))
	broadMix := smoothed(mix.Pix, w, h, 3, around)
	for i, im := range views {
		own := make([]float32, w*h)
		for p := range own {
			t := float64(max(im.Pix[3*p], im.Pix[3*p+1], im.Pix[3*p+2])) / math.Max(errors[i][p], 1e-12)
			own[p] = float32(min(1, max(0, (t-viewFaint)/(viewSure-viewFaint))))
			part[i] += (1 - float64(own[p])) / float64(w*h)
		}
		own = smoothed(own, w, h, 1, 1)
		broad := smoothed(im.Pix, w, h, 3, around)
		for p := range im.Pix {
			share := min(1, max(0, broad[p]/max(broadMix[p], 1e-6)))
			k := own[p/3]
			im.Pix[p] = max(0, k*im.Pix[p]+(1-k)*share*mix.Pix[p])
		}
	}
	return views, part
}

// viewErrors is the standard error of each view at each pixel of w×h, told of green,
// whose sensors are the quietest: the noise's, and as much more as the holds there differ from their sum.
func viewErrors(set *lamps.Set, views []*picture.Image, w, h int) [][]float64 {
	n := len(views)
	out := make([][]float64, n)
	for i := range out {
		out[i] = make([]float64, w*h)
	}
	side := misfitSide(set)
	across := 0
	if side > 0 {
		across = set.W / side
	}
	weights := set.Weights(set.Mix)
	// Errors change slowly: a patch of 4×4 shares them.
	const patch = 4
	parallel((h+patch-1)/patch, func(row int) {
		b, cov := make([]float64, n), make([]float64, n*n)
		for x := 0; x < w; x += patch {
			y := row * patch
			for i, im := range views {
				b[i] = float64(im.Pix[3*(y*w+x)+1])
				if i < len(weights) && i < n-1 && weights[i][1] > 0 {
					b[i] /= weights[i][1]
				}
			}
			set.Covariance(1, b, float64(set.W*set.H)/float64(w*h), cov)
			misfit := 1.0
			if side > 0 {
				by, bx := min(y*set.H/h/side, set.H/side-1), min(x*set.W/w/side, across-1)
				misfit = set.Misfit[by*across+bx]
			}
			for i := range views {
				k := 1.0
				if i < n-1 {
					k = weights[i][1]
				}
				e := k * math.Sqrt(math.Max(cov[i*n+i], 0)*misfit)
				for yy := y; yy < min(h, y+patch); yy++ {
					for xx := x; xx < min(w, x+patch); xx++ {
						out[i][yy*w+xx] = e
					}
				}
			}
		}
	})
	return out
}

// misfitSide is the side, in pixels, of the bins that a set's misfit is told of;
// 0 when none is told.
func misfitSide(set *lamps.Set) int {
	for side := 2; side <= set.W && len(set.Misfit) > 0; side++ {
		if (set.W/side)*(set.H/side) == len(set.Misfit) {
			return side
		}
	}
	return 0
}

// smoothed is a picture of so many channels, each pixel the mean of those within
// reach, a few times over.
func smoothed(pix []float32, w, h, channels, reach int) []float32 {
	out := append([]float32{}, pix...)
	line := make([]float64, max(w, h)+1)
	run := func(n int, at func(i int) int) {
		for i := range n {
			line[i+1] = line[i] + float64(out[at(i)])
		}
		for i := range n {
			a, b := max(0, i-reach), min(n, i+reach+1)
			out[at(i)] = float32((line[b] - line[a]) / float64(b-a))
		}
	}
	for range viewSmooths {
		for c := range channels {
			for y := range h {
				run(w, func(i int) int { return channels*(y*w+i) + c })
			}
			for x := range w {
				run(h, func(i int) int { return channels*(i*w+x) + c })
			}
		}
	}
	return out
}
