package grade

import (
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// AmberDusk is a look of our own making, a 33³ LUT on the display signal: soft
// contrast about grey, middles toward amber, shadows toward teal, a little
// less colour. It is strong at full; LookStrength is where it is meant to be
// used. Black and white stay, every curve of it is smooth, and nothing leaves
// 0..1.
func AmberDusk() *picture.LUT3D { return lookLUT(33, amberDusk) }

// The numbers of amberDusk, chosen by eye on the example.
const (
	duskContrast   = 0.30 // slope at grey is 1 + this, at black and white 1 − this
	duskSaturation = 0.90
)

var (
	duskTeal  = [3]float64{-0.075, 0.012, 0.034}
	duskAmber = [3]float64{0.060, 0.008, -0.085}
)

func amberDusk(v [3]float64) [3]float64 {
	l := luma(v)
	for i := range v {
		v[i] = duskCurve(mix(l, v[i], duskSaturation))
	}
	l = luma(v)
	// Both tints vanish at black and at white. Teal is fullest at a signal of
	// 0.25, amber at 0.6.
	teal := bump(l, 1, 3)
	amber := bump(l, 3, 2)
	for i, x := range v {
		// The last factor holds each channel inside 0..1.
		v[i] = x + (teal*duskTeal[i]+amber*duskAmber[i])*4*x*(1-x)
	}
	return hold3(v, 0, 1)
}

// duskCurve is an S about grey: with t = x^γ, γ such that grey lies at t = ½,
// t − c·sin(2πt)/2π has slope 1 + c there and 1 − c at both ends.
func duskCurve(x float64) float64 {
	gamma := math.Log(0.5) / math.Log(GreySignal)
	t := math.Pow(hold(x, 0, 1), gamma)
	t -= duskContrast * math.Sin(2*math.Pi*t) / (2 * math.Pi)
	return math.Pow(t, 1/gamma)
}

// bump is x^a·(1 − x)^b over its own maximum, at x = a/(a + b).
func bump(x, a, b float64) float64 {
	f := func(x float64) float64 { return math.Pow(x, a) * math.Pow(1-x, b) }
	x = hold(x, 0, 1)
	return f(x) / f(a/(a+b))
}

func lookLUT(size int, f func([3]float64) [3]float64) *picture.LUT3D {
	l := &picture.LUT3D{Size: size, Hi: [3]float64{1, 1, 1}, Interp: picture.Tetrahedral, Strength: 1}
	at := func(i int) float64 { return float64(i) / float64(size-1) }
	for b := range size {
		for g := range size {
			for r := range size {
				v := f([3]float64{at(r), at(g), at(b)})
				l.Data = append(l.Data, v[0], v[1], v[2])
			}
		}
	}
	return l
}

// LookComments are the lines for the head of the look's file.
func LookComments() []string {
	return []string{
		"amber dusk: amber middles, teal shadows, soft contrast about grey; made by lampwise",
		"in and out: BT.709 display signal, 0..1 = 0..100 %",
		"strong at full; meant for a strength of 0.4 to 0.5",
	}
}

// ConversionLUT bakes our conversion alone, camera curve to screen, as a LUT
// of data levels, for those who want theirs as a file. clip as in Clip.
func ConversionLUT(curveID, gamutID string, clip float64, size int) (*picture.LUT3D, []string, error) {
	g := defaults()
	g.Name = "conversion of " + curveID
	g.Decode.Curve, g.Decode.Gamut = curveID, gamutID
	for _, s := range []Stage{StageExposure, StageBalance, StageSplit, StageCurve, StageSaturation, StageLook, StageVignette} {
		g.SetOff(s, true)
	}
	p, err := Build(g, Clip{ClipCode: clip}, nil)
	if err != nil {
		return nil, nil, err
	}
	o := BakeOptions{Size: size, Levels: colour.LevelsData}
	lut, e, err := p.Bake(o)
	if err != nil {
		return nil, nil, err
	}
	return lut, p.LUTComments(o, e), nil
}
