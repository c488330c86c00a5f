package gauge

import (
	"fmt"
	"math"

	"lampwise/internal/colour"
)

// RangeFound is the range tag against the content.
type RangeFound struct {
	Tag   colour.Range `json:"tag"`
	Looks colour.Range `json:"looks"` // what the content looks like; empty when it can't tell
	Why   string       `json:"why"`
}

// RangeLimit is the part of the picture, in per cent, that must lie at codes
// that the tagged range has no use for, or at each of the other range's ends.
const RangeLimit = 0.1

const (
	edgeReach     = 5                // codes of 10 bits about nominal black and white that count as there
	pileReach     = 2                // codes of 10 bits about them within which a clipped end piles up
	pileStands    = 2.0              // how much denser that pile must be than the codes beside it, inward
	beyondPart    = RangeLimit / 100 // part of the samples that must lie outside
	beyondError   = 0.2              // of that part: one pixel in sixteen is looked at
	narrowBlack10 = 64
	narrowWhite10 = 940
)

func (c *Codes) rangeTag(out *CodesFound) {
	out.Range.Tag = c.format.Range
	k := c.cam.Curve
	if k != nil && k.Kind == colour.KindCamera {
		out.Range.Why = "a log recording need not reach nominal black or white, and may go beyond: see what the curve says"
		return
	}
	total, below, above := 0.0, 0.0, 0.0
	scale := 1024 / float64(len(c.luma))
	for i, n := range c.luma {
		code := float64(i) * scale
		total += n
		if code < reservedLow {
			below += n
		}
		if code > reservedHigh {
			above += n
		}
	}
	dark, bright := c.code10(c.luma, darkestPart), c.code10(c.luma, 1-darkestPart)
	switch {
	case c.format.Range == colour.Narrow && (below+above)/total > beyondPart:
		out.Range.Looks = colour.Full
		out.Range.Why = fmt.Sprintf("%.2f %% of the picture uses codes below %d or above %d of 10 bits, which narrow range has no use for", 100*(below+above)/total, reservedLow, reservedHigh)
		out.Problems = append(out.Problems, Problem{
			Kind: "range-tag", What: "the file is tagged narrow range, but looks full: " + out.Range.Why, Size: 100 * (below + above) / total, Error: 100*beyondError*(below+above)/total + RangeLimit/4, Unit: "% of the picture", Severity: Fault,
			Advice: "set the clip's range to full, and check that black and white then read 0 and 100 %",
		})
	case c.format.Range == colour.Full && math.Abs(dark-narrowBlack10) <= edgeReach && math.Abs(bright-narrowWhite10) <= edgeReach &&
		c.piled(narrowBlack10, 1) && c.piled(narrowWhite10, -1):
		out.Range.Looks = colour.Narrow
		out.Range.Why = fmt.Sprintf("black and white stand at codes %.0f and %.0f of 10 bits, where narrow range has them", dark, bright)
		out.Problems = append(out.Problems, Problem{
			Kind: "range-tag", What: "the file is tagged full range, but looks narrow: " + out.Range.Why, Size: dark, Error: edgeReach, Unit: "code of 10 bits at black", Severity: Fault,
			Advice: "set the clip's range to narrow, and check that black and white then read 0 and 100 %",
		})
	case dark < narrowBlack10-edgeReach || bright > narrowWhite10+edgeReach:
		out.Range.Why = fmt.Sprintf("the picture runs from code %.0f to %.0f of 10 bits", dark, bright)
		if c.format.Range == colour.Full {
			out.Range.Looks = colour.Full
		}
	default:
		out.Range.Why = fmt.Sprintf("the picture runs from code %.0f to %.0f of 10 bits, which either range can hold", dark, bright)
	}
}

// piled says whether samples pile up at a nominal end, as they do where a
// signal was clipped there. A picture that merely begins near that code, as one
// of full range whose black was lifted may, has as many samples on the codes
// beside it; inward is +1 from black, −1 from white.
func (c *Codes) piled(nominal, inward int) bool {
	at := nominal * len(c.luma) / 1024
	reach := pileReach * len(c.luma) / 1024 // 0 at 8 bits: the very code
	half := max(1, reach)
	sum := func(from, to int) (n float64) {
		for k := from; k <= to; k++ {
			n += c.luma[at+inward*k]
		}
		return n
	}
	most := 0
	for k := -half - reach; k <= half+reach; k++ {
		if c.luma[at+k] > c.luma[at+most] {
			most = k
		}
	}
	total := 0.0
	for _, n := range c.luma {
		total += n
	}
	core, beside := sum(-half, half), sum(half+1, 2*half+1)
	return most >= -reach && most <= reach &&
		100*core >= thresholdFactor*RangeLimit*total &&
		core/float64(2*half+1) > pileStands*beside/float64(half+1)
}
