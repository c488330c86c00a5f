package colour

import "math"

// CIELAB's constants in exact form (CIE 15: (6/29)³ and
// (29/3)³ as whole-number ratios).
const (
	labCut   = 216.0 / 24389
	labSlope = 24389.0 / 27
)

// LabFromXYZ returns CIELAB L*, a*, b* of v for the given white. Negative
// tristimulus values are carried on along the straight piece.
//
// Source: CIE 15, CIELAB
func LabFromXYZ(v, white XYZ) [3]float64 {
	x, y, z := labF(v[0]/white[0]), labF(v[1]/white[1]), labF(v[2]/white[2])
	return [3]float64{116*y - 16, 500 * (x - y), 200 * (y - z)}
}

// XYZFromLab is the inverse of LabFromXYZ.
func XYZFromLab(lab [3]float64, white XYZ) XYZ {
	y := (lab[0] + 16) / 116
	x, z := y+lab[1]/500, y-lab[2]/200
	return XYZ{labInverse(x) * white[0], labInverse(y) * white[1], labInverse(z) * white[2]}
}

func labF(t float64) float64 {
	if t > labCut {
		return math.Cbrt(t)
	}
	return (labSlope*t + 16) / 116
}

func labInverse(f float64) float64 {
	if t := f * f * f; t > labCut {
		return t
	}
	return (116*f - 16) / labSlope
}

var (
	displayToXYZ = MustGamut("bt709").ToXYZ()
	displayWhite = D65.XYZ()
)

// DisplayLab returns CIELAB (white D65) of a BT.709 display signal, nominally
// 0..1, shown on the reference display (BT.1886, black 0). Signals below 0
// are shown as black; above 1 they count as brighter than white.
//
// Source: ITU-R BT.1886, annex 1; CIE 15, CIELAB
func DisplayLab(signal RGB) [3]float64 {
	var light [3]float64
	for i, v := range signal {
		light[i] = BT1886.Decode(v)
	}
	return LabFromXYZ(displayToXYZ.Apply(light), displayWhite)
}
