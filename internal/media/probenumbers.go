package media

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"lampwise/internal/fault"
)

// probeReader reads the numbers of an answer; the first error stays.
type probeReader struct {
	path string
	err  error
}

func (p *probeReader) fail(what, got string) {
	if p.err == nil {
		p.err = fault.New(fault.Input, "clip-unreadable", "check that it was copied whole", "%s: %s %q makes no sense", p.path, what, clip(got))
	}
}

// seconds reads a time; absent ones are 0.
func (p *probeReader) seconds(s string) float64 {
	if s == "" || s == "N/A" {
		return 0
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsNaN(v) || math.Abs(v) > maxSeconds {
		p.fail("time", s)
		return 0
	}
	return v
}

// clock reads a Matroska duration tag, "00:00:02.040000000"; 0 for anything else.
func clock(s string) float64 {
	var h, m int
	var sec float64
	if n, err := fmt.Sscanf(s, "%d:%d:%f", &h, &m, &sec); n != 3 || err != nil || h < 0 || h > 10_000 || m < 0 || m > 59 || !(sec >= 0 && sec < 60) {
		return 0
	}
	return float64(h)*3600 + float64(m)*60 + sec
}

// whole reads a count; absent ones are 0.
func (p *probeReader) whole(s string) int64 {
	if s == "" || s == "N/A" {
		return 0
	}
	v, err := strconv.ParseInt(s, 10, 64)
	if err != nil || v < 0 || v > 1<<50 {
		p.fail("number", s)
		return 0
	}
	return v
}

// ratio reads "30000/1001"; absent ones and 0/0 are zero.
func (p *probeReader) ratio(s, by string) Rational {
	if s == "" || s == "N/A" {
		return Rational{}
	}
	a, b, ok := strings.Cut(s, by)
	num, err1 := strconv.ParseInt(a, 10, 64)
	den, err2 := strconv.ParseInt(b, 10, 64)
	if !ok || err1 != nil || err2 != nil || num < 0 || den < 0 || num > math.MaxInt32 || den > math.MaxInt32 {
		p.fail("fraction", s)
		return Rational{}
	}
	return Rational{num, den}
}

func (p *probeReader) tags(in probeTags) map[string]string {
	if len(in) == 0 {
		return nil
	}
	if len(in) > maxTags {
		p.fail("number of tags", strconv.Itoa(len(in)))
		return nil
	}
	out := make(map[string]string, len(in))
	for k, v := range in {
		out[strings.ToLower(clip(k))] = clip(v)
	}
	return out
}

// clip cuts a text to what is kept and takes control characters out.
func clip(s string) string {
	if len(s) > maxTagText {
		s = strings.ToValidUTF8(s[:maxTagText], "") + "…"
	}
	return strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f {
			return ' '
		}
		return r
	}, s)
}

func known(s string) string {
	switch s {
	case "unknown", "unspecified", "reserved":
		return ""
	}
	return clip(s)
}

func orWord(s, word string) string {
	if s == "" {
		return word
	}
	return s
}

// rateText is a rate to three figures: "25", "29.970".
func rateText(r Rational) string {
	if r.Den == 1 {
		return strconv.FormatInt(r.Num, 10)
	}
	return strconv.FormatFloat(r.Float(), 'f', 3, 64)
}
