package picture

import "math"

// The styles of a Power (Common LUT Format, Exponent, attribute style).
const (
	BasicFwd          = "basicFwd"
	BasicRev          = "basicRev"
	BasicMirrorFwd    = "basicMirrorFwd"
	BasicMirrorRev    = "basicMirrorRev"
	BasicPassThruFwd  = "basicPassThruFwd"
	BasicPassThruRev  = "basicPassThruRev"
	MonCurveFwd       = "monCurveFwd"
	MonCurveRev       = "monCurveRev"
	MonCurveMirrorFwd = "monCurveMirrorFwd"
	MonCurveMirrorRev = "monCurveMirrorRev"
)

// Kind implements Op.
func (p *Power) Kind() string { return "power" }

// Apply implements Op.
func (p *Power) Apply(v [3]float64) [3]float64 {
	for ch, x := range v {
		e, o := p.Exponent[ch], p.Offset[ch]
		switch p.Style {
		case BasicFwd:
			x = math.Pow(max(x, 0), e)
		case BasicRev:
			x = math.Pow(max(x, 0), 1/e)
		case BasicMirrorFwd:
			x = math.Copysign(math.Pow(math.Abs(x), e), x)
		case BasicMirrorRev:
			x = math.Copysign(math.Pow(math.Abs(x), 1/e), x)
		case BasicPassThruFwd:
			if x > 0 {
				x = math.Pow(x, e)
			}
		case BasicPassThruRev:
			if x > 0 {
				x = math.Pow(x, 1/e)
			}
		case MonCurveFwd:
			x = monCurve(x, e, o)
		case MonCurveRev:
			x = monCurveInverse(x, e, o)
		case MonCurveMirrorFwd:
			x = math.Copysign(monCurve(math.Abs(x), e, o), x)
		case MonCurveMirrorRev:
			x = math.Copysign(monCurveInverse(math.Abs(x), e, o), x)
		}
		v[ch] = total(x)
	}
	return v
}

// monCurve is a power with an offset, and a line through zero where that
// meets it with the same slope (Common LUT Format, Exponent, monCurveFwd). At
// an exponent of 1 the line has no end; at an offset of 0 it has no slope.
func monCurve(x, e, o float64) float64 {
	switch {
	case e <= 1:
		return x / (1 + o)
	case o <= 0:
		return math.Pow(max(x, 0), e)
	}
	if x < o/(e-1) {
		return x * monCurveSlope(e, o)
	}
	return math.Pow((x+o)/(1+o), e)
}

func monCurveInverse(y, e, o float64) float64 {
	switch {
	case e <= 1:
		return y * (1 + o)
	case o <= 0:
		return math.Pow(max(y, 0), 1/e)
	}
	if y < math.Pow(e*o/((e-1)*(1+o)), e) {
		return y / monCurveSlope(e, o)
	}
	return (1+o)*math.Pow(y, 1/e) - o
}

func monCurveSlope(e, o float64) float64 {
	return (e - 1) / o * math.Pow(o*e/((e-1)*(1+o)), e)
}
