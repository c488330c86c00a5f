package gauge

import (
	"fmt"
	"math"

	"lampwise/internal/unit"
)

// Plausibility says whether a claimed curve can have made a recording: as its
// codes stand, and had they been converted between full and narrow range on
// the way, which is the trade's classic levels fault. Grey hardly shows it;
// black and white do.
type Plausibility struct {
	Curve     string       `json:"curve"`
	Claimed   CurveReading `json:"claimed"`
	Squeezed  CurveReading `json:"squeezed"`  // full range was made narrow: black too high
	Stretched CurveReading `json:"stretched"` // narrow range was made full: black too low
	// Dark is the 10-bit code that all but a thousandth of the picture lies
	// above, Bright the brightest or, where the recording clips, its clip.
	Dark   float64 `json:"dark"`
	Bright float64 `json:"bright"`
	Clips  bool    `json:"clips"`
}

// Verdict on a reading.
type Verdict string

const (
	Fits       Verdict = "fits"       // black stands where the curve has it
	Possible   Verdict = "possible"   // nothing speaks against it
	Impossible Verdict = "impossible" // it would make light less than none, or a sensor no camera has
)

// CurveReading is what the picture's ends would be in one reading.
type CurveReading struct {
	Black float64 `json:"black"` // 10-bit code of no light
	// Under is by how many codes the darkest part lies below that; negative: above.
	Under   float64    `json:"under"`
	Dark    *unit.Stop `json:"dark"` // nil: no light or less
	Bright  *unit.Stop `json:"bright"`
	Verdict Verdict    `json:"verdict"`
	Why     string     `json:"why"`
}

const (
	blackNear = 3.0 // codes within which the darkest part stands at black
	// A sensor that clips less than this above grey, or more, is none that
	// records log (common practice, no source).
	leastHeadroom = 2.5
	mostHeadroom  = 9.5
)

func (c *Codes) curve(out *CodesFound) {
	k := c.cam.Curve
	p := &Plausibility{Curve: k.ID, Dark: c.code10(c.blocks, darkestPart), Bright: c.code10(c.luma, 1-brightPart)}
	if c.cam.ClipCode > 0 {
		p.Bright, p.Clips = c.cam.ClipCode, true
	}
	// How the curve's y stands in the file's codes of 10 bits.
	slope, offset := k.SignalFromE(c.format.Range)
	span, zero := c.format.Range.LumaScale(10)
	a, b := span/slope, zero-span*offset/slope // code = a·y + b
	const squeeze = (narrowWhite10 - narrowBlack10) / curveBits10
	p.Claimed = c.reading(p, a, b)
	p.Squeezed = c.reading(p, squeeze*a, narrowBlack10+squeeze*b)
	p.Stretched = c.reading(p, a/squeeze, (b-narrowBlack10)/squeeze)
	out.Curve = p
	if p.Claimed.Verdict != Impossible {
		if p.Claimed.Verdict == Possible && p.Squeezed.Verdict == Fits {
			out.Notes = append(out.Notes, fmt.Sprintf("black would stand just where %s has it if full range had been made narrow on the way: if the scene had true black in it, that is so", k.ID))
		}
		return
	}
	if p.Claimed.Bright == nil {
		out.Notes = append(out.Notes, fmt.Sprintf("nothing in the picture is lighter than %s's black, so whether the curve is the right one can't be told", k.ID))
		return
	}
	problem := Problem{
		Kind: "curve-wrong", What: fmt.Sprintf("%s can't have made this clip, with its levels as they are or converted: %s", k.ID, p.Claimed.Why),
		Size: max(p.Claimed.Under, 0), Error: 2, Unit: "10-bit codes under black", Severity: Fault,
		Advice: "find the curve by the camera's manual (curves find) or measure it (curves fit)",
	}
	for _, o := range []struct {
		CurveReading
		how string
	}{{p.Stretched, "narrow range was made full on the way"}, {p.Squeezed, "full range was made narrow on the way"}} {
		if o.Verdict != Impossible {
			problem.Kind = "curve-levels"
			problem.What = fmt.Sprintf("as %s, %s; if %s, it %s", k.ID, p.Claimed.Why, o.how, map[Verdict]string{Fits: "fits", Possible: "is possible"}[o.Verdict])
			problem.Advice = "use the camera's own file and leave its range as it is; to be sure, film with the lens capped once and compare black with the curve's"
			break
		}
	}
	out.Problems = append(out.Problems, problem)
}

// reading judges the ends with code = a·y + b.
func (c *Codes) reading(p *Plausibility, a, b float64) CurveReading {
	k := c.cam.Curve
	r := CurveReading{Black: a*k.Encode(0) + b}
	r.Under = r.Black - p.Dark
	at := func(code float64) *unit.Stop {
		if s, ok := stops(k.Decode((code - b) / a)); ok {
			return &s
		}
		return nil
	}
	r.Dark, r.Bright = at(p.Dark), at(p.Bright)
	switch {
	case r.Under > thresholdFactor*BlackLimit:
		r.Verdict, r.Why = Impossible, fmt.Sprintf("the darkest part would be %.0f codes darker than no light", r.Under)
	case p.Clips && (r.Bright == nil || float64(*r.Bright) < leastHeadroom || float64(*r.Bright) > mostHeadroom):
		r.Verdict = Impossible
		if r.Bright == nil {
			r.Why = "the recording's clip would lie at no light"
		} else {
			r.Why = fmt.Sprintf("the recording would clip %.1f stops above grey", float64(*r.Bright))
		}
	case math.Abs(r.Under) <= blackNear:
		r.Verdict, r.Why = Fits, "the darkest part stands at the curve's black"
	default:
		r.Verdict, r.Why = Possible, fmt.Sprintf("the darkest part lies %.0f codes above the curve's black", -r.Under)
	}
	return r
}
