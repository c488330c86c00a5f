package gauge

import (
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
	"lampwise/internal/unit"
)

// Camera says what a recording's codes stand for.
type Camera struct {
	Curve *colour.Curve // nil: not known; then there are signals and no stops
	Gamut *colour.Gamut // nil: not known; then there is no chromaticity
	// White is the white the camera was balanced to, as seen on the set; nil
	// when it isn't known. Recorded colour is already balanced, so without it
	// there is no colour temperature, only gaps between lamps.
	White *colour.XY
	// ClipCode is the luma code, in 10 bits, at which the recording clips; 0 =
	// not known (see ClipFinder).
	ClipCode float64
}

// light takes E′ to scene-linear light by a table, in float32.
type light struct {
	table []float32
	exact func(e float64) float64
}

// The table's reach in E′ takes in all codes of any depth (narrow: −0.07 to
// 1.09) and R′G′B′ well beyond, and its steps are so fine that linear
// interpolation on a curve of 20 stops errs by less than 2e-6 of the light.
const (
	lightFrom  = -1.0
	lightTo    = 2.0
	lightSteps = 1 << 14
)

func newLight(c *colour.Curve, r colour.Range) *light {
	slope, offset := c.SignalFromE(r)
	l := &light{table: make([]float32, lightSteps+1), exact: func(e float64) float64 { return c.Decode(slope*e + offset) }}
	for i := range l.table {
		l.table[i] = float32(l.exact(lightFrom + (lightTo-lightFrom)*float64(i)/lightSteps))
	}
	return l
}

func (l *light) at(e float32) float32 {
	const scale = lightSteps / (lightTo - lightFrom)
	p := (e - lightFrom) * scale
	if !(p > 0) {
		return l.table[0]
	}
	i := int(p)
	if i >= lightSteps {
		return l.table[lightSteps]
	}
	f := p - float32(i)
	return l.table[i] + f*(l.table[i+1]-l.table[i])
}

// stops is the distance from grey; ok is false where there is no light.
func stops(x float64) (unit.Stop, bool) {
	if !(x > 0) || math.IsInf(x, 0) {
		return 0, false
	}
	return unit.StopsOf(x / colour.Grey), true
}

// clipE is the recording's clip as E′ of luma; +Inf when it isn't known.
func (c Camera) clipE(f picture.Format) float64 {
	if c.ClipCode <= 0 {
		return math.Inf(1)
	}
	const curveBits = 10
	return f.Range.LumaFromCode(c.ClipCode*float64(int(1)<<f.Bits)/(1<<curveBits), f.Bits)
}

// slope is dx/dE′.
func (l *light) slope(e float64) float64 {
	const h = 1e-4
	return (l.exact(e+h) - l.exact(e-h)) / (2 * h)
}
