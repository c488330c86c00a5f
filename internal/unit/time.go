package unit

// Second is a duration.
type Second float64

// Hertz is a frequency.
type Hertz float64

// Period returns the time of one cycle.
func (f Hertz) Period() Second { return Second(1 / f) }

// Hertz returns the frequency of which s is the period.
func (s Second) Hertz() Hertz { return Hertz(1 / s) }
