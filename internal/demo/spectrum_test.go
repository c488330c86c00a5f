package demo

import (
	"math"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/unit"
)

// TestMatchingFunctions holds the observer's fit at 16 bands to illuminant A:
// CIE 15:2004 table T.3, x 0.4476, y 0.4074, made by 2848 K × 1.4388/1.435.
// The fit's own error is a few thousandths.
func TestMatchingFunctions(t *testing.T) {
	s := planckSpectrum(2848 * 1.4388 / 1.435)
	c := xyzUnder(&s, &evenSpectrum).XY()
	if math.Abs(c.X-0.4476) > 0.004 || math.Abs(c.Y-0.4074) > 0.004 {
		t.Errorf("illuminant A comes out at %.4f, %.4f", c.X, c.Y)
	}
}

// TestLampColours measures each white lamp by the colour package, which has
// the observer's table and its own way to colour temperature.
func TestLampColours(t *testing.T) {
	for _, l := range exampleLamps() {
		if l.Kelvin == 0 {
			continue
		}
		got := xyzUnder(&l.spectra[0], &evenSpectrum)
		k, duv, err := colour.CCT(got.XY())
		if err != nil {
			t.Errorf("%s: %v", l.Name, err)
			continue
		}
		kelvin, wantDuv := l.Kelvin, l.Duv
		if l.Filament { // the first spectrum is not that of full light
			kelvin = FilamentKelvin(l.Kelvin, filamentNodes[0])
		}
		if l.Ambient {
			wantDuv = 0.0032 // daylight lies above the locus (truth/README.md, traps)
		}
		// 10 mired would be visible; the observer's fit costs up to 4.
		if m := float64(k.Mired() - kelvin.Mired()); math.Abs(m) > 4 {
			t.Errorf("%s: %.0f K, wanted %.0f K (%.1f mired off)", l.Name, float64(k), float64(kelvin), m)
		}
		if math.Abs(duv-wantDuv) > 0.0025 {
			t.Errorf("%s: Duv %.4f, wanted %.4f", l.Name, duv, wantDuv)
		}
		for i, s := range l.spectra[0] {
			if s < 0 {
				t.Errorf("%s gives %g at %g nm", l.Name, s, wavelength(i))
			}
		}
	}
}

// TestFilament holds the reddening to what's known of gas-filled lamps: about
// 33 mired at half light and 69 at a quarter.
func TestFilament(t *testing.T) {
	var full unit.Kelvin
	for _, l := range exampleLamps() {
		if l.Filament {
			full = l.Kelvin
		}
	}
	for _, c := range []struct{ level, mired float64 }{{1, 0}, {0.5, 33}, {0.25, 69}} {
		got := float64(full.ShiftTo(FilamentKelvin(full, c.level)))
		if math.Abs(got-c.mired) > 1.5 {
			t.Errorf("level %g: %.1f mired, wanted about %g", c.level, got, c.mired)
		}
	}
	// Between the rendered levels the mix of three must be the black body.
	sensor := sensorBands()
	var nodes [3]spectrum
	for i, l := range filamentNodes {
		nodes[i] = planckSpectrum(FilamentKelvin(full, l))
	}
	for level := 1.0; level > 0.06; level *= 0.93 {
		want := planckSpectrum(FilamentKelvin(full, level))
		w := filamentShares(level)
		for c := range 3 {
			var a, b float64
			for i := range bands {
				a += level * float64(want[i]*sensor[c][i])
				for k := range nodes {
					b += w[k] * float64(nodes[k][i]*sensor[c][i])
				}
			}
			if math.Abs(b/a-1) > 0.003 { // 0.004 stop
				t.Errorf("level %.3f channel %d: mixed %g, black body %g", level, c, b, a)
			}
		}
	}
}

// TestReflectances holds the palette's found reflectances to the colours asked
// for, and all of it to what a surface can reflect.
func TestReflectances(t *testing.T) {
	p := makePalette()
	d50 := daylightSpectrum(5003)
	white := xyzUnder(&d50, &evenSpectrum)
	for i, c := range chartXYY {
		got := xyzUnder(&d50, &p[colChart+i])
		w := whiteD50.XYZ()
		var v colour.XYZ
		for k := range v {
			v[k] = got[k] * w[k] / white[k]
		}
		want := colour.XY{X: c[0], Y: c[1]}.XYZ()
		for k := range want {
			want[k] *= c[2]
		}
		de := colour.DeltaE2000(colour.LabFromXYZ(v, w), colour.LabFromXYZ(want, w))
		if de > 0.5 {
			t.Errorf("patch %d is ΔE00 %.2f from the measured chart", i+1, de)
		}
	}
	for i := range p {
		for k, r := range p[i] {
			if r < 0 || r > 1 {
				t.Errorf("palette %d reflects %g at %g nm", i, r, wavelength(k))
			}
		}
	}
}
