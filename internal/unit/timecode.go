package unit

import (
	"fmt"
	"strconv"
	"strings"

	"lampwise/internal/fault"
)

// TimecodeRate says how frames are counted into timecode.
//
// Source: SMPTE ST 12-1, drop-frame compensation; ST 12-3
type TimecodeRate struct {
	// Nominal is the whole number of frames that a second of the count has: 24,
	// 25, 30, 50, 60, …; 30 for 30000/1001 frames a second.
	Nominal int
	// Drop says that numbers are left out so that the count keeps to the clock
	// (SMPTE ST 12-1, drop frame compensation; ST 12-3 for 60): of each minute
	// that is no whole ten minutes, frame numbers 0 and 1 of a count of 30, and
	// 0 to 3 of a count of 60. Numbers are dropped, never frames.
	Drop bool
}

// maxNominal bounds the count: frame numbers of three digits are not written.
const maxNominal = 100

// TimecodeRateOf finds the count of a picture of num/den frames a second. drop
// asks for drop frame; only 30000/1001 and 60000/1001 can have it.
func TimecodeRateOf(num, den int64, drop bool) (TimecodeRate, error) {
	if num <= 0 || den <= 0 || num > maxNominal*den || num < den {
		return TimecodeRate{}, fault.New(fault.Usage, "timecode-rate", "Give a time in seconds instead.", "%d/%d frames/s cannot be counted in timecode", num, den)
	}
	r := TimecodeRate{Nominal: int((num + den - 1) / den), Drop: drop}
	if drop && (den == 1 || r.dropped() == 0) {
		return TimecodeRate{}, fault.New(fault.Usage, "timecode-drop", "Write it with a colon before the frames: 01:00:10:00.",
			"drop-frame timecode (with “;”) counts 29.97 and 59.94 frames/s only, not %d/%d", num, den)
	}
	return r, nil
}

// dropped is how many numbers are left out in a minute that drops; 0 where
// the standard has no drop frame for the count.
func (r TimecodeRate) dropped() int64 {
	switch r.Nominal {
	case 30:
		return 2
	case 60:
		return 4
	}
	return 0
}

// Day is the number of frames after which the count begins again.
func (r TimecodeRate) Day() int64 { return 24 * 6 * r.tenMinutes() }

func (r TimecodeRate) tenMinutes() int64 {
	n := 600 * int64(r.Nominal)
	if r.Drop {
		n -= 9 * r.dropped()
	}
	return n
}

// Frame reads hh:mm:ss:ff, with “;” (or “.”) before the frames for drop frame,
// as the number of frames since 00:00:00:00, within one day. A number the
// count leaves out, and a separator that is not the count's, are faults.
func (r TimecodeRate) Frame(text string) (int64, error) {
	bad := func(format string, args ...any) (int64, error) {
		return 0, fault.New(fault.Usage, "timecode", "Write hours:minutes:seconds:frames, for example 01:00:10:00, with “;” before the frames for drop frame.",
			"%q is no timecode: %s", text, fmt.Sprintf(format, args...))
	}
	fields, drop, ok := timecodeFields(text)
	if !ok {
		return bad("it needs four numbers of two digits")
	}
	if drop != r.Drop {
		if drop {
			return bad("this count is not drop frame")
		}
		return bad("this count is drop frame")
	}
	h, m, s, f := fields[0], fields[1], fields[2], fields[3]
	switch {
	case h > 23:
		return bad("there is no hour %d", h)
	case m > 59:
		return bad("there is no minute %d", m)
	case s > 59:
		return bad("there is no second %d", s)
	case f >= int64(r.Nominal):
		return bad("a second has frames 0 to %d", r.Nominal-1)
	case r.Drop && s == 0 && f < r.dropped() && m%10 != 0:
		return bad("drop frame leaves this number out; the next is %s", r.Text(r.count(h, m, s, r.dropped())))
	}
	return r.count(h, m, s, f), nil
}

func (r TimecodeRate) count(h, m, s, f int64) int64 {
	minutes := 60*h + m
	n := int64(r.Nominal)*(60*minutes+s) + f
	if r.Drop {
		n -= r.dropped() * (minutes - minutes/10)
	}
	return n
}

// Text writes frame number n; the count begins again after 24 hours, and
// before 0 it goes backwards from there.
func (r TimecodeRate) Text(n int64) string {
	if n %= r.Day(); n < 0 {
		n += r.Day()
	}
	separator := ":"
	if r.Drop {
		// Put the numbers that were left out back in: none in the first minute
		// of ten, d in each of the others.
		separator = ";"
		d, minute := r.dropped(), 60*int64(r.Nominal)
		tens, rest := n/r.tenMinutes(), n%r.tenMinutes()
		n += 9 * d * tens
		if rest >= minute {
			n += d * ((rest-minute)/(minute-d) + 1)
		}
	}
	f := n % int64(r.Nominal)
	s := n / int64(r.Nominal)
	return fmt.Sprintf("%02d:%02d:%02d%s%02d", s/3600, s/60%60, s%60, separator, f)
}

// IsTimecode says whether a text is written like a timecode, and whether like
// one of drop frame.
func IsTimecode(text string) (is, drop bool) {
	_, drop, is = timecodeFields(text)
	return is, drop
}

func timecodeFields(text string) (fields [4]int64, drop, ok bool) {
	rest := text
	for i := range 3 {
		at := strings.IndexAny(rest, ":;.")
		if at != 2 || i < 2 && rest[at] != ':' {
			return fields, false, false
		}
		if i == 2 {
			drop = rest[at] != ':'
		}
		v, err := strconv.ParseUint(rest[:at], 10, 8)
		if err != nil {
			return fields, false, false
		}
		fields[i], rest = int64(v), rest[at+1:]
	}
	v, err := strconv.ParseUint(rest, 10, 8)
	if err != nil || len(rest) != 2 {
		return fields, false, false
	}
	fields[3] = int64(v)
	return fields, drop, true
}
