package picture

import "math"

// held is the largest magnitude an op returns. It is the largest single
// precision float, so that a program's values can be handed to executors that
// compute in single precision.
const held = math.MaxFloat32

// total makes a result finite: NaN (which arises from infinities that cancel)
// becomes 0 and anything beyond ±held is held there.
func total(x float64) float64 {
	switch {
	case x != x:
		return 0
	case x > held:
		return held
	case x < -held:
		return -held
	}
	return x
}

func total3(v [3]float64) [3]float64 {
	return [3]float64{total(v[0]), total(v[1]), total(v[2])}
}

// clamp01 holds x inside 0..1; NaN becomes 0.
func clamp01(x float64) float64 {
	if x > 0 {
		return min(x, 1)
	}
	return 0
}
