package colour

import (
	"math"

	"gonum.org/v1/gonum/mat"
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
