package colour

import (
	"math"

	"lampwise/internal/unit"
)

// Tint says what hue a light has and how far from white it is, for lights to
// which no colour temperature belongs. Both are about D65, the white a
// balanced recording is shown with.
type Tint struct {
	// Hue is the angle in CIE 1976 u′, v′ about D65, 0 ≤ Hue < 360: red near
	// 10, yellow near 90, green near 130, cyan near 190, blue near 260, magenta near 310.
	Hue unit.Degree
	// Purity is CIE excitation purity in x, y: 0 for D65, 1 on the spectrum
	// locus or the purple line.
	Purity float64
	// Dominant is the wavelength where the line from D65 through the
	// chromaticity meets the spectrum locus; for purples the complementary
	// wavelength, negative (CIE 15); 0 for D65 itself.
	// Interpolated along 5 nm chords.
	Dominant unit.Nanometre
}

// TintOf returns the tint of a chromaticity.
//
// Source: CIE 15, excitation purity and CIE 1976 u′, v′
func TintOf(c XY) Tint {
	dx, dy := c.X-D65.X, c.Y-D65.Y
	if dx == 0 && dy == 0 {
		return Tint{}
	}
	p, w := c.uv(), D65.uv()
	// u′ = u, v′ = 1.5 v.
	h := math.Atan2(1.5*(p.v-w.v), p.u-w.u) * 180 / math.Pi
	if h < 0 {
		h += 360
	}
	t := Tint{Hue: unit.Degree(h)}
	if reach, wavelength, spectral := spectrumAlong(dx, dy); reach > 0 {
		t.Purity = 1 / reach
		t.Dominant = wavelength
		if !spectral {
			if back, complement, ok := spectrumAlong(-dx, -dy); ok && back > 0 {
				t.Dominant = -complement
			}
		}
	}
	return t
}

// spectrumEnd is where the spectrum locus is closed by the purple line: from
// here on the observer's chromaticities stand still.
const spectrumEnd = 700

// spectrumAlong returns how many times (dx, dy), counted from D65, reaches
// the edge of the chromaticity diagram, the wavelength there, and false where
// that is the purple line.
func spectrumAlong(dx, dy float64) (reach float64, wavelength unit.Nanometre, spectral bool) {
	spectrum := observer[:(spectrumEnd-observerFirst)/observerStep+1]
	for i := range spectrum {
		a, b := spectrum[i].XY(), spectrum[(i+1)%len(spectrum)].XY()
		// D65 + r·(dx, dy) = a + s·(b − a)
		ex, ey := b.X-a.X, b.Y-a.Y
		d := dx*ey - dy*ex
		if d == 0 {
			continue
		}
		ax, ay := a.X-D65.X, a.Y-D65.Y
		r, s := (ax*ey-ay*ex)/d, (ax*dy-ay*dx)/d
		if r > 0 && s >= 0 && s < 1 {
			return r, unit.Nanometre(observerFirst + observerStep*(float64(i)+s)), i < len(spectrum)-1
		}
	}
	return 0, 0, false
}
