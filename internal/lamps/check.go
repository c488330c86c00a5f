package lamps

import (
	"fmt"
	"math"
	"slices"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/picture"
	"lampwise/internal/unit"
)

// Finding is what a check says of one lamp.
type Finding string

// The findings.
const (
	Same     Finding = "same"
	Brighter Finding = "brighter"
	Darker   Finding = "darker"
	Off      Finding = "off"
	Coloured Finding = "colour"    // its colour moved; its level didn't
	Moved    Finding = "different" // falls differently: moved, or its modifier changed
	Unsure   Finding = "unsure"
)

// Outcome is what a check says of the set as a whole.
type Outcome string

// The outcomes.
const (
	OutcomeSame   Outcome = "same"
	OutcomeDrift  Outcome = "drift"
	OutcomeUnsure Outcome = "unsure"
)

// LampCheck is what a check found of one lamp.
type LampCheck struct {
	Name    string
	Finding Finding
	// Act says that the change is large enough to do something about.
	Act bool
	// Stops is the change of its light against the reference mix.
	Stops, Error unit.Stop
	// Level is its level today.
	Level float64
	// Mired is the change of its colour as the camera sees it (redder is
	// positive), beyond what its level explains; NaN for a coloured lamp, of
	// which Tint says by how many stops its strongest and weakest channels parted.
	Mired, MiredError unit.Mired
	Tint              unit.Stop
	// Share is the largest share of any bin's light that the lamp gives in the
	// reference mix.
	Share float64
	// Kept is the share of the evidence for it, in the room, that the fit let
	// stand: low where shadows moved or other things changed.
	Kept float64
	// Reason says why the finding is Unsure.
	Reason string
}

// CameraCheck is what a check found of the camera.
type CameraCheck struct {
	Changed        bool // gain or white balance differ by more than is worth mentioning
	Gain           unit.Stop
	GainError      unit.Stop
	Balance        [3]unit.Stop // of red, green, blue against green
	BalanceMired   unit.Mired   // the same along the daylight axis, redder positive
	BalanceChanged bool
	Registration   Registration // in pixels of the working picture
	Moved          bool
}

// AmbientCheck is what a check found of the light that no switch turns off.
type AmbientCheck struct {
	Changed      bool
	Stops, Error unit.Stop
	Known        bool // false when there is too little of it to tell
}

// UnknownLight is light that no lamp of the set explains.
type UnknownLight struct {
	X, Y, W, H float64   // where, as fractions of the picture
	Stops      unit.Stop // how much it adds there at most
	Share      float64   // of the picture's area
}

// CheckReport is the outcome of a set check.
type CheckReport struct {
	Outcome Outcome
	Lamps   []LampCheck
	Camera  CameraCheck
	Ambient AmbientCheck
	Unknown []UnknownLight
	// Explained is the share of the picture's bins that the set explains.
	Explained float64
	// Reasons say why the outcome is unsure, one sentence each with what to do.
	Reasons []string
	// Aligned is today's picture on the reference's pixels; Model the picture
	// that the set explains it by.
	Aligned *Light
	Model   *picture.Image
}

// How much a lamp must give, and how well it must be measured.
const (
	faintShare  = 0.003 // of the best bin's light: below it a lamp can't be judged
	largestSE   = 0.12  // stops: a lamp less well known than that isn't judged
	offLevel    = 0.05  // of its reference level
	fewestBins  = 150
	leastShare  = 0.38 // of the bins must be explained
	leastKept   = 0.08 // of a lamp's own evidence must stand
	clippedGrow = 2    // pixels about a clipped one that don't count
)

// Check explains today's picture as a mix of the set's lamp pictures. An error
// is a fault about the input; a case that can't be judged is a report whose
// Outcome is OutcomeUnsure.
func (s *Set) Check(today *Light) (*CheckReport, error) {
	if err := today.Check(); err != nil {
		return nil, err
	}
	if today.W != s.W || today.H != s.H {
		return nil, fault.New(fault.Input, "check-size", "use a clip of the same picture shape as the switch clip", "today's picture is %d×%d, the set's %d×%d", today.W, today.H, s.W, s.H)
	}
	r := &CheckReport{}
	floor := 3 * math.Sqrt(s.Noise.Variance(1, 0)+noiseFloor)
	reference := s.PictureOf(s.Mix)
	r.Camera.Registration = Register(reference, today.Image, floor)
	if !r.Camera.Registration.Sure {
		r.Camera.Registration.Similarity = Still
		r.refuse("today's picture doesn't look like this set: is it the right set, and is the camera where it was? Put the camera back, or learn the set again")
		s.judgeNothing(r)
		return r, nil
	}
	var fit *robustFit
	var seen []bool
	for round := range 2 {
		r.Aligned, seen = today.Align(r.Camera.Registration.Similarity)
		b := newBins(binSide(s.W), s.W, s.H, s.usable(r.Aligned, seen))
		fit = newRobustFit(s.Separation, r.Aligned, b)
		if fit.n < fewestBins {
			r.refuse("too little of the picture can be used (clipped, or the camera moved): take a frame with less clipping")
			s.judgeNothing(r)
			return r, nil
		}
		fit.expect(s.starts(fit))
		if !fit.begin() {
			r.refuse("the lamps can't be told apart in this picture: take a frame that shows more of the room")
			s.judgeNothing(r)
			return r, nil
		}
		r.Model = s.model(fit, -1)
		if round == 0 {
			// The light being known now, find the movement again against it.
			again := r.Camera.Registration.again(r.Model, today.Image, floor)
			if !again.Sure || again.Similarity.near(r.Camera.Registration.Similarity, s.W) {
				break
			}
			r.Camera.Registration = again
		}
	}
	moved := -1
	if better, j := fit.findMoved(s.lampCount()); j >= 0 {
		fit, moved = better, j
		r.Model = s.model(fit, moved)
	}
	shunned := fit.shun(s.lampCount())
	if moved < 0 && len(shunned) > 0 {
		rows := [3][]float64{}
		for c := range 3 {
			rows[c] = append(slices.Clone(fit.beta[c]), fit.mix[c][:]...)
		}
		if !fit.run(rows, 20) {
			r.refuse("the lamps can't be told apart in this picture: take a frame that shows more of the room")
			s.judgeNothing(r)
			return r, nil
		}
	}
	if !fit.covariance() {
		r.refuse("the lamps can't be told apart in this picture: take a frame that shows more of the room")
		s.judgeNothing(r)
		return r, nil
	}
	fit.leaveOut()
	r.Explained = fit.explained()
	if r.Explained < leastShare {
		r.refuse(fmt.Sprintf("only %.0f %% of the picture agrees with any mix of the set's lamps: something large has changed", 100*r.Explained))
	}
	if moved < 0 {
		r.Unknown = s.findUnknown(r, fit)
	}
	s.judge(r, fit, moved)
	return r, nil
}

// refuse notes why the outcome is unsure.
func (r *CheckReport) refuse(reason string) {
	r.Outcome = OutcomeUnsure
	r.Reasons = append(r.Reasons, reason)
}

func (s *Set) judgeNothing(r *CheckReport) {
	r.Lamps = nil
	for _, l := range s.Lamps {
		r.Lamps = append(r.Lamps, LampCheck{Name: l.Name, Finding: Unsure, Level: math.NaN(), Stops: unit.Stop(math.NaN()), Reason: "nothing could be judged"})
	}
}

// begin searches for a start, with and without mixing of the channels by the
// camera's white balance, and runs the fit from the better one.
func (f *robustFit) begin() bool {
	start, loss := f.search(f.reference)
	f.cross = true
	mixed, mixedLoss := f.search(f.reference)
	if loss-mixedLoss > crossWorth {
		start = mixed
	} else {
		f.cross = false
	}
	return f.run(start, 30) && f.broaden()
}

// crossWorth is the share of bins that mixing must explain anew: without need
// of it, it costs accuracy.
const crossWorth = 0.03

// mixing is the matrix by which the camera's white balance mixes the lamps'
// light: the inverse of what is taken off.
func (f *robustFit) mixing() colour.Mat3 {
	m := colour.Identity
	if f.cross {
		for c := range 3 {
			a, b := others(c)
			m[c][a], m[c][b] = -f.mix[c][0], -f.mix[c][1]
		}
		m = m.Inverse()
	}
	return m
}

// model is the picture that the fit explains today's by. A lamp that falls
// differently is drawn by its picture, bent.
func (s *Set) model(f *robustFit, moved int) *picture.Image {
	weights := make([][3]float64, s.columns())
	for j := range weights {
		for c := range 3 {
			weights[j][c] = f.beta[c][j]
		}
	}
	m := s.sum(weights)
	if moved >= 0 {
		s.addBend(m, f, moved)
	}
	if f.cross {
		mix := f.mixing()
		for p := 0; p < len(m.Pix); p += 3 {
			v := mix.Apply([3]float64{float64(m.Pix[p]), float64(m.Pix[p+1]), float64(m.Pix[p+2])})
			for c := range 3 {
				m.Pix[p+c] = float32(v[c])
			}
		}
	}
	return m
}

// addBend adds a bent lamp's departure from its picture.
func (s *Set) addBend(m *picture.Image, f *robustFit, moved int) {
	b, side, k := f.bendOf(moved), binSide(s.W), s.columns()
	src := s.Picture[moved].Pix
	inRows(s.H, func(from, to int) {
		for y := from; y < to; y++ {
			for x := range s.W {
				shape := b.shapes(min(y/side, f.gridH-1)*f.gridW+min(x/side, f.gridW-1), f.gridW)
				p := 3 * (y*s.W + x)
				for c := range 3 {
					t := 0.0
					for r, v := range shape {
						t += v * f.beta[c][k+r]
					}
					m.Pix[p+c] += float32(t) * src[p+c]
				}
			}
		}
	})
}

// near says whether two movements differ by less than a tenth of a pixel.
func (s Similarity) near(o Similarity, w int) bool {
	const pixels = 0.1
	half := float64(w) / 2
	return math.Abs(s.DX-o.DX) < pixels && math.Abs(s.DY-o.DY) < pixels &&
		math.Abs(s.Rotation-o.Rotation)*half < pixels && math.Abs(s.Scale-o.Scale)*half < pixels
}

// usable says which pixels may speak: seen today, not clipped nor next to a
// clipped one, then or now, and known in every lamp picture.
func (s *Set) usable(today *Light, seen []bool) []bool {
	bad := make([]bool, s.W*s.H)
	if today.Clipped != nil {
		copy(bad, today.Clipped)
	}
	for p, m := range s.Blind {
		if m != 0 {
			bad[p] = true
		}
	}
	bad = grown(bad, s.W, s.H, clippedGrow)
	out := make([]bool, len(bad))
	for p := range out {
		out[p] = seen[p] && !bad[p]
	}
	return out
}

// starts gives β for the reference mix at the gain that fits best.
func (s *Set) starts(f *robustFit) [3][]float64 {
	var start [3][]float64
	w := s.Weights(s.Mix)
	for c := range 3 {
		start[c] = make([]float64, f.k)
		for j := range start[c] {
			start[c][j] = w[j][c]
		}
		var ratios []float64
		for i := range f.n {
			if p := f.predict(start[c], i, c); p > 0 {
				ratios = append(ratios, f.y[3*i+c]/p)
			}
		}
		g := median(ratios)
		if !(g > 0) {
			g = 1
		}
		for j := range start[c] {
			start[c][j] *= g
		}
	}
	return start
}

// explained is the share of bins that the fit kept.
func (f *robustFit) explained() float64 {
	n, all := 0, 0
	for i, r := range f.norm {
		if f.left != nil && f.left[i] {
			continue
		}
		all++
		if r < tukeyCut {
			n++
		}
	}
	return float64(n) / float64(max(all, 1))
}

// judge turns the fit into findings.
func (s *Set) judge(r *CheckReport, f *robustFit, moved int) {
	src, cov := s.sources(f)
	e := explain(src, cov, s.Habit)
	s.judgeCamera(r, e, f)
	n := s.lampCount()
	shares := f.largestShares(s.Weights(s.Mix))
	drift := r.Camera.Changed || r.Camera.Moved
	for i := range n {
		l := s.judgeLamp(i, src[i], e, f)
		l.Share, l.Kept = shares[i], f.kept(i)
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
	if e.sureCamera < surely && len(r.Reasons) == 0 {
		r.Reasons = append(r.Reasons, "a change of the camera's exposure and one of the lamps together can't be told apart here: look at the camera's settings, then check again")
	}
}

// surely is the probability from which one explanation is taken for the only one.
const surely = 0.95

// sources turns the fit's weights into stops against the reference.
func (s *Set) sources(f *robustFit) ([]source, []float64) {
	n, k := s.columns(), f.k
	m := 3 * n
	src := make([]source, n)
	scale := make([]float64, m)
	reference := s.Weights(s.Mix)
	var weights [3]float64
	weights[0], weights[1], weights[2] = s.rgb().LuminanceWeights()
	for j := range n {
		src[j].ambient = j == n-1
		src[j].weights = f.luminance(j, weights)
		for c := range 3 {
			ref := reference[j][c]
			if ref <= 0 {
				ref = 1 // a lamp that is off in the mix is measured against full
			}
			b := f.beta[c][j]
			sd := math.Sqrt(max(f.cov[(c*k+j)*(3*k+1)], 0))
			if !(sd > 0) || b < 4*sd || sd/b/math.Ln2 > 3*largestSE {
				continue
			}
			src[j].use[c] = true
			src[j].stops[c] = math.Log2(b / ref)
			scale[3*j+c] = 1 / (b * math.Ln2)
		}
	}
	// From channel-major to source-major.
	out := make([]float64, m*m)
	for j := range n {
		for c := range 3 {
			for l := range n {
				for d := range 3 {
					out[(3*j+c)*m+3*l+d] = f.cov[(c*k+j)*3*k+d*k+l] * scale[3*j+c] * scale[3*l+d]
				}
			}
		}
	}
	return src, out
}

// luminance shares of picture j over its channels, by its own light.
func (f *robustFit) luminance(j int, weights [3]float64) [3]float64 {
	var sum [3]float64
	for i := range f.n {
		for c := range 3 {
			sum[c] += f.x[(3*i+c)*f.k+j]
		}
	}
	total := 0.0
	for c := range 3 {
		sum[c] = weights[c] * max(sum[c], 0)
		total += sum[c]
	}
	if total <= 0 {
		return weights
	}
	for c := range 3 {
		sum[c] /= total
	}
	return sum
}

// largestShares is, for each picture, the largest share it has of the light of
// any bin in a mix (the 99 % point, so that one bin's noise doesn't count).
func (f *robustFit) largestShares(factors [][3]float64) []float64 {
	shares := make([][]float64, len(factors))
	for i := range f.n {
		own := make([]float64, len(factors))
		total := 0.0
		for j := range factors {
			for c := range 3 {
				own[j] += factors[j][c] * f.x[(3*i+c)*f.k+j]
			}
			total += own[j]
		}
		if total <= 0 {
			continue
		}
		for j := range factors {
			shares[j] = append(shares[j], own[j]/total)
		}
	}
	out := make([]float64, len(factors))
	for j := range out {
		out[j] = quantile(shares[j], .99)
	}
	return out
}

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
	case f.kept(i) < leastKept:
		l.Finding, l.Reason = Unsure, "too much has changed where it shines"
	case se > largestSE:
		l.Finding, l.Reason = Unsure, fmt.Sprintf("it gives too little light here to be judged (±%.2f stop)", se)
	case e.sure[i] < surely:
		l.Finding = Unsure
		l.Reason = "its change and a change of the camera's exposure can't be told apart: look at the camera's settings, then check again"
	case se > float64(s.Habit.Mention)/2 && math.Abs(stops) < float64(s.Habit.Mention)+2*se:
		l.Finding, l.Reason = Unsure, fmt.Sprintf("its change is only known to ±%.2f stop here", se)
	case s.Mix[i] <= 0:
		l.Finding, l.Act = Brighter, true // it should be off
	case l.Level < offLevel*ref:
		l.Finding, l.Act = Off, true
	case stops >= float64(s.Habit.Mention):
		l.Finding = Brighter
	case stops <= -float64(s.Habit.Mention):
		l.Finding = Darker
	case e.colourMoved[i] && (math.Abs(float64(l.Mired)) >= float64(s.Habit.MentionMired) || math.Abs(float64(l.Tint)) >= 2*float64(s.Habit.Mention)):
		l.Finding, l.Act = Coloured, true
	default:
		l.Finding = Same
	}
	if math.Abs(stops) >= float64(s.Habit.Act) && l.Finding != Unsure {
		l.Act = true
	}
	return l
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
