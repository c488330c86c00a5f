package colour

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// logModel is cameraLinToLog in numbers that a bracket shows directly:
//
//	y = grey + step·log₂((x + shift)/(0.18 + shift))     x > cut
//	y = straight on from there with slope toe             x ≤ cut
//
// step is the signal a stop is worth far above the toe.
type logModel struct {
	form       fitForm
	grey, step float64
	shift      float64
	cut, toe   float64

	cost       float64 // Σ (weight·residual)²
	covariance *mat.SymDense
	condition  float64
}

// fitForm counts what is fitted: each form has all that the one before has.
type fitForm int

const (
	formPlain  fitForm = iota // grey, step
	formShift                 // and shift
	formSmooth                // and cut, the toe going on at the logarithm's slope
	formToe                   // and the toe's own slope
)

func (f fitForm) free() int { return 2 + int(f) }

func (m *logModel) value(x float64) float64 {
	if m.form >= formSmooth && x <= m.cut {
		return m.logarithm(m.cut) + m.slopeOfToe()*(x-m.cut)
	}
	return m.logarithm(x)
}

func (m *logModel) logarithm(x float64) float64 {
	return m.grey + m.step*math.Log2((x+m.shift)/(Grey+m.shift))
}

func (m *logModel) slopeOfToe() float64 {
	if m.form == formToe {
		return m.toe
	}
	return m.step / math.Ln2 / (m.cut + m.shift)
}

// gradient fills g with the derivatives by grey, step, shift, toe (formToe
// only) and cut, in that order, as far as the form has them.
func (m *logModel) gradient(x float64, g []float64) {
	at := x
	inToe := m.form >= formSmooth && x <= m.cut
	if inToe {
		at = m.cut
	}
	u, v := at+m.shift, Grey+m.shift
	k := m.step / math.Ln2
	g[0] = 1
	g[1] = math.Log2(u / v)
	if m.form >= formShift {
		g[2] = k * (1/u - 1/v)
	}
	switch {
	case m.form == formSmooth:
		g[3] = 0
		if inToe {
			d := x - m.cut
			g[1] += d / (math.Ln2 * u)
			g[2] -= k * d / (u * u)
			g[3] = -k * d / (u * u)
		}
	case m.form == formToe:
		g[3], g[4] = 0, 0
		if inToe {
			g[3] = x - m.cut
			g[4] = k/u - m.toe
		}
	}
}

// valid says whether the model rises and is defined over the data.
func (m *logModel) valid(lowest float64) bool {
	from := lowest
	if m.form >= formSmooth {
		from = m.cut
	}
	return m.step > 0 && from+m.shift > 0 && Grey+m.shift > 0 && (m.form < formToe || m.toe > 0) &&
		!math.IsNaN(m.grey+m.step+m.shift+m.toe) && !math.IsInf(m.grey+m.step+m.shift+m.toe, 0)
}

func (m *logModel) costOf(data []datum) float64 {
	sum := 0.0
	for _, d := range data {
		r := d.weight * (d.sample.Y - m.value(d.x))
		sum += r * r
	}
	return sum
}

// variance is that of a sample of weight 1: what the residuals say, and where
// the samples' own errors are known not less than these.
func (m *logModel) variance(data []datum) float64 {
	scale := m.cost / float64(len(data)-m.form.free())
	if data[0].sample.Sigma > 0 {
		scale = max(scale, 1)
	}
	return scale
}

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
	best.assess(data)
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

// parameters lists pointers to what is free, in gradient's order.
func (m *logModel) parameters() []*float64 {
	p := []*float64{&m.grey, &m.step}
	if m.form >= formShift {
		p = append(p, &m.shift)
	}
	if m.form == formToe {
		p = append(p, &m.toe)
	}
	if m.form >= formSmooth {
		p = append(p, &m.cut)
	}
	return p
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
	svd.Factorize(jacobian, mat.SVDThin)
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

// describe turns the model into Common LUT Format's numbers and their errors.
func (fit *CurveFit) describe(data []datum, m *logModel) {
	v := Grey + m.shift
	p := LogParams{
		Base: 2, LinSideSlope: 1, LinSideOffset: m.shift,
		LogSideSlope: m.step, LogSideOffset: m.grey - m.step*math.Log2(v),
		LinSideBreak: m.cut,
	}
	lowest := data[0].x
	toeWhy := ""
	if m.form < formSmooth {
		p.LinSideBreak = lowest
		toeWhy = "no two samples lie in a straight toe that shows; the line begins at the lowest exposure, where nothing was measured below"
	}
	se := func(gradient ...float64) float64 {
		g := mat.NewVecDense(m.form.free(), append(gradient, make([]float64, m.form.free()-len(gradient))...))
		return math.Sqrt(mat.Inner(g, m.covariance, g))
	}
	add := func(name string, value, se float64, why string) {
		if why != "" {
			se = 0
		}
		fit.Parameters = append(fit.Parameters, FitParameter{Name: name, Value: value, SE: se, Fixed: why != "", Why: why})
		if why != "" && name != "base" && name != "linSideSlope" {
			fit.Remarks = append(fit.Remarks, name+" is fixed: "+why)
		}
	}
	add("base", p.Base, 0, "any base serves; with 2 the logSideSlope is the signal a stop is worth")
	add("linSideSlope", p.LinSideSlope, 0, "only its ratio to linSideOffset shapes the curve")
	if m.form == formPlain {
		add("linSideOffset", 0, 0, "the samples do not reach low enough to show it")
	} else {
		add("linSideOffset", p.LinSideOffset, se(0, 0, 1), "")
	}
	add("logSideSlope", p.LogSideSlope, se(0, 1), "")
	slopeOfOffset := []float64{1, -math.Log2(v)}
	if m.form >= formShift {
		slopeOfOffset = append(slopeOfOffset, -m.step/(math.Ln2*v))
	}
	add("logSideOffset", p.LogSideOffset, se(slopeOfOffset...), "")
	switch m.form {
	case formSmooth:
		add("linSideBreak", p.LinSideBreak, se(0, 0, 0, 1), "")
		add("linearSlope", m.slopeOfToe(), 0, "the line goes on at the logarithm's slope; a slope of its own explains no more")
	case formToe:
		toe := m.toe
		p.LinearSlope = &toe
		add("linSideBreak", p.LinSideBreak, se(0, 0, 0, 0, 1), "")
		add("linearSlope", toe, se(0, 0, 0, 1), "")
	default:
		add("linSideBreak", p.LinSideBreak, 0, toeWhy)
		add("linearSlope", m.step/math.Ln2/(p.LinSideBreak+m.shift), 0, "the line goes on at the logarithm's slope")
	}
	fit.Params = p
	fit.Condition = m.condition
	fit.DegreesOfFreedom = len(data) - m.form.free()
	if fit.Weighted {
		fit.ChiSquared = m.cost
	}
}

// remark adds what looks wrong in a finished fit.
func (fit *CurveFit) remark() {
	last := fit.Samples[len(fit.Samples)-1]
	rest := 0.0
	for _, s := range fit.Samples[:len(fit.Samples)-1] {
		rest += float64(s.Residual * s.Residual)
	}
	rest = math.Sqrt(rest / float64(len(fit.Samples)-1))
	if r := -float64(last.Residual); r > 3 && r > 4*rest {
		fit.Remarks = append(fit.Remarks, fmt.Sprintf("the brightest sample lies %.1f codes below the curve: it may be clipped; mark it so and fit again", r))
	}
	if red := fit.ChiSquared / float64(fit.DegreesOfFreedom); red > 9 {
		fit.Remarks = append(fit.Remarks, fmt.Sprintf("residuals are %.0f times what the samples' noise explains: the exposure steps are less exact than told, or the curve is of another form; standard errors are widened", math.Sqrt(red)))
	}
	if n := fit.Nearest; len(n) > 0 && n[0].RMSShifted < fit.RMS/2 {
		fit.Remarks = append(fit.Remarks, fmt.Sprintf("%s describes these samples better than the fitted form (%.2f against %.2f codes)", n[0].ID, float64(n[0].RMSShifted), float64(fit.RMS)))
	}
}
