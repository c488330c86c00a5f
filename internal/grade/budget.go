package grade

import (
	"math"

	"lampwise/internal/colour"
)

// StepAt is what one step of the recorded code comes to on the screen, on
// neutral: the light (1 = peak white) on either side of it, the luma signal
// there, and by how many times the step has grown.
type StepAt struct {
	Stops  float64    // scene light as recorded, stops from grey; −16 stands for all below
	Signal float64    // luma of the display signal, 0..1
	Light  [2]float64 // displayed light half a step below and above, 1 = peak
	Gain   float64    // change of display luma over change of recorded luma signal E′
	E      float64    // the recorded luma signal E′
	Y      float64    // the curve's signal of it
}

// Step carries one step of a recorded luma signal through the path. e is the
// recorded neutral E′ (0 = black, 1 = white of the clip's range), step the
// code's size in the same.
func (p *Path) Step(e, step float64) StepAt { return p.StepOf([3]float64{e, e, e}, step) }

// StepOf is Step for a colour: all three channels change by the step.
func (p *Path) StepOf(e [3]float64, step float64) StepAt {
	slope, offset := p.SignalOfE()
	shifted := func(d float64) (y [3]float64) {
		for i, x := range e {
			y[i] = slope*(x+d) + offset
		}
		return y
	}
	lo, hi := p.Exact(shifted(-step/2)), p.Exact(shifted(step/2))
	at := p.Exact(shifted(0))
	out := StepAt{Signal: luma(at), E: luma(e), Y: luma(shifted(0))}
	out.Light = [2]float64{displayedLight(lo), displayedLight(hi)}
	out.Gain = (luma(hi) - luma(lo)) / step
	out.Stops = p.stopsOf(shifted(0))
	return out
}

// stopsOf is the luma-weighted scene light of a signal, in stops from grey.
func (p *Path) stopsOf(y [3]float64) float64 {
	light := y
	if p.Curve != nil {
		light = p.decode(y)
	}
	return max(math.Log2(max(luma(light), 0)/colour.Grey), deepest)
}

// LumaStepLight is the light on either side of one step of the finished
// signal's luma, at a signal: what rounding to codes makes of a neutral.
func LumaStepLight(signal, step float64) [2]float64 {
	a, b := signal-step/2, signal+step/2
	return [2]float64{displayedLight([3]float64{a, a, a}), displayedLight([3]float64{b, b, b})}
}

// SignalOfE is how the recorded signal E′ becomes the curve's signal:
// y = slope·E′ + offset.
func (p *Path) SignalOfE() (slope, offset float64) {
	if p.Curve == nil {
		return 1, 0
	}
	return p.Curve.SignalFromE(p.clipRange())
}

// NeutralSignal is the curve signal of a neutral at scene stops from grey.
func (p *Path) NeutralSignal(stops float64) float64 { return p.neutral(stops) }
