package demo

import (
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/unit"
)

// bands is the number of wavelengths a path of light carries: 400 to 700 nm in
// steps of 20 nm.
const (
	bands     = 16
	firstBand = 400.0
	bandStep  = 20.0
)

// spectrum is a reflectance (0..1) or a lamp's power at each band.
type spectrum [bands]float32

func wavelength(i int) float64 { return firstBand + bandStep*float64(i) }

// matching is the CIE 1931 2° observer at the bands, scaled so that an even
// spectrum of 1 has Y = 1. Multi-lobe fit of Wyman, Sloan & Shirley, "Simple
// Analytic Approximations to the CIE XYZ Color Matching Functions", JCGT 2(2),
// 2013, eq. 4, from memory; TestMatchingFunctions holds it to illuminant A.
var matching = makeMatching()

func makeMatching() (m [3][bands]float64) {
	lobe := func(l, mu, below, above float64) float64 {
		k := below
		if l >= mu {
			k = above
		}
		t := (l - mu) * k
		return math.Exp(-0.5 * t * t)
	}
	var sum float64
	for i := range bands {
		l := wavelength(i)
		m[0][i] = 0.362*lobe(l, 442.0, 0.0624, 0.0374) + 1.056*lobe(l, 599.8, 0.0264, 0.0323) - 0.065*lobe(l, 501.1, 0.0490, 0.0382)
		m[1][i] = 0.821*lobe(l, 568.8, 0.0213, 0.0247) + 0.286*lobe(l, 530.9, 0.0613, 0.0322)
		m[2][i] = 1.217*lobe(l, 437.0, 0.0845, 0.0278) + 0.681*lobe(l, 459.0, 0.0385, 0.0725)
		sum += m[1][i]
	}
	for c := range 3 {
		for i := range bands {
			m[c][i] /= sum
		}
	}
	return m
}

// xyzUnder is the tristimulus value of a reflectance under a light; the light
// is as it is (scale it to Y = 1 with whitened).
func xyzUnder(light, reflectance *spectrum) colour.XYZ {
	var v colour.XYZ
	for c := range 3 {
		for i := range bands {
			v[c] += matching[c][i] * float64(light[i]) * float64(reflectance[i])
		}
	}
	return v
}

var evenSpectrum = func() (s spectrum) {
	for i := range s {
		s[i] = 1
	}
	return s
}()

// whitened scales a light so that a perfect white under it has Y = 1.
func whitened(s spectrum) spectrum {
	y := float32(xyzUnder(&s, &evenSpectrum)[1])
	for i := range s {
		s[i] /= y
	}
	return s
}

// planckSpectrum is the black body at t, Y = 1 (c2 = 1.4388e-2 m·K, CIE 15).
func planckSpectrum(t unit.Kelvin) spectrum {
	var s spectrum
	for i := range s {
		l := wavelength(i) * 1e-9
		s[i] = float32(1e-35 * math.Pow(l, -5) / (math.Exp(1.4388e-2/(l*float64(t))) - 1))
	}
	return whitened(s)
}

// daylightBasis is S0, S1, S2 of CIE daylight (CIE 15:2004, table T.2) at the
// bands; from memory.
var daylightBasis = [bands][3]float64{
	{94.8, 43.4, -1.1},
	{105.9, 43.9, -0.7},
	{113.9, 36.7, -2.6},
	{125.5, 32.6, -2.8},
	{121.3, 24.3, -2.6},
	{113.1, 16.2, -1.5},
	{106.5, 8.6, -1.2},
	{105.3, 4.2, -0.5},
	{100.0, 0.0, 0.0},
	{95.1, -3.5, 0.5},
	{90.5, -5.8, 3.2},
	{88.4, -8.6, 4.7},
	{85.1, -10.9, 6.7},
	{82.6, -12.0, 8.6},
	{81.3, -13.6, 10.2},
	{74.3, -13.3, 9.6},
}

// daylightSpectrum is CIE daylight of t kelvin (4000..25000), Y = 1 (CIE 15:2004, 3.1).
func daylightSpectrum(t float64) spectrum {
	var x float64
	if t <= 7000 {
		x = -4.6070e9/(t*t*t) + 2.9678e6/(t*t) + 0.09911e3/t + 0.244063
	} else {
		x = -2.0064e9/(t*t*t) + 1.9018e6/(t*t) + 0.24748e3/t + 0.237040
	}
	y := -3.000*x*x + 2.870*x - 0.275
	d := 0.0241 + 0.2562*x - 0.7341*y
	m1 := (-1.3515 - 1.7703*x + 5.9114*y) / d
	m2 := (0.0300 - 31.4424*x + 30.0717*y) / d
	var s spectrum
	for i, b := range daylightBasis {
		s[i] = float32(b[0] + m1*b[1] + m2*b[2])
	}
	return whitened(s)
}

// peak is a bell-shaped line of the given centre and standard deviation in nm.
func peak(centre, sigma float64) spectrum {
	var s spectrum
	for i := range s {
		t := (wavelength(i) - centre) / sigma
		s[i] = float32(math.Exp(-0.5 * t * t))
	}
	return s
}

// blend mixes three lights so that the sum has the wanted chromaticity and Y = 1.
func blend(parts [3]spectrum, want colour.XY) spectrum {
	var m colour.Mat3
	for j := range parts {
		v := xyzUnder(&parts[j], &evenSpectrum)
		for i := range 3 {
			m[i][j] = v[i]
		}
	}
	k := m.Inverse().Apply(want.XYZ())
	var s spectrum
	for i := range s {
		for j := range parts {
			s[i] += float32(k[j]) * parts[j][i]
		}
	}
	return s
}

// whiteLED is a blue diode with two phosphors.
func whiteLED(want colour.XY) spectrum {
	return blend([3]spectrum{peak(453, 13), peak(545, 42), peak(615, 48)}, want)
}

// tubeLight is a fluorescent tube: mercury's blue line, a green and a red
// phosphor, each narrow.
func tubeLight(want colour.XY) spectrum {
	return blend([3]spectrum{peak(440, 12), peak(545, 22), peak(608, 22)}, want)
}

// reflecting finds a smooth reflectance whose colour under the light is want
// (Y of a perfect white = 1): the sigmoid of a quadratic of Jakob & Hanika, "A
// Low-Dimensional Function Space for Efficient Spectral Upsampling",
// Eurographics 2019, fitted by damped Gauss–Newton steps. A colour that no
// reflectance can have under it gives the nearest the form allows.
func reflecting(light *spectrum, want colour.XYZ) spectrum {
	eval := func(k [3]float64) spectrum {
		var s spectrum
		for i := range s {
			t := (wavelength(i) - 550) / 150
			x := k[0] + k[1]*t + k[2]*t*t
			s[i] = float32(0.5 + x/(2*math.Sqrt(1+x*x)))
		}
		return s
	}
	miss := func(k [3]float64) ([3]float64, float64) {
		s := eval(k)
		v := xyzUnder(light, &s)
		var r [3]float64
		var sum float64
		for i := range r {
			r[i] = v[i] - want[i]
			sum += r[i] * r[i]
		}
		return r, sum
	}
	k := [3]float64{}
	r, cost := miss(k)
	damp := 1e-3
	for range 200 {
		var j colour.Mat3
		for c := range 3 {
			d := k
			d[c] += 1e-4
			rd, _ := miss(d)
			for i := range 3 {
				j[i][c] = (rd[i] - r[i]) / 1e-4
			}
		}
		var a colour.Mat3
		var g [3]float64
		for p := range 3 {
			for q := range 3 {
				for i := range 3 {
					a[p][q] += j[i][p] * j[i][q]
				}
			}
			for i := range 3 {
				g[p] -= j[i][p] * r[i]
			}
			a[p][p] *= 1 + damp
			a[p][p] += 1e-12
		}
		step := a.Inverse().Apply(g)
		next := [3]float64{k[0] + step[0], k[1] + step[1], k[2] + step[2]}
		for c := range next {
			next[c] = math.Max(-60, math.Min(60, next[c]))
		}
		rn, cn := miss(next)
		if !(cn < cost) {
			damp *= 4
			if damp > 1e8 {
				break
			}
			continue
		}
		k, r, cost = next, rn, cn
		damp /= 3
		if cost < 1e-14 {
			break
		}
	}
	return eval(k)
}
