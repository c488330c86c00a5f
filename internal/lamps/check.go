package lamps

import (
	"fmt"
	"math"

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
	// Inseparable says that some lamp can't be judged for want of knowing
	// whether the camera is set otherwise: CheckOptions.CameraSame would tell.
	Inseparable  bool
	Registration Registration // in pixels of the working picture
	Moved        bool
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
	leastShare  = 0.6  // of the bins must be explained
	leastKept   = 0.05 // of where a lamp shines must stand
	clippedGrow = 2    // pixels about a clipped one that don't count
)

// CheckOptions are what is known of today besides its picture.
type CheckOptions struct {
	// CameraSame says that somebody has looked: stop, shutter, sensitivity,
	// filters and white balance are set as they were when the set was learned.
	// A picture alone can't always tell a camera set otherwise from lamps that
	// drifted alike; this does.
	CameraSame bool
}

// Check is CheckWith, nothing being known besides.
func (s *Set) Check(today *Light) (*CheckReport, error) {
	return s.CheckWith(today, CheckOptions{})
}

// CheckWith explains today's picture as a mix of the set's lamp pictures. An
// error is a fault about the input; a case that can't be judged is a report
// whose Outcome is OutcomeUnsure.
func (s *Set) CheckWith(today *Light, known CheckOptions) (*CheckReport, error) {
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
		fit = newRobustFit(s.Separation, r.Aligned, b, fit)
		if fit.n < fewestBins {
			r.refuse("too little of the picture can be used (clipped, or the camera moved): take a frame with less clipping")
			s.judgeNothing(r)
			return r, nil
		}
		fit.straight = known.CameraSame
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
		if !fit.run(fit.rows(), 20) {
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
	if moved < 0 && !fit.cross && !fit.straight && s.balanceMoved(fit) {
		// A white balance that moved before the camera's matrix changes saturated
		// lamps' light by shares that a gain for each channel doesn't have.
		mixed := *fit
		mixed.cross, mixed.scratch = true, nil
		mixed.show()
		if mixed.run(mixed.rows(), 20) && mixed.covariance() {
			fit = &mixed
			r.Model = s.model(fit, moved)
		}
	}
	fit.leaveOut()
	fit.spreadOut()
	fit.doubtAll(fit.banded())
	r.Explained = fit.explained()
	if r.Explained < leastShare {
		r.refuse(fmt.Sprintf("only %.0f %% of the picture agrees with any mix of the set's lamps: something large has changed", 100*r.Explained))
	}
	if moved < 0 {
		r.Unknown = s.findUnknown(r, fit)
	}
	s.judge(r, fit, moved, known)
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
