package grade

import (
	"fmt"
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
)

// GreySignal is where 18 % lands: the value of BT.709's OETF there (BT.709-6,
// item 1.2: 1.099·0.18^0.45 − 0.099 = 0.409).
//
// Source: ITU-R BT.709-6, item 1.2
var GreySignal = colour.BT709.Encode(colour.Grey)

// Tone is the tone scale: scene light x to display signal S.
//
//	b(x) = x²/(x + Toe)                      x > 0, else 0
//	S(x) = Scale · (b/(b + Shoulder))^Power
//
// A rational flare-like toe and a Michaelis–Menten shoulder under a power. It
// is infinitely differentiable for x > 0, strictly rising there, and S(0) = 0
// with a slope of 0 as long as 2·Power > 1, so it is C¹ at black.
//
// Power, Shoulder and Scale are solved such that S(0.18) = [GreySignal], the
// slope at grey is as stated and S(White) = Peak. The slope is in screen stops
// per scene stop: d log2(S^2.4) / d log2(x), 2.4 being BT.1886's exponent.
type Tone struct {
	Power, Shoulder, Scale, Toe float64
	White, Peak                 float64 // scene light that reaches the peak signal
	Slope                       float64 // screen stops per scene stop at grey
}

// displayPower is the exponent of BT.1886 with black at 0.
const displayPower = 2.4

// NewTone solves the tone scale. toeStops is where the toe sits, in stops from
// grey; white is the scene light that should reach peak. A white too low for
// the slope is raised to the lowest one that can be reached, and a note says
// so: the recording's clip then stays under the peak. A slope too steep for
// the way from grey to the peak is a fault that names the steepest.
func NewTone(slope, toeStops, white, peak float64) (t Tone, note string, err error) {
	t = Tone{Toe: colour.Grey * math.Exp2(toeStops), White: white, Peak: peak, Slope: slope}
	if steepest := slope * t.steepest(); slope > steepest {
		return t, "", fault.New(fault.Usage, "tone-slope", "Lower convert.slope or raise convert.peak.",
			"convert.slope %.2f can't go from grey to a peak of %.0f %%; at most %.2f can", slope, 100*peak, math.Floor(steepest*100)/100)
	}
	lowest := t.lowestWhite()
	if white < lowest {
		note = fmt.Sprintf("the recording's clip lands %+.1f stops from grey, lower than a tone scale of slope %.2f can reach its peak (%+.1f stops); clipped parts stay below it",
			math.Log2(white/colour.Grey), slope, math.Log2(lowest/colour.Grey))
		t.White = lowest
	}
	// The grey's signal falls as the shoulder moves away; bisection in log.
	lo, hi := math.Log(1e-6), math.Log(1e12)
	for range 200 {
		mid := (lo + hi) / 2
		if t.solve(math.Exp(mid)) > 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	t.solve(math.Exp((lo + hi) / 2))
	return t, note, nil
}

// steepest is the largest slope that can be solved, as a part of the slope,
// with 2 % spare: with the shoulder at its hardest, grey lies e^−power under
// the peak.
func (t Tone) steepest() float64 {
	return math.Log(t.Peak/GreySignal) / t.straightPower() * 0.98
}

// lowestWhite is the lowest white for which a shoulder exists, with 5 % spare:
// without a shoulder the power alone goes from grey to the peak.
func (t Tone) lowestWhite() float64 {
	b := toe(colour.Grey, t.Toe) * math.Pow(t.Peak/GreySignal, 1/t.straightPower()) * 1.05
	return (b + math.Sqrt(b*b+4*b*t.Toe)) / 2 // the x whose toe is b
}

// straightPower is the power that has the stated slope without a shoulder.
func (t Tone) straightPower() float64 {
	return t.Slope / displayPower * (colour.Grey + t.Toe) / (colour.Grey + 2*t.Toe)
}

// solve sets power and scale for a shoulder and returns ln(S(grey)/GreySignal).
func (t *Tone) solve(shoulder float64) float64 {
	bg, bw := toe(colour.Grey, t.Toe), toe(t.White, t.Toe)
	t.Shoulder = shoulder
	t.Power = t.straightPower() * (bg + shoulder) / shoulder
	t.Scale = t.Peak * math.Pow((bw+shoulder)/bw, t.Power)
	return math.Log(t.At(colour.Grey) / GreySignal)
}

func toe(x, toe float64) float64 { return x * x / (x + toe) }

// At is the display signal of scene light x, 0 for x ≤ 0.
func (t Tone) At(x float64) float64 {
	if !(x > 0) {
		return 0
	}
	x = min(x, sceneMax)
	b := toe(x, t.Toe)
	return t.Scale * math.Pow(b/(b+t.Shoulder), t.Power)
}

// Contrast is the local slope at scene light x, screen stops per scene stop.
func (t Tone) Contrast(x float64) float64 {
	x = hold(x, 1e-12, sceneMax)
	b := toe(x, t.Toe)
	return displayPower * t.Power * t.Shoulder / (b + t.Shoulder) * (x + 2*t.Toe) / (x + t.Toe)
}

// purityKnee shapes how purity leaves 1; the larger, the later and the harder.
const purityKnee = 8

// purityAtGrey is what the knee is given at grey: purity is 0.986 there and
// rises no further in the shadows.
const purityAtGrey = 1.3

// The last stops under the white lose a further part of their colour: a
// channel of the recording may have clipped there, so what colour is left is
// not to be trusted, and a clipped neutral that balance has tinted should be
// white. A coloured lamp in the picture still keeps some of its own.
const (
	clipStops  = 2.0
	clipPurity = 0.5
)

// Purity is how much of a colour's distance from white, in display signal, is
// kept when the tone scale acts on its norm: 1 up to a little above grey, then
// falling with the square root of the local contrast, so that highlights go to
// white as they near the clip. (Acting on channels, a tone scale makes a small
// distance from white smaller as its contrast is; the root is milder, because
// a face's lit side would lose a third of its colour otherwise. Ours.)
func (t Tone) Purity(x float64) float64 {
	c := purityAtGrey * math.Sqrt(t.Contrast(x)/t.Slope)
	near := 1 - hold(math.Log2(t.White/max(x, 1e-12))/clipStops, 0, 1)
	return c / math.Pow(1+math.Pow(c, purityKnee), 1.0/purityKnee) * (1 - (1-clipPurity)*smoothStep(near))
}

// smoothStep is 3t² − 2t³ for t in 0..1.
func smoothStep(t float64) float64 { return t * t * (3 - 2*t) }
