package lamps

import "lampwise/internal/picture"

// bins is a coarse grid over a picture. A bin's value is the mean of its valid
// pixels, the same ones for every picture binned, so that light still adds.
type bins struct {
	side   int // pixels
	w, h   int // bins
	pw, ph int // pixels
	valid  []bool
	count  []float64 // valid pixels in each bin; 0 where fewer than half are
}

// binsAcross is how many bins the set check lays over a picture's width: about
// six pixels each at 640 (5-lamps.md, "What a quick trial taught"), since a
// fraction of the picture's width is what a person's small movement and the
// lens's blur are measured in.
const binsAcross = 107

// binSide returns the bin's side for a picture w pixels wide.
func binSide(w int) int { return max(2, (w+binsAcross/2)/binsAcross) }

// newBins lays a grid of the given side; valid nil means all pixels are.
func newBins(side, w, h int, valid []bool) *bins {
	b := &bins{side: side, w: w / side, h: h / side, pw: w, ph: h, valid: valid}
	b.count = make([]float64, b.w*b.h)
	for by := range b.h {
		for bx := range b.w {
			n := 0
			for y := by * side; y < (by+1)*side; y++ {
				for x := bx * side; x < (bx+1)*side; x++ {
					if valid == nil || valid[y*w+x] {
						n++
					}
				}
			}
			if 2*n >= side*side {
				b.count[by*b.w+bx] = float64(n)
			}
		}
	}
	return b
}

// means returns each bin's mean of an image, three numbers a bin; 0 where the
// bin doesn't count.
func (b *bins) means(img *picture.Image) []float64 {
	out := make([]float64, 3*b.w*b.h)
	inRows(b.h, func(from, to int) {
		for by := from; by < to; by++ {
			for bx := range b.w {
				i := by*b.w + bx
				if b.count[i] == 0 {
					continue
				}
				var s [3]float64
				for y := by * b.side; y < (by+1)*b.side; y++ {
					for x := bx * b.side; x < (bx+1)*b.side; x++ {
						p := y*b.pw + x
						if b.valid != nil && !b.valid[p] {
							continue
						}
						s[0] += float64(img.Pix[3*p])
						s[1] += float64(img.Pix[3*p+1])
						s[2] += float64(img.Pix[3*p+2])
					}
				}
				for c := range 3 {
					out[3*i+c] = s[c] / b.count[i]
				}
			}
		}
	})
	return out
}

// slope returns, for each bin and channel, the largest change to a neighbour
// for each pixel of distance: what a wrong alignment would be worth.
func (b *bins) slope(m []float64) []float64 {
	out := make([]float64, len(m))
	look := func(i, j, c int) float64 {
		if b.count[j] == 0 {
			return 0
		}
		d := m[3*i+c] - m[3*j+c]
		return max(d, -d) / float64(b.side)
	}
	for y := range b.h {
		for x := range b.w {
			i := y*b.w + x
			if b.count[i] == 0 {
				continue
			}
			for c := range 3 {
				s := 0.0
				if x > 0 {
					s = max(s, look(i, i-1, c))
				}
				if x+1 < b.w {
					s = max(s, look(i, i+1, c))
				}
				if y > 0 {
					s = max(s, look(i, i-b.w, c))
				}
				if y+1 < b.h {
					s = max(s, look(i, i+b.w, c))
				}
				out[3*i+c] = s
			}
		}
	}
	return out
}
