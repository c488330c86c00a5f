package optics

import (
	"math"

	"lampwise/internal/unit"
)

// Meter constants of ISO 2720:1974 (read: colour-hdri's documentation gives the
// ranges K 10.6..13.4, C 240..400 for a flat receptor, 320..540 for a
// hemisphere; the values below are the customary ones inside them).
const (
	FlatC       = 250.0 // incident, flat (cosine) receptor
	HemisphereC = 340.0 // incident, hemispherical receptor
	ReflectedK  = 12.5  // reflected
)

// The ranges that ISO 2720 allows.
const (
	LeastK, MostK                     = 10.6, 13.4
	LeastFlatC, MostFlatC             = 240.0, 400.0
	LeastHemisphereC, MostHemisphereC = 320.0, 540.0
)

// GreyCard is the reflectance that the trade calls middle grey.
const GreyCard = 0.18

// ImpliedGrey is the reflectance at which an incident and a reflected meter of
// the given constants agree: π·K/C. K = 12.5 with C = 250 gives 15.7 %, which
// is 0.20 stop under 18 %.
func ImpliedGrey(k, c float64) float64 { return math.Pi * k / c }

// Settings are the camera's exposure.
type Settings struct {
	N       float64     // f-number
	T       float64     // the lens's transmittance, 0..1; 0 is taken as 1
	Time    unit.Second // exposure time
	S       float64     // arithmetic sensitivity (ISO 12232), or the exposure index
	Density float64     // of the ND filter, log10
}

// TStop is the f-number divided by the root of the transmittance.
func (s Settings) TStop() float64 {
	if s.T == 0 {
		return s.N
	}
	return TStop(s.N, s.T)
}

// TStop is N/√τ.
func TStop(n, transmittance float64) float64 { return n / math.Sqrt(transmittance) }

// GreyLux is the illuminance at which an 18 % card is exposed as middle grey:
// the incident form N²/t = E·S/C, flat receptor, with T-stop for N and the
// filter's loss added.
func (s Settings) GreyLux() unit.Lux { return s.Lux(FlatC) }

// Lux is the illuminance the settings are for, for a meter constant C.
//
// Source: ISO 2720:1974, incident light
func (s Settings) Lux(c float64) unit.Lux {
	n := s.TStop()
	return unit.Lux(n * n * c / (float64(s.Time) * s.S) * math.Pow(10, s.Density))
}

// Luminance is the luminance the settings are for, for a meter constant K:
// N²/t = L·S/K.
//
// Source: ISO 2720:1974, reflected light
func (s Settings) Luminance(k float64) unit.CandelaPerSquareMetre {
	n := s.TStop()
	return unit.CandelaPerSquareMetre(n * n * k / (float64(s.Time) * s.S) * math.Pow(10, s.Density))
}

// Stops is how far from middle grey a matt surface of the given reflectance
// lies under e. Dark gives −Inf.
func (s Settings) Stops(e unit.Lux, reflectance float64) unit.Stop {
	return unit.StopsOf(float64(e/s.GreyLux()) * reflectance / GreyCard)
}

// EV100 is the exposure value of the settings for light at 100: log2(N²/t·100/S).
func (s Settings) EV100() float64 {
	return math.Log2(s.N * s.N / float64(s.Time) * 100 / s.S)
}

// FNumberFor is the f-number that exposes an 18 % card under e as middle grey,
// all else as set.
func (s Settings) FNumberFor(e unit.Lux) float64 {
	return s.N * math.Sqrt(float64(e/s.GreyLux()))
}

// DensityOf is the density of an ND filter of so many stops: log10(2^s).
func DensityOf(s unit.Stop) float64 { return float64(s) * math.Log10(2) }

// StopsOfDensity is what an ND filter of density d takes away: log2(10^d).
func StopsOfDensity(d float64) unit.Stop { return unit.Stop(d * math.Log2(10)) }
