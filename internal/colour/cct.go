package colour

import (
	"fmt"
	"math"
	"sync"

	"lampwise/internal/unit"
)

// The range of correlated colour temperature, and the distance from the locus
// beyond which none is given (CIE 15 says the term should not be used there;
// the limit from memory).
const (
	CCTLowest  unit.Kelvin = 1000
	CCTHighest unit.Kelvin = 100000
	DuvLargest             = 0.05
)

// NoCCTError says that a chromaticity has no correlated colour temperature: a
// coloured tube, a red lamp. It carries what can be said of it instead.
type NoCCTError struct {
	XY      XY
	Duv     float64     // distance from the nearest point of the locus, signed
	Nearest unit.Kelvin // that point's temperature
	Tint
}

func (e *NoCCTError) Error() string {
	switch {
	case math.Abs(e.Duv) > DuvLargest:
		return fmt.Sprintf("no colour temperature: Duv %+.3f is beyond ±%.2f (hue %.0f°, purity %.0f %%)", e.Duv, DuvLargest, float64(e.Hue), 100*e.Purity)
	case e.Nearest <= CCTLowest:
		return fmt.Sprintf("no colour temperature: redder than %.0f K (hue %.0f°, purity %.0f %%)", float64(CCTLowest), float64(e.Hue), 100*e.Purity)
	case e.Nearest >= CCTHighest:
		return fmt.Sprintf("no colour temperature: bluer than %.0f K (hue %.0f°, purity %.0f %%)", float64(CCTHighest), float64(e.Hue), 100*e.Purity)
	}
	return fmt.Sprintf("no colour temperature: x %g, y %g is no chromaticity of light", e.XY.X, e.XY.Y)
}

// locusTable is the black-body locus in steps of 1 % of temperature (Ohno
// 2013).
var locusTable = sync.OnceValue(func() (table []locusPoint) {
	for t := float64(CCTLowest); ; t *= 1.01 {
		t = min(t, float64(CCTHighest))
		at, _ := locus(t)
		table = append(table, locusPoint{t, at})
		if t == float64(CCTHighest) {
			return table
		}
	}
})

type locusPoint struct {
	t  float64
	at uv
}

// CCT returns the correlated colour temperature and Duv (positive above the
// locus, toward green) of a chromaticity, as Ohno defines them: the nearest
// point of the black-body locus in CIE 1960 u, v and the distance to it (Y.
// Ohno 2013, "Practical use and calculation of CCT and Duv", LEUKOS 10:1).
// His table finds the place; then, instead of his triangular and parabolic
// solutions, which agree to 1 K, the foot of the perpendicular is solved for.
//
// Beyond |Duv| 0.05 or outside 1000 to 100 000 K the error is a *NoCCTError.
//
// Source: Y. Ohno 2013, "Practical Use and Calculation of CCT and Duv", LEUKOS 10(1)
func CCT(c XY) (k unit.Kelvin, duv float64, err error) {
	p := c.uv()
	if !Finite([3]float64{c.X, c.Y, 0}) || c.Y <= 0 || !Finite([3]float64{p.u, p.v, 0}) {
		return 0, 0, &NoCCTError{XY: c, Duv: math.NaN()}
	}
	table := locusTable()
	nearest, least := 0, math.Inf(1)
	for i, q := range table {
		if d := (q.at.u-p.u)*(q.at.u-p.u) + (q.at.v-p.v)*(q.at.v-p.v); d < least {
			nearest, least = i, d
		}
	}
	t, within := foot(p, table[max(0, nearest-1)].t, table[min(len(table)-1, nearest+1)].t)
	at, slope := locus(t)
	n := above(slope)
	duv = (p.u-at.u)*n.u + (p.v-at.v)*n.v
	if !within {
		// Beside an end of the locus the distance isn't along the normal.
		duv = math.Copysign(math.Hypot(p.u-at.u, p.v-at.v), duv)
	}
	k = unit.Kelvin(t)
	if !within || math.Abs(duv) > DuvLargest {
		return 0, 0, &NoCCTError{XY: c, Duv: duv, Nearest: k, Tint: TintOf(c)}
	}
	return k, duv, nil
}

// foot finds the temperature between lo and hi at which p lies on the locus's
// normal; false where there is none, with the nearer end.
func foot(p uv, lo, hi float64) (t float64, within bool) {
	// along is how far p still lies ahead on the tangent; it falls with t.
	along := func(logT float64) float64 {
		at, slope := locus(math.Exp(logT))
		return ((p.u-at.u)*slope.u + (p.v-at.v)*slope.v) / math.Hypot(slope.u, slope.v)
	}
	a, b := math.Log(lo), math.Log(hi)
	fa, fb := along(a), along(b)
	switch {
	case fa < 0 || fb > 0:
		if fa < 0 {
			return lo, false
		}
		return hi, false
	case fa == 0:
		return lo, true
	case fb == 0:
		return hi, true
	}
	// Regula falsi with halved weights (Illinois): never leaves the bracket.
	const close = 1e-12 // of ln T: far below any measured chromaticity's worth
	for range 60 {
		c := (a*fb - b*fa) / (fb - fa)
		fc := along(c)
		if fc == 0 || b-a < close {
			return math.Exp(c), true
		}
		if fc > 0 {
			if c-a < close {
				return math.Exp(c), true
			}
			a, fa, fb = c, fc, fb/2
		} else {
			if b-c < close {
				return math.Exp(c), true
			}
			b, fb, fa = c, fc, fa/2
		}
	}
	return math.Exp((a + b) / 2), true
}
