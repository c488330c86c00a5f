package colour

import "math"

// RGB is a triple of red, green and blue; what it means (scene-linear, log
// signal, display signal) is said where it is used.
type RGB [3]float64

// XYZ is a CIE 1931 tristimulus value, Y = 1 for the reference white unless said otherwise.
type XYZ [3]float64

// XY is a CIE 1931 chromaticity.
type XY struct{ X, Y float64 }

// XYZ returns the tristimulus value of the chromaticity at Y = 1.
func (c XY) XYZ() XYZ { return XYZ{c.X / c.Y, 1, (1 - c.X - c.Y) / c.Y} }

// XY returns the chromaticity of a tristimulus value.
func (v XYZ) XY() XY {
	s := v[0] + v[1] + v[2]
	return XY{v[0] / s, v[1] / s}
}

// Mat3 is a 3×3 matrix, rows first; it acts on column vectors.
type Mat3 [3][3]float64

// Identity is the matrix that changes nothing.
var Identity = Mat3{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}

// Diagonal returns the matrix that scales each component.
func Diagonal(a, b, c float64) Mat3 { return Mat3{{a, 0, 0}, {0, b, 0}, {0, 0, c}} }

// Apply returns m·v.
func (m Mat3) Apply(v [3]float64) [3]float64 {
	return [3]float64{
		m[0][0]*v[0] + m[0][1]*v[1] + m[0][2]*v[2],
		m[1][0]*v[0] + m[1][1]*v[1] + m[1][2]*v[2],
		m[2][0]*v[0] + m[2][1]*v[1] + m[2][2]*v[2],
	}
}

// Mul returns m·n: n acts first.
func (m Mat3) Mul(n Mat3) Mat3 {
	var r Mat3
	for i := range 3 {
		for j := range 3 {
			for k := range 3 {
				r[i][j] += m[i][k] * n[k][j]
			}
		}
	}
	return r
}

// Scale returns m with every element times k.
func (m Mat3) Scale(k float64) Mat3 {
	for i := range m {
		for j := range m[i] {
			m[i][j] *= k
		}
	}
	return m
}

// Det returns the determinant.
func (m Mat3) Det() float64 {
	return m[0][0]*(m[1][1]*m[2][2]-m[1][2]*m[2][1]) -
		m[0][1]*(m[1][0]*m[2][2]-m[1][2]*m[2][0]) +
		m[0][2]*(m[1][0]*m[2][1]-m[1][1]*m[2][0])
}

// Inverse returns the inverse by cofactors. A singular matrix gives
// non-finite elements; the matrices here come from primaries that span a
// triangle, which is checked where they are made.
func (m Mat3) Inverse() Mat3 {
	d := m.Det()
	c := func(a, b, e, f float64) float64 { return (a*f - b*e) / d }
	return Mat3{
		{c(m[1][1], m[1][2], m[2][1], m[2][2]), -c(m[0][1], m[0][2], m[2][1], m[2][2]), c(m[0][1], m[0][2], m[1][1], m[1][2])},
		{-c(m[1][0], m[1][2], m[2][0], m[2][2]), c(m[0][0], m[0][2], m[2][0], m[2][2]), -c(m[0][0], m[0][2], m[1][0], m[1][2])},
		{c(m[1][0], m[1][1], m[2][0], m[2][1]), -c(m[0][0], m[0][1], m[2][0], m[2][1]), c(m[0][0], m[0][1], m[1][0], m[1][1])},
	}
}

// Finite says whether every element is a finite number.
func Finite(v [3]float64) bool {
	for _, x := range v {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return false
		}
	}
	return true
}
