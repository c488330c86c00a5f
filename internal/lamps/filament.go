package lamps

import (
	"math"
	"sync"

	"lampwise/internal/colour"
	"lampwise/internal/unit"
)

// How a filament lamp's light and colour temperature follow its voltage:
// light ∝ V^3.4 (3.4 to 3.5 are given), temperature ∝ V^0.42. Fink and Beaty,
// Standard Handbook for Electrical Engineers, 11th edition, McGraw-Hill 1978,
// page 22-8, as quoted in the article "Lamp rerating"; lamps differ a little.
const (
	lightExponent       = 3.4
	temperatureExponent = 0.42
)

// Filament is a glowing wire: dimmed, it reddens.
type Filament struct {
	Full      unit.Kelvin   // colour temperature at level 1
	Primaries *colour.Gamut // of the camera's RGB; nil is taken as BT.709's
	// White is the chromaticity the camera was balanced to; zero is the gamut's
	// white. It cancels but for the adaptation's mixing of channels.
	White colour.XY
}

// Temperature of the filament at a level of light: from the two exponents,
// T = Full·level^(0.42/3.4).
func (f *Filament) Temperature(level float64) unit.Kelvin {
	if level <= 0 {
		return 0
	}
	return f.Full * unit.Kelvin(math.Pow(level, temperatureExponent/lightExponent))
}

// Redder is how many mired the lamp has gained at a level against full.
func (f *Filament) Redder(level float64) unit.Mired {
	return f.Temperature(level).Mired() - f.Full.Mired()
}

// The filament's colour is held at these levels: below the lower one it gives
// no light that counts, and Planck's locus ends.
const (
	lowestFilament  = 1e-3
	highestFilament = 4
)

// Colour gives the channel gains at a level against level 1, for equal
// luminance: a Planckian radiator at Temperature(level) seen by the camera,
// divided by the one at Full. At level 1 it is 1, 1, 1.
func (f *Filament) Colour(level float64) [3]float64 {
	at := filamentAt{*f, min(max(level, lowestFilament), highestFilament)}
	if k, known := filamentColours.get(at); known {
		return k
	}
	now, full := f.rgb(f.Temperature(at.level)), f.rgb(f.Full)
	var k [3]float64
	for c := range k {
		k[c] = max(now[c]/full[c], 1e-3)
	}
	filamentColours.put(at, k)
	return k
}

// filamentAt is a filament at a level.
type filamentAt struct {
	Filament
	level float64
}

// remembered keeps colours that were asked for: a set's few holds ask for the same
// ones for every region and channel, and each is a sum over two spectra.
type remembered struct {
	sync.Mutex
	of map[filamentAt][3]float64
}

var filamentColours = remembered{of: map[filamentAt][3]float64{}}

// mostRemembered bounds them: solving tries levels without end.
const mostRemembered = 4096

func (r *remembered) get(at filamentAt) ([3]float64, bool) {
	r.Lock()
	defer r.Unlock()
	k, known := r.of[at]
	return k, known
}

func (r *remembered) put(at filamentAt, k [3]float64) {
	r.Lock()
	defer r.Unlock()
	if len(r.of) >= mostRemembered {
		clear(r.of)
	}
	r.of[at] = k
}

// rgb of a Planckian radiator of luminance 1 in the camera's RGB.
func (f *Filament) rgb(t unit.Kelvin) [3]float64 {
	g := f.Primaries
	if g == nil {
		g = colour.MustGamut("bt709")
	}
	xyz := [3]float64(colour.XYFromCCT(t, 0).XYZ())
	if f.White != (colour.XY{}) {
		xyz = colour.Adapt(f.White, g.W, colour.CAT16).Apply(xyz)
	}
	rgb := g.FromXYZ().Apply(xyz)
	for c := range rgb {
		rgb[c] = max(rgb[c], 1e-4) // below the gamut's edge: no blue left to speak of
	}
	return rgb
}
