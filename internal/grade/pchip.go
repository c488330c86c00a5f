package grade

// pchip is a monotone cubic through points with rising x and rising y
// (F. N. Fritsch and R. E. Carlson, "Monotone piecewise cubic interpolation",
// SIAM J. Numer. Anal. 17(2), 1980; slopes by the weighted harmonic mean of
// F. N. Fritsch and J. Butland, SIAM J. Sci. Stat. Comput. 5(2), 1984, as in
// PCHIP). C¹ and strictly rising; beyond the ends it goes on straight.
//
// Source: F. N. Fritsch, R. E. Carlson 1980, "Monotone piecewise cubic interpolation", SIAM Journal on Numerical Analysis 17(2); F. N. Fritsch, J. Butland 1984, SIAM Journal on Scientific and Statistical Computing 5(2)
type pchip struct {
	x, y, slope []float64
}

// newPchip needs at least two points, both coordinates strictly rising.
func newPchip(x, y []float64) *pchip {
	n := len(x)
	p := &pchip{x: x, y: y, slope: make([]float64, n)}
	h, d := make([]float64, n-1), make([]float64, n-1)
	for i := range h {
		h[i] = x[i+1] - x[i]
		d[i] = (y[i+1] - y[i]) / h[i]
	}
	if n == 2 {
		p.slope[0], p.slope[1] = d[0], d[0]
		return p
	}
	for i := 1; i < n-1; i++ {
		w1, w2 := 2*h[i]+h[i-1], h[i]+2*h[i-1]
		p.slope[i] = (w1 + w2) / (w1/d[i-1] + w2/d[i])
	}
	p.slope[0] = endSlope(h[0], h[1], d[0], d[1])
	p.slope[n-1] = endSlope(h[n-2], h[n-3], d[n-2], d[n-3])
	return p
}

// endSlope is the three-point end formula, held to 0.1..3 times the end's
// chord: up to 3 keeps the cubic monotone (Fritsch and Carlson, theorem 2);
// not under 0.1 keeps the straight continuation rising.
func endSlope(h0, h1, d0, d1 float64) float64 {
	s := ((2*h0+h1)*d0 - h0*d1) / (h0 + h1)
	return hold(s, 0.1*d0, 3*d0)
}

// segment is the interval that holds v.
func (p *pchip) segment(v float64) int {
	i := 0
	for i < len(p.x)-2 && v >= p.x[i+1] {
		i++
	}
	return i
}

func (p *pchip) at(v float64) float64 {
	n := len(p.x)
	if v <= p.x[0] {
		return p.y[0] + p.slope[0]*(v-p.x[0])
	}
	if v >= p.x[n-1] {
		return p.y[n-1] + p.slope[n-1]*(v-p.x[n-1])
	}
	i := p.segment(v)
	h := p.x[i+1] - p.x[i]
	t := (v - p.x[i]) / h
	u := 1 - t
	return u*u*(1+2*t)*p.y[i] + t*t*(3-2*t)*p.y[i+1] + h*t*u*(u*p.slope[i]-t*p.slope[i+1])
}

// slopeAt is the derivative.
func (p *pchip) slopeAt(v float64) float64 {
	n := len(p.x)
	if v <= p.x[0] {
		return p.slope[0]
	}
	if v >= p.x[n-1] {
		return p.slope[n-1]
	}
	i := p.segment(v)
	h := p.x[i+1] - p.x[i]
	t := (v - p.x[i]) / h
	d := (p.y[i+1] - p.y[i]) / h
	return 6*t*(1-t)*d + (1-t)*(1-3*t)*p.slope[i] + t*(3*t-2)*p.slope[i+1]
}
