package unit

// Watt is power.
type Watt float64

// Volt is electrical tension.
type Volt float64

// Ampere is electrical current.
type Ampere float64

// Ampere returns the current that power w draws at tension v with the given
// power factor (1 for a heater, less for most supplies).
func (w Watt) Ampere(v Volt, powerFactor float64) Ampere {
	return Ampere(float64(w) / (float64(v) * powerFactor))
}
