package job

import "math"

// WebQuality is the constant quality (as of the h264 encoder, 0 best to 51 worst)
// that a web site's second encode is taken to have (common practice, no source).
const WebQuality = 30.0

// againModel says what a second encode at a low rate leaves of a smooth gradient
// in 8 bits. There are four things in it:
//
// The finished file's steps are seen as they are: a step of J just noticeable
// ones spoils 1 − 1/J of the gradient.
//
// Noise of σ of a file's steps outlives both encodes above a threshold that
// doubles every 1/keptRate of quality, faster than the quantiser's own step
// does (every 6), since the encoder quantises squares with noise in them coarser,
// too. What outlives hides all steps.
//
// Less noise than that is dropped, but leaves the contours ragged, and less can be
// seen of them (broken): the less, the lower the quality.
//
// The nearer the noise comes to the threshold, and the lower the quality, the
// coarser is what replaces it: squares that miss the gradient by more than a step.
// Against a gentle gradient that is much, against a steep one nothing (coarse).
type againModel struct {
	kept, keptRate, keptSharp                 float64 // log2 of σ at WebQuality; for each of quality; octaves⁻¹
	broken, brokenRate                        float64
	crisp, crispSharp                         float64 // log2 of σ
	coarse, coarseRate, coarseNear, coarseEnd float64 // the end: log2 of the steps a pixel at which it is nothing
}

// again is calibrated: these numbers are those of least squares against what was
// counted in the training set of budgetagain_test.go, whose grades are others
// than the tests'.
var again = againModel{
	kept: 3.3, keptRate: 0.31, keptSharp: 5.1,
	broken: 0.5, brokenRate: 0.078, crisp: -1.5, crispSharp: 0.73,
	coarse: 0.33, coarseRate: 0.094, coarseNear: 0.9, coarseEnd: -5,
}

// The ends between which the training set lies: beyond them the nearest holds.
const (
	leastAgainNoise = 0.02   // steps of 8 bits
	leastAgainSlope = 0.0015 // steps of 8 bits a pixel: a step in 650 pixels
	bestAgain       = 22.0
	worstAgain      = 34.0
)

// spoilt is the part of a gradient that the contours spoil: j is one step of 8
// bits in just noticeable ones, noise its σ and slope its change a pixel in such
// steps.
func (a againModel) spoilt(j, noise, slope, quality float64) float64 {
	below := func(x float64) float64 { return 1 / (1 + math.Exp2(x)) } // from 1 to 0 as x rises
	n, s := math.Log2(math.Max(noise, leastAgainNoise)), math.Log2(math.Max(slope, leastAgainSlope))
	worse := math.Min(math.Max(quality, bestAgain), worstAgain) - WebQuality
	near := n - (a.kept + a.keptRate*worse)
	broken := a.broken * math.Exp2(-a.brokenRate*worse) * (1 - below(a.crispSharp*(n-a.crisp)))
	coarse := a.coarse * math.Exp2(a.coarseRate*worse+a.coarseNear*math.Min(near, 0)) * (a.coarseEnd - s)
	v := 1 - 1/math.Max(j, 1) - broken + coarse
	return math.Min(math.Max(v, 0), 1) * below(a.keptSharp*near)
}
