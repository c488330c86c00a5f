package colour

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// chooseModel fits every form and keeps the one beyond which none explains
// significantly more.
func chooseModel(data []datum) (*logModel, error) {
	var fitted []*logModel
	for form := formPlain; form <= formToe; form++ {
		if len(data) <= form.free() {
			break
		}
		if m := fitForms(data, form); m != nil {
			fitted = append(fitted, m)
		}
	}
	if len(fitted) == 0 {
		return nil, refuse(FitFails, 0, "look at the samples: is the patch steady, is each exposure told right?", "no log curve comes near these %d samples", len(data))
	}
	best := fitted[0]
	for _, m := range fitted[1:] {
		if explainsMore(best, m, data) {
			best = m
		}
	}
	if best.assess(data); !(best.condition < hopeless) {
		return nil, refuse(FitFails, best.condition, "shoot one frame a stop from nearly black to clipped; each must be brighter than the one before", "these %d samples don't fix a curve", len(data))
	}
	return best, nil
}

// hopeless is the condition from which parameters can't be told apart: half
// of float64's digits are gone.
const hopeless = 1e8

// explainsMore is the F-test of a form against a simpler one. Where noise is
// known and the richer form already lies within it, the noise is the measure
// and not the chance smallness of the residuals.
func explainsMore(simple, rich *logModel, data []datum) bool {
	const chance = 0.01
	extra := float64(rich.form - simple.form)
	left := float64(len(data) - rich.form.free())
	if rich.form >= formSmooth {
		// A toe seen by one sample is that sample's own error. Two show where a
		// straight line begins; the toe's own slope needs a third.
		below := 0
		for i, d := range data {
			if d.x < rich.cut && (i == 0 || d.x > data[i-1].x) {
				below++
			}
		}
		if below < 2 || (rich.form == formToe && below < 3) {
			return false
		}
	}
	scale := rich.variance(data)
	if rich.assess(data); !(rich.condition < hopeless) {
		return false
	}
	if scale == 0 {
		return simple.cost > 0
	}
	f := (simple.cost - rich.cost) / extra / scale
	return f > 0 && distuv.F{D1: extra, D2: left}.Survival(f) < chance
}

// fitForms fits one form from several starts; nil when none is valid.
func fitForms(data []datum, form fitForm) *logModel {
	lowest := data[0].x
	top, second := data[len(data)-1], data[len(data)/2]
	step := (top.sample.Y - second.sample.Y) / math.Log2(top.x/max(second.x, 1e-6))
	if !(step > 0) {
		step = 0.07
	}
	start := logModel{form: form, step: step, grey: top.sample.Y - step*math.Log2(top.x/Grey)}
	shifts := []float64{0.0005, 0.005, 0.02, 0.06}
	switch form {
	case formPlain:
		if lowest <= 0 {
			return nil // a capped lens has no logarithm without shift
		}
		shifts = []float64{0}
	case formSmooth, formToe:
		shifts = []float64{0.01} // the first of many cuts, each starting from the one before
	}
	var best *logModel
	keep := func(m *logModel) {
		if m != nil && (best == nil || m.cost < best.cost) {
			best = m
		}
	}
	for _, shift := range shifts {
		m := start
		m.shift = shift
		if form < formSmooth {
			keep(m.descend(data, form.free()))
			continue
		}
		m.keepCuts(data, keep)
	}
	return best
}

// keepCuts tries cuts over the range of the lower data, since the cost has a
// minimum of its own between any two samples, and then frees the best.
func (m logModel) keepCuts(data []datum, keep func(*logModel)) {
	const cuts = 40
	low, high := math.Inf(1), data[len(data)-1].x
	for _, d := range data {
		if d.x > 0 {
			low = min(low, d.x)
		}
	}
	// At least the upper half of the stops must be logarithm.
	high = low * math.Sqrt(high/low)
	var best *logModel
	start := m
	for i := range cuts {
		t := start
		t.cut = low * math.Pow(high/low, float64(i)/(cuts-1))
		if t.form == formToe {
			t.toe = t.step / math.Ln2 / (t.cut + t.shift)
		}
		r := t.descend(data, t.form.free()-1)
		if r == nil {
			start = m
			continue
		}
		start = *r
		if best == nil || r.cost < best.cost {
			best = r
		}
	}
	if best != nil {
		keep(best)
		keep(best.descend(data, best.form.free()))
	}
}

// descend is Levenberg–Marquardt over the first n parameters (Moré 1978's
// scaling by column norms). It returns nil when the start is not valid.
func (m logModel) descend(data []datum, n int) *logModel {
	lowest := data[0].x
	if !m.valid(lowest) {
		return nil
	}
	m.cost = m.costOf(data)
	damping := 1e-3
	g := make([]float64, m.form.free())
	jacobian := mat.NewDense(len(data)+n, n, nil)
	right := mat.NewVecDense(len(data)+n, nil)
	scale := make([]float64, n)
	for range 200 {
		for i, d := range data {
			m.gradient(d.x, g)
			for j := range n {
				jacobian.Set(i, j, d.weight*g[j])
			}
			right.SetVec(i, d.weight*(d.sample.Y-m.value(d.x)))
		}
		for j := range n {
			norm := mat.Norm(jacobian.Slice(0, len(data), j, j+1), 2)
			scale[j] = max(scale[j], norm, 1e-300)
		}
		improved := false
		for damping < 1e12 {
			for j := range n {
				for k := range n {
					jacobian.Set(len(data)+j, k, 0)
				}
				jacobian.Set(len(data)+j, j, math.Sqrt(damping)*scale[j])
				right.SetVec(len(data)+j, 0)
			}
			var step mat.VecDense
			if err := step.SolveVec(jacobian, right); err != nil {
				if _, illConditioned := err.(mat.Condition); !illConditioned {
					damping *= 10
					continue
				}
			}
			next := m
			for j, p := range next.parameters()[:n] {
				*p += step.AtVec(j)
			}
			if next.valid(lowest) {
				if next.cost = next.costOf(data); next.cost < m.cost {
					improved = m.cost-next.cost > 1e-13*m.cost
					m = next
					damping = max(damping/10, 1e-12)
					break
				}
			}
			damping *= 10
		}
		if !improved {
			break
		}
	}
	return &m
}

// assess computes condition and covariance at the fit.
func (m *logModel) assess(data []datum) {
	n := m.form.free()
	g := make([]float64, n)
	jacobian := mat.NewDense(len(data), n, nil)
	for i, d := range data {
		m.gradient(d.x, g)
		for j := range n {
			jacobian.Set(i, j, d.weight*g[j])
		}
	}
	norms := make([]float64, n)
	for j := range n {
		norms[j] = mat.Norm(jacobian.Slice(0, len(data), j, j+1), 2)
		for i := range data {
			jacobian.Set(i, j, jacobian.At(i, j)/norms[j])
		}
	}
	var svd mat.SVD
	if !svd.Factorize(jacobian, mat.SVDThin) {
		m.condition = math.Inf(1) // a parameter that no sample depends on, or one that ran away
		return
	}
	values := svd.Values(nil)
	m.condition = values[0] / values[n-1]
	var v mat.Dense
	svd.VTo(&v)
	scale := m.variance(data)
	m.covariance = mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			sum := 0.0
			for k := range n {
				sum += v.At(i, k) * v.At(j, k) / (values[k] * values[k])
			}
			m.covariance.SetSym(i, j, scale*sum/(norms[i]*norms[j]))
		}
	}
}
