package job

import (
	"fmt"
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/light"
	"lampwise/internal/optics"
	"lampwise/internal/unit"
)

// lampKelvin is a lamp's colour temperature behind its gel; 0: not known, or coloured.
func lampKelvin(l *light.LampPlan) unit.Kelvin {
	if l.Kelvin == 0 || l.Coloured {
		return 0
	}
	return l.Kelvin.Shifted(l.Gel)
}

// white is what the camera is balanced to: as planned, else the key's.
func (out *Planned) white() unit.Kelvin {
	p := out.scene.Plan
	if p.Camera.Balance != 0 {
		return p.Camera.Balance
	}
	for i := range p.Lamps {
		if p.Lamps[i].Name == out.Ratios.Key {
			return lampKelvin(&p.Lamps[i])
		}
	}
	return 0
}

// colours says what the white balance makes of every lamp.
func (out *Planned) colours() {
	p := out.scene.Plan
	white := out.white()
	var key unit.Kelvin
	for i := range p.Lamps {
		if p.Lamps[i].Name == out.Ratios.Key {
			key = lampKelvin(&p.Lamps[i])
		}
	}
	for i := range out.Lamps {
		l := &out.Lamps[i]
		k := lampKelvin(&p.Lamps[i])
		switch {
		case p.Lamps[i].Coloured:
			l.Looks = "coloured"
			continue
		case k == 0:
			l.Looks = "not known: its kelvin isn't given"
			continue
		}
		l.Kelvin = finite(float64(k))
		if key != 0 {
			l.MiredToKey = finite(float64(k.Mired() - key.Mired()))
		}
		if white == 0 {
			l.Looks = "not known: the white balance isn't given"
			continue
		}
		gap := k.Mired() - white.Mired()
		l.MiredToWhite = finite(float64(gap))
		l.Looks = looks(gap)
		shown := shownColour(k, white)
		l.Shown = &shown
	}
}

// looks names what a lamp looks like, by its gap to the white balance in mired.
// A gap of about 5 mired is just seen side by side (common practice, no
// source); the words' borders are ours.
func looks(gap unit.Mired) string {
	side := "warm"
	if gap < 0 {
		side = "cool"
	}
	switch g := math.Abs(float64(gap)); {
	case g < 6:
		return "white"
	case g < 25:
		return "a touch " + side
	case g < 70:
		return side
	case gap > 0:
		return "orange"
	}
	return "blue"
}

// shownColour is a white lamp's colour in the finished picture, BT.709 with
// the brightest channel 1: its chromaticity adapted from the camera's white to D65.
func shownColour(lamp, white unit.Kelvin) [3]float64 {
	adapt := colour.Adapt(colour.XYFromCCT(white, 0), colour.D65, colour.CAT16)
	gamut, err := colour.GamutByID("bt709")
	if err != nil {
		return [3]float64{1, 1, 1}
	}
	v := gamut.FromXYZ().Apply(adapt.Apply(colour.XYFromCCT(lamp, 0).XYZ()))
	top := math.Max(v[0], math.Max(v[1], v[2]))
	for i := range v {
		v[i] = math.Max(0, v[i]/top)
	}
	return v
}

// flickers says for each lamp whether it can pulse at the exposure planned.
func (out *Planned) flickers() {
	p := out.scene.Plan
	c := &p.Camera
	for i := range p.Lamps {
		l := &out.Lamps[i]
		switch p.Lamps[i].Dimming {
		case "mains":
			if !out.Exposure.IsSafe {
				advice := "no mains-safe time fits in a picture at this rate"
				if s, ok := optics.NearestSafe(c.Time, c.Mains, c.Rate); ok {
					advice = fmt.Sprintf("use %.1f° (1/%.4g s)", float64(s.Angle), 1/float64(s.Time))
				}
				l.Flicker = fmt.Sprintf("follows the mains: frames may differ by up to %.2f stop; %s", out.Exposure.Ripple, advice)
			}
		case "pulse":
			hz := p.Lamps[i].Pulse
			if hz == 0 {
				if *p.Lamps[i].Level < 1 {
					l.Flicker = "dimmed by pulses of a frequency not given: film it at this level and look (measure finds flicker), or give pulse_hz"
				}
				continue
			}
			// A lamp that is switched hz times a second, like one on mains of half that.
			if r := optics.Ripple(c.Time, hz/2); r > safeRipple && *p.Lamps[i].Level < 1 {
				l.Flicker = fmt.Sprintf("pulses %g times a second: frames may differ by up to %.2f stop; use a time that is a whole multiple of 1/%g s", float64(hz), float64(r), float64(hz))
			}
		}
	}
}
