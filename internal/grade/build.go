package grade

import (
	"errors"
	"fmt"
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/picture"
)

// Build resolves a grade for a clip: curve and gamut by id, white points to
// matrices, LUT files to ops, the counter-push and the tone scale to their
// numbers. luts may be nil where the grade names no file.
func Build(g *Grade, c Clip, luts LUTs) (*Path, error) {
	if err := g.Check(); err != nil {
		return nil, err
	}
	p := &Path{Grade: *g, Clip: c, luts: luts, on: map[Stage]bool{}, scene: colour.Identity, balance: colour.Identity}
	for _, s := range Stages() {
		p.on[s] = !g.Off(s)
	}
	p.dropIdentities()
	if p.on[StageDecode] {
		if err := p.buildDecode(); err != nil {
			return nil, err
		}
		if err := p.buildScene(); err != nil {
			return nil, err
		}
		if err := p.buildLog(luts); err != nil {
			return nil, err
		}
		if err := p.buildConvert(luts); err != nil {
			return nil, err
		}
	}
	if p.on[StageLook] {
		chain, err := resolve(luts, g.Look.LUT, "")
		if err != nil {
			return nil, err
		}
		p.look = newLook(chain, g.Look.Strength)
	}
	return p, nil
}

// dropIdentities turns off stages whose settings do nothing.
func (p *Path) dropIdentities() {
	g := &p.Grade
	if g.Exposure.Stops == 0 {
		p.on[StageExposure] = false
	}
	if g.Balance.Keep == 1 {
		p.on[StageBalance] = false
	}
	if g.Split.idle() {
		p.on[StageSplit] = false
	}
	if c := g.Curve; len(c.Master)+len(c.Red)+len(c.Green)+len(c.Blue)+len(c.Foot) == 0 {
		p.on[StageCurve] = false
	}
	if g.Saturation.Amount == 1 && g.Saturation.CDL == nil {
		p.on[StageSaturation] = false
	}
	if g.Look.Strength == 0 {
		p.on[StageLook] = false
	}
	if g.Vignette.Stops == 0 {
		p.on[StageVignette] = false
	}
}

// Runs says whether a stage does anything: it is on and its settings aren't
// an identity.
func (p *Path) Runs(s Stage) bool { return p.on[s] }

func (p *Path) buildDecode() error {
	d := p.Grade.Decode
	var curve *colour.Curve
	var err error
	if d.Params != nil {
		curve, err = colour.CurveFromParams(d.Curve, colour.LogParams{
			Base: d.Params.Base, LinSideSlope: d.Params.LinSideSlope, LinSideOffset: d.Params.LinSideOffset,
			LogSideSlope: d.Params.LogSideSlope, LogSideOffset: d.Params.LogSideOffset,
			LinSideBreak: d.Params.LinSideBreak, LinearSlope: d.Params.LinearSlope,
		})
	} else {
		curve, err = colour.CurveByID(d.Curve)
	}
	if err != nil {
		return err
	}
	copied := *curve
	if d.Levels != "auto" {
		copied.Levels = colour.Levels(d.Levels)
	}
	p.Curve = &copied
	if hint, err := colour.CurveByID(p.Clip.CurveHint); err == nil && hint.ID != curve.ID {
		p.Notes = append(p.Notes, fmt.Sprintf("the clip's metadata speaks of %s; decode.curve says %s and is used", hint.ID, curve.ID))
	}
	gamut := d.Gamut
	if gamut == "" {
		gamut = "bt709"
		if len(curve.Gamuts) > 0 {
			gamut = curve.Gamuts[0]
		} else {
			p.Notes = append(p.Notes, "the camera's primaries aren't known (decode.gamut is empty); BT.709's are taken")
		}
	}
	if p.Gamut, err = colour.GamutByID(gamut); err != nil {
		return err
	}
	_, hi := p.signalEnds()
	if p.Clip.ClipCode == 0 && d.Clip != 0 {
		p.Clip.ClipCode = signal10(p.Curve, d.Clip)
	}
	if y := p.Clip.ClipCode; y != 0 && !(y > p.Curve.Encode(colour.Grey) && y <= hi) {
		return fault.New(fault.Input, "clip-code", "Measure the clip again from a frame with a blown highlight.",
			"the recording's clip was measured at signal %.3f, which isn't above grey", y)
	}
	return nil
}

func (p *Path) buildScene() error {
	lo, hi := p.signalEnds()
	if p.on[StageBalance] {
		m, note, err := balanceMatrix(p.Grade.Balance, p.Gamut)
		if err != nil {
			return err
		}
		if note != "" {
			p.Notes = append(p.Notes, note)
		}
		p.balance, p.scene = m, m
	}
	if p.on[StageExposure] {
		p.scene = p.scene.Scale(math.Exp2(p.Grade.Exposure.Stops))
	}
	// The brightest light that can leave the scene zone decides how far up the
	// log signal may go.
	top := hold(p.Curve.Decode(hi), 0, sceneMax)
	brightest := top
	if p.on[StageExposure] || p.on[StageBalance] {
		bottom := hold(p.Curve.Decode(lo), -sceneMax, 0)
		for _, row := range p.scene {
			sum := 0.0
			for _, m := range row {
				sum += max(m*top, m*bottom)
			}
			brightest = max(brightest, sum)
		}
	}
	p.logHi = hold(p.Curve.Encode(min(brightest, sceneMax)), hi, 1e3) + 0.25
	return nil
}

func (p *Path) buildLog(luts LUTs) error {
	g := &p.Grade
	if p.on[StageSplit] {
		s, err := newSplit(g.Split, p.Curve, p.Gamut)
		if err != nil {
			return err
		}
		p.split = s
	}
	if p.on[StageCurve] {
		t, err := newToneCurves(g.Curve, p.Curve)
		if err != nil {
			return err
		}
		p.tone = t
	}
	p.sat = g.Saturation.Amount
	if p.on[StageSaturation] && g.Saturation.CDL != nil {
		cdl, err := resolveCDL(*g.Saturation.CDL, luts)
		if err != nil {
			return err
		}
		p.cdl = cdl
	}
	return nil
}

func (p *Path) buildConvert(luts LUTs) error {
	c := p.Grade.Convert
	switch {
	case !p.on[StageConvert]:
		p.convert = passConvert(p.Curve.Levels)
		return nil
	case c.By == "lut":
		chain, err := resolve(luts, c.LUT, "")
		if err != nil {
			return err
		}
		p.convert = lutConvert(chain, p.Curve.Levels, colour.Levels(c.LUTIn), colour.Levels(c.LUTOut))
		return nil
	}
	cv, err := newToneConvert(c, p)
	p.convert = cv
	return err
}

// clipped is the recording's clip as the log signal that enters convert: a
// neutral that is clipped in all channels, through the scene and log zones.
func (p *Path) clipped() [3]float64 {
	y := p.Clip.ClipCode
	if y == 0 {
		y = 1
	}
	return p.After(StageSaturation, [3]float64{y, y, y})
}

func resolve(luts LUTs, name, id string) (*picture.Chain, error) {
	if luts == nil {
		return nil, fault.New(fault.Usage, "lut-unavailable", "", "%s: LUT files can't be read here", name)
	}
	chain, err := luts.LUT(name, id)
	if err != nil {
		return nil, err
	}
	if chain == nil || len(chain.Ops) == 0 {
		return nil, fault.New(fault.Input, "lut-empty", "", "%s: the file holds nothing to apply", name)
	}
	return chain, nil
}

func resolveCDL(c CDL, luts LUTs) (*picture.CDL, error) {
	style := picture.CDLFwdNoClamp
	if c.Clamp {
		style = picture.CDLFwd
	}
	if c.File == "" {
		return &picture.CDL{Slope: c.Slope, Offset: c.Offset, Power: c.Power, Saturation: c.Saturation, Style: style}, nil
	}
	chain, err := resolve(luts, c.File, c.ID)
	if err != nil {
		return nil, err
	}
	if len(chain.Ops) != 1 {
		return nil, notCDL(c.File, fmt.Errorf("%d ops", len(chain.Ops)))
	}
	cdl, ok := chain.Ops[0].(*picture.CDL)
	if !ok {
		return nil, notCDL(c.File, errors.New(chain.Ops[0].Kind()))
	}
	copied := *cdl
	copied.Style = style
	return &copied, nil
}

func notCDL(name string, err error) error {
	return fault.Wrap(err, fault.Input, "cdl-file", "Name a .cdl, .cc or .ccc file; a LUT goes in [look] or [convert].",
		"%s: this isn't one ASC CDL correction", name)
}
