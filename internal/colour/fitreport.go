package colour

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

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
