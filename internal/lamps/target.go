package lamps

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"lampwise/internal/fault"
	"lampwise/internal/unit"
)

// Target is what the picture should read.
type Target struct {
	Region string
	Over   string // when set, the target is the ratio of Region to Over
	// Want is in stops from grey, or for a ratio in stops between the two.
	Want unit.Stop
	// Neutral asks for equal red, green and blue instead.
	Neutral   bool
	Tolerance unit.Stop
}

// defaultTolerance is a tenth of a stop: what a careful eye sees side by side
// (common practice, no source).
const defaultTolerance unit.Stop = 0.1

// ParseTarget reads one of
//
//	face-lit=+0.5 ±0.1     stops from grey, with a tolerance in stops
//	face-lit/face-shade=2  a ratio, 2 : 1 (also "2:1"); a tolerance is in stops
//	face-lit/background=2.5 stop
//	card=neutral           equal red, green and blue
//
// "+-0.1" is read as "±0.1".
func ParseTarget(text string) (Target, error) {
	const hint = `write for example "face-lit=+0.5 ±0.1", "face-lit/face-shade=2" or "card=neutral"`
	bad := func(format string, args ...any) (Target, error) {
		return Target{}, fault.New(fault.Usage, "target-syntax", hint, format, args...)
	}
	if len(text) > 200 {
		return bad("a target of %d characters is too long", len(text))
	}
	name, value, ok := strings.Cut(text, "=")
	if !ok {
		return bad("target %q has no value", text)
	}
	t := Target{Tolerance: defaultTolerance}
	t.Region, t.Over, _ = strings.Cut(strings.TrimSpace(name), "/")
	if t.Region == "" || strings.ContainsAny(t.Region+t.Over, " ,:") || strings.HasSuffix(strings.TrimSpace(name), "/") || strings.Contains(t.Over, "/") {
		return bad("target %q doesn't name its region", text)
	}
	if t.Region == t.Over {
		return bad("target %q compares a region with itself", text)
	}
	value = strings.ReplaceAll(value, "+-", "±")
	value = strings.ReplaceAll(strings.ReplaceAll(value, "−", "-"), ",", ".")
	value, tolerance, hasTolerance := strings.Cut(value, "±")
	value = strings.TrimSpace(value)
	if hasTolerance {
		v, err := stopNumber(tolerance)
		if err != nil || v <= 0 || v > 5 {
			return bad("target %q: %q is no tolerance between 0 and 5 stops", text, strings.TrimSpace(tolerance))
		}
		t.Tolerance = unit.Stop(v)
	}
	switch {
	case value == "neutral":
		if t.Over != "" {
			return bad("target %q: one region is neutral, not a ratio", text)
		}
		t.Neutral = true
		return t, nil
	case t.Over == "":
		v, err := stopNumber(value)
		if err != nil || math.Abs(v) > 15 {
			return bad("target %q: %q is no number of stops from −15 to 15", text, value)
		}
		t.Want = unit.Stop(v)
		return t, nil
	}
	if stops, ok := cutStop(value); ok {
		v, err := stopNumber(stops)
		if err != nil || math.Abs(v) > 15 {
			return bad("target %q: %q is no number of stops from −15 to 15", text, value)
		}
		t.Want = unit.Stop(v)
		return t, nil
	}
	top, bottom, isPair := strings.Cut(value, ":")
	a, err := strictNumber(top)
	b := 1.0
	if err == nil && isPair {
		b, err = strictNumber(bottom)
	}
	if err != nil || !(a > 0) || !(b > 0) || a/b > 1e5 || b/a > 1e5 {
		return bad("target %q: %q is no ratio", text, value)
	}
	t.Want = unit.StopsOf(a / b)
	return t, nil
}

// cutStop takes a unit of stops away; ok says there was one.
func cutStop(s string) (string, bool) {
	for _, u := range []string{"stops", "stop"} {
		if t, ok := strings.CutSuffix(s, u); ok {
			return strings.TrimSpace(t), true
		}
	}
	return s, false
}

func stopNumber(s string) (float64, error) {
	t, _ := cutStop(strings.TrimSpace(s))
	return strictNumber(t)
}

// strictNumber takes a plain decimal number: no exponent, no hexadecimal, no words.
func strictNumber(s string) (float64, error) {
	s = strings.TrimSpace(s)
	if strings.Trim(s, "+-.0123456789") != "" {
		return 0, fmt.Errorf("%q is no number", s)
	}
	return strconv.ParseFloat(s, 64)
}

// String writes the target as ParseTarget reads it.
func (t Target) String() string {
	tolerance := ""
	if t.Tolerance != defaultTolerance {
		tolerance = " ±" + strconv.FormatFloat(float64(t.Tolerance), 'f', -1, 64)
	}
	switch {
	case t.Neutral:
		return t.Region + "=neutral" + tolerance
	case t.Over != "":
		return t.Region + "/" + t.Over + "=" + strconv.FormatFloat(float64(t.Want), 'f', -1, 64) + " stop" + tolerance
	}
	sign := ""
	if t.Want >= 0 {
		sign = "+"
	}
	return t.Region + "=" + sign + strconv.FormatFloat(float64(t.Want), 'f', -1, 64) + tolerance
}
