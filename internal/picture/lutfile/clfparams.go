package lutfile

import (
	"fmt"
	"math"
	"strings"

	"lampwise/internal/picture"
)

// readRange (S-2014-006, Range).
func readRange(p *process) (picture.Op, error) {
	if err := p.allow(p.f, "Description", "minInValue", "maxInValue", "minOutValue", "maxOutValue"); err != nil {
		return nil, err
	}
	style, err := p.style("Clamp", "Clamp", "noClamp")
	if err != nil {
		return nil, err
	}
	var v [4]float64
	var has [4]bool
	for i, name := range []string{"minInValue", "maxInValue", "minOutValue", "maxOutValue"} {
		n, err := p.alone(p.f, name)
		if err != nil {
			return nil, err
		}
		if n == nil {
			continue
		}
		has[i] = true
		if v[i], err = n.one(p.f); err != nil {
			return nil, err
		}
		if i < 2 {
			v[i] /= p.in
		} else {
			v[i] /= p.out
		}
	}
	minIn, maxIn, minOut, maxOut := v[0], v[1], v[2], v[3]
	const hintPairs = "give the minima, the maxima, or all four"
	switch {
	case has[0] != has[2]:
		return nil, p.wrong(codeCLF, hintPairs, "has only one of minInValue and minOutValue")
	case has[1] != has[3]:
		return nil, p.wrong(codeCLF, hintPairs, "has only one of maxInValue and maxOutValue")
	case !has[0] && !has[1]:
		return nil, p.wrong("lut-empty", hintPairs, "is empty")
	}
	r := &picture.Range{Slope: 1}
	if has[0] && has[1] {
		if !wide(minIn, maxIn) {
			return nil, p.wrong(codeCLF, "minInValue is below maxInValue", "has minInValue %g and maxInValue %g (in unit scale)", minIn, maxIn)
		}
		if maxOut < minOut {
			return nil, p.wrong(codeCLF, "minOutValue is not above maxOutValue", "has minOutValue %g and maxOutValue %g (in unit scale)", minOut, maxOut)
		}
		r.Slope = (maxOut - minOut) / (maxIn - minIn)
		r.Offset = minOut - minIn*r.Slope
		if !fits(r.Slope, r.Offset) {
			return nil, p.wrong(codeCLF, hintExport, "has numbers too far apart to compute with")
		}
	} else {
		if style == "noClamp" {
			return nil, p.wrong("lut-style", "leave the style out, or give all four values", "has two values only; it clamps, and its style is noClamp")
		}
		if has[0] && !same(minIn, minOut) || has[1] && !same(maxIn, maxOut) {
			return nil, p.wrong(codeCLF, "with one pair the in and the out value are the same colour; mind the bit depths", "has one pair and its two values differ: %g and %g (in unit scale)", minIn+maxIn, minOut+maxOut)
		}
	}
	if style == "Clamp" {
		if has[2] {
			r.Min = &minOut
		}
		if has[3] {
			r.Max = &maxOut
		}
	}
	return r, nil
}

// sameWithin is how far an in and an out value may lie apart and still be the
// same: rounding of decimals typed at different bit depths.
const sameWithin = 1e-6

func same(a, b float64) bool { return math.Abs(a-b) <= sameWithin*max(1, math.Abs(a)) }

// channels reads the children of that name, one for all channels or one for
// each, and tells read which channels each is for. given says which were.
func (p *process) channels(name string, read func(n *node, channels []int) error) (given [3]bool, err error) {
	list := p.only(name)
	for _, n := range list {
		channel, named := n.attr("channel")
		which := []int{0, 1, 2}
		if named {
			i := strings.Index("RGB", channel)
			if len(channel) != 1 || i < 0 {
				return given, p.f.wrong(n.line, "lut-param", "channels are R, G and B", "<%s> is for the channel %s", name, shown([]byte(channel)))
			}
			which = []int{i}
		} else if len(list) > 1 {
			return given, p.f.wrong(n.line, "lut-param", "name each one's channel", "several <%s>, and one of them without a channel", name)
		}
		for _, ch := range which {
			if given[ch] {
				return given, p.f.wrong(n.line, "lut-param", hintExport, "a second <%s> for the channel %s", name, channel)
			}
			given[ch] = true
		}
		if err := read(n, which); err != nil {
			return given, err
		}
	}
	return given, nil
}

// readLog (S-2014-006, Log). Params of the pure styles are filled with what
// they compute.
func readLog(p *process) (picture.Op, error) {
	if p.version < 300 {
		return nil, p.wrong("lut-version", "set compCLFversion to 3.0", "needs version 3 or later of "+clfStandards)
	}
	if err := p.allow(p.f, "Description", "LogParams"); err != nil {
		return nil, err
	}
	style, err := p.style("", picture.Log10, picture.AntiLog10, picture.Log2, picture.AntiLog2,
		picture.LinToLog, picture.LogToLin, picture.CameraLinToLog, picture.CameraLogToLin)
	if err != nil {
		return nil, err
	}
	op := &picture.LogOp{Style: style}
	pure, camera := false, false
	base := 2.0
	switch style {
	case picture.Log10, picture.AntiLog10:
		pure, base = true, 10
	case picture.Log2, picture.AntiLog2:
		pure = true
	case picture.CameraLinToLog, picture.CameraLogToLin:
		camera = true
	}
	for ch := range op.Params {
		op.Params[ch] = picture.LogParams{Base: base, LinSideSlope: 1, LogSideSlope: 1}
	}
	given, err := p.channels("LogParams", func(n *node, channels []int) error {
		if pure {
			return p.f.wrong(n.line, "lut-param", "the style "+style+" has none", "<LogParams> with the style %s", style)
		}
		params, err := p.logParams(n, camera, style)
		for _, ch := range channels {
			op.Params[ch] = params
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	if !pure && given != [3]bool{true, true, true} {
		return nil, p.wrong("lut-param", "give one <LogParams>, or one for each of R, G and B", "needs <LogParams> for every channel with the style %s", style)
	}
	if b := op.Params[0].Base; op.Params[1].Base != b || op.Params[2].Base != b {
		return nil, p.wrong("lut-param", "the base is the same for all channels", "has different bases")
	}
	return op, nil
}

func (p *process) logParams(n *node, camera bool, style string) (picture.LogParams, error) {
	l := picture.LogParams{Base: 2, LinSideSlope: 1, LogSideSlope: 1}
	wrong := func(hint, format string, args ...any) (picture.LogParams, error) {
		return l, p.f.wrong(n.line, "lut-param", hint, "<LogParams> "+format, args...)
	}
	for _, a := range []struct {
		name string
		into *float64
	}{
		{"base", &l.Base},
		{"linSideSlope", &l.LinSideSlope},
		{"linSideOffset", &l.LinSideOffset},
		{"logSideSlope", &l.LogSideSlope},
		{"logSideOffset", &l.LogSideOffset},
	} {
		x, ok, err := p.number(n, a.name)
		if err != nil {
			return l, err
		}
		if ok {
			*a.into = x
		}
	}
	edge, hasEdge, err := p.number(n, "linSideBreak")
	if err != nil {
		return l, err
	}
	slope, hasSlope, err := p.number(n, "linearSlope")
	if err != nil {
		return l, err
	}
	if !camera && (hasEdge || hasSlope) {
		return wrong("use cameraLinToLog or cameraLogToLin", "has linSideBreak or linearSlope, which the style %s doesn't have", style)
	}
	if camera && !hasEdge {
		return wrong("give linSideBreak", "has no linSideBreak, which the style %s needs", style)
	}
	l.LinSideBreak = edge
	if hasSlope {
		l.LinearSlope = &slope
	}
	if problem := logProblem(l, camera); problem != "" {
		return wrong("see Log in "+clfStandards, "%s", problem)
	}
	return l, nil
}

// logProblem says what can't be computed with; empty when all is well.
func logProblem(l picture.LogParams, camera bool) string {
	switch {
	case l.Base <= 0 || l.Base == 1:
		return fmt.Sprintf("has the base %g; above 0 and not 1 was expected", l.Base)
	case l.LinSideSlope == 0 || l.LogSideSlope == 0:
		return "has a slope of 0"
	case camera && !(l.LinSideSlope*l.LinSideBreak+l.LinSideOffset > 0):
		return fmt.Sprintf("has a linSideBreak where the logarithm's argument is %g", l.LinSideSlope*l.LinSideBreak+l.LinSideOffset)
	case l.LinearSlope != nil && *l.LinearSlope == 0:
		return "has a linearSlope of 0"
	}
	return ""
}

// The exponents of the basic styles; S-2014-006 leaves them open, these are
// the bounds of OpenColorIO 2.1. Those of monCurve are S-2014-006's.
const (
	minExponent, maxExponent                 = 0.01, 100
	minMonCurve, maxMonCurve, maxCurveOffset = 1, 10, 0.9
)

// readExponent (S-2014-006, Exponent). Channels not named are left as they are.
func readExponent(p *process) (picture.Op, error) {
	if p.version < 300 {
		return nil, p.wrong("lut-version", "set compCLFversion to 3.0", "needs version 3 or later of "+clfStandards)
	}
	if err := p.allow(p.f, "Description", "ExponentParams"); err != nil {
		return nil, err
	}
	style, err := p.style("", powerStyles...)
	if err != nil {
		return nil, err
	}
	op := &picture.Power{Style: style, Exponent: [3]float64{1, 1, 1}}
	given, err := p.channels("ExponentParams", func(n *node, channels []int) error {
		e, ok, err := p.number(n, "exponent")
		if err != nil {
			return err
		}
		if !ok {
			return p.f.wrong(n.line, "lut-param", hintExport, "<ExponentParams> has no exponent")
		}
		o, hasOffset, err := p.number(n, "offset")
		if err != nil {
			return err
		}
		if problem := exponentProblem(style, e, o, hasOffset); problem != "" {
			return p.f.wrong(n.line, "lut-param", hintExport, "<ExponentParams> %s", problem)
		}
		for _, ch := range channels {
			op.Exponent[ch], op.Offset[ch] = e, o
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	if given == [3]bool{} {
		return nil, p.wrong("lut-param", hintExport, "has no <ExponentParams>")
	}
	return op, nil
}

var powerStyles = []string{
	picture.BasicFwd, picture.BasicRev,
	picture.BasicMirrorFwd, picture.BasicMirrorRev,
	picture.BasicPassThruFwd, picture.BasicPassThruRev,
	picture.MonCurveFwd, picture.MonCurveRev,
	picture.MonCurveMirrorFwd, picture.MonCurveMirrorRev,
}

// exponentProblem says what a style forbids; empty when all is well.
func exponentProblem(style string, exponent, offset float64, hasOffset bool) string {
	if strings.HasPrefix(style, "basic") {
		switch {
		case hasOffset:
			return fmt.Sprintf("has an offset, which the style %s doesn't have", style)
		case exponent < minExponent || exponent > maxExponent:
			return fmt.Sprintf("has the exponent %g; %g to %d was expected", exponent, minExponent, maxExponent)
		}
		return ""
	}
	switch {
	case !hasOffset:
		return fmt.Sprintf("has no offset, which the style %s needs", style)
	case exponent < minMonCurve || exponent > maxMonCurve:
		return fmt.Sprintf("has the exponent %g; %d to %d was expected with the style %s", exponent, minMonCurve, maxMonCurve, style)
	case offset < 0 || offset > maxCurveOffset:
		return fmt.Sprintf("has the offset %g; 0 to %g was expected", offset, maxCurveOffset)
	}
	return ""
}
