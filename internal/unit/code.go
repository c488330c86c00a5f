package unit

// CodeValue is an integer code of a recording, kept as a float64 so that
// means and interpolated codes stay exact. The bit depth is said beside it.
type CodeValue float64

// Percent is a fraction times 100.
type Percent float64

// Fraction returns p/100.
func (p Percent) Fraction() float64 { return float64(p) / 100 }
