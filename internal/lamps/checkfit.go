package lamps

import "slices"

// newRobustFit lays out the fit of a frame's bins by a set's lamp pictures.
// before, when not nil, is a fit of the same set on nearly the same bins, from
// which is taken what is alike.
func newRobustFit(s *Separation, today *Light, b *bins, before *robustFit) *robustFit {
	k := s.columns()
	ys := b.means(today.Image)
	slope := b.slope(ys)
	pics := make([][]float64, k)
	for j := range k {
		pics[j] = b.means(s.image(j))
	}
	f := &robustFit{k: k}
	f.gridW, f.gridH = b.w, b.h
	frames := today.frames()
	f.frame = func(c int, light float64) float64 { return s.Noise.Variance(c, light) / frames }
	const blockSide = 4
	across := (b.w + blockSide - 1) / blockSide
	f.blocks = across * ((b.h + blockSide - 1) / blockSide)
	var index []int
	for i, n := range b.count {
		if n > 0 {
			index = append(index, i)
		}
	}
	f.n = len(index)
	f.place = index
	f.x = make([]float64, f.n*3*k)
	f.y = make([]float64, f.n*3)
	f.s = make([]float64, f.n*3*k*k)
	f.model = make([]float64, f.n*3)
	f.class = make([]int, f.n)
	f.misfit = make([]float64, f.n)
	f.area = make([]float64, f.n)
	f.block = make([]int, f.n)
	was := before.binsAt(b.w * b.h)
	inRows(f.n, func(from, to int) {
		spread := newSpreading(s)
		for i := from; i < to; i++ {
			at := index[i]
			f.area[i] = b.count[at] / s.Noise.together()
			if s.Figure != nil && s.Figure[at] {
				f.class[i] = figure
			}
			f.misfit[i] = 1
			if s.Misfit != nil {
				f.misfit[i] = s.Misfit[at]
			}
			f.block[i] = at/b.w/blockSide*across + at%b.w/blockSide
			for c := range 3 {
				x := f.x[(3*i+c)*k : (3*i+c+1)*k]
				for j := range k {
					x[j] = pics[j][3*at+c]
				}
				f.y[3*i+c] = ys[3*at+c]
				level, edge := responseError*max(ys[3*at+c], 0), alignmentError*slope[3*at+c]
				if f.class[i] == figure {
					level, edge = figureError*max(ys[3*at+c], 0), figureShift*slope[3*at+c]
				}
				f.model[3*i+c] = level*level + edge*edge
				dst := f.s[(3*i+c)*k*k : (3*i+c+1)*k*k]
				if was != nil && was[at] >= 0 {
					o := was[at]
					if before.area[o] == f.area[i] && slices.Equal(before.x[(3*o+c)*k:(3*o+c+1)*k], x) {
						copy(dst, before.s[(3*o+c)*k*k:(3*o+c+1)*k*k])
						continue
					}
				}
				spread.covariance(c, x, b.count[at], dst)
			}
		}
	})
	f.levels()
	return f
}

// binsAt is the fit's bin at each of n places, −1 where none; nil of no fit.
func (f *robustFit) binsAt(n int) []int {
	if f == nil {
		return nil
	}
	at := make([]int, n)
	for i := range at {
		at[i] = -1
	}
	for i, p := range f.place {
		at[p] = i
	}
	return at
}

// The model term's parts for q = 1: what the response (curve, steps of the
// code) may err by as a share of the light, and the alignment in pixels. Only
// their ratio matters, since q is found from the residuals.
const (
	responseError  = 0.001
	alignmentError = 0.02
	// On the figure, which is never twice in the same place.
	figureError = 0.03
	figureShift = 0.5
)

// levels parts the bins of the room by their light into classes of equal size.
// In the darkest, noise hides what the response and a codec do wrong, and a
// model term found there would turn the bright ones away.
func (f *robustFit) levels() {
	var light []float64
	sum := func(i int) float64 { return f.y[3*i] + f.y[3*i+1] + f.y[3*i+2] }
	for i := range f.n {
		if f.class[i] != figure {
			light = append(light, sum(i))
		}
	}
	if len(light) < figure*fewestBins {
		return
	}
	low, high := quantile(light, 1./figure), quantile(light, 2./figure)
	for i := range f.n {
		if s := sum(i); f.class[i] != figure && s > low {
			f.class[i] = room + 1
			if s > high {
				f.class[i] = room + 2
			}
		}
	}
}

// The classes of bins; each has its own model term.
const (
	room    = 0 // the first of those of the room, darkest first
	figure  = 3
	classes = 4
)
