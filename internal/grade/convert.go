package grade

import (
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// convert is the compiled stage: log signal to display signal. One of three:
// pass (off), the user's LUT, or ours.
type convert struct {
	// pass and LUT: level changes around the chain.
	in, out affine
	chain   *picture.Chain

	// ours
	ours     bool
	curve    *colour.Curve
	logLo    float64
	logHi    float64
	toAP1    colour.Mat3
	academy  picture.Compress
	toScreen colour.Mat3
	screen   picture.Compress
	tone     Tone
	applied  string // norm or channels
}

// affine is y = slope·x + offset.
type affine struct{ slope, offset float64 }

var same = affine{1, 0}

func (a affine) at(x float64) float64 { return a.slope*x + a.offset }

func (a affine) apply(v [3]float64) [3]float64 { return [3]float64{a.at(v[0]), a.at(v[1]), a.at(v[2])} }

// levels takes a signal from one meaning to the other: data is code/1023,
// video (code − 64)/876.
func levels(from, to colour.Levels) affine {
	slope, offset := dataCurve.SignalFromE(colour.Narrow) // video → data
	switch {
	case from == to:
		return same
	case from == colour.LevelsVideo:
		return affine{slope, offset}
	}
	return affine{1 / slope, -offset / slope}
}

// dataCurve is a curve on code values; only its levels are used.
var dataCurve = &colour.Curve{Levels: colour.LevelsData}

// passConvert is convert turned off: the log signal's codes are the output's.
func passConvert(l colour.Levels) *convert {
	return &convert{in: levels(l, colour.LevelsVideo), out: same}
}

func lutConvert(chain *picture.Chain, signal, in, out colour.Levels) *convert {
	return &convert{in: levels(signal, in), chain: chain, out: levels(out, colour.LevelsVideo)}
}

// newToneConvert is our conversion:
//
//  1. the camera curve back to scene light;
//  2. camera primaries → AP1 (von Kries in CAT16 where whites differ), and
//     there the Academy Reference Gamut Compression 1.3;
//  3. AP1 → BT.709 primaries, and a second compression of the same form for
//     what is still outside;
//  4. the tone scale, to a BT.1886 display signal, see [Tone].
func newToneConvert(c Convert, p *Path) (*convert, error) {
	ap1, bt709 := colour.MustGamut("ap1"), colour.MustGamut("bt709")
	cv := &convert{
		ours: true, curve: p.Curve, logLo: logLo, logHi: p.logHi,
		toAP1:    colour.RGBToRGB(p.Gamut, ap1, colour.CAT16),
		academy:  academyCompress,
		toScreen: colour.RGBToRGB(ap1, bt709, colour.CAT16),
		applied:  c.Apply,
	}
	cv.screen = screenCompress(cv.toAP1.Mul(p.scene), cv.toScreen)
	// The lowest channel counts: what clips the recording is white on the
	// screen, whatever balance does to it.
	clip := cv.light(cv.decode(p.clipped()))
	white := hold(min(clip[0], clip[1], clip[2]), 1e-6, sceneMax)
	var note string
	var err error
	if cv.tone, note, err = NewTone(c.Slope, c.Toe, white, c.Peak); err != nil {
		return nil, err
	}
	if note != "" {
		p.Notes = append(p.Notes, note)
	}
	if p.Clip.ClipCode == 0 {
		p.Notes = append(p.Notes, "the recording's own clip isn't measured; the curve's end is taken as its upper bound, so highlights may end below 100 %")
	}
	return cv, nil
}

func (c *convert) apply(v [3]float64) [3]float64 {
	if !c.ours {
		v = c.in.apply(v)
		if c.chain != nil {
			v = c.chain.Apply(v)
		}
		return c.out.apply(v)
	}
	return c.toneApply(c.light(c.decode(v)))
}

// decode takes the log signal back to scene light.
func (c *convert) decode(v [3]float64) [3]float64 {
	for i, y := range v {
		v[i] = hold(c.curve.Decode(hold(y, c.logLo, c.logHi)), -sceneMax, sceneMax)
	}
	return v
}

// light takes camera RGB to BT.709 primaries inside the gamut.
func (c *convert) light(v [3]float64) [3]float64 {
	v = c.academy.Apply(c.toAP1.Apply(v))
	return c.screen.Apply(c.toScreen.Apply(v))
}

// toneApply is the tone scale in one of two ways:
//
//   - channels: on R, G and B each. As on film, contrast brings colour and
//     highlights turn in hue: skin by −9° to +17° (CIELAB) from three stops
//     under to four over.
//   - norm, the default: on the largest channel n. The others keep their ratio
//     to it in light as long as [Tone.Purity] is 1 and go to white along the
//     straight line in display signal. Skin keeps its hue within 1° from three
//     stops under to three over and within 1.2° at four over, where it is
//     nearly white; on the straight line in light it would turn by 5°.
func (c *convert) toneApply(v [3]float64) [3]float64 {
	t := c.tone
	if c.applied == "channels" {
		return [3]float64{t.At(v[0]), t.At(v[1]), t.At(v[2])}
	}
	n := max(v[0], v[1], v[2])
	if !(n > 0) {
		return [3]float64{}
	}
	signal, purity := t.At(n), t.Purity(n)
	for i, x := range v {
		v[i] = signal * (1 + purity*(math.Pow(max(x/n, 0), 1/displayPower)-1))
	}
	return v
}
