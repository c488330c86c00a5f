package lamps

import (
	"math"
	"math/bits"
	"slices"
)

// explainLevel finds the camera's gain and each lamp's level.
//
// With held, somebody has looked at the camera's settings: its gain is what an
// iris doesn't repeat, and one explanation is left.
func (e *explanation) explainLevel(src []source, cov []float64, habit Habit, held bool) {
	m := 3 * len(src)
	var index []int
	for i, s := range src {
		e.level[i], e.levelError[i] = math.NaN(), math.NaN()
		if s.use[0] || s.use[1] || s.use[2] {
			index = append(index, i)
		}
	}
	n := len(index)
	if n == 0 {
		return
	}
	// One number a source: over its channels, by their covariance when its
	// colour stayed, else by luminance.
	take := make([]float64, n*m)
	for r, i := range index {
		for c, w := range channelWeights(&src[i], i, cov, m, e.colourMoved[i] || src[i].ambient) {
			take[r*m+3*i+c] = w
		}
	}
	level := make([]float64, n)
	base := make([]float64, n*n)
	for r, i := range index {
		for c := range 3 {
			if w := take[r*m+3*i+c]; w != 0 {
				level[r] += w * (src[i].stops[c] - e.balance[c])
			}
		}
		for s, j := range index {
			for c := range 3 {
				for d := range 3 {
					base[r*n+s] += take[r*m+3*i+c] * take[s*m+3*j+d] * cov[(3*i+c)*m+3*j+d]
				}
			}
		}
	}
	own := make([]float64, n) // variances before habit
	for r := range n {
		own[r] = base[r*n+r]
	}
	covariance := func(moved uint32, gain float64) []float64 {
		k := slices.Clone(base)
		for r, i := range index {
			s := float64(habit.Lamp)
			if src[i].ambient {
				s = float64(habit.Ambient)
			}
			if moved>>r&1 == 1 {
				s = driftSize
				if src[i].ambient {
					s = weatherSize
				}
			}
			k[r*n+r] += s * s
			for q := range n {
				k[r*n+q] += gain * gain
			}
		}
		return k
	}
	deviation := make([]float64, n)
	for r := range n {
		deviation[r] = math.Sqrt(own[r] + sq(float64(habit.Lamp)))
	}
	all := levelHypotheses(src, index, level, deviation, covariance, held)
	best := all[0]
	e.cameraChanged = best.camera
	// Hypotheses that say about the same gain are one explanation; its gain is
	// their mean, and what they differ by is part of its error.
	mean, square := 0.0, 0.0
	for _, h := range all {
		if math.Abs(h.gain-best.gain) < alike {
			e.sureCamera += h.probability
			mean += h.probability * h.gain
			square += h.probability * (sq(h.gain) + sq(h.gainError))
		}
	}
	mean, square = mean/e.sureCamera, square/e.sureCamera
	if best.camera {
		e.gain, e.gainError = mean, math.Sqrt(max(square-sq(mean), 0))
		if !held {
			e.gainError = max(e.gainError, besideStep(e.gain, e.gainError))
		}
	}
	enough := enoughWitnesses
	if !best.camera {
		enough = enoughForNone
	}
	matters := best.camera && math.Abs(best.gain) >= alike/2 || !best.camera && best.drifted
	if matters && !held && (best.witnesses < enough || 2*best.stayed < best.lamps) {
		e.sureCamera = min(e.sureCamera, 0.5)
	}
	for r, i := range index {
		e.sure[i] = e.sureCamera
		e.level[i] = level[r] - e.gain
		e.levelError[i] = math.Sqrt(own[r] + sq(e.gainError))
	}
	e.together = best.camera && best.witnesses == n
}

// levelHypothesis is one way to explain the levels.
type levelHypothesis struct {
	moved           uint32
	camera          bool
	log             float64
	probability     float64
	gain, gainError float64
	lamps, stayed   int  // lamps measured, and those that stayed but for the camera
	witnesses       int  // the latter, and the ambient light when it does
	drifted         bool // some lamp moved
}

// gainSteps are the changes a camera's settings make: thirds and halves of a
// stop. Anything between comes from an iris or a shutter that moves freely.
var gainSteps = func() (g []float64) {
	for _, s := range []float64{1. / 3, 1. / 2, 2. / 3, 1, 4. / 3, 3. / 2, 5. / 3, 2, 7. / 3, 3} {
		g = append(g, s, -s)
	}
	return g
}()

// besideStep is the error of a gain that lies beside what the camera's settings
// give, and nearer than alike: lamps that drifted together by the difference look
// the same, and are seldom so few that only one of the two can be. Half of the
// difference makes either lie within two errors; 0 where the gain is a step's
// within its own.
func besideStep(gain, sd float64) float64 {
	d := math.Abs(gain) // from no change at all
	for _, g := range gainSteps {
		d = min(d, math.Abs(gain-g))
	}
	if d < 2*sd || d > alike {
		return 0
	}
	return d / 2
}

// levelHypotheses weighs "these sources moved, the camera did or didn't", best
// first, leaving out what isn't worth a thousandth of the best.
func levelHypotheses(src []source, index []int, level, deviation []float64, covariance func(moved uint32, gain float64) []float64, held bool) []levelHypothesis {
	n := len(index)
	var all []levelHypothesis
	// Without the camera; then with any gain; then with each step.
	sizes := []float64{0, gainSize, stepPrecise}
	if held {
		sizes = []float64{gainRepeats}
	}
	z, o := make([]float64, n), make([]float64, n)
	for moved := range uint32(1) << n {
		if n > 8 && bits.OnesCount32(moved) > 5 {
			continue
		}
		prior := 0.0
		for r, i := range index {
			p := believeLampDrifts
			if src[i].ambient {
				p = believeAmbient
			}
			if moved>>r&1 == 1 {
				prior += math.Log(p)
			} else {
				prior += math.Log1p(-p)
			}
		}
		for _, size := range sizes {
			k := covariance(moved, size)
			if !factorise(k, n) {
				continue
			}
			logs := 0.0
			for i := range n {
				s, t := level[i], 1.0
				for j := range i {
					s -= k[i*n+j] * z[j]
					t -= k[i*n+j] * o[j]
				}
				z[i], o[i] = s/k[i*n+i], t/k[i*n+i]
				logs -= math.Log(k[i*n+i])
			}
			density := func(shift float64) float64 {
				q := 0.0
				for i := range n {
					q += sq(z[i] - shift*o[i])
				}
				return logs - q/2
			}
			h := levelHypothesis{moved: moved, camera: size > 0}
			switch size {
			case 0:
				h.log = prior + math.Log1p(-believeCamera) + density(0)
				all = append(all, h)
			case gainRepeats:
				h.log = prior + density(0)
				all = append(all, h)
			case gainSize:
				h.log = prior + math.Log(believeCamera*(1-believeStep)) + density(0)
				all = append(all, h)
			default:
				for _, g := range gainSteps {
					h.gain = g
					h.log = prior + math.Log(believeCamera*believeStep/float64(len(gainSteps))) + density(g)
					all = append(all, h)
				}
			}
		}
	}
	ones := make([]float64, n)
	for i := range ones {
		ones[i] = 1
	}
	highest := slices.MaxFunc(all, func(a, b levelHypothesis) int { return compare(a.log, b.log) }).log
	kept := all[:0]
	for _, h := range all {
		if h.log < highest-math.Log(1e4) {
			continue
		}
		if h.camera {
			if x, xc, ok := generalised(covariance(h.moved, 0), ones, level, n, 1); ok {
				h.gain, h.gainError = x[0], math.Sqrt(xc[0])
				if held {
					trust := sq(gainRepeats) / (sq(gainRepeats) + xc[0])
					h.gain, h.gainError = trust*x[0], math.Sqrt(trust*xc[0])
				}
			}
		}
		for r, i := range index {
			stays := h.moved>>r&1 == 0
			if src[i].ambient {
				if stays && math.Abs(level[r]-h.gain) < agreeing {
					h.witnesses++
				}
				continue
			}
			h.lamps++
			if !stays {
				h.drifted = true
				continue
			}
			h.stayed++
			if math.Abs(level[r]-h.gain) < witnessing*deviation[r] {
				h.witnesses++
			}
		}
		if h.camera && !held && h.witnesses < enoughWitnesses {
			h.log += math.Log(fewWitnesses)
		}
		kept = append(kept, h)
	}
	slices.SortFunc(kept, func(a, b levelHypothesis) int { return compare(b.log, a.log) })
	total := 0.0
	for i := range kept {
		kept[i].probability = math.Exp(kept[i].log - kept[0].log)
		total += kept[i].probability
	}
	for i := range kept {
		kept[i].probability /= total
	}
	return kept
}

// channelWeights says how a source's channels make its level.
func channelWeights(s *source, i int, cov []float64, m int, byLuminance bool) [3]float64 {
	var w [3]float64
	var use []int
	for c, u := range s.use {
		if u {
			use = append(use, c)
		}
	}
	if !byLuminance {
		n := len(use)
		k := make([]float64, n*n)
		one := make([]float64, n)
		for a, c := range use {
			one[a] = 1
			for b, d := range use {
				k[a*n+b] = cov[(3*i+c)*m+3*i+d]
			}
			k[a*n+a] *= 1 + 1e-6
		}
		if factorise(k, n) {
			substitute(k, one, n)
			sum := 0.0
			for _, x := range one {
				sum += x
			}
			for a, c := range use {
				w[c] = one[a] / sum
			}
			return w
		}
	}
	sum := 0.0
	for _, c := range use {
		sum += s.weights[c]
	}
	for _, c := range use {
		if sum > 0 {
			w[c] = s.weights[c] / sum
		} else {
			w[c] = 1 / float64(len(use))
		}
	}
	return w
}
