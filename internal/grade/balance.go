package grade

import (
	"fmt"
	"math"
	"strings"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/unit"
)

// maxDuv is how far from the Planckian locus a CCT still means something
// (CIE 15:2018, 9.5: to 0.05).
const maxDuv = 0.05

// balanceMatrix is von Kries adaptation from the measured to the target white
// in the cone-like space of CAT16 (C. Li et al. 2017) or Bradford (ICC.1
// annex E), acting on camera RGB: fromXYZ · inv(C) · diag(t/w) · C · toXYZ.
// Both whites have Y = 1, so a white keeps its luminance.
//
// keep leaves a part of the warmth: the target is drawn toward the white, a
// part keep of the way in mired and in Duv where both whites lie near the
// locus (|Duv| ≤ 0.05), else on the straight line in CIE 1960 u, v.
//
// The scaling is linear: responses that are negative (deep blue light in a
// gamut with imaginary primaries) are scaled like any other, and the result
// may be negative too; the log signal carries it to the gamut compression.
//
// Source: von Kries in CAT16: C. Li et al. 2017; Bradford: ICC.1, annex E
func balanceMatrix(b Balance, g *colour.Gamut) (m colour.Mat3, note string, err error) {
	white, err := whiteXY(b.White, g, "balance.white")
	if err != nil {
		return m, "", err
	}
	target := g.W
	if b.Target.Set() {
		if target, err = whiteXY(b.Target, g, "balance.target"); err != nil {
			return m, "", err
		}
	}
	if white == target {
		return colour.Identity, "", nil
	}
	if _, duv, err := colour.CCT(white); err != nil || math.Abs(duv) > maxDuv {
		note = "balance.white lies too far from the daylight axis to be a white (|Duv| over 0.05); is it the card under a coloured lamp?"
	}
	if b.Keep > 0 {
		target = between(target, white, b.Keep)
	}
	cat := colour.CAT(strings.ToLower(b.CAT))
	for _, w := range []colour.XY{white, target} {
		for _, r := range cat.Response(w) {
			if !(r > 0.02) { // no lamp sold as white comes near: a 1500 K flame's blue response is 0.06
				return m, "", fault.New(fault.Usage, "balance-white", "Measure the white on a grey card under the key, not on a coloured lamp's light.",
					"x %.4f, y %.4f is too strong a colour to be balanced as a white", w.X, w.Y)
			}
		}
	}
	return g.FromXYZ().Mul(colour.Adapt(white, target, cat)).Mul(g.ToXYZ()), note, nil
}

// whiteXY is a white's chromaticity.
func whiteXY(w White, g *colour.Gamut, key string) (colour.XY, error) {
	switch {
	case w.XY != nil:
		return colour.XY{X: w.XY[0], Y: w.XY[1]}, nil
	case w.CCT != nil:
		duv := 0.0
		if w.Duv != nil {
			duv = *w.Duv
		}
		return colour.XYFromCCT(unit.Kelvin(*w.CCT), duv), nil
	}
	xyz := colour.XYZ(g.ToXYZ().Apply(*w.Card))
	xy := xyz.XY()
	if !(xyz[1] > 0) || !(xy.X > 0) || !(xy.Y > 0) {
		return xy, fault.New(fault.Usage, "balance-white", "Measure a grey card under the key; check decode.gamut.",
			"%s: card %v gives no real colour in this camera's primaries", key, *w.Card)
	}
	return xy, nil
}

// between goes a part of the way from a to b: in mired and Duv where both have
// a CCT, else on the line in CIE 1960 u, v.
func between(a, b colour.XY, part float64) colour.XY {
	ka, da, errA := colour.CCT(a)
	kb, db, errB := colour.CCT(b)
	if errA == nil && errB == nil && math.Abs(da) <= maxDuv && math.Abs(db) <= maxDuv {
		m := unit.Mired(mix(float64(ka.Mired()), float64(kb.Mired()), part))
		return colour.XYFromCCT(m.Kelvin(), mix(da, db, part))
	}
	ua, va := toUV(a)
	ub, vb := toUV(b)
	return fromUV(mix(ua, ub, part), mix(va, vb, part))
}

func mix(a, b, part float64) float64 { return a + part*(b-a) }

// toUV and fromUV are CIE 1960 UCS (CIE 15:2018, 9.5 uses it for CCT).
func toUV(c colour.XY) (u, v float64) {
	d := -2*c.X + 12*c.Y + 3
	return 4 * c.X / d, 6 * c.Y / d
}

func fromUV(u, v float64) colour.XY {
	d := 2*u - 8*v + 4
	return colour.XY{X: 3 * u / d, Y: 2 * v / d}
}

// String tells a white in words, for messages.
func (w White) String() string {
	switch {
	case w.XY != nil:
		return fmt.Sprintf("x %.4f, y %.4f", w.XY[0], w.XY[1])
	case w.CCT != nil && w.Duv != nil:
		return fmt.Sprintf("%.0f K, Duv %+.4f", *w.CCT, *w.Duv)
	case w.CCT != nil:
		return fmt.Sprintf("%.0f K", *w.CCT)
	case w.Card != nil:
		return fmt.Sprintf("card %.4g %.4g %.4g", w.Card[0], w.Card[1], w.Card[2])
	}
	return "the gamut's white"
}
