package lutfile

import (
	"bytes"
	"errors"
	"io"
	"math"
	"strconv"

	"lampwise/internal/fault"
)

// file is what is being read, by the name the user knows it by.
type file string

// wrong makes the fault for something at a line of the file; line 0 is the
// file as a whole.
func (f file) wrong(line int, code, hint, format string, args ...any) *fault.Fault {
	where := "%s: "
	at := []any{string(f)}
	if line > 0 {
		where = "%s:%d: "
		at = append(at, line)
	}
	return fault.New(fault.Input, code, hint, where+format, append(at, args...)...)
}

// hintExport is what to do with a file that isn't right in itself.
const hintExport = "write the file again with the program it came from, or use another one"

// bounded reads up to MaxFileBytes and then fails with a fault.
type bounded struct {
	r    io.Reader
	left int64
	f    file
}

func (b *bounded) Read(p []byte) (int, error) {
	if b.left <= 0 {
		var one [1]byte
		n, err := b.r.Read(one[:])
		if n > 0 {
			return 0, b.f.wrong(0, "lut-too-large", hintExport, "more than %d MiB; that is the most a look-up file may have", MaxFileBytes>>20)
		}
		return 0, err
	}
	if int64(len(p)) > b.left {
		p = p[:b.left]
	}
	n, err := b.r.Read(p)
	b.left -= int64(n)
	return n, err
}

// readError passes on a fault from below and gives any other error its place.
func (f file) readError(err error) error {
	if known, ok := fault.As(err); ok {
		return known
	}
	return fault.Wrap(err, fault.Input, "lut-read", "check that the file is whole and can be read", "%s: cannot be read: %v", string(f), plain(err))
}

// plain drops the path that os errors repeat.
func plain(err error) error {
	for {
		next := errors.Unwrap(err)
		if next == nil {
			return err
		}
		err = next
	}
}

// number reads one decimal number. problem is empty when it is one: finite and
// within single precision's range, which is what all three formats mean by a
// number (xs:float in Common LUT Format).
func number(b []byte) (x float64, problem string) {
	for _, c := range b {
		switch {
		case c >= '0' && c <= '9', c == '+', c == '-', c == '.', c == 'e', c == 'E':
		case c == ',':
			return 0, "has a comma; decimals need a point"
		default:
			if notFinite(b) {
				return 0, "is not a finite number"
			}
			return 0, "is not a number"
		}
	}
	x, err := strconv.ParseFloat(string(b), 64)
	if err != nil && !errors.Is(err, strconv.ErrRange) {
		return 0, "is not a number"
	}
	if math.Abs(x) > math.MaxFloat32 {
		return 0, "is too large"
	}
	return x, ""
}

// notFinite says whether b is one of the ways to write what isn't finite.
func notFinite(b []byte) bool {
	switch string(bytes.ToLower(bytes.TrimLeft(b, "+-"))) {
	case "nan", "inf", "infinity", "1.#qnan", "1.#inf", "1.#ind":
		return true
	}
	return false
}

// shown cuts a piece of a file for a message: short, and without what a
// terminal would act on.
func shown(b []byte) string {
	const most = 40
	cut := len(b) > most
	if cut {
		b = b[:most]
	}
	s := strconv.QuoteToGraphic(string(bytes.ToValidUTF8(b, []byte("\uFFFD"))))
	if cut {
		s = s[:len(s)-1] + "…\""
	}
	return s
}
