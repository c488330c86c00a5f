package grade

import (
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// signalEnds are the ends at which the curve signal y is held at the entry of
// decode, in the exact path and in every table made of it: those of the
// recorded codes, 0 and 1023 of 10 bits. A camera's R′G′B′ is never outside;
// what lies there comes from chroma alone (subsampling, a codec's overshoot).
func signalEnds(l colour.Levels) (lo, hi float64) {
	if l == colour.LevelsVideo {
		return colour.Narrow.LumaFromCode(0, 10), colour.Narrow.LumaFromCode(1023, 10)
	}
	return 0, 1
}

// signalEnds are the path's own; a finished picture's signal is E′.
func (p *Path) signalEnds() (lo, hi float64) {
	if p.Curve == nil {
		return signalEnds(colour.LevelsVideo)
	}
	return signalEnds(p.Curve.Levels)
}

// logLo holds the log signal between the log stages. Balance can make light
// negative (a deep blue lamp has less than no red); −1 keeps that down to
// about −0.15 of scene light in every shipped curve with a straight toe.
const logLo = -1

// lumaWeights are those of BT.709-6, item 3.2, which ASC CDL 1.2 uses too.
var lumaWeights = [3]float64{0.2126, 0.7152, 0.0722}

func luma(v [3]float64) float64 {
	return lumaWeights[0]*v[0] + lumaWeights[1]*v[1] + lumaWeights[2]*v[2]
}

// Clip is what a path must know of the clip it is for.
type Clip struct {
	Format    picture.Format
	CurveHint string  // id of the curve the metadata speaks of, if any; a note tells when decode.curve differs
	ClipCode  float64 // the recording's own clip, measured, as curve signal y; 0 = unknown: the curve's end is taken as an upper bound
}

// LUTs resolves a file name of a grade to what the file holds.
type LUTs interface {
	// LUT returns the ops of a LUT or CDL file. For a file with several CDL
	// corrections id chooses one; otherwise it is empty.
	LUT(name, id string) (*picture.Chain, error)
}

// LUTFunc makes a function a LUTs.
type LUTFunc func(name, id string) (*picture.Chain, error)

// LUT implements LUTs.
func (f LUTFunc) LUT(name, id string) (*picture.Chain, error) { return f(name, id) }

// Domain says what the numbers between two stages are.
type Domain string

// The domains.
const (
	DomainScene  Domain = "scene light" // scene-linear camera RGB, 0.18 = grey
	DomainLog    Domain = "log"         // the camera curve's y
	DomainScreen Domain = "screen"      // BT.709 display signal, 0..1
)

// Path is a grade resolved for a clip: everything in numbers, ready to be
// evaluated exactly or compiled. It is safe for concurrent use.
type Path struct {
	Grade Grade
	Clip  Clip
	Curve *colour.Curve
	Gamut *colour.Gamut

	// Notes say what a user should know of how the settings were met.
	Notes []string

	luts    LUTs
	on      map[Stage]bool
	scene   colour.Mat3 // exposure and balance in camera RGB
	balance colour.Mat3
	logHi   float64 // the log signal is held inside logLo..logHi
	split   *split
	tone    *toneCurves
	sat     float64
	cdl     *picture.CDL
	convert *convert
	look    *look
}

// Exact maps a curve signal y to the display signal, stage by stage in
// float64, before the vignette and without limiter or dither.
func (p *Path) Exact(y [3]float64) [3]float64 { return p.After(StageLook, y) }

// After maps a curve signal y to the colour as it is after a stage, in that
// stage's domain (see DomainAfter). Vignette depends on place and is left out;
// after encode the limiter has been applied.
func (p *Path) After(stage Stage, y [3]float64) [3]float64 {
	lo, hi := p.signalEnds()
	v := hold3(y, lo, hi)
	last := order(stage)
	reached := func(s Stage) bool { return order(s) <= last }
	if p.on[StageDecode] {
		if last <= order(StageBalance) {
			v = p.decode(v)
			if p.on[StageExposure] && reached(StageExposure) {
				v = scale3(v, math.Exp2(p.Grade.Exposure.Stops))
			}
			if p.on[StageBalance] && reached(StageBalance) {
				v = p.balance.Apply(v)
			}
			return v
		}
		v = p.sceneZone(v)
		if p.on[StageSplit] {
			v = hold3(p.split.apply(v), logLo, p.logHi)
		}
		if p.on[StageCurve] && reached(StageCurve) {
			v = hold3(p.tone.apply(v), logLo, p.logHi)
		}
		if p.on[StageSaturation] && reached(StageSaturation) {
			v = p.saturate(v)
		}
		if !reached(StageConvert) {
			return v
		}
		v = p.convert.apply(v)
	}
	if p.on[StageLook] && reached(StageLook) {
		v = p.look.apply(v)
	}
	if p.on[StageEncode] && reached(StageEncode) && p.Grade.Encode.Limiter == "rgb" {
		v = hold3(v, 0, 1)
	}
	return v
}

// DomainAfter says what the numbers after a stage are.
func (p *Path) DomainAfter(stage Stage) Domain {
	switch {
	case !p.on[StageDecode] || order(stage) >= order(StageConvert):
		return DomainScreen
	case order(stage) <= order(StageBalance):
		return DomainScene
	}
	return DomainLog
}

// sceneZone takes y through decode, exposure and balance back to log. With
// both stages off there is nothing to compute in scene light.
func (p *Path) sceneZone(y [3]float64) [3]float64 {
	if !p.on[StageExposure] && !p.on[StageBalance] {
		return y
	}
	return p.encodeLog(p.scene.Apply(p.decode(y)))
}

func (p *Path) decode(y [3]float64) [3]float64 {
	for i, x := range y {
		y[i] = hold(p.Curve.Decode(x), -sceneMax, sceneMax)
	}
	return y
}

func (p *Path) encodeLog(x [3]float64) [3]float64 {
	for i := range x {
		x[i] = hold(p.Curve.Encode(hold(x[i], -sceneMax, sceneMax)), logLo, p.logHi)
	}
	return x
}

// sceneMax holds scene light, so that a user's own curve can't run away.
const sceneMax = 1e9

// saturate is the CDL, if any, then the distance from luma times the amount.
func (p *Path) saturate(v [3]float64) [3]float64 {
	if p.cdl != nil {
		v = p.cdl.Apply(v)
	}
	if p.sat != 1 {
		l := luma(v)
		for i := range v {
			v[i] = l + p.sat*(v[i]-l)
		}
	}
	return hold3(v, logLo, p.logHi)
}

// order is a stage's place in the path.
func order(s Stage) int {
	for i, t := range Stages() {
		if s == t {
			return i
		}
	}
	return len(Stages())
}

// hold keeps x inside lo..hi; NaN becomes lo.
func hold(x, lo, hi float64) float64 {
	if !(x > lo) {
		return lo
	}
	return min(x, hi)
}

func hold3(v [3]float64, lo, hi float64) [3]float64 {
	return [3]float64{hold(v[0], lo, hi), hold(v[1], lo, hi), hold(v[2], lo, hi)}
}

func scale3(v [3]float64, k float64) [3]float64 {
	return [3]float64{v[0] * k, v[1] * k, v[2] * k}
}
