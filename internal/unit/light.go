package unit

import "math"

// Stop is a difference of exposure as a base-2 logarithm: +1 is twice the light.
type Stop float64

// Factor returns the ratio of light the stops stand for, 2^s.
func (s Stop) Factor() float64 { return math.Exp2(float64(s)) }

// StopsOf returns the stops between two amounts of light from their ratio.
// A ratio of 0 gives −Inf, a negative one NaN.
func StopsOf(ratio float64) Stop { return Stop(math.Log2(ratio)) }

// Lux is illuminance, lm/m².
type Lux float64

// Lumen is luminous flux.
type Lumen float64

// LumenSecond is luminous energy, the amount a flash gives.
type LumenSecond float64

// Candela is luminous intensity, lm/sr.
type Candela float64

// CandelaPerSquareMetre is luminance.
type CandelaPerSquareMetre float64

// Luminance of a matt (Lambertian) surface of the given reflectance (0..1)
// under this illuminance: L = E·ρ/π.
func (e Lux) Luminance(reflectance float64) CandelaPerSquareMetre {
	return CandelaPerSquareMetre(float64(e) * reflectance / math.Pi)
}

// Illuminance of a surface that meets this intensity squarely at distance d,
// E = I/d². The source must be small against d.
func (i Candela) Illuminance(d Metre) Lux { return Lux(float64(i) / float64(d*d)) }
