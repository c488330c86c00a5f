package lamps

import (
	"fmt"
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/unit"
)

// judge turns the fit into findings.
func (s *Set) judge(r *CheckReport, f *robustFit, moved int, known CheckOptions) {
	src, cov := s.sources(f)
	e := explain(src, cov, s.Habit, known)
	if known.CameraSame && belied(src, cov, s.Habit) {
		r.refuse("every lamp and the daylight changed alike, as by the camera's exposure: look at its settings again, then check without saying that they are as they were")
	}
	s.judgeCamera(r, e, f)
	n := s.lampCount()
	shares := f.largestShares(s.Weights(s.Mix))
	drift := r.Camera.Changed || r.Camera.Moved
	for i := range n {
		l := s.judgeLamp(i, src[i], e, f)
		l.Share, l.Kept = shares[i], f.stands(i)
		switch {
		case i == moved && r.Outcome != OutcomeUnsure:
			l.Finding, l.Act, l.Reason = Moved, true, ""
		case l.Finding == Unsure:
		case r.Outcome == OutcomeUnsure && len(r.Reasons) > 0:
			l.Finding, l.Reason = Unsure, r.Reasons[0]
		}
		if l.Finding != Same && l.Finding != Unsure {
			drift = true
		}
		r.Lamps = append(r.Lamps, l)
	}
	if a := n; !math.IsNaN(e.level[a]) && e.levelError[a] < 3*largestSE {
		r.Ambient = AmbientCheck{Known: true, Stops: unit.Stop(e.level[a]), Error: unit.Stop(e.levelError[a])}
		r.Ambient.Changed = math.Abs(e.level[a]) > float64(s.Habit.Mention)+2*e.levelError[a]
	}
	if r.Outcome == OutcomeUnsure {
		return
	}
	for _, l := range r.Lamps {
		if l.Finding == Unsure {
			r.Reasons = append(r.Reasons, l.Name+": "+l.Reason)
		}
	}
	switch {
	case drift || r.Ambient.Changed || len(r.Unknown) > 0:
		r.Outcome = OutcomeDrift
	case len(r.Reasons) > 0:
		r.Outcome = OutcomeUnsure
	default:
		r.Outcome = OutcomeSame
	}
}

// judgeCamera reads the camera's part.
func (s *Set) judgeCamera(r *CheckReport, e *explanation, f *robustFit) {
	c := &r.Camera
	c.Gain, c.GainError = unit.Stop(e.gain), unit.Stop(e.gainError)
	c.BalanceChanged = e.balanceChanged
	// What the balance does to a neutral surface.
	white := f.mixing().Apply([3]float64{math.Exp2(e.balance[0]), math.Exp2(e.balance[1]), math.Exp2(e.balance[2])})
	var balance [3]float64
	for i := range 3 {
		balance[i] = math.Log2(white[i] / white[1])
		c.Balance[i] = unit.Stop(balance[i])
	}
	c.BalanceMired = unit.Mired(miredOf(balance))
	c.Changed = math.Abs(e.gain) >= float64(s.Habit.Mention) || math.Abs(float64(c.BalanceMired)) >= float64(s.Habit.MentionMired)
	c.Moved = c.Registration.Largest(s.W, s.H) > s.Habit.Movement*float64(s.W)
	c.Inseparable = e.sureCamera < surely
	if c.Inseparable && len(r.Reasons) == 0 {
		r.Reasons = append(r.Reasons, "a change of the camera's exposure and one of the lamps together can't be told apart here")
	}
}

// surely is the probability from which one explanation is taken for the only one.
const surely = 0.95

// judgeLamp reads one lamp's part.
func (s *Set) judgeLamp(i int, src source, e *explanation, f *robustFit) LampCheck {
	l := LampCheck{Name: s.Lamps[i].Name, Level: math.NaN(), Stops: unit.Stop(math.NaN()), Error: unit.Stop(math.NaN()), Mired: unit.Mired(math.NaN())}
	ref := s.Mix[i]
	if !src.use[0] && !src.use[1] && !src.use[2] {
		s.judgeFaint(&l, i, f, e.gain)
		return l
	}
	stops, se := e.level[i], e.levelError[i]
	l.Stops, l.Error = unit.Stop(stops), unit.Stop(se)
	if ref <= 0 {
		ref = 1
	}
	l.Level = ref * math.Exp2(stops)
	s.judgeColour(&l, i, src, e)
	switch {
	case f.stands(i) < leastKept:
		l.Finding, l.Reason = Unsure, "too much has changed where it shines"
	case se > largestSE:
		l.Finding, l.Reason = Unsure, fmt.Sprintf("it gives too little light here to be judged (±%.2f stop)", se)
	case e.sure[i] < surely:
		l.Finding = Unsure
		l.Reason = "its change and a change of the camera's exposure can't be told apart"
	case se > float64(s.Habit.Mention)/2 && math.Abs(stops) < float64(s.Habit.Mention)+2*se,
		se > float64(s.Habit.Mention)/closeCall && math.Abs(math.Abs(stops)-float64(s.Habit.Mention)) < 2*se:
		l.Finding, l.Reason = Unsure, fmt.Sprintf("its change is only known to ±%.2f stop here", se)
	case s.Mix[i] <= 0:
		l.Finding, l.Act = Brighter, true // it should be off
	case l.Level < offLevel*ref:
		l.Finding, l.Act = Off, true
	case stops >= float64(s.Habit.Mention):
		l.Finding = Brighter
	case stops <= -float64(s.Habit.Mention):
		l.Finding = Darker
	case e.colourMoved[i] && s.colourTold(&l, tintError(i, src, e), colourSure) && f.purity(i) > purest:
		l.Finding, l.Act = Coloured, true
	case e.colourMoved[i] && s.colourTold(&l, tintError(i, src, e), colourOpen):
		l.Finding, l.Reason = Unsure, fmt.Sprintf("its colour seems to have moved, but is only known to ±%.0f mired here", max(float64(l.MiredError), miredPerStop*tintError(i, src, e)))
	default:
		l.Finding = Same
	}
	if math.Abs(stops) >= float64(s.Habit.Act) && l.Finding != Unsure {
		l.Act = true
	}
	return l
}

// closeCall is what part of the threshold a lamp's error may be before a level
// within two errors of it is left undecided.
const closeCall = 5

// From how many of its standard errors a change of colour is told, and from how
// many it is left open. Chroma is recorded coarsely, and its errors have a
// longer tail than those of levels (TestDays with -coded).
const (
	colourSure = 5
	colourOpen = 2
	// purest is the least share of its strongest channel's light that a lamp has
	// in each of the others for its colour to be told: in the weak channels of a
	// pure colour, a codec's chroma is more of its neighbours' light than its own.
	purest = 0.15
)

// colourTold says that a lamp's change of colour is worth mentioning, and more
// than sureBy of its errors.
func (s *Set) colourTold(l *LampCheck, tint, sureBy float64) bool {
	if m := math.Abs(float64(l.Mired)); m >= max(float64(s.Habit.MentionMired), sureBy*float64(l.MiredError)) {
		return true
	}
	return math.Abs(float64(l.Tint)) >= max(2*float64(s.Habit.Mention), sureBy*tint)
}

// tintError is the larger error of a lamp's red and blue against green, stops.
func tintError(i int, src source, e *explanation) float64 {
	t := 0.0
	for c := range 3 {
		if src.use[c] {
			t = max(t, e.colourError[i][c])
		}
	}
	return t
}

// judgeFaint decides between off and not to be judged, for a lamp none of
// whose channels stands out of the noise.
func (s *Set) judgeFaint(l *LampCheck, i int, f *robustFit, gain float64) {
	ref := s.Mix[i]
	best, bestSD := 0.0, math.Inf(1)
	for c := range 3 {
		sd := math.Sqrt(f.cov[(c*f.k+i)*(3*f.k+1)])
		if sd < bestSD {
			best, bestSD = f.beta[c][i], sd
		}
	}
	if ref <= 0 {
		l.Finding, l.Level = Same, 0 // it should be off, and nothing is seen of it
		if !(bestSD < offLevel) {
			l.Finding, l.Reason = Unsure, "it gives too little light here to be judged"
		}
		return
	}
	g := math.Exp2(gain)
	if best+2*bestSD < 2*offLevel*ref*g && bestSD < offLevel*ref*g {
		l.Finding, l.Act, l.Level, l.Stops = Off, true, 0, unit.Stop(math.Inf(-1))
		return
	}
	l.Finding, l.Reason = Unsure, "it gives too little light here to be judged"
}

// judgeColour reads a lamp's change of colour, less what its level explains.
func (s *Set) judgeColour(l *LampCheck, i int, src source, e *explanation) {
	shift := e.colour[i]
	if s.Lamps[i].Filament != nil {
		now, ref := s.colour(i, l.Level), s.colour(i, max(s.Mix[i], 0.01))
		for c := range 3 {
			shift[c] -= math.Log2(now[c]/ref[c]) - math.Log2(now[1]/ref[1])
		}
	}
	lo, hi := 0.0, 0.0
	for c := range 3 {
		if src.use[c] {
			lo, hi = min(lo, shift[c]), max(hi, shift[c])
		}
	}
	l.Tint = unit.Stop(hi - lo)
	if src.use[0] && src.use[1] && src.use[2] {
		l.Mired = unit.Mired(miredOf(shift))
		l.MiredError = unit.Mired(math.Hypot(e.colourError[i][0], e.colourError[i][2]) * miredPerStop)
	}
}

// miredPerStop is the mired for one stop between red and blue along the
// daylight and black-body loci in BT.709's primaries: from 5000 K to 6500 K
// (46.2 mired). Derived, not typed.
var miredPerStop = func() float64 {
	g := colour.MustGamut("bt709")
	ratio := func(k unit.Kelvin) float64 {
		rgb := g.FromXYZ().Apply([3]float64(colour.XYFromCCT(k, 0).XYZ()))
		return math.Log2(rgb[0] / rgb[2])
	}
	const warm, cold unit.Kelvin = 5000, 6500
	return float64(warm.Mired()-cold.Mired()) / (ratio(warm) - ratio(cold))
}()

// miredOf turns stops of red and blue against green into mired, redder positive.
func miredOf(stops [3]float64) float64 { return (stops[0] - stops[2]) * miredPerStop }
