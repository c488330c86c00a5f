package picture

import (
	"fmt"
	"math"
)

// Vignette darkens (Stops > 0) or brightens the picture away from a centre by
// a gain 2^(−Stops·f(r)) on display-linear light.
//
// r is the distance from the centre, measured in an ellipse Aspect times as
// wide as high, in units of the frame's half diagonal of that ellipse: with
// the centre in the frame's middle r is 1 in the corners, whatever the aspect.
// f is 0 up to Inner, 1 from Inner + Softness on, and between them the
// polynomial 6t⁵ − 15t⁴ + 10t³, whose first and second derivatives are 0 at
// both ends, so that no edge shows.
//
// Source: ITU-R BT.1886, annex 1 (light from signal); the fall-off is ours
type Vignette struct {
	Stops    float64 `json:"stops"`
	CentreX  float64 `json:"centreX"` // part of the width, 0.5 = middle
	CentreY  float64 `json:"centreY"` // part of the height
	Aspect   float64 `json:"aspect"`  // 1 = a circle in the picture; width/height = the frame's own shape
	Inner    float64 `json:"inner"`   // r where it begins, >= 0
	Softness float64 `json:"softness"`
}

// displayPower is BT.1886's exponent with black at 0: light = signal^2.4, so a
// gain on light is its 2.4th root on the signal (ITU-R BT.1886, annex 1).
const displayPower = 2.4

// Gain returns the gain on display-linear light at the middle of pixel x, y of
// a frame w×h.
func (v *Vignette) Gain(x, y, w, h int) float64 {
	return math.Exp2(-v.Stops * v.fall(v.radius(x, y, w, h)))
}

// SignalGain is Gain as a factor on the display signal.
func (v *Vignette) SignalGain(x, y, w, h int) float64 {
	return math.Exp2(-v.Stops / displayPower * v.fall(v.radius(x, y, w, h)))
}

func (v *Vignette) radius(x, y, w, h int) float64 {
	fw, fh := float64(w), float64(h)
	dx := (float64(x) + 0.5 - v.CentreX*fw) / v.Aspect
	dy := float64(y) + 0.5 - v.CentreY*fh
	return math.Hypot(dx, dy) / math.Hypot(fw/2/v.Aspect, fh/2)
}

func (v *Vignette) fall(r float64) float64 {
	t := clamp01((r - v.Inner) / v.Softness)
	return t * t * t * (t*(6*t-15) + 10)
}

// Check says what is wrong with the vignette's numbers, nil when nothing is.
// Softness is at least a tenth: a hard edge is not offered.
func (v *Vignette) Check() error {
	if err := finite("centre", v.CentreX, v.CentreY); err != nil {
		return err
	}
	switch {
	case !(v.Stops >= -4 && v.Stops <= 8):
		return fmt.Errorf("stops %v are not within −4 to 8", v.Stops)
	case math.Abs(v.CentreX) > 4 || math.Abs(v.CentreY) > 4:
		return fmt.Errorf("centre %v, %v is more than four frames away", v.CentreX, v.CentreY)
	case !(v.Aspect >= 0.1 && v.Aspect <= 10):
		return fmt.Errorf("aspect %v is not within 0.1 to 10", v.Aspect)
	case !(v.Inner >= 0 && v.Inner <= 4):
		return fmt.Errorf("inner %v is not within 0 to 4", v.Inner)
	case !(v.Softness >= 0.1 && v.Softness <= 4):
		return fmt.Errorf("softness %v is not within 0.1 to 4", v.Softness)
	}
	return nil
}
