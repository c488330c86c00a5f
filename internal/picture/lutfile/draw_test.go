package lutfile

import (
	"math"

	"pgregory.net/rapid"

	"lampwise/internal/picture"
)

// Ops drawn at random for property tests: any numbers the formats allow, of
// the sizes that occur.

// floats draws numbers single precision can hold, the only ones that are
// written as they are.
func floats(lo, hi float64) *rapid.Generator[float64] {
	return rapid.Map(rapid.Float64Range(lo, hi), normal)
}

func drawThree(t *rapid.T, lo, hi float64, label string) (v [3]float64) {
	g := floats(lo, hi)
	for ch := range v {
		v[ch] = g.Draw(t, label)
	}
	return v
}

func drawDomain(t *rapid.T) (lo, hi [3]float64) {
	switch rapid.IntRange(0, 2).Draw(t, "domain") {
	case 0:
		return lo, three(1)
	case 1:
		return three(floats(-1, 0.2).Draw(t, "lo")), three(floats(0.5, 4).Draw(t, "hi"))
	}
	return drawThree(t, -1, 0.2, "lo"), drawThree(t, 0.5, 4, "hi")
}

func drawCurves(t *rapid.T) *picture.Curves {
	c := &picture.Curves{Axis: picture.AxisUniform}
	c.Lo, c.Hi = drawDomain(t)
	n := rapid.IntRange(2, 12).Draw(t, "samples")
	same := rapid.Bool().Draw(t, "same for all channels")
	for ch := range c.Samples {
		if ch > 0 && same {
			c.Samples[ch] = c.Samples[0]
			continue
		}
		c.Samples[ch] = rapid.SliceOfN(floats(-1, 2), n, n).Draw(t, "samples")
	}
	return c
}

func drawCube(t *rapid.T) *picture.LUT3D {
	n := rapid.IntRange(2, 4).Draw(t, "size")
	l := &picture.LUT3D{
		Size: n, Interp: rapid.SampledFrom([]picture.Interp{picture.Tetrahedral, picture.Trilinear}).Draw(t, "interp"), Strength: 1,
		Data: rapid.SliceOfN(floats(-1, 2), 3*n*n*n, 3*n*n*n).Draw(t, "data"),
	}
	l.Lo, l.Hi = drawDomain(t)
	return l
}

// drawOp draws any op that Common LUT Format can say, except half domains,
// which are large and have tests of their own.
func drawOp(t *rapid.T) picture.Op {
	unit := floats(0, 1)
	switch rapid.IntRange(0, 7).Draw(t, "kind") {
	case 0:
		m := &picture.Matrix{}
		for i := range m.M {
			m.M[i] = drawThree(t, -2, 2, "m")
		}
		if rapid.Bool().Draw(t, "with offset") {
			m.Offset = drawThree(t, -1, 1, "offset")
		}
		return m
	case 1:
		return drawCurves(t)
	case 2:
		c := drawCurves(t)
		c.Lo, c.Hi, c.KeepHue = three(c.Lo[0]), three(c.Hi[0]), true
		return c
	case 3:
		return drawCube(t)
	case 4:
		r := &picture.Range{Slope: 1}
		if rapid.Bool().Draw(t, "scaled") {
			r.Slope, r.Offset = floats(-3, 3).Draw(t, "slope"), floats(-1, 1).Draw(t, "offset")
		}
		if rapid.Bool().Draw(t, "has min") {
			lo := floats(-1, 0.4).Draw(t, "min")
			r.Min = &lo
		}
		if rapid.Bool().Draw(t, "has max") {
			hi := floats(0.5, 3).Draw(t, "max")
			r.Max = &hi
		}
		return r
	case 5:
		p := &picture.Power{Style: rapid.SampledFrom(powerStyles).Draw(t, "style")}
		if p.Style[0] == 'b' {
			p.Exponent = drawThree(t, 0.2, 4, "exponent")
		} else {
			// Nearer to 1 and 0 every implementation guards against dividing by
			// zero in its own way (S-2014-006, Exponent, notes).
			p.Exponent, p.Offset = drawThree(t, 1.001, 4, "exponent"), drawThree(t, 0.001, 0.9, "offset")
		}
		return p
	case 6:
		l := &picture.LogOp{Style: rapid.SampledFrom([]string{
			picture.Log10, picture.AntiLog10, picture.Log2, picture.AntiLog2,
			picture.LinToLog, picture.LogToLin, picture.CameraLinToLog, picture.CameraLogToLin,
		}).Draw(t, "style")}
		line := rapid.Bool().Draw(t, "line of its own")
		base := rapid.SampledFrom([]float64{2, 10, 2.718281828459045}).Draw(t, "base")
		for ch := range l.Params {
			p := picture.LogParams{Base: base, LinSideSlope: 1, LogSideSlope: 1}
			switch l.Style {
			case picture.Log10, picture.AntiLog10:
				p.Base = 10
			case picture.Log2, picture.AntiLog2:
				p.Base = 2
			default:
				p.LinSideSlope, p.LinSideOffset = 0.5+5*unit.Draw(t, "slope"), 0.01+0.1*unit.Draw(t, "offset")
				p.LogSideSlope, p.LogSideOffset = 0.2+0.2*unit.Draw(t, "slope"), normal(0.6*unit.Draw(t, "offset"))
			}
			if l.Style == picture.CameraLinToLog || l.Style == picture.CameraLogToLin {
				p.LinSideBreak = normal(0.02 * unit.Draw(t, "break"))
				if line {
					slope := 1 + 6*unit.Draw(t, "line")
					p.LinearSlope = &slope
				}
			}
			l.Params[ch] = p
		}
		return l
	}
	return drawCDL(t)
}

func drawCDL(t *rapid.T) *picture.CDL {
	return &picture.CDL{
		Slope: drawThree(t, 0.1, 3, "slope"), Offset: drawThree(t, -0.5, 0.5, "offset"), Power: drawThree(t, 0.3, 3, "power"),
		Saturation: floats(0.1, 2).Draw(t, "saturation"), Style: rapid.SampledFrom(cdlStyles).Draw(t, "style"),
	}
}

// drawColour draws a colour on a raster of 1/4096: channels are alike or
// clearly apart, since where they differ by rounding alone the adjustment that
// keeps hue (hueAdjust) has no middle channel to speak of.
func drawColour(t *rapid.T) [3]float64 {
	const raster = 4096
	if rapid.Bool().Draw(t, "grey") {
		return three(math.Round(raster*floats(-0.5, 2).Draw(t, "level")) / raster)
	}
	v := drawThree(t, -0.5, 2, "colour")
	for ch := range v {
		v[ch] = math.Round(raster*v[ch]) / raster
	}
	return v
}
