package unit

import "math"

// Metre is a length.
type Metre float64

// Millimetre is a length on the sensor or of a lens.
type Millimetre float64

const millimetresPerMetre = 1000

// Millimetre returns the same length.
func (m Metre) Millimetre() Millimetre { return Millimetre(m * millimetresPerMetre) }

// Metre returns the same length.
func (m Millimetre) Metre() Metre { return Metre(m / millimetresPerMetre) }

// SquareMetre is an area.
type SquareMetre float64

// Degree is a plane angle.
type Degree float64

// Radian is a plane angle.
type Radian float64

// Radian returns the same angle.
func (d Degree) Radian() Radian { return Radian(d * math.Pi / 180) }

// Degree returns the same angle.
func (r Radian) Degree() Degree { return Degree(r * 180 / math.Pi) }

// Steradian is a solid angle.
type Steradian float64

// Nanometre is a wavelength.
type Nanometre float64
