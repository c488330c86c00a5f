package unit

// Kelvin is a colour temperature.
type Kelvin float64

// Mired is a reciprocal colour temperature, 10⁶/K (reciprocal megakelvin, MK⁻¹).
// Equal steps in mired look about equal, and a colour filter shifts every
// source by about the same number of them.
type Mired float64

const kelvinTimesMired = 1e6

// Mired returns the reciprocal temperature.
func (k Kelvin) Mired() Mired { return Mired(kelvinTimesMired / float64(k)) }

// Kelvin returns the temperature.
func (m Mired) Kelvin() Kelvin { return Kelvin(kelvinTimesMired / float64(m)) }

// ShiftTo returns the mired a filter must add to turn light of temperature k
// into light of temperature to; negative cools.
func (k Kelvin) ShiftTo(to Kelvin) Mired { return to.Mired() - k.Mired() }

// Shifted returns the temperature after a filter of the given shift.
func (k Kelvin) Shifted(by Mired) Kelvin { return (k.Mired() + by).Kelvin() }
