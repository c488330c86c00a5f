package grade

// BeforeSplit maps a curve signal to the log signal that enters the split:
// after decode, exposure and balance. With decode off y is returned as it is.
func (p *Path) BeforeSplit(y [3]float64) [3]float64 {
	lo, hi := p.signalEnds()
	v := hold3(y, lo, hi)
	if !p.on[StageDecode] {
		return v
	}
	return p.sceneZone(v)
}

// CurveAt is where the curve stage's master brings a log signal; y itself
// where the stage doesn't run.
func (p *Path) CurveAt(y float64) float64 {
	if !p.on[StageCurve] || p.tone == nil || p.tone.master == nil {
		return y
	}
	return p.tone.master.at(y)
}
