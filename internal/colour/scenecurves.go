package colour

import "math"

// sceneCurves are broadcast and display transfer functions. Their y is the
// signal E′.
var sceneCurves = []*Curve{
	{
		ID: "bt709", Kind: KindScene, Levels: LevelsVideo, Gamuts: []string{"bt709"},
		Source: "ITU-R BT.709-6, item 1.2; the cut itself belongs to the power",
		form:   newPowerFoot(4.5, math.Nextafter(0.018, 0), 1.099, 0.45, 1/0.45),
	},
	{
		ID: "bt1886", Kind: KindDisplay, Levels: LevelsVideo, Gamuts: []string{"bt709"},
		Source: "ITU-R BT.1886, Annex 1, with black 0 and white 1: a pure power 2.4",
		form:   purePower{},
	},
	{
		ID: "srgb", Kind: KindDisplay, Levels: LevelsVideo, Gamuts: []string{"bt709"},
		Source: "IEC 61966-2-1",
		form:   newPowerFoot(12.92, 0.0031308, 1.055, 1/2.4, 2.4),
	},
	{
		ID: "hlg", Kind: KindScene, Levels: LevelsVideo, Gamuts: []string{"bt2020"},
		Source: "ITU-R BT.2100-2, table 5", Note: "x = 1 is the signal's top, not grey-based; mirrored below zero",
		form: hybridLog{},
	},
	{
		ID: "pq", Kind: KindDisplay, Levels: LevelsVideo, Gamuts: []string{"bt2020"},
		Source: "SMPTE ST 2084; ITU-R BT.2100-2, table 4", Note: "x = 1 is 10 000 cd/m²",
		form: perceptual{},
	},
}

// powerFoot is a power with a straight foot:
// y = slope·x up to the cut, gain·x^exponent − (gain − 1) above. Where the
// published constants leave a gap at the cut (BT.709: 0.22 of a 10-bit code),
// the gap decodes to the cut.
type powerFoot struct {
	slope, cut, gain, exponent, inverse float64
	footTop, powerFrom                  float64
}

func newPowerFoot(slope, cut, gain, exponent, inverse float64) *powerFoot {
	f := &powerFoot{slope: slope, cut: cut, gain: gain, exponent: exponent, inverse: inverse}
	f.footTop = slope * cut
	f.powerFrom = gain*math.Pow(cut, exponent) - (gain - 1)
	return f
}

func (f *powerFoot) encode(x float64) float64 {
	if x <= f.cut {
		return max(lowest, f.slope*x)
	}
	return f.gain*power(x, f.exponent) - (f.gain - 1)
}

func (f *powerFoot) decode(y float64) float64 {
	if y <= f.footTop {
		return y / f.slope
	}
	return min(highest, max(f.cut, power((y+(f.gain-1))/f.gain, f.inverse)))
}

// power is x^p for x > 0. exp(p·ln x) is a third of math.Pow's time and
// within a few units in the last place for the exponents here.
func power(x, p float64) float64 { return math.Exp(p * math.Log(x)) }

// BT1886Gamma is the reference display's exponent (ITU-R BT.1886, Annex 1).
const BT1886Gamma = 2.4

// purePower is BT.1886 with black at 0: L = max(V, 0)^2.4.
type purePower struct{}

func (purePower) encode(x float64) float64 {
	if x <= 0 {
		return 0
	}
	return power(x, 1/BT1886Gamma)
}

func (purePower) decode(y float64) float64 {
	if y <= 0 {
		return 0
	}
	return min(highest, power(y, BT1886Gamma))
}

// Display1886 is a reference display with its own white and black luminance,
// in cd/m², white > black ≥ 0 (ITU-R BT.1886, Annex 1).
//
// Source: ITU-R BT.1886, annex 1
type Display1886 struct{ White, Black float64 }

// EOTF returns the luminance in cd/m² for a signal V (0 = black, 1 = white).
func (d Display1886) EOTF(v float64) float64 {
	a, b := d.ab()
	return a * math.Pow(max(v+b, 0), BT1886Gamma)
}

// InverseEOTF returns the signal for a luminance in cd/m².
func (d Display1886) InverseEOTF(l float64) float64 {
	a, b := d.ab()
	return math.Pow(max(l, 0)/a, 1/BT1886Gamma) - b
}

func (d Display1886) ab() (a, b float64) {
	white, black := math.Pow(d.White, 1/BT1886Gamma), math.Pow(d.Black, 1/BT1886Gamma)
	return math.Pow(white-black, BT1886Gamma), black / (white - black)
}

// hybridLog is BT.2100's HLG OETF, carried on below zero as its mirror image.
type hybridLog struct{}

const (
	hlgA = 0.17883277
	hlgB = 0.28466892 // 1 − 4a
	hlgC = 0.55991073 // 0.5 − a·ln(4a)
)

func (hybridLog) encode(x float64) float64 {
	switch {
	case x < 0:
		return -hybridLog{}.encode(-x)
	case x <= 1.0/12:
		return math.Sqrt(3 * x)
	}
	return hlgA*math.Log(min(highest, 12*x)-hlgB) + hlgC
}

func (hybridLog) decode(y float64) float64 {
	switch {
	case y < 0:
		return -hybridLog{}.decode(-y)
	case y <= 0.5:
		return y * y / 3
	}
	return min(highest, (math.Exp((y-hlgC)/hlgA)+hlgB)/12)
}

// HLGSystemGamma returns the OOTF's exponent for a display of peak luminance
// white cd/m² (ITU-R BT.2100-2, note 5f to table 5): 1.2 at 1000.
//
// Source: ITU-R BT.2100-2, note 5f to table 5
func HLGSystemGamma(white float64) float64 { return 1.2 + 0.42*math.Log10(white/1000) }

// perceptual is SMPTE ST 2084's PQ. Light below 0 is recorded as 0; beyond
// the formula's pole near y = 1.99 the light stays at the largest number.
type perceptual struct{}

const (
	pqM1 = 2610.0 / 16384
	pqM2 = 2523.0 / 4096 * 128
	pqC1 = 3424.0 / 4096
	pqC2 = 2413.0 / 4096 * 32
	pqC3 = 2392.0 / 4096 * 32
)

func (perceptual) encode(x float64) float64 {
	if x != x {
		return x
	}
	p := math.Pow(max(0, min(highest, x)), pqM1)
	return math.Pow((pqC1+pqC2*p)/(1+pqC3*p), pqM2)
}

func (perceptual) decode(y float64) float64 {
	if y != y {
		return y
	}
	p := math.Pow(max(0, min(2, y)), 1/pqM2)
	below := pqC2 - pqC3*p
	if below <= 0 {
		return highest
	}
	return min(highest, math.Pow(max(p-pqC1, 0)/below, 1/pqM1))
}
