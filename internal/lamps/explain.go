package lamps

import "math"

// explanation parts what was measured (a change of each lamp in each channel)
// into the camera's gain and white balance, the lamps' own changes, and what
// is left over. It weighs every hypothesis "these lamps changed, the camera did
// or didn't" by how likely the measurement is under it, so that a camera a
// third of a stop brighter is one finding and not one a lamp, and so that a
// case with two explanations is known as such.
type explanation struct {
	gain, gainError       float64    // stops, of the camera; 0 when not needed
	balance, balanceError [3]float64 // stops against green
	cameraChanged         bool
	balanceChanged        bool
	level, levelError     []float64 // stops, of each source; NaN where not measured
	colour, colourError   [][3]float64
	colourMoved           []bool
	// sure is, for each source, the probability that its change is what the
	// best hypothesis says (within alike stops).
	sure       []float64
	sureCamera float64
	// together says that every source changed as the camera's gain would have
	// it: so would a change of all lamps and the ambient light alike.
	together bool
}

// source is one measured thing: a lamp, or the ambient light.
type source struct {
	stops   [3]float64 // log2 of today's weight against the reference's
	use     [3]bool    // channels in which it's measured well enough
	weights [3]float64 // share of its luminance in each channel
	ambient bool
}

// What is believed before measuring, in stops and probabilities. They decide
// only between explanations that both fit; the tests try them against days
// drawn from other habits.
const (
	believeLampDrifts  = 0.12
	believeCamera      = 0.15
	believeColourMoves = 0.05
	believeBalance     = 0.15
	believeAmbient     = 0.5 // daylight is another by the hour
	driftSize          = 0.7 // deviation of a drift, a gain's change
	weatherSize        = 2   // of the ambient light's
	gainSize           = 0.5 // of a camera's change that is no step
	// gainRepeats is what a camera set as it was differs by: an iris doesn't
	// come back to the same opening (common practice, no source).
	gainRepeats = 0.01
	colourSize  = 0.3
	balanceSize = 0.3
	alike       = 0.1 // stops within which two gains are the same explanation
	mostChanged = 4   // lamps that may change colour in one day, at most
)

func newExplanation(n int) *explanation {
	return &explanation{
		level: make([]float64, n), levelError: make([]float64, n),
		colour: make([][3]float64, n), colourError: make([][3]float64, n),
		colourMoved: make([]bool, n), sure: make([]float64, n),
	}
}

// explain takes the sources, the covariance of their stops (3 a source, in the
// sources' order) and the set's habit.
func explain(src []source, cov []float64, habit Habit, known CheckOptions) *explanation {
	e := newExplanation(len(src))
	e.explainColour(src, cov, habit, known.CameraSame)
	e.explainLevel(src, cov, habit, known.CameraSame)
	return e
}

// belied says that everything changed alike, daylight too, and by more than a
// camera set as it was: what somebody said of its settings can hardly be so.
func belied(src []source, cov []float64, habit Habit) bool {
	e := explain(src, cov, habit, CheckOptions{})
	return e.together && e.cameraChanged && len(src) > enoughWitnesses && math.Abs(e.gain) >= alike
}

const (
	believeStep  = 0.8  // of a change of exposure: that it's one of the steps
	stepPrecise  = 0.03 // stops, deviation of a step from its nominal value
	fewWitnesses = 0.1  // factor on a camera's change that few lamps bear out
	// enoughWitnesses is how many sources must agree on a camera's change: two
	// lamps may have drifted alike.
	enoughWitnesses = 3
	// enoughForNone is how many must be where they were for "the camera didn't
	// change" to be believed of a day on which a lamp drifted.
	enoughForNone = 2
	agreeing      = 0.04 // stops within which the ambient light bears a gain out
	witnessing    = 2.0  // deviations within which a lamp that stayed bears it out
)
