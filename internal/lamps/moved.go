package lamps

import (
	"math"
	"slices"
)

// ripples is how many smooth shapes a lamp's picture may be bent by: its light
// times 1, u, v, u²−1, uv, v²−1, with u and v the place in the picture about
// the light's own middle, in units of its own spread. The first is the lamp
// itself. A lamp that was pushed aside or got another modifier is no longer a
// multiple of its picture, but near a smooth multiple of it.
const ripples = 5

// farOut holds u and v, beyond which there is little of the lamp's light and a
// square would grow wild.
const farOut = 2.5

// bend is the middle and spread of a lamp's light, in bins.
type bend struct{ mx, my, sx, sy float64 }

// bendOf finds the middle and spread of lamp j's light.
func (f *robustFit) bendOf(j int) bend {
	var b bend
	var w float64
	light := func(i int) float64 {
		s := 0.0
		for c := range 3 {
			s += max(f.x[(3*i+c)*f.k+j], 0)
		}
		return s
	}
	for i, p := range f.place {
		l := light(i)
		w += l
		b.mx += l * float64(p%f.gridW)
		b.my += l * float64(p/f.gridW)
	}
	w = max(w, 1e-12)
	b.mx, b.my = b.mx/w, b.my/w
	for i, p := range f.place {
		l := light(i)
		b.sx += l * sq(float64(p%f.gridW)-b.mx)
		b.sy += l * sq(float64(p/f.gridW)-b.my)
	}
	b.sx, b.sy = max(math.Sqrt(b.sx/w), 2), max(math.Sqrt(b.sy/w), 2)
	return b
}

// shapes gives the five shapes at bin p of the grid.
func (b bend) shapes(p, gridW int) [ripples]float64 {
	u := min(max((float64(p%gridW)-b.mx)/b.sx, -farOut), farOut)
	v := min(max((float64(p/gridW)-b.my)/b.sy, -farOut), farOut)
	return [ripples]float64{u, v, u*u - 1, u * v, v*v - 1}
}

// bent returns a fit in which lamp j may fall differently: the same with five
// more pictures at the end.
func (f *robustFit) bent(j int) *robustFit {
	k, n := f.k, f.k+ripples
	g := *f
	g.k = n
	g.x = make([]float64, 3*f.n*n)
	g.s = make([]float64, 3*f.n*n*n)
	g.noise, g.cov, g.scratch = nil, nil, nil
	b := f.bendOf(j)
	inRows(f.n, func(from, to int) {
		for i := from; i < to; i++ {
			shape := b.shapes(f.place[i], f.gridW)
			for c := 3 * i; c < 3*i+3; c++ {
				x, old := g.x[c*n:(c+1)*n], f.x[c*k:(c+1)*k]
				copy(x, old)
				for r, t := range shape {
					x[k+r] = t * old[j]
				}
				s, was := g.s[c*n*n:(c+1)*n*n], f.s[c*k*k:(c+1)*k*k]
				for a := range n {
					fa, ia := 1.0, a
					if a >= k {
						fa, ia = shape[a-k], j
					}
					for d := range n {
						fd, id := 1.0, d
						if d >= k {
							fd, id = shape[d-k], j
						}
						s[a*n+d] = fa * fd * was[ia*k+id]
					}
				}
			}
		}
	})
	for c := range 3 {
		g.beta[c], g.sd[c] = nil, nil
	}
	return &g
}

// kept is the share of the evidence for lamp j, in the room, that the fit's
// weights left standing; a lamp that falls differently loses most of its own.
func (f *robustFit) kept(j int) float64 {
	return f.standing(func(i int) float64 {
		l := 0.0
		for c := range 3 {
			l += sq(f.x[(3*i+c)*f.k+j]) / (f.noise[3*i+c] + f.q[f.class[i]]*f.model[3*i+c])
		}
		return l
	})
}

// stands is the share of the room that the fit let stand, each bin counting
// by the square of the share that lamp j has of its light in the reference. It
// asks how much of where the lamp shines is as it was, where kept asks how much
// of what is known of it comes from there: a bright lamp that is in the picture
// itself outweighs, for kept, all that it lights.
func (f *robustFit) stands(j int) float64 {
	return f.standing(func(i int) float64 {
		if own, all := f.light(i, j); own > 0 && all > 0 {
			return sq(min(own/all, 1))
		}
		return 0
	})
}

// standing is the share of the room's bins, each counting by worth, that the
// fit's weights let stand.
func (f *robustFit) standing(worth func(i int) float64) float64 {
	var had, left float64
	for i := range f.n {
		if f.class[i] == figure {
			continue
		}
		w := worth(i)
		had += w
		left += w * f.weight[i]
	}
	if had <= 0 {
		return 0
	}
	return left / had
}

// light is lamp j's light at bin i, and all lamps', over the channels, in the
// reference mix.
func (f *robustFit) light(i, j int) (own, all float64) {
	for c := range 3 {
		own += f.reference[c][j] * f.x[(3*i+c)*f.k+j]
		all += f.lamps(f.reference[c], i, c)
	}
	return own, all
}

// Bounds of a lamp that falls differently.
const (
	suspectLess = 0.7  // see strange
	suspectKept = 0.35 // at most this share of a lamp's evidence stood
	gainedKept  = 2.0  // and the bend must let this many times as much stand
	leastBend   = 0.08 // stops of change over the lamp's light, as a deviation
	// leastLit is the least share of the picture, in the room, that a lamp must
	// reach to be judged so, and leastRegained the share of that which the bend
	// must explain anew.
	leastLit      = 0.04
	leastRegained = 0.3
	reaches       = 0.15 // of a bin's light
	// mostOfIt is the share of the picture that the bent fit must explain, and
	// sureBend the mean square that the bend's unknowns must have, in their own
	// standard errors: a codec that smooths what it can't afford bends pictures,
	// too. Found on days of seeds 301, 302 and 501 (TestDays).
	mostOfIt = 0.65
	sureBend = 5
)

// lit is the share of bins, in the room, that lamp j reaches in the reference mix.
func (f *robustFit) lit(j int) float64 {
	n := 0
	for i := range f.n {
		if f.class[i] == figure {
			continue
		}
		own, all := f.light(i, j)
		if own > reaches*all {
			n++
		}
	}
	return float64(n) / float64(f.n)
}

// findMoved looks whether a lamp falls differently, and returns the fit in
// which it does; j is −1 when none.
func (f *robustFit) findMoved(lamps int) (better *robustFit, j int) {
	type suspect struct {
		lamp int
		kept float64
		lit  float64
	}
	var suspects []suspect
	for i := range lamps {
		if !f.strange(i, suspectLess) {
			continue
		}
		k, l := f.kept(i), f.lit(i)
		if k < suspectKept && l >= leastLit {
			suspects = append(suspects, suspect{i, k, l})
		}
	}
	slices.SortFunc(suspects, func(a, b suspect) int { return compare(a.kept, b.kept) })
	best, j := f.explained(), -1
	for _, s := range suspects[:min(len(suspects), 4)] {
		g := f.bent(s.lamp)
		var reference [3][]float64
		for c := range 3 {
			reference[c] = append(slices.Clone(f.reference[c]), make([]float64, ripples)...)
		}
		g.expect(reference)
		start, _ := g.search(g.reference)
		if !g.run(start, 20) {
			continue
		}
		if g.kept(s.lamp) < gainedKept*s.kept || g.bending(s.lamp) < leastBend {
			continue
		}
		e := g.explained()
		if e < mostOfIt || !g.covariance() || g.bendSquare() < sureBend {
			continue
		}
		if e-f.explained() > leastRegained*s.lit && e > best {
			best, better, j = e, g, s.lamp
		}
	}
	return better, j
}

// bending is how far, in stops, the bent lamp's light departs from a multiple
// of its picture, as a deviation over its light.
func (f *robustFit) bending(j int) float64 {
	b := f.bendOf(j)
	k := f.k - ripples
	var w, m, q float64
	for i, p := range f.place {
		shape := b.shapes(p, f.gridW)
		for c := range 3 {
			level := f.beta[c][j]
			for r, t := range shape {
				level += t * f.beta[c][k+r]
			}
			l := max(f.x[(3*i+c)*f.k+j], 0)
			s := math.Log2(max(level, 1e-3*f.reference[c][j]) / max(f.reference[c][j], 1e-6))
			w += l
			m += l * s
			q += l * s * s
		}
	}
	if w <= 0 {
		return 0
	}
	m /= w
	return math.Sqrt(max(q/w-m*m, 0))
}

// bendSquare is the mean square of a bent fit's bend, in units of its errors.
func (f *robustFit) bendSquare() float64 {
	k, sum := f.k-ripples, 0.0
	for c := range 3 {
		for r := range ripples {
			if v := f.cov[(c*f.k+k+r)*(3*f.k+1)]; v > 0 {
				sum += sq(f.beta[c][k+r]) / v
			}
		}
	}
	return sum / (3 * ripples)
}

// shun leaves out of a fit every bin that a lamp of which little is explained
// reaches at all: a lamp that was pushed aside spoils, a little and unnoticed,
// what is learned of the others wherever it shines. It returns the lamps
// shunned; none changes nothing.
func (f *robustFit) shun(lamps int) []int {
	var out []int
	for j := range lamps {
		if f.strange(j, shunLess) {
			out = append(out, j)
		}
	}
	if len(out) == 0 {
		return nil
	}
	f.left = make([]bool, f.n)
	for i := range f.n {
		for _, j := range out {
			own, all := f.light(i, j)
			if own > shunShare*all {
				f.left[i] = true
			}
		}
	}
	return out
}

// strange says whether, where lamp j gives much of the light in the room, less
// than that share of what is explained elsewhere is.
func (f *robustFit) strange(j int, less float64) bool {
	var strong, fits, others, othersFit float64
	for i := range f.n {
		if f.class[i] == figure {
			continue
		}
		own, all := f.light(i, j)
		fit := boolTo(f.norm[i] < tukeyCut)
		if own > shunStrong*all {
			strong++
			fits += fit
		} else {
			others++
			othersFit += fit
		}
	}
	return strong >= shunBins && others > 0 && fits/strong < less*othersFit/others
}

const (
	shunStrong = 0.25 // share of the light from which a lamp rules a bin
	shunBins   = 60
	shunLess   = 0.35
	shunShare  = 0.01 // share from which a shunned lamp spoils a bin
)
