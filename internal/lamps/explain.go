package lamps

import (
	"math"
	"math/bits"
	"slices"
)

// explanation parts what was measured (a change of each lamp in each channel)
// into the camera's gain and white balance, the lamps' own changes, and what
// is left over. It weighs every hypothesis "these lamps changed, the camera did
// or didn't" by how likely the measurement is under it, so that a camera a
// third of a stop brighter is one finding and not one a lamp, and so that a
// case with two explanations is known as such.
type explanation struct {
	gain, gainError       float64    // stops, of the camera; 0 when not needed
	balance, balanceError [3]float64 // stops against green
	cameraChanged         bool
	balanceChanged        bool
	level, levelError     []float64 // stops, of each source; NaN where not measured
	colour, colourError   [][3]float64
	colourMoved           []bool
	// sure is, for each source, the probability that its change is what the
	// best hypothesis says (within alike stops).
	sure       []float64
	sureCamera float64
	// together says that every source changed as the camera's gain would have
	// it: so would a change of all lamps and the ambient light alike.
	together bool
}

// source is one measured thing: a lamp, or the ambient light.
type source struct {
	stops   [3]float64 // log2 of today's weight against the reference's
	use     [3]bool    // channels in which it's measured well enough
	weights [3]float64 // share of its luminance in each channel
	ambient bool
}

// What is believed before measuring, in stops and probabilities. They decide
// only between explanations that both fit; the tests try them against days
// drawn from other habits.
const (
	believeLampDrifts  = 0.12
	believeCamera      = 0.15
	believeColourMoves = 0.05
	believeBalance     = 0.15
	believeAmbient     = 0.5 // daylight is another by the hour
	driftSize          = 0.7 // deviation of a drift, a gain's change
	weatherSize        = 2   // of the ambient light's
	gainSize           = 0.5 // of a camera's change that is no step
	colourSize         = 0.3
	balanceSize        = 0.3
	alike              = 0.1 // stops within which two gains are the same explanation
	mostChanged        = 4   // lamps that may change colour in one day, at most
)

// explain takes the sources, the covariance of their stops (3 a source, in the
// sources' order) and the set's habit.
func explain(src []source, cov []float64, habit Habit) *explanation {
	n := len(src)
	e := &explanation{
		level: make([]float64, n), levelError: make([]float64, n),
		colour: make([][3]float64, n), colourError: make([][3]float64, n),
		colourMoved: make([]bool, n), sure: make([]float64, n),
	}
	e.explainColour(src, cov, habit)
	e.explainLevel(src, cov, habit)
	return e
}

// contrast is a difference of two channels of one source.
type contrast struct{ source, plus, minus int }

// explainColour finds the camera's white balance and the lamps whose colour moved.
func (e *explanation) explainColour(src []source, cov []float64, habit Habit) {
	m := 3 * len(src)
	var rows []contrast
	for i, s := range src {
		if s.ambient {
			continue // daylight's colour follows the weather
		}
		switch {
		case s.use[1]:
			for _, c := range []int{0, 2} {
				if s.use[c] {
					rows = append(rows, contrast{i, c, 1})
				}
			}
		case s.use[0] && s.use[2]:
			rows = append(rows, contrast{i, 0, 2})
		}
	}
	n := len(rows)
	if n == 0 {
		return
	}
	at := func(r contrast, k int) float64 { // coefficient of stop k in the contrast
		switch k {
		case 3*r.source + r.plus:
			return 1
		case 3*r.source + r.minus:
			return -1
		}
		return 0
	}
	v := make([]float64, n)
	base := make([]float64, n*n)
	for i, r := range rows {
		v[i] = src[r.source].stops[r.plus] - src[r.source].stops[r.minus]
		for j, q := range rows {
			for _, a := range []int{3*r.source + r.plus, 3*r.source + r.minus} {
				for _, b := range []int{3*q.source + q.plus, 3*q.source + q.minus} {
					base[i*n+j] += at(r, a) * at(q, b) * cov[a*m+b]
				}
			}
		}
		base[i*n+i] += float64(habit.Colour) * float64(habit.Colour)
	}
	// White balance acts on a contrast as the difference of its channels' stops.
	balance := func(r contrast) [2]float64 { // of (red, blue) against green
		var b [2]float64
		add := func(c int, s float64) {
			switch c {
			case 0:
				b[0] += s
			case 2:
				b[1] += s
			}
		}
		add(r.plus, 1)
		add(r.minus, -1)
		return b
	}
	lampBits := uint32(0)
	for _, r := range rows {
		lampBits |= 1 << r.source
	}
	type hypothesis struct {
		moved uint32
		wb    bool
		log   float64
	}
	var all []hypothesis
	k := make([]float64, n*n)
	evaluate := func(moved uint32, wb bool) float64 {
		copy(k, base)
		for i, r := range rows {
			bi := balance(r)
			for j, q := range rows {
				if r.source == q.source && moved>>r.source&1 == 1 {
					same := 0.5 // the two contrasts of a source share green
					if i == j {
						same = 1
					}
					k[i*n+j] += same * colourSize * colourSize
				}
				if wb {
					bj := balance(q)
					k[i*n+j] += balanceSize * balanceSize * (bi[0]*bj[0] + bi[1]*bj[1])
				}
			}
		}
		return logNormal(k, v, n)
	}
	prior := func(p float64, yes int, of int) float64 {
		return float64(yes)*math.Log(p) + float64(of-yes)*math.Log1p(-p)
	}
	lamps := bits.OnesCount32(lampBits)
	for moved := range uint32(1) << len(src) {
		if moved&^lampBits != 0 || bits.OnesCount32(moved) > mostChanged {
			continue
		}
		for _, wb := range []bool{false, true} {
			l := evaluate(moved, wb) + prior(believeColourMoves, bits.OnesCount32(moved), lamps)
			if wb {
				l += math.Log(believeBalance)
			} else {
				l += math.Log1p(-believeBalance)
			}
			all = append(all, hypothesis{moved, wb, l})
		}
	}
	best := slices.MaxFunc(all, func(a, b hypothesis) int { return compare(a.log, b.log) })
	e.balanceChanged = best.wb
	if best.wb {
		// Generalised least squares of (red, blue) over the lamps that kept theirs.
		copy(k, base)
		for i, r := range rows {
			for j, q := range rows {
				if r.source == q.source && best.moved>>r.source&1 == 1 {
					k[i*n+j] += 1e3 * boolTo(i == j)
				}
			}
		}
		a := make([]float64, 2*n)
		for i, r := range rows {
			b := balance(r)
			a[2*i], a[2*i+1] = b[0], b[1]
		}
		x, xc, ok := generalised(k, a, v, n, 2)
		if ok {
			e.balance[0], e.balance[2] = x[0], x[1]
			e.balanceError[0], e.balanceError[2] = math.Sqrt(xc[0]), math.Sqrt(xc[3])
		} else {
			e.balanceChanged = false
		}
	}
	for i, r := range rows {
		b := balance(r)
		left := v[i] - b[0]*e.balance[0] - b[1]*e.balance[2]
		e.colour[r.source][r.plus] = left
		e.colourError[r.source][r.plus] = math.Sqrt(base[i*n+i] + b[0]*b[0]*sq(e.balanceError[0]) + b[1]*b[1]*sq(e.balanceError[2]))
		e.colourMoved[r.source] = best.moved>>r.source&1 == 1
	}
}

// explainLevel finds the camera's gain and each lamp's level.
func (e *explanation) explainLevel(src []source, cov []float64, habit Habit) {
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
	all := levelHypotheses(src, index, level, deviation, covariance)
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
	}
	enough := enoughWitnesses
	if !best.camera {
		enough = enoughForNone
	}
	matters := best.camera && math.Abs(best.gain) >= alike/2 || !best.camera && best.drifted
	if matters && (best.witnesses < enough || 2*best.stayed < best.lamps) {
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

const (
	believeStep  = 0.8  // of a change of exposure: that it's one of the steps
	stepPrecise  = 0.03 // stops, deviation of a step from its nominal value
	fewWitnesses = 0.1  // factor on a camera's change that few lamps bear out
	// enoughWitnesses is how many sources must agree on a camera's change: two
	// lamps may have drifted alike.
	enoughWitnesses = 3
	// enoughForNone is how many must be where they were for "the camera didn't
	// change" to be believed of a day on which a lamp drifted.
	enoughForNone = 2
	agreeing      = 0.04 // stops within which the ambient light bears a gain out
	witnessing    = 2.0  // deviations within which a lamp that stayed bears it out
)

// levelHypotheses weighs "these sources moved, the camera did or didn't", best
// first, leaving out what isn't worth a thousandth of the best.
func levelHypotheses(src []source, index []int, level, deviation []float64, covariance func(moved uint32, gain float64) []float64) []levelHypothesis {
	n := len(index)
	var all []levelHypothesis
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
		// Without the camera; then with any gain; then with each step.
		for _, size := range []float64{0, gainSize, stepPrecise} {
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
		if h.camera && h.witnesses < enoughWitnesses {
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

// logNormal is the logarithm of a normal density with covariance k (used up)
// and mean 0 at v, less its constant.
func logNormal(k, v []float64, n int) float64 {
	if !factorise(k, n) {
		return math.Inf(-1)
	}
	l := 0.0
	x := make([]float64, n)
	for i := range n {
		s := v[i]
		for j := range i {
			s -= k[i*n+j] * x[j]
		}
		x[i] = s / k[i*n+i]
		l -= x[i]*x[i]/2 + math.Log(k[i*n+i])
	}
	return l
}

// generalised solves v = A·x by generalised least squares with covariance k
// (used up); A is n×p, rows first.
func generalised(k, a, v []float64, n, p int) (x, cov []float64, ok bool) {
	if !factorise(k, n) {
		return nil, nil, false
	}
	ka := make([]float64, n*p) // K⁻¹A, column by column
	col := make([]float64, n)
	for j := range p {
		for i := range n {
			col[i] = a[i*p+j]
		}
		substitute(k, col, n)
		for i := range n {
			ka[i*p+j] = col[i]
		}
	}
	eq := newNormal(p)
	for i := range p {
		for j := range p {
			for r := range n {
				eq.a[i*p+j] += a[r*p+i] * ka[r*p+j]
			}
		}
		for r := range n {
			eq.b[i] += ka[r*p+i] * v[r]
		}
	}
	x, ok = eq.solve()
	if !ok {
		return nil, nil, false
	}
	cov = make([]float64, p*p)
	inverseFrom(eq.a, p, cov, make([]float64, p))
	return x, cov, true
}

func compare(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

func boolTo(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

func sq(x float64) float64 { return x * x }
