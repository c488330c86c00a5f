package lutfile

import (
	"fmt"
	"math"
	"strings"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// A conversion LUT takes a camera curve's recording and gives a display signal.
// What its input 1 stands for is nowhere in the file: the top code (data
// levels, code/1023) or the narrow range's white (video levels,
// (code − 64)/876). The two agree at code 445, near many curves' grey, so grey
// can't tell them apart; black and white can.
//
// What a right reading looks like is common practice, no source: a conversion
// puts black within 0 to 3 % of the display signal without swallowing what
// lies just above it, grey in the middle part, and the 90 % white clearly
// above grey and below 100 %. Both readings are told with their numbers;
// the choice is the user's.
const (
	blackBelow  = -0.01 // lower than this black is cut off
	blackLifted = 0.03  // higher than this black is lifted
	greyLow     = 0.2   // a conversion puts 18 % grey between these
	greyHigh    = 0.6
	whiteTop    = 0.999 // at or above it the 90 % white is clipped
	whiteApart  = 0.15  // the white is at least so far above grey
	// A log recording is flat; a conversion takes grey and white further apart
	// by at least this factor. A look for display signals mostly doesn't.
	contrast = 1.1
	// coarse is the smallest table anything is converted with; smaller ones
	// were never sampled from a curve.
	coarse = 17
	// swallowed: what reflects this much (5.5 stops below grey) must still be
	// told from black, by a step of 8 bits.
	swallowed = 0.004
	visible   = 1.0 / 255
)

// InputLevels says how a curve's recording lands in a chain under the two
// readings of the chain's input, and which of them is plausible.
type InputLevels struct {
	Curve string  `json:"curve"`
	Data  Reading `json:"data"`
	Video Reading `json:"video"`

	// Verdict is "data" or "video" where just that reading is plausible, and
	// "either" or "neither" otherwise. Leans is the likelier of two plausible
	// readings ("data" or "video"), empty where there is nothing between them;
	// it is no more than a hint.
	Verdict string `json:"verdict"`
	Leans   string `json:"leans,omitempty"`
	Explain string `json:"explain"` // in words, with what to do

	// Mistake is what a wrong choice costs.
	Mistake Mistake `json:"mistake"`

	// VideoOutput says that the chain's lowest and highest greys lie at codes
	// 64 and 940 of 1023: its *output* is then meant as video levels, and the
	// landings were judged as such.
	VideoOutput bool `json:"videoOutput"`
}

// Mistake is what becomes of a curve's recording when a file meant for data
// levels is given video levels (ForData) or the other way round (ForVideo).
type Mistake struct {
	ForData  Taken `json:"forData"`
	ForVideo Taken `json:"forVideo"`
}

// Taken says what a recording is taken for by mistake.
type Taken struct {
	BlackCode  float64 `json:"blackCode"`  // the code of 10 bits that black is taken for
	GreyStops  float64 `json:"greyStops"`  // how much brighter grey is taken to be
	WhiteStops float64 `json:"whiteStops"` // and the 90 % white
}

func mistake(curve *colour.Curve, code func(in float64) float64, wrong colour.Levels) Taken {
	taken := func(reflectance float64) float64 {
		_, in := input(curve, reflectance, wrong)
		return code(in)
	}
	stops := func(reflectance float64) float64 {
		y := taken(reflectance) / 1023
		if curve.Levels == colour.LevelsVideo {
			y = (y - narrowBlack) / narrowSpan
		}
		// Light at or below 0 has no stops; the smallest float stands for it.
		return math.Log2(max(curve.Decode(y), math.SmallestNonzeroFloat64) / reflectance)
	}
	return Taken{BlackCode: taken(0), GreyStops: stops(colour.Grey), WhiteStops: stops(0.9)}
}

// Reading is where a curve's landmarks land when the chain's input is taken
// one way.
type Reading struct {
	Levels    colour.Levels `json:"levels"`
	Black     Landing       `json:"black"` // 0 %
	Grey      Landing       `json:"grey"`  // 18 %
	White     Landing       `json:"white"` // 90 %
	Plausible bool          `json:"plausible"`
	Against   []string      `json:"against,omitempty"` // what speaks against it, in words

	// FirstLight is the lowest reflectance that is told from black by a step of
	// 8 bits; 0.18 where nothing below grey is.
	FirstLight float64 `json:"firstLight"`
}

// Landing is what becomes of one grey.
type Landing struct {
	Reflectance float64    `json:"reflectance"`
	Code        float64    `json:"code"` // of 10 bits, as recorded, unrounded
	In          float64    `json:"in"`   // what the chain is given
	Out         [3]float64 `json:"out"`
	Luma        float64    `json:"luma"` // of Out, BT.709 weights; brought to 0..1 if the output is video levels
}

// Levels looks at how the curve's black, grey and white land in the chain.
func Levels(c *picture.Chain, curve *colour.Curve) *InputLevels {
	l := &InputLevels{Curve: curve.ID, VideoOutput: videoOutput(c)}
	l.Data = l.read(c, curve, colour.LevelsData)
	l.Video = l.read(c, curve, colour.LevelsVideo)
	l.Mistake = Mistake{
		ForData:  mistake(curve, func(in float64) float64 { return 1023 * in }, colour.LevelsVideo),
		ForVideo: mistake(curve, func(in float64) float64 { return 64 + 876*in }, colour.LevelsData),
	}
	l.conclude()
	return l
}

// The ends of narrow range among the codes of 10 bits (BT.709-6, item 4.6).
const (
	narrowBlack = 64.0 / 1023
	narrowWhite = 940.0 / 1023
	narrowSpan  = narrowWhite - narrowBlack
)

// videoOutput says whether the greys come out between narrow range's ends.
func videoOutput(c *picture.Chain) bool {
	lowest, highest := math.Inf(1), math.Inf(-1)
	for i := range 1024 {
		y := luma(c.Apply(three(float64(i) / 1023)))
		lowest, highest = min(lowest, y), max(highest, y)
	}
	const within = 0.004 // 4 codes
	return math.Abs(lowest-narrowBlack) < within && math.Abs(highest-narrowWhite) < within
}

// input is what the chain is given for a reflectance.
func input(curve *colour.Curve, reflectance float64, levels colour.Levels) (code, in float64) {
	code = float64(curve.Code10(reflectance))
	if levels == colour.LevelsVideo {
		return code, (code/1023 - narrowBlack) / narrowSpan
	}
	return code, code / 1023
}

func (l *InputLevels) land(c *picture.Chain, curve *colour.Curve, reflectance float64, levels colour.Levels) Landing {
	code, in := input(curve, reflectance, levels)
	out := c.Apply(three(in))
	y := luma(out)
	if l.VideoOutput {
		y = (y - narrowBlack) / narrowSpan
	}
	return Landing{Reflectance: reflectance, Code: code, In: in, Out: out, Luma: y}
}

func (l *InputLevels) read(c *picture.Chain, curve *colour.Curve, levels colour.Levels) Reading {
	r := Reading{
		Levels: levels,
		Black:  l.land(c, curve, 0, levels),
		Grey:   l.land(c, curve, colour.Grey, levels),
		White:  l.land(c, curve, 0.9, levels),
	}
	// Twelve steps a stop, from far below any sensor's noise up to grey.
	r.FirstLight = colour.Grey
	for i := 12 * 16; i > 0; i-- {
		x := colour.Grey * math.Exp2(-float64(i)/12)
		if l.land(c, curve, x, levels).Luma-r.Black.Luma >= visible {
			r.FirstLight = x
			break
		}
	}
	against := func(format string, args ...any) { r.Against = append(r.Against, fmt.Sprintf(format, args...)) }
	b, g, w := r.Black.Luma, r.Grey.Luma, r.White.Luma
	switch {
	case b > blackLifted && l.ownBlack(c, r.Black.In) > blackLifted:
		against("black lands at %s, lifted above %s", percent(b), percent(blackLifted))
	case b < blackBelow:
		against("black lands at %s, below 0", percent(b))
	}
	if r.FirstLight > swallowed {
		against("what reflects less than %s is as black as black", percent(r.FirstLight))
	}
	if g < greyLow || g > greyHigh {
		against("grey lands at %s; a conversion puts it between %s and %s", percent(g), percent(greyLow), percent(greyHigh))
	}
	if w >= whiteTop {
		against("the 90 %% white lands at %s, clipped", percent(w))
	}
	if w-g < whiteApart {
		against("the 90 %% white lands %s above grey, hardly apart", percent(w-g))
	} else if step := r.White.In - r.Grey.In; w-g < contrast*step {
		against("from grey to the 90 %% white it is %s, in the recording %s; a conversion raises contrast", percent(w-g), percent(step))
	}
	r.Plausible = len(r.Against) == 0
	return r
}

// ownBlack is the lowest luma that black may be meant to have: between two grid
// points of a coarse table the conversion it was made from is not known, only
// that it lies between them. So each table's input is also put down to the grid
// point below.
func (l *InputLevels) ownBlack(c *picture.Chain, in float64) float64 {
	lowest := math.Inf(1)
	v := three(in)
	for i := range len(c.Ops) + 1 {
		at := v
		if i < len(c.Ops) {
			switch o := c.Ops[i].(type) {
			case *picture.Curves:
				if o.Axis == picture.AxisUniform {
					at = putDown(at, o.Lo, o.Hi, len(o.Samples[0]))
				}
			case *picture.LUT3D:
				at = putDown(at, o.Lo, o.Hi, o.Size)
			}
		}
		for _, op := range c.Ops[i:] {
			at = op.Apply(at)
		}
		y := luma(at)
		if l.VideoOutput {
			y = (y - narrowBlack) / narrowSpan
		}
		lowest = min(lowest, y)
		if i < len(c.Ops) {
			v = c.Ops[i].Apply(v)
		}
	}
	return lowest
}

// putDown gives the grid point at or below v; outside the grid v itself.
func putDown(v, lo, hi [3]float64, points int) [3]float64 {
	for ch := range v {
		if points >= coarse && v[ch] > lo[ch] && v[ch] < hi[ch] {
			step := (hi[ch] - lo[ch]) / float64(points-1)
			v[ch] = lo[ch] + step*math.Floor((v[ch]-lo[ch])/step)
		}
	}
	return v
}

func percent(x float64) string { return fmt.Sprintf("%.1f %%", 100*x) }

// conclude sets the verdict and says it in words.
func (l *InputLevels) conclude() {
	d, v := l.Data, l.Video
	both := fmt.Sprintf("read as data levels black lands at %s, grey at %s, the 90 %% white at %s; as video levels at %s, %s and %s",
		percent(d.Black.Luma), percent(d.Grey.Luma), percent(d.White.Luma),
		percent(v.Black.Luma), percent(v.Grey.Luma), percent(v.White.Luma))
	switch {
	case d.Plausible && !v.Plausible:
		l.Verdict = "data"
	case v.Plausible && !d.Plausible:
		l.Verdict = "video"
	case d.Plausible:
		l.Verdict = "either"
		// Both within bounds: the one with more told from black, or without a lift.
		switch {
		case d.FirstLight*4 < v.FirstLight:
			l.Leans = "data"
		case d.Black.Luma > 2*max(v.Black.Luma, visible):
			l.Leans = "video"
		}
	default:
		l.Verdict = "neither"
	}
	reasons := func(r Reading) string { return strings.Join(r.Against, "; ") }
	switch l.Verdict {
	case "data":
		l.Explain = "data levels fit; against video levels: " + reasons(v)
	case "video":
		l.Explain = "video levels fit; against data levels: " + reasons(d)
	case "either":
		l.Explain = "both readings are possible; look at the darkest part of a picture, or ask where the file came from"
	default:
		l.Explain = fmt.Sprintf("neither reading fits %s: perhaps the file is for another curve, or is a look for display signals. Against data levels: %s. Against video levels: %s", l.Curve, reasons(d), reasons(v))
	}
	if l.Leans != "" {
		l.Explain += "; " + l.Leans + " levels look likelier"
	}
	l.Explain += ". " + strings.ToUpper(both[:1]) + both[1:] + ". Grey tells little: the readings agree at code 445"
	if l.VideoOutput {
		l.Explain += ". Its output runs from code 64 to 940, so the output is taken as video levels"
	}
}
