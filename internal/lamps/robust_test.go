package lamps

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The biweight's efficiency on normal residuals of three channels that share a
// weight, by drawing: variance of a mean under it.
func TestTukeyEfficiency(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	// Asymptotic variance of a location M-estimate, one channel:
	// E[(ωr)²] / E[∂(ωr)/∂r]².
	var top, slope float64
	const n = 400000
	for range n {
		r := [3]float64{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}
		size := func(x float64) float64 { return math.Sqrt(x*x + r[1]*r[1] + r[2]*r[2]) }
		psi := func(x float64) float64 { return tukeyWeight(size(x)) * x }
		top += sq(psi(r[0])) / n
		const h = 1e-4
		slope += (psi(r[0]+h) - psi(r[0]-h)) / (2 * h) / n
	}
	efficiency := slope * slope / top
	if math.Abs(efficiency-tukeyEfficiency) > .01 {
		t.Errorf("efficiency %.3f, stated %.2f", efficiency, tukeyEfficiency)
	}
}

// brokenFit is a fit of the made garage with a part of the bins, in round
// blots, replaced by something else.
func brokenFit(s *Set, cam madeCamera, seed uint64, share float64) (f *robustFit, truth [3][]float64) {
	rng := rand.New(rand.NewPCG(seed, 78))
	w, h := s.W, s.H
	// The set's own pictures are today's, so that all that is wrong is the blots.
	levels := flat(s.Mix)
	levels[1][0] *= 1.2
	levels[1][1] *= 1.2
	levels[1][2] *= 1.2
	today := cam.average(rng, s.sum(levels), 4)
	seen := make([]bool, w*h)
	for p := range seen {
		seen[p] = true
	}
	f = newRobustFit(s.Separation, today, newBins(binSide(w), w, h, s.usable(today, seen)), nil)
	bad := map[int]bool{}
	for float64(len(bad)) < share*float64(f.n) {
		cx, cy, r := rng.IntN(f.gridW), rng.IntN(f.gridH), 4+rng.IntN(8)
		blot := [3]float64{.02 + .3*rng.Float64(), .02 + .3*rng.Float64(), .02 + .3*rng.Float64()}
		for i, p := range f.place {
			if sq(float64(p%f.gridW-cx))+sq(float64(p/f.gridW-cy)) < float64(r*r) && float64(len(bad)) < share*float64(f.n) {
				bad[i] = true
				for c := range 3 {
					f.y[3*i+c] = blot[c] * (.8 + .4*grain(float64(p%f.gridW)/3, float64(p/f.gridW)/3, seed))
				}
			}
		}
	}
	f.expect(s.starts(f))
	for c := range 3 {
		for j := range levels {
			truth[c] = append(truth[c], levels[j][c])
		}
	}
	return f, truth
}

// With up to 45 % of the bins replaced the fit still finds every level; beyond
// it may say it can't, but what it says with a small error stays right.
func TestRobustBreakdown(t *testing.T) {
	_, s, cam := madeSet(t, rand.New(rand.NewPCG(1, 77)), 4, 256, 144)
	for _, share := range []float64{0, .15, .3, .45, .6} {
		worst, z := 0.0, 0.0
		for seed := range uint64(3) {
			f, truth := brokenFit(s, cam, seed, share)
			if !f.begin() || !f.covariance() {
				if share <= .45 {
					t.Errorf("share %.2f: no fit", share)
				}
				continue
			}
			for c := range 3 {
				for j := range f.k - 1 { // the ambient is weak
					e := math.Abs(math.Log2(f.beta[c][j] / truth[c][j]))
					sd := math.Sqrt(f.cov[(c*f.k+j)*(3*f.k+1)]) / f.beta[c][j] / math.Ln2
					if sd > .05 {
						continue
					}
					worst, z = max(worst, e), max(z, e/sd)
				}
			}
		}
		t.Logf("%.0f %% replaced: worst level error %.4f stop, %.1f standard errors", 100*share, worst, z)
		if limit := .02 + .03*share; worst > limit && share <= .45 {
			t.Errorf("%.0f %% replaced: worst level error %.4f stop", 100*share, worst)
		}
	}
}

// Noise in the lamp pictures bends least squares' weights; the instruments undo
// it. The truth is 1 for every picture: today's light is the reference mix.
func TestDilution(t *testing.T) {
	const w, h, sets = 256, 144, 3
	var bent, right, z float64
	for seed := range uint64(sets) {
		rng := rand.New(rand.NewPCG(9, seed))
		g := newGarage(rng, 3)
		cam := newCamera()
		cam.read, cam.photon = 1.2e-3, 1e-4 // a noisy camera
		parts := g.render(w, h, pose{absent: true}, nudge{})
		o := mustOrder(t, "all, -key, -fill, -rim")
		var holds []Hold
		for _, hold := range o.Holds {
			holds = append(holds, Hold{Mean: cam.average(rng, mixed(parts, flat(hold.Setting)), 4)})
		}
		s, err := Separate(holds, o.Design(nil), SeparateOptions{Noise: cam.noise()})
		if err != nil {
			t.Fatal(err)
		}
		set := NewSet(s)
		today := cam.average(rng, mixed(parts, flat(set.Mix)), 16)
		seen := make([]bool, w*h)
		for p := range seen {
			seen[p] = true
		}
		f := newRobustFit(s, today, newBins(binSide(w), w, h, set.usable(today, seen)), nil)
		f.expect(set.starts(f))
		if !f.begin() || !f.covariance() {
			t.Fatal("no fit")
		}
		plain := newNormal(f.k)
		for i := range f.n {
			plain.add(f.x[(3*i+1)*f.k:(3*i+2)*f.k], f.y[3*i+1], f.weight[i]/f.noise[3*i+1])
		}
		b, _ := plain.solve()
		for j := range f.k {
			bent = max(bent, math.Abs(b[j]-1))
			e := math.Abs(f.beta[1][j] - 1)
			right = max(right, e)
			z = max(z, e/math.Sqrt(f.cov[(f.k+j)*(3*f.k+1)]))
		}
	}
	t.Logf("worst weight by least squares off by %.3f, with instruments by %.3f (%.1f standard errors)", bent, right, z)
	if bent < .05 {
		t.Errorf("the test has no dilution to undo: %.3f", bent)
	}
	if z > 3.5 || right > bent/2 {
		t.Errorf("with instruments off by %.3f, %.1f standard errors; by least squares %.3f", right, z, bent)
	}
}
