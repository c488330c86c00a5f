package lamps

import (
	"math"
	"math/cmplx"
	"sync"

	"gonum.org/v1/gonum/dsp/fourier"

	"lampwise/internal/picture"
)

// Registration is how the camera moved between the reference and today.
type Registration struct {
	Similarity
	// Error holds standard errors of DX, DY (pixels), Rotation (radians) and Scale.
	Error [4]float64
	// Kept is the share of the picture's detail that agrees after alignment;
	// low when the figure, its shadows or much else changed.
	Kept float64
	// Sure is false when too little detail agrees for the movement to be told.
	Sure bool
}

const (
	// registerWidth is the width at which the movement is found; more costs
	// time and tells little, since a lens's blur is wider than a pixel there.
	registerWidth = 480
	// minKept is the share of detail that must agree. Random pictures agree in
	// about a tenth by chance (TestRegisterUnlike).
	minKept = 0.3
	// mostPlaces is how many places a step is made from.
	mostPlaces = 12000
)

// Register finds how today's picture moved against the reference, a picture of
// the same set under nearly the same light: first whole pixels by phase
// correlation of the gradients' directions, which light changes little, then
// shift, rotation and scale by Gauss–Newton steps on the detail, robust to
// what isn't common to both.
func Register(reference, today *picture.Image, floor float64) Registration {
	k := max(1, int(math.Round(float64(reference.W)/registerWidth)))
	r, t := reduced(reference, k), reduced(today, k)
	found := Registration{Similarity: Still}
	a, b := details(r, t, floor, 0, 12)
	found.DX, found.DY = correlate(a, b)
	for _, fine := range []int{3, 1, 0} {
		a, b = details(r, t, floor, fine, 6)
		refine(&found, a, b, 12)
	}
	return found.enlarged(k)
}

// again finds the movement anew from where it was found before.
func (g Registration) again(reference, today *picture.Image, floor float64) Registration {
	k := max(1, int(math.Round(float64(reference.W)/registerWidth)))
	found := g.enlarged(1)
	found.DX, found.DY = g.DX/float64(k), g.DY/float64(k)
	a, b := details(reduced(reference, k), reduced(today, k), floor, 0, 6)
	refine(&found, a, b, 6)
	return found.enlarged(k)
}

// details of two pictures, side by side.
func details(r, t *picture.Image, floor float64, fine, coarse int) (a, b *plane) {
	var wait sync.WaitGroup
	wait.Go(func() { a = detail(r, floor, fine, coarse) })
	b = detail(t, floor, fine, coarse)
	wait.Wait()
	return a, b
}

// enlarged is the same in pixels of a picture k times as large.
func (g Registration) enlarged(k int) Registration {
	g.Similarity = g.Similarity.enlarged(float64(k))
	g.Error[0] *= float64(k)
	g.Error[1] *= float64(k)
	return g
}

// reduced is the picture k times smaller each way, by means.
func reduced(img *picture.Image, k int) *picture.Image {
	if k <= 1 {
		return img
	}
	out := picture.NewImage(img.W/k, img.H/k, img.Space)
	f := 1 / float32(k*k)
	for y := range out.H {
		for x := range out.W {
			var s [3]float32
			for j := range k {
				p := 3 * ((y*k+j)*img.W + x*k)
				for i := range k {
					for c := range 3 {
						s[c] += img.Pix[p+3*i+c]
					}
				}
			}
			for c := range 3 {
				out.Pix[3*(y*out.W+x)+c] = s[c] * f
			}
		}
	}
	return out
}

// correlate finds the whole shift (with the peak's fraction by a parabola)
// between two planes by phase correlation of their gradients' directions, as
// complex numbers of length up to 1 (after Fitch, Kadyrov, Christmas and
// Kittler, "Orientation correlation", 2002).
func correlate(a, b *plane) (dx, dy float64) {
	w, h := a.w, a.h
	fa, fb := directions(a), directions(b)
	transform(fa, w, h, false)
	transform(fb, w, h, false)
	for i := range fa {
		c := fb[i] * cmplx.Conj(fa[i])
		// A soft whitening: full phase correlation would raise frequencies that
		// hold noise alone.
		if m := cmplx.Abs(c); m > 0 {
			c /= complex(math.Sqrt(m), 0)
		}
		fa[i] = c
	}
	transform(fa, w, h, true)
	best, at := math.Inf(-1), 0
	for i, v := range fa {
		if real(v) > best {
			best, at = real(v), i
		}
	}
	x, y := at%w, at/w
	value := func(x, y int) float64 { return real(fa[(y+h)%h*w+(x+w)%w]) }
	dx = float64(x) + peak(value(x-1, y), best, value(x+1, y))
	dy = float64(y) + peak(value(x, y-1), best, value(x, y+1))
	if dx > float64(w)/2 {
		dx -= float64(w)
	}
	if dy > float64(h)/2 {
		dy -= float64(h)
	}
	return dx, dy
}

// peak is the place of a parabola's top through three values, −½..½.
func peak(l, m, r float64) float64 {
	d := l - 2*m + r
	if d >= 0 {
		return 0
	}
	return min(max((l-r)/(2*d), -.5), .5)
}

// directions turns a plane into its gradient's direction; weak gradients,
// below the median, fade out; the border fades too, so that the transform's
// wrap makes no edge of its own.
func directions(p *plane) []complex128 {
	w, h := p.w, p.h
	out := make([]complex128, w*h)
	var lengths []float64
	for y := 1; y < h-1; y++ {
		for x := 1; x < w-1; x++ {
			g := complex(p.v[y*w+x+1]-p.v[y*w+x-1], p.v[(y+1)*w+x]-p.v[(y-1)*w+x])
			out[y*w+x] = g
			if (x+y)%7 == 0 {
				lengths = append(lengths, cmplx.Abs(g))
			}
		}
	}
	soft := median(lengths) + 1e-12
	for y := range h {
		fy := math.Sin(math.Pi * (float64(y) + .5) / float64(h))
		for x := range w {
			g := out[y*w+x]
			f := math.Sqrt(fy * math.Sin(math.Pi*(float64(x)+.5)/float64(w)))
			out[y*w+x] = g * complex(f/(cmplx.Abs(g)+soft), 0)
		}
	}
	return out
}

// transform is the two-dimensional discrete Fourier transform, in place,
// without scaling.
func transform(v []complex128, w, h int, back bool) {
	inRows(h, func(from, to int) {
		f := fourier.NewCmplxFFT(w)
		for y := from; y < to; y++ {
			row := v[y*w : y*w+w]
			if back {
				f.Sequence(row, row)
			} else {
				f.Coefficients(row, row)
			}
		}
	})
	inRows(w, func(from, to int) {
		f := fourier.NewCmplxFFT(h)
		col := make([]complex128, h)
		for x := from; x < to; x++ {
			for y := range h {
				col[y] = v[y*w+x]
			}
			if back {
				f.Sequence(col, col)
			} else {
				f.Coefficients(col, col)
			}
			for y := range h {
				v[y*w+x] = col[y]
			}
		}
	})
}

// sample reads a plane between its samples by cubic interpolation; ok is false
// near and outside the border.
func (p *plane) sample(x, y float64) (v float64, ok bool) {
	ix, iy := int(math.Floor(x)), int(math.Floor(y))
	if ix < 1 || iy < 1 || ix > p.w-3 || iy > p.h-3 {
		return 0, false
	}
	cx, cy := cubic(x-float64(ix)), cubic(y-float64(iy))
	for j, fy := range cy {
		row := p.v[(iy-1+j)*p.w+ix-1:]
		v += fy * (cx[0]*row[0] + cx[1]*row[1] + cx[2]*row[2] + cx[3]*row[3])
	}
	return v, true
}

// refine improves the movement by Gauss–Newton steps on the difference of
// detail, weighted by Tukey's biweight. The reference's gradient serves as the
// derivative: it is the mean of many frames, and noise in it would shorten
// every step's answer.
func refine(s *Registration, ref, today *plane, steps int) {
	w, h := ref.w, ref.h
	cx, cy := float64(w-1)/2, float64(h-1)/2
	type point struct{ x, y, gx, gy, v float64 }
	slope := func(x, y int) (gx, gy float64) {
		return (ref.v[y*w+x+1] - ref.v[y*w+x-1]) / 2, (ref.v[(y+1)*w+x] - ref.v[(y-1)*w+x]) / 2
	}
	strengths := make([]float64, 0, w*h)
	for y := 2; y < h-2; y++ {
		for x := 2; x < w-2; x++ {
			gx, gy := slope(x, y)
			strengths = append(strengths, gx*gx+gy*gy)
		}
	}
	// The flat parts tell nothing of movement, and a few thousand places tell it
	// as well as all.
	share := max(.5, 1-mostPlaces/float64(len(strengths)))
	cut := quantile(strengths, share)
	points := make([]point, 0, int((1-share)*float64(len(strengths)))+16)
	for y := 2; y < h-2; y++ {
		for x := 2; x < w-2; x++ {
			if gx, gy := slope(x, y); gx*gx+gy*gy > cut {
				points = append(points, point{float64(x), float64(y), gx, gy, ref.v[y*w+x]})
			}
		}
	}
	n := len(points)
	res, size := make([]float64, n), make([]float64, n)
	seen := make([]bool, n)
	for range steps {
		moved := s.mapping(w, h)
		inRows(n, func(from, to int) {
			for i := from; i < to; i++ {
				p := points[i]
				x, y := moved(p.x, p.y)
				v, ok := today.sample(x, y)
				res[i], seen[i] = v-p.v, ok
			}
		})
		size = size[:0]
		for i, r := range res {
			if i%4 == 0 && seen[i] {
				size = append(size, math.Abs(r))
			}
		}
		if len(size) < 50 {
			s.Sure = false
			return
		}
		scale := median(size)*1.4826 + 1e-9
		eq := newNormal(4)
		row := make([]float64, 4)
		var sum, weights float64
		sin, cos := math.Sincos(s.Rotation)
		for i, p := range points {
			if !seen[i] {
				continue
			}
			u := res[i] / (4.685 * scale)
			if u >= 1 || u <= -1 {
				continue
			}
			b := (1 - u*u) * (1 - u*u)
			// The reference's gradient turned into today's frame.
			gx, gy := cos*p.gx-sin*p.gy, sin*p.gx+cos*p.gy
			a, c := p.x-cx, p.y-cy
			row[0], row[1] = gx, gy
			row[2] = gx*(-sin*a-cos*c) + gy*(cos*a-sin*c)
			row[3] = gx*(cos*a-sin*c) + gy*(sin*a+cos*c)
			eq.add(row, -res[i], b)
			sum += b * b * res[i] * res[i]
			weights += b
		}
		step, ok := solveWithErrors(eq, sum/max(weights, 1), s.Error[:])
		if !ok {
			s.Sure = false
			return
		}
		s.DX += step[0]
		s.DY += step[1]
		s.Rotation += step[2]
		s.Scale += step[3]
		if math.Abs(step[0])+math.Abs(step[1])+float64(w)/2*(math.Abs(step[2])+math.Abs(step[3])) < 1e-4 {
			break
		}
	}
	s.Kept = explained(points, res, seen, func(p point) float64 { return p.v })
	s.Sure = s.Kept >= minKept && math.Abs(s.Scale-1) < .1 && math.Abs(s.Rotation) < .1
}

// explained is the share of the reference's detail that today's has too: how
// much smaller the typical difference is than the typical detail.
func explained[P any](points []P, res []float64, seen []bool, value func(P) float64) float64 {
	var d, v []float64
	for i, p := range points {
		if seen[i] && i%3 == 0 {
			d = append(d, math.Abs(res[i]))
			v = append(v, math.Abs(value(p)))
		}
	}
	return max(0, 1-median(d)/(median(v)*math.Sqrt2+1e-12))
}

// solveWithErrors solves the equations and writes the standard errors for a
// residual variance, taking neighbouring pixels as sharing detail.
func solveWithErrors(eq *normal, variance float64, errors []float64) ([]float64, bool) {
	n := eq.n
	beta, ok := eq.solve()
	if !ok {
		return nil, false
	}
	inv := make([]float64, n*n)
	inverseFrom(eq.a, n, inv, make([]float64, n))
	const shares = 9 // pixels that share a residual: 3×3
	for i := range n {
		errors[i] = math.Sqrt(inv[i*n+i] * variance * shares)
	}
	return beta, true
}
