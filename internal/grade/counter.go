package grade

import (
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
)

// Spread is how a picture's light is spread: a normal distribution in stops
// from grey. The default, −1.5 with a width of 2 stops, is an assumption for a
// lit room (common practice, no source); measure the clip to have better.
type Spread struct{ Centre, Width float64 }

// The spread is summed over spreadSteps places from −spreadEnd to +spreadEnd
// widths; doubling the steps moves the solved push by under 0.001 mired.
const (
	spreadSteps = 401
	spreadEnd   = 4
)

// solveCounter finds the counter range's push such that the mean shift over
// the spread is nought in all three channels. The shift's luma is nought by
// itself, so two unknowns (mired, Duv) meet two equations; Newton's method
// with a difference quotient for the slopes.
func (s *split) solveCounter(sp Spread) error {
	var m, d float64
	mean := func(m, d float64) (a, b float64, err error) {
		if err := s.setPush(s.counter, Push{Mired: m, Duv: d}); err != nil {
			return 0, 0, err
		}
		v := s.meanShift(sp)
		return v[0] - v[1], v[2] - v[1], nil
	}
	const hm, hd = 0.01, 1e-5
	for range 30 {
		a, b, err := mean(m, d)
		if err != nil {
			return counterFault(err)
		}
		am, bm, err1 := mean(m+hm, d)
		ad, bd, err2 := mean(m, d+hd)
		if err1 != nil || err2 != nil {
			return counterFault(err1)
		}
		j11, j12, j21, j22 := (am-a)/hm, (ad-a)/hd, (bm-b)/hm, (bd-b)/hd
		det := j11*j22 - j12*j21
		dm, dd := (a*j22-b*j12)/det, (j11*b-j21*a)/det
		if math.IsNaN(dm) || math.IsNaN(dd) || math.IsInf(dm, 0) || math.IsInf(dd, 0) {
			return counterFault(nil)
		}
		m, d = m-dm, d-dd
		if math.Abs(m) > 150 || math.Abs(d) > 0.045 {
			return counterFault(nil)
		}
		if math.Abs(dm) < 1e-9 && math.Abs(dd) < 1e-12 {
			break
		}
	}
	return s.setPush(s.counter, Push{Mired: m, Duv: d})
}

func counterFault(err error) error {
	return fault.Wrap(err, fault.Usage, "grade-counter", "Use a smaller push, counter in a range that holds more of the picture, or move split.centres.",
		"split: no counter-push within 150 mired and 0.045 Duv keeps the mean chroma in place")
}

// meanShift is the shift's mean over a spread.
func (s *split) meanShift(sp Spread) (mean [3]float64) {
	total := 0.0
	for i := range spreadSteps {
		z := spreadEnd * (2*float64(i)/(spreadSteps-1) - 1)
		w := math.Exp(-z * z / 2)
		v := s.shift(s.curve.Encode(colour.Grey * math.Exp2(sp.Centre+z*sp.Width)))
		for c := range mean {
			mean[c] += w * v[c]
		}
		total += w
	}
	for c := range mean {
		mean[c] /= total
	}
	return mean
}

// SplitReport says what the split does to the picture as a whole.
type SplitReport struct {
	Counter   string     // the range that was solved; empty = none
	Pushes    [3]Push    // shadow, middle, high as applied
	MeanShift [3]float64 // mean shift of R, G, B over the spread, in 10-bit codes of the log signal
	// CardMired and CardDuv are the push at grey, where a grey card sits.
	CardMired, CardDuv float64
	// CardDeltaE is how far the card moves on the screen, CIEDE2000;
	// CardNeutral says that it is at most 1, about one just noticeable step.
	CardDeltaE  float64
	CardNeutral bool
}

// Split reports on the split stage; nil where it doesn't run.
func (p *Path) Split() *SplitReport {
	if !p.on[StageSplit] {
		return nil
	}
	s := p.split
	r := &SplitReport{Pushes: s.pushes}
	if s.counter >= 0 {
		r.Counter = rangeNames[s.counter]
	}
	sp := p.Grade.Split.Spread
	r.MeanShift = scale3(s.meanShift(Spread{sp[0], sp[1]}), 1023)
	grey := p.Curve.Encode(colour.Grey)
	for i, w := range s.weights(grey) {
		r.CardMired += w * s.pushes[i].Mired
		r.CardDuv += w * s.pushes[i].Duv
	}
	card := [3]float64{grey, grey, grey}
	with, without := p.convert.apply(s.apply(card)), p.convert.apply(card)
	r.CardDeltaE = colour.DeltaE2000(colour.DisplayLab(with), colour.DisplayLab(without))
	r.CardNeutral = r.CardDeltaE <= 1
	return r
}
