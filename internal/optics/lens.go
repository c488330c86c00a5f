package optics

import (
	"math"

	"lampwise/internal/unit"
)

// Sensor is the part of the sensor that is recorded.
type Sensor struct{ Width, Height unit.Millimetre }

// Diagonal is the picture's.
func (s Sensor) Diagonal() unit.Millimetre {
	return unit.Millimetre(math.Hypot(float64(s.Width), float64(s.Height)))
}

// AngleOfView is what a lens of focal length f, focused far, sees across a
// length of the sensor: 2·atan(w/2f).
func AngleOfView(across, f unit.Millimetre) unit.Degree {
	return unit.Radian(2 * math.Atan(float64(across/(2*f)))).Degree()
}

// FocalFor is the focal length that sees the angle across a length of the sensor.
func FocalFor(across unit.Millimetre, angle unit.Degree) unit.Millimetre {
	return across / unit.Millimetre(2*math.Tan(float64(angle.Radian())/2))
}

// Framed is what a lens focused at s shows there across a length of the
// sensor: w·(s−f)/f, the magnification of a thin lens being f/(s−f).
func Framed(across, f unit.Millimetre, s unit.Metre) unit.Metre {
	if !(s.Millimetre() > f) {
		return unit.Metre(math.NaN())
	}
	return (across * (s.Millimetre() - f) / f).Metre()
}

// SeenAt is what is shown across the sensor at another distance d when the lens
// is focused at s: the picture's scale there is that of the image plane f·s/(s−f).
func SeenAt(across, f unit.Millimetre, s, d unit.Metre) unit.Metre {
	if !(s.Millimetre() > f) {
		return unit.Metre(math.NaN())
	}
	image := f * s.Millimetre() / (s.Millimetre() - f)
	return (across * d.Millimetre() / image).Metre()
}

// Falloff is what a flat sensor gets of a point seen at an angle off the
// lens's axis, against one on it: cos⁴, the natural law of a simple lens. Many
// lenses do better at the corners, some worse.
func Falloff(off unit.Degree) float64 { return math.Pow(math.Cos(float64(off.Radian())), 4) }

// Delivery is what the finished picture is looked at as; it sets how large a
// blur passes for sharp.
type Delivery struct {
	Lines int // picture height in pixels
}

// Circle of confusion: a blur as wide as two pixels of the delivered picture
// is the least that can be told from a point, since one period of the finest
// pattern that a raster carries takes two pixels (sampling theorem).
const pixelsPerCircle = 2

// Circle is the largest blur on the sensor that passes for sharp in the
// delivered picture.
func (d Delivery) Circle(s Sensor) unit.Millimetre {
	return s.Height * pixelsPerCircle / unit.Millimetre(d.Lines)
}

// Hyperfocal is the distance to focus at so that all from half of it to
// infinity is sharp: f²/(N·c) + f.
func Hyperfocal(f unit.Millimetre, n float64, c unit.Millimetre) unit.Metre {
	return (f*f/(unit.Millimetre(n)*c) + f).Metre()
}

// Depth is the range that passes for sharp.
type Depth struct {
	Near, Far unit.Metre // Far is +Inf from the hyperfocal distance on
}

// Total is Far − Near.
func (d Depth) Total() unit.Metre { return d.Far - d.Near }

// DepthOfField is the range that passes for sharp when focused at s:
// near = s(H−f)/(H+s−2f), far = s(H−f)/(H−s).
func DepthOfField(f unit.Millimetre, n float64, c unit.Millimetre, s unit.Metre) Depth {
	h, fm := Hyperfocal(f, n, c), f.Metre()
	if !(s > fm) {
		return Depth{unit.Metre(math.NaN()), unit.Metre(math.NaN())}
	}
	d := Depth{Near: s * (h - fm) / (h + s - 2*fm), Far: unit.Metre(math.Inf(1))}
	if s < h {
		d.Far = s * (h - fm) / (h - s)
	}
	return d
}

// BlurDisc is the width, on the sensor, of a point at distance d when focused
// at s: f²/N · |d−s| / (d·(s−f)). For a point infinitely far d may be +Inf.
func BlurDisc(f unit.Millimetre, n float64, s, d unit.Metre) unit.Millimetre {
	fm := f.Metre()
	if !(s > fm && d > 0) {
		return unit.Millimetre(math.NaN())
	}
	ratio := 1.0
	if !math.IsInf(float64(d), 1) {
		ratio = math.Abs(float64((d - s) / d))
	}
	return f * f / unit.Millimetre(n) * unit.Millimetre(ratio) / (s - fm).Millimetre()
}
