package colour

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"

	"lampwise/internal/fault"
	"lampwise/internal/unit"
)

// AnchorName names a reflectance that camera manuals give a level for.
type AnchorName string

const (
	AnchorBlack AnchorName = "black" // 0 %
	AnchorGrey  AnchorName = "grey"  // 18 %
	AnchorWhite AnchorName = "white" // 90 %
)

// anchors in the order in which they are told.
var anchors = []struct {
	name        AnchorName
	reflectance float64
}{{AnchorBlack, 0}, {AnchorGrey, Grey}, {AnchorWhite, 0.9}}

// LevelUnit is what a level in a manual is counted in.
type LevelUnit string

const (
	NarrowPercent LevelUnit = "percent" // 0 % = 10-bit code 64, 100 % = code 940
	Code10        LevelUnit = "code"    // 10-bit code value
)

// levelUnits are the units in words.
var levelUnits = map[LevelUnit]string{NarrowPercent: "per cent", Code10: "10-bit codes"}

// CurveQuery is what a camera's manual says of its curve. Nil = not said.
type CurveQuery struct {
	Unit               LevelUnit
	Grey, White, Black *float64
}

// AnchorMiss compares a given level with a curve's, both in 10-bit codes.
type AnchorMiss struct {
	Anchor AnchorName
	Given  unit.CodeValue
	Has    unit.CodeValue
	// Within says whether the difference is no more than rounding explains:
	// half the last place of the figure as it was given, and half a code for the maker's own.
	Within bool
}

// Miss is Has − Given.
func (a AnchorMiss) Miss() unit.CodeValue { return a.Has - a.Given }

// CurveMatch is how near a curve comes to a query.
type CurveMatch struct {
	Curve  *Curve
	RMS    unit.CodeValue // root mean square of the misses
	Misses []AnchorMiss   // in the order black, grey, white; only what was given
	Fits   bool           // every miss is within rounding
	// Alike are the other curves that fit too: what was given cannot tell
	// them from this one. TellBy are the anchors, not given yet, that can tell
	// at least one of them.
	Alike  []string
	TellBy []AnchorName
}

// FindCurves ranks all camera and working curves, and the user's own given in
// addition, by how near they come to the levels in q: nearest first. It is a
// fault when no level is given or one is no number.
func FindCurves(q CurveQuery, own ...*Curve) ([]CurveMatch, error) {
	given := map[AnchorName]*float64{AnchorBlack: q.Black, AnchorGrey: q.Grey, AnchorWhite: q.White}
	count := 0
	for _, a := range anchors {
		v := given[a.name]
		if v == nil {
			continue
		}
		count++
		if math.IsNaN(*v) || math.IsInf(*v, 0) || math.Abs(*v) > 1e4 {
			return nil, fault.New(fault.Usage, "level", "give the manual's figure, for example --grey 41", "the level of %s is %v, which is no level of a recording", a.name, *v)
		}
		low, high := 0.0, 1023.0
		if a.name == AnchorBlack {
			low = -512 // a working curve puts zero light below code 0
		}
		if q.Unit == NarrowPercent {
			low, high = 100*(low-narrowBlack10)/narrowLumaSpan10, 100*(high-narrowBlack10)/narrowLumaSpan10
		}
		if *v < low || *v > high {
			return nil, fault.New(fault.Usage, "level", "give the manual's figures as 10-bit codes or as per cent of a waveform, all alike; --in says which",
				"the level of %s is %v; a recording's lie between %.4g and %.4g in %s", a.name, *v, low, high, levelUnits[q.Unit])
		}
	}
	if count == 0 {
		return nil, fault.New(fault.Usage, "level-none", "give at least --grey or --white, best both and --black too", "no level was given to find a curve by")
	}
	if q.Unit != NarrowPercent && q.Unit != Code10 {
		return nil, fault.New(fault.Usage, "level-unit", "levels are in percent (narrow range) or in 10-bit code values", "levels cannot be in %q", q.Unit)
	}

	var matches []CurveMatch
	for _, c := range slices.Concat(allCurves, own) {
		if c.Kind != KindCamera && c.Kind != KindWorking {
			continue
		}
		m := CurveMatch{Curve: c, Fits: true}
		for _, a := range anchors {
			v := given[a.name]
			if v == nil {
				continue
			}
			miss := AnchorMiss{Anchor: a.name, Has: c.Code10(a.reflectance)}
			slack := lastPlace(*v) / 2
			if q.Unit == NarrowPercent {
				miss.Given = unit.CodeValue(Narrow.LumaToCode(*v/100, 10))
				slack *= narrowLumaSpan10 / 100
			} else {
				miss.Given = unit.CodeValue(*v)
			}
			const makersRounding = 0.5
			miss.Within = math.Abs(float64(miss.Miss())) <= slack+makersRounding
			m.Fits = m.Fits && miss.Within
			m.RMS += miss.Miss() * miss.Miss()
			m.Misses = append(m.Misses, miss)
		}
		m.RMS = unit.CodeValue(math.Sqrt(float64(m.RMS) / float64(count)))
		matches = append(matches, m)
	}
	slices.SortStableFunc(matches, func(a, b CurveMatch) int { return cmp.Compare(a.RMS, b.RMS) })
	for i := range matches {
		if !matches[i].Fits {
			continue
		}
		for j, other := range matches {
			if j == i || !other.Fits {
				continue
			}
			matches[i].Alike = append(matches[i].Alike, other.Curve.ID)
			for _, a := range anchors {
				// Two codes and more survive rounding on both sides.
				apart := math.Abs(float64(matches[i].Curve.Code10(a.reflectance)-other.Curve.Code10(a.reflectance))) >= 2
				if given[a.name] == nil && apart && !slices.Contains(matches[i].TellBy, a.name) {
					matches[i].TellBy = append(matches[i].TellBy, a.name)
				}
			}
		}
	}
	return matches, nil
}

// lastPlace is the worth of a figure's last decimal place: 1 for 41, 0.1 for 40.6.
func lastPlace(v float64) float64 {
	_, decimals, _ := strings.Cut(strconv.FormatFloat(v, 'f', -1, 64), ".")
	return math.Pow(10, -float64(len(decimals)))
}
