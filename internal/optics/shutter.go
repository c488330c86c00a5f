package optics

import (
	"math"

	"lampwise/internal/unit"
)

// fullTurn is a shutter's.
const fullTurn unit.Degree = 360

// ShutterTime is the exposure time of a shutter angle: angle/360/rate.
func ShutterTime(angle unit.Degree, rate unit.Hertz) unit.Second {
	return unit.Second(float64(angle/fullTurn) / float64(rate))
}

// ShutterAngle is the angle of an exposure time.
func ShutterAngle(t unit.Second, rate unit.Hertz) unit.Degree {
	return fullTurn * unit.Degree(float64(t)*float64(rate))
}

// SafeTime is an exposure time at which a lamp that pulses with the mains gives
// every frame the same light.
type SafeTime struct {
	Time   unit.Second
	Angle  unit.Degree
	Pulses int // of the lamp in the time
}

// SafeTimes lists the whole multiples of 1/(2·mains) that fit in a frame,
// shortest first: a lamp on alternating current pulses twice a cycle, and an
// exposure that takes in whole pulses is the same wherever it starts.
func SafeTimes(mains, rate unit.Hertz) []SafeTime {
	pulse := 1 / (2 * float64(mains))
	var out []SafeTime
	// A frame may be a whole number of pulses long but for rounding.
	for k := 1; float64(k)*pulse <= (1+1e-9)/float64(rate); k++ {
		t := unit.Second(float64(k) * pulse)
		out = append(out, SafeTime{t, ShutterAngle(t, rate), k})
	}
	return out
}

// NearestSafe is the safe time nearest to t, by ratio; ok is false when no
// safe time fits in a frame.
func NearestSafe(t unit.Second, mains, rate unit.Hertz) (s SafeTime, ok bool) {
	best := math.Inf(1)
	for _, c := range SafeTimes(mains, rate) {
		if d := math.Abs(math.Log(float64(c.Time / t))); d < best {
			best, s, ok = d, c, true
		}
	}
	return s, ok
}

// Ripple is how much frames can differ, in stops, when a lamp that pulses
// wholly (its light a raised sine of twice the mains) is exposed for t, brightest
// to darkest: the sine's mean over t has the amplitude |sin(πft)/(πft)|.
func Ripple(t unit.Second, mains unit.Hertz) unit.Stop {
	x := math.Pi * 2 * float64(mains) * float64(t)
	a := math.Abs(math.Sin(x) / x)
	if a < 1e-9 {
		return 0
	}
	return unit.StopsOf((1 + a) / (1 - a))
}
