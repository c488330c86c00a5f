package picture

import "math"

// The styles of a CDL (Common LUT Format, ASC_CDL, attribute style).
const (
	CDLFwd        = "Fwd"
	CDLRev        = "Rev"
	CDLFwdNoClamp = "FwdNoClamp"
	CDLRevNoClamp = "RevNoClamp"
)

// lumaWeights are those of ASC CDL 1.2, section on saturation (BT.709, four digits).
var lumaWeights = [3]float64{0.2126, 0.7152, 0.0722}

// Kind implements Op.
func (c *CDL) Kind() string { return "cdl" }

// Apply implements Op. In the styles that don't clamp a negative number passes
// the power unchanged. What cannot be undone (a slope or a saturation of 0) is
// left out in the reverse styles.
//
// Source: ASC Color Decision List 1.2
func (c *CDL) Apply(v [3]float64) [3]float64 {
	hold := clamp01
	if c.Style == CDLFwdNoClamp || c.Style == CDLRevNoClamp {
		hold = total
	}
	if c.Style == CDLRev || c.Style == CDLRevNoClamp {
		return c.reverse(v, hold)
	}
	for ch, x := range v {
		x = hold(x*c.Slope[ch] + c.Offset[ch])
		v[ch] = total(passPower(x, c.Power[ch]))
	}
	v = saturate(v, c.Saturation)
	return [3]float64{hold(v[0]), hold(v[1]), hold(v[2])}
}

func (c *CDL) reverse(v [3]float64, hold func(float64) float64) [3]float64 {
	for ch := range v {
		v[ch] = hold(v[ch])
	}
	if c.Saturation != 0 {
		v = saturate(v, 1/c.Saturation)
	}
	for ch, x := range v {
		x = passPower(hold(x), 1/c.Power[ch]) - c.Offset[ch]
		if c.Slope[ch] != 0 {
			x /= c.Slope[ch]
		}
		v[ch] = hold(x)
	}
	return v
}

func passPower(x, e float64) float64 {
	if x > 0 {
		return math.Pow(x, e)
	}
	return x
}

func saturate(v [3]float64, s float64) [3]float64 {
	luma := lumaWeights[0]*v[0] + lumaWeights[1]*v[1] + lumaWeights[2]*v[2]
	for ch := range v {
		v[ch] = luma + s*(v[ch]-luma)
	}
	return v
}
