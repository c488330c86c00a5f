package colour

import (
	"math"

	"lampwise/internal/fault"
)

// LogParams are the numbers of Common LUT Format's cameraLinToLog (SMPTE
// ST 2136-1, Log node), with its names:
//
//	x ≤ LinSideBreak: y = LinearSlope·x + b, b such that the pieces meet
//	else:             y = LogSideSlope·log_Base(LinSideSlope·x + LinSideOffset) + LogSideOffset
//
// LinearSlope nil means the logarithm's slope at the break.
//
// Source: Common LUT Format, cameraLinToLog (SMPTE ST 2136-1)
type LogParams struct {
	Base          float64
	LinSideSlope  float64
	LinSideOffset float64
	LogSideSlope  float64
	LogSideOffset float64
	LinSideBreak  float64
	LinearSlope   *float64
}

// CLF returns the curve's cameraLinToLog numbers. ok is false where the form
// does not hold for every x (see LogForm). Common LUT Format lets the two
// pieces meet, so below the break it may differ from the published curve by
// the published step (log-445: 0.92 of a 10-bit code; others ≤ 0.1).
func (c *Curve) CLF() (p LogParams, ok bool) {
	f, ok := c.LogForm()
	return f.Params, ok && math.IsInf(f.From, -1)
}

// LogForm is a curve's cameraLinToLog form and how far it holds.
type LogForm struct {
	Params LogParams
	From   float64 // the form holds for x ≥ From; −Inf = everywhere
	Step   float64 // by how much, in y, it differs from the published curve below the break
}

// LogForm returns the curve's cameraLinToLog form, with the part of the curve
// for which it holds; ok is false where the curve has no logarithm of that
// kind at all.
func (c *Curve) LogForm() (f LogForm, ok bool) {
	switch g := c.form.(type) {
	case *piecewise:
		p := g.published
		slope := p.lineSlope
		return LogForm{
			Params: LogParams{p.base, p.linSlope, p.linOffset, p.logSlope, p.logOffset, p.cut, &slope},
			From:   math.Inf(-1),
			Step:   math.Abs(g.logarithm(p.cut) - (p.lineSlope*p.cut + p.lineStart)),
		}, true
	case *mirrored:
		p := LogParams{10, g.linSlope, 1, g.logSlope, g.above, g.cut, nil}
		if g.cut > 0 {
			p.LinearSlope = &g.slope
		}
		return LogForm{
			Params: p, From: -g.cut,
			Step: math.Abs(g.a*math.Log(1+g.b*g.cut) + g.above - (g.slope*g.cut + g.middle)),
		}, true
	case *cubeRootLog:
		return LogForm{Params: LogParams{math.E, 1, 0, g.logSlope, g.logOffset, g.cut, nil}, From: g.cut}, true
	case *squareLog:
		return LogForm{Params: LogParams{2, 1, g.shift, g.logSlope, g.logOffset, g.cut, nil}, From: g.cut}, true
	}
	return LogForm{}, false
}

// CurveFromParams makes a camera curve from Common LUT Format numbers: a
// user's own, or a fitted one. It is a fault when a number is not finite or
// when the curve would not rise everywhere.
func CurveFromParams(id string, p LogParams) (*Curve, error) {
	f, err := piecewiseFromParams(id, p)
	if err != nil {
		return nil, err
	}
	return &Curve{ID: id, Kind: KindCamera, Levels: LevelsData, Source: "given as Common LUT Format parameters", form: f}, nil
}

func piecewiseFromParams(id string, p LogParams) (*piecewise, error) {
	wrong := func(format string, args ...any) error {
		return fault.New(fault.Input, "curve-params", "the names and rules are those of Common LUT Format's cameraLinToLog (SMPTE ST 2136-1)",
			"curve %q: "+format, append([]any{id}, args...)...)
	}
	for _, n := range []struct {
		name  string
		value float64
	}{
		{"base", p.Base},
		{"linSideSlope", p.LinSideSlope},
		{"linSideOffset", p.LinSideOffset},
		{"logSideSlope", p.LogSideSlope},
		{"logSideOffset", p.LogSideOffset},
		{"linSideBreak", p.LinSideBreak},
	} {
		if math.IsNaN(n.value) || math.IsInf(n.value, 0) {
			return nil, wrong("%s is not a finite number", n.name)
		}
	}
	switch {
	case p.Base <= 0 || p.Base == 1:
		return nil, wrong("base is %g; it must be above 0 and not 1", p.Base)
	case p.LinSideSlope <= 0:
		return nil, wrong("linSideSlope is %g; it must be above 0", p.LinSideSlope)
	case p.LogSideSlope/math.Log(p.Base) <= 0:
		return nil, wrong("logSideSlope %g with base %g makes a falling curve", p.LogSideSlope, p.Base)
	}
	atBreak := p.LinSideSlope*p.LinSideBreak + p.LinSideOffset
	if !(atBreak > 0) {
		return nil, wrong("linSideSlope·linSideBreak + linSideOffset is %g; the logarithm needs it above 0", atBreak)
	}
	slope := p.LogSideSlope / math.Log(p.Base) * p.LinSideSlope / atBreak
	if p.LinearSlope != nil {
		slope = *p.LinearSlope
	}
	if !(slope > 0) || math.IsInf(slope, 0) {
		return nil, wrong("linearSlope is %g; it must be above 0 and finite", slope)
	}
	end := p.LogSideSlope/math.Log(p.Base)*math.Log(atBreak) + p.LogSideOffset
	f := newPiecewise(logPieces{
		base: p.Base, linSlope: p.LinSideSlope, linOffset: p.LinSideOffset,
		logSlope: p.LogSideSlope, logOffset: p.LogSideOffset,
		cut: p.LinSideBreak, lineSlope: slope, lineStart: end - slope*p.LinSideBreak,
	})
	for _, v := range []float64{f.a, f.invA, f.invB, f.invSlope, f.offset, f.lineTop, f.logFrom} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, wrong("the numbers are too large or too small to compute with")
		}
	}
	return f, nil
}
