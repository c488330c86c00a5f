package colour

import "math"

// DeltaE2000 returns the CIEDE2000 difference of two CIELAB colours with
// kL = kC = kH = 1 (CIE 142-2001; the order of steps and the hue rules after
// Sharma, Wu and Dalal 2005, "The CIEDE2000 color-difference formula:
// implementation notes", equations 2 to 22).
//
// Source: CIE 142-2001; G. Sharma, W. Wu, E. N. Dalal 2005, "The CIEDE2000 color-difference formula: Implementation notes, supplementary test data, and mathematical observations", Color Research and Application 30(1)
func DeltaE2000(a, b [3]float64) float64 {
	meanC := (math.Hypot(a[1], a[2]) + math.Hypot(b[1], b[2])) / 2
	g := 0.5 * (1 - math.Sqrt(seventh(meanC)))
	a1, a2 := (1+g)*a[1], (1+g)*b[1]
	c1, c2 := math.Hypot(a1, a[2]), math.Hypot(a2, b[2])
	h1, h2 := hueDegrees(a1, a[2]), hueDegrees(a2, b[2])

	dL, dC := b[0]-a[0], c2-c1
	dh, meanH := 0.0, h1+h2
	if c1*c2 != 0 {
		dh = h2 - h1
		switch {
		case dh > 180:
			dh -= 360
		case dh < -180:
			dh += 360
		}
		switch {
		case math.Abs(h1-h2) <= 180:
			meanH /= 2
		case meanH < 360:
			meanH = (meanH + 360) / 2
		default:
			meanH = (meanH - 360) / 2
		}
	}
	dH := 2 * math.Sqrt(c1*c2) * math.Sin(radians(dh/2))

	meanL := (a[0] + b[0]) / 2
	meanCP := (c1 + c2) / 2
	t := 1 - 0.17*math.Cos(radians(meanH-30)) + 0.24*math.Cos(radians(2*meanH)) +
		0.32*math.Cos(radians(3*meanH+6)) - 0.20*math.Cos(radians(4*meanH-63))
	l50 := (meanL - 50) * (meanL - 50)
	sL := 1 + 0.015*l50/math.Sqrt(20+l50)
	sC := 1 + 0.045*meanCP
	sH := 1 + 0.015*meanCP*t
	turn := (meanH - 275) / 25
	rT := -math.Sin(radians(60*math.Exp(-turn*turn))) * 2 * math.Sqrt(seventh(meanCP))

	l, c, h := dL/sL, dC/sC, dH/sH
	// Rounding can take the sum a hair below 0 for equal colours.
	return math.Sqrt(max(0, l*l+c*c+h*h+rT*c*h))
}

// seventh is c⁷/(c⁷ + 25⁷).
func seventh(c float64) float64 {
	c3 := c * c * c
	c7 := c3 * c3 * c
	return c7 / (c7 + 6103515625)
}

func hueDegrees(a, b float64) float64 {
	if a == 0 && b == 0 {
		return 0
	}
	h := math.Atan2(b, a) * 180 / math.Pi
	if h < 0 {
		h += 360
	}
	return h
}

func radians(degrees float64) float64 { return degrees * math.Pi / 180 }
