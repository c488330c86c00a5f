package lumfile

import (
	"bytes"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"lampwise/internal/fault"
)

// Load reads a file of either format, told by its content.
func Load(path string) (*Web, error) {
	info, err := os.Stat(path)
	if err == nil && info.Size() > maxFileBytes {
		return nil, fault.New(fault.Input, "lum-size", "Check that this is a photometric file.", "%s: %d bytes; a photometric file has at most %d", path, info.Size(), maxFileBytes)
	}
	var data []byte
	if err == nil {
		data, err = os.ReadFile(path)
	}
	if err != nil {
		return nil, fault.Wrap(err, fault.Input, "lum-read", "Check the name; it is taken from the plan's folder.", "%s: the photometric file cannot be read: %v", path, errors.Unwrap(err))
	}
	return Parse(data, path)
}

// Parse reads a file's content; name stands for it in messages.
func Parse(data []byte, name string) (*Web, error) {
	if len(data) > maxFileBytes {
		return nil, fault.New(fault.Input, "lum-size", "Check that this is a photometric file.", "%s: %d bytes; a photometric file has at most %d", name, len(data), maxFileBytes)
	}
	if bytes.IndexByte(data, 0) >= 0 {
		return nil, fault.New(fault.Input, "lum-binary", "Photometric files are plain text (.ies, .ldt).", "%s: this is no text file", name)
	}
	r := &reader{name: filepath.Base(name), lines: split(data)}
	if strings.HasPrefix(name, "/") || strings.ContainsAny(name, `/\`) {
		r.name = name
	}
	if r.isLM63() {
		return r.lm63()
	}
	if strings.EqualFold(filepath.Ext(name), ".ies") {
		return nil, r.fault(1, "lum-tilt", "An LM-63 file has a line TILT=NONE or TILT=INCLUDE before its numbers.", "the line TILT= is missing")
	}
	return r.eulumdat()
}

// split cuts lines at LF, CR LF or CR, and reads bytes as Latin-1 when they
// aren't UTF-8: only texts hold such letters.
func split(data []byte) []string {
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	text := strings.ToValidUTF8(string(data), "\u00b7")
	text = strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\r", "\n")
	return strings.Split(strings.TrimRight(text, "\n \t\x1a"), "\n")
}

type reader struct {
	name  string
	lines []string
	at    int // the next line, from 0
}

func (r *reader) fault(line int, code, hint, format string, args ...any) error {
	f := fault.New(fault.Input, code, hint, format, args...)
	f.Message = r.name + ":" + strconv.Itoa(line) + ": " + f.Message
	return f
}

// number reads one finite number; a decimal comma is taken.
func (r *reader) number(s string, line int, what string) (float64, error) {
	v, err := strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		if len(s) > 30 {
			s = s[:30] + "…"
		}
		return 0, r.fault(line, "lum-number", "The file may be cut or of another format.", "%q is no number (%s is expected)", s, what)
	}
	return v, nil
}

// ascending asks that angles grow.
func (r *reader) ascending(list []float64, line int, what string) error {
	for i := 1; i < len(list); i++ {
		if list[i] <= list[i-1] {
			return r.fault(line, "lum-order", "Angles must grow from one to the next.", "%s %g comes after %g", what, list[i], list[i-1])
		}
	}
	return nil
}

// whole asks for a count.
func (r *reader) whole(v float64, line, lo, hi int, what string) (int, error) {
	if v != math.Trunc(v) || v < float64(lo) || v > float64(hi) {
		return 0, r.fault(line, "lum-count", "", "%s is %.10g; it must be a whole number from %d to %d", what, v, lo, hi)
	}
	return int(v), nil
}
