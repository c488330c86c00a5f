package grade

import (
	"math"

	"lampwise/internal/colour"
)

// Rung is one place of the stop ladder: a scene light joined to where the path
// puts it on the screen.
type Rung struct {
	SceneStops  float64    // stops from grey (18 % reflectance) as recorded
	RGB         [3]float64 // display signal
	Signal      float64    // the grey of the same displayed luminance, as display signal
	ScreenStops float64    // log2 of displayed light over that of GreySignal; −24 stands for all below
}

// Ladder carries a neutral at each of the scene stops through the path.
// Displayed light is BT.1886 with black at 0, its luminance by BT.709's weights.
func (p *Path) Ladder(stops []float64) []Rung {
	rungs := make([]Rung, len(stops))
	for i, s := range stops {
		rungs[i] = p.rung(s)
	}
	return rungs
}

func (p *Path) rung(stops float64) Rung {
	y := p.neutral(stops)
	r := Rung{SceneStops: stops, RGB: p.Exact([3]float64{y, y, y})}
	light := displayedLight(r.RGB)
	r.Signal = math.Pow(light, 1/displayPower)
	r.ScreenStops = ScreenStops(r.Signal)
	return r
}

// neutral is the signal of a neutral at scene stops from grey. Where the clip
// is already a finished picture (decode off) its scene is taken to be what a
// BT.709 camera would have recorded so.
func (p *Path) neutral(stops float64) float64 {
	x := colour.Grey * math.Exp2(stops)
	if p.Curve == nil {
		return colour.BT709.Encode(x)
	}
	return p.Curve.Encode(x)
}

// displayedLight is the luminance, 1 = peak white, of a display signal.
func displayedLight(v [3]float64) float64 {
	sum := 0.0
	for i, x := range v {
		sum += lumaWeights[i] * math.Pow(max(x, 0), displayPower)
	}
	return sum
}

// ScreenStops places a display signal on the ladder's screen rail: stops of
// displayed light from that of grey. 12 % lies at −4.2, 2 % at −10.4. The
// lowest value is −24, a tenth of an 8-bit step above black; that is black.
//
// Source: ITU-R BT.1886, annex 1
func ScreenStops(signal float64) float64 {
	return max(displayPower*math.Log2(max(signal, 0)/GreySignal), -24)
}

// vignetteFrame is a frame large enough that its first pixel is its corner.
const vignetteFrame = 4096

// Effect is what one stage does at one scene light: the whole path against the
// path with that stage off.
type Effect struct {
	SceneStops float64
	Stops      float64 // change of displayed light, stops; 0 where both are black
	DeltaE     float64 // change of colour and lightness together, CIEDE2000
}

// Effect tells a stage's effect on a neutral at the given scene stops. The
// vignette's is that in the frame's corner.
func (p *Path) Effect(stage Stage, stops []float64) ([]Effect, error) {
	out := make([]Effect, len(stops))
	for i, s := range stops {
		out[i].SceneStops = s
	}
	if !p.on[stage] || stage == StageEncode || stage == StageDecode {
		return out, nil
	}
	if stage == StageVignette {
		for i, s := range stops {
			gain := p.vignette().Gain(0, 0, vignetteFrame, vignetteFrame) // r = 1 in the corner of any frame
			v := p.rung(s).RGB
			out[i].Stops = math.Log2(gain)
			out[i].DeltaE = deltaE(v, scale3(v, math.Pow(gain, 1/displayPower)))
		}
		return out, nil
	}
	g := p.Grade
	g.SetOff(stage, true)
	without, err := Build(&g, p.Clip, p.luts)
	if err != nil {
		return nil, err
	}
	for i, s := range stops {
		a, b := p.rung(s), without.rung(s)
		out[i].DeltaE = deltaE(a.RGB, b.RGB)
		if a.Signal > 0 && b.Signal > 0 {
			out[i].Stops = a.ScreenStops - b.ScreenStops
		}
	}
	return out, nil
}

func deltaE(a, b [3]float64) float64 {
	return colour.DeltaE2000(colour.DisplayLab(a), colour.DisplayLab(b))
}
