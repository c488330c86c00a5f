package colour

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"lampwise/internal/fault"
	"lampwise/internal/unit"
)

// BracketSample is one steady exposure of a grey patch.
type BracketSample struct {
	// Stops of exposure relative to the one at which the patch is grey
	// (0.18): 0 for that one, +1 for twice the light. −Inf is a frame with the
	// lens capped.
	Stops unit.Stop
	// Y is the patch's mean signal, as the curve's y (10-bit code/1023).
	Y float64
	// Sigma is the standard error of that mean, in y; 0 in every sample when unknown.
	Sigma float64
	// Clipped marks a sample in which some of the patch clipped; it is left out.
	Clipped bool
}

// Bracket is an exposure bracket of one patch.
type Bracket struct {
	ID      string // the fitted curve's id; "fitted" when empty
	Samples []BracketSample
	// StopSigma is how well the exposure steps themselves are known, in stops
	// (a shutter's or iris's error). It adds to each sample's uncertainty.
	StopSigma unit.Stop
}

// CurveFit is a measured camera curve with its doubts.
type CurveFit struct {
	Curve  *Curve
	Params LogParams
	// Parameters are Params one by one, in Common LUT Format's order.
	Parameters []FitParameter
	Samples    []FitSample // the samples used, in rising order of light
	LeftOut    int         // clipped samples

	RMS              unit.CodeValue // residuals, root mean square, 10-bit codes
	Weighted         bool           // the samples' Sigma were given
	ChiSquared       float64        // Σ (residual/σ)²; 0 where not Weighted
	DegreesOfFreedom int
	// Condition of the weighted problem with its columns scaled to 1: below
	// about 100 the parameters are well separated, above 10⁴ hardly.
	Condition float64
	// ClipY is the signal at which clipped samples stand, their highest; 0
	// without any. The recording's own clip.
	ClipY float64
	// Nearest are all shipped camera curves, the one that explains the
	// samples best first.
	Nearest []CurveDistance
	// Remarks say what looks wrong in the bracket; what it could not tell stands
	// with the parameter that is fixed.
	Remarks []string
}

// FitParameter is one number of the fitted curve.
type FitParameter struct {
	Name  string // Common LUT Format's
	Value float64
	SE    float64 // standard error; 0 when fixed
	Fixed bool
	Why   string // the reason it is fixed
}

// FitSample is a sample as the fit sees it.
type FitSample struct {
	BracketSample
	Fitted   float64        // y of the fitted curve
	Residual unit.CodeValue // 1023·(Y − Fitted)
}

// CurveDistance is how far a shipped curve lies from the samples.
type CurveDistance struct {
	ID string
	// RMS over the samples, in 10-bit codes, taking stops 0 as exactly grey.
	RMS unit.CodeValue
	// Shift is the error of exposure, in stops, that brings the curve nearest
	// to the samples (positive: the patch was brighter than grey), and
	// RMSShifted the distance then. A bracket can't tell its own error of
	// exposure; a known curve can.
	Shift      unit.Stop
	RMSShifted unit.CodeValue
	// Plausible says that the curve, so shifted, misses the samples by no more
	// than their own errors explain (F-test, p > 0.01). Several may be: then
	// this bracket can't tell them apart.
	Plausible bool
	// FromFit is the RMS distance between the shipped curve, so shifted, and
	// the fitted one over the range of the samples.
	FromFit unit.CodeValue
}

// FitReason says why a bracket can't be fitted.
type FitReason string

const (
	FitTooFew     FitReason = "fit-few"     // too few unclipped exposures
	FitTooNarrow  FitReason = "fit-narrow"  // they span too few stops
	FitAllClipped FitReason = "fit-clipped" // nothing but clipped samples
	FitFalls      FitReason = "fit-falls"   // more light is recorded darker
	FitNumber     FitReason = "fit-number"  // a number is none, or out of range
	FitFails      FitReason = "fit-fails"   // no curve of the form comes near
)

// FitError is the reason with the number that decided. It is wrapped in a
// fault whose code is the reason.
type FitError struct {
	Reason FitReason
	Value  float64 // how many samples or stops, or the stops at which it falls
}

func (e *FitError) Error() string { return fmt.Sprintf("%s: %g", e.Reason, e.Value) }

func refuse(reason FitReason, value float64, hint, format string, args ...any) error {
	return fault.Wrap(&FitError{reason, value}, fault.Input, string(reason), hint, format, args...)
}

// What a bracket must hold. Up to five numbers are fitted.
const (
	fitFewest  = 5
	fitLargest = 10000
	fitStops   = 3.0
)

// FitCurve fits Common LUT Format's cameraLinToLog to an exposure bracket by
// weighted least squares (Levenberg–Marquardt). From the simplest form, a
// plain logarithm, it goes to a shifted one, to one with a straight toe that
// meets it smoothly, to a toe with its own slope, as long as each step
// explains significantly more (F-test, p < 0.01); what the bracket can't tell
// is fixed and the reason given. linSideSlope is always fixed: only its
// ratio to linSideOffset shapes the curve.
//
// Standard errors follow the samples' own, and grow with the residuals where
// these are larger than the samples' errors explain. Errors are faults that wrap a *FitError.
func FitCurve(b Bracket) (CurveFit, error) {
	data, fit, err := bracketData(b)
	if err != nil {
		return CurveFit{}, err
	}
	model, err := chooseModel(data)
	if err != nil {
		return CurveFit{}, err
	}
	if b.ID == "" {
		b.ID = "fitted"
	}
	fit.describe(data, model)
	fit.Curve, err = CurveFromParams(b.ID, fit.Params)
	if err != nil {
		return CurveFit{}, refuse(FitFails, math.Sqrt(model.cost/float64(len(data))), "look at the samples: is the patch steady, is each exposure told right?",
			"no log curve comes near these %d samples (%v)", len(data), err)
	}
	fit.Curve.Source = "measured from an exposure bracket"
	sum := 0.0
	for _, d := range data {
		s := FitSample{BracketSample: d.sample, Fitted: fit.Curve.Encode(d.x)}
		s.Residual = unit.CodeValue(topCode10 * (s.Y - s.Fitted))
		sum += float64(s.Residual * s.Residual)
		fit.Samples = append(fit.Samples, s)
	}
	fit.RMS = unit.CodeValue(math.Sqrt(sum / float64(len(data))))
	fit.Nearest = nearestCurves(fit.Curve, data, model.variance(data), fit.DegreesOfFreedom)
	fit.remark()
	return fit, nil
}

// datum is one sample ready to be fitted.
type datum struct {
	sample BracketSample
	x      float64 // scene-linear
	weight float64 // 1/σ
}

// bracketData checks the samples, leaves clipped ones out and weighs the rest.
func bracketData(b Bracket) ([]datum, CurveFit, error) {
	fit := CurveFit{}
	if len(b.Samples) > fitLargest {
		return nil, fit, refuse(FitNumber, float64(len(b.Samples)), "average the frames of one exposure", "a bracket of %d samples; at most %d are fitted", len(b.Samples), fitLargest)
	}
	if !(b.StopSigma >= 0 && b.StopSigma <= 1) {
		return nil, fit, refuse(FitNumber, float64(b.StopSigma), "0.03 is usual for a shutter", "the exposure steps' error is %g stops; it must lie between 0 and 1", float64(b.StopSigma))
	}
	var data []datum
	unweighted := 0
	for i, s := range b.Samples {
		stops, bad := float64(s.Stops), ""
		switch {
		case math.IsNaN(stops) || stops > 40 || (stops < -40 && !math.IsInf(stops, -1)):
			bad = "stops"
		case !(s.Y >= -1 && s.Y <= 2):
			bad = "signal"
		case !(s.Sigma >= 0 && s.Sigma <= 1):
			bad = "noise"
		}
		if bad != "" {
			return nil, fit, refuse(FitNumber, float64(i), "stops within ±40 (−Inf for a capped lens), signal 0 to 1, noise of the mean 0 or more",
				"sample %d (%g stops, signal %g, noise %g): the %s is no possible value", i+1, stops, s.Y, s.Sigma, bad)
		}
		if s.Clipped {
			fit.LeftOut++
			fit.ClipY = max(fit.ClipY, s.Y)
			continue
		}
		if s.Sigma == 0 {
			unweighted++
		}
		data = append(data, datum{sample: s, x: Grey * s.Stops.Factor()})
	}
	if len(data) == 0 && fit.LeftOut > 0 {
		return nil, fit, refuse(FitAllClipped, float64(fit.LeftOut), "start the bracket darker: its darkest frame should be nearly black", "all %d samples are clipped", fit.LeftOut)
	}
	if unweighted > 0 && unweighted < len(data) {
		return nil, fit, refuse(FitNumber, float64(unweighted), "give every sample's noise, or none", "%d of %d samples have no noise", unweighted, len(data))
	}
	slices.SortStableFunc(data, func(a, b datum) int { return cmp.Compare(a.x, b.x) })
	distinct, lowest := 0, math.NaN()
	for i, d := range data {
		if i == 0 || d.x > data[i-1].x {
			distinct++
		}
		if math.IsNaN(lowest) && d.x > 0 {
			lowest = d.x
		}
	}
	if distinct < fitFewest {
		return nil, fit, refuse(FitTooFew, float64(distinct), "shoot one frame a stop from nearly black to clipped", "unclipped exposures: %d; a curve needs at least %d", distinct, fitFewest)
	}
	if span := math.Log2(data[len(data)-1].x / lowest); !(span >= fitStops) {
		return nil, fit, refuse(FitTooNarrow, span, "shoot one frame a stop from nearly black to clipped", "the unclipped exposures span %.1f stops; a curve needs at least %g", span, fitStops)
	}
	weigh(data, float64(b.StopSigma), unweighted == 0)
	if err := rises(data); err != nil {
		return nil, fit, err
	}
	fit.Weighted = unweighted == 0
	return data, fit, nil
}

// weigh sets each datum's weight from its own noise and the exposure's error,
// which the curve's slope there turns into signal.
func weigh(data []datum, stopSigma float64, weighted bool) {
	for i := range data {
		if !weighted {
			data[i].weight = 1
			continue
		}
		slope := 0.0
		if a, b := data[max(0, i-1)], data[min(len(data)-1, i+1)]; a.x > 0 && b.x > a.x {
			slope = (b.sample.Y - a.sample.Y) / math.Log2(b.x/a.x)
		}
		data[i].weight = 1 / math.Hypot(data[i].sample.Sigma, slope*stopSigma)
	}
}

// rises refuses data in which more light is recorded darker by more than
// noise explains.
func rises(data []datum) error {
	const falls = 5 // σ; one false alarm in millions of samples
	top := 0
	for i, d := range data {
		if d.sample.Y > data[top].sample.Y {
			top = i
		}
		noise := math.Hypot(1/d.weight, 1/data[top].weight)
		if d.sample.Sigma == 0 {
			noise = 0.2 / topCode10
		}
		if drop := data[top].sample.Y - d.sample.Y; d.x > data[top].x && drop > falls*noise {
			return refuse(FitFalls, float64(d.sample.Stops), "check the order of the frames and that the light stayed steady",
				"at %+.2f stops the patch is recorded %.1f codes darker than at %+.2f", float64(d.sample.Stops), topCode10*drop, float64(data[top].sample.Stops))
		}
	}
	return nil
}
