package lumfile

import (
	"math"
	"strings"

	"lampwise/internal/unit"
)

// LM-63 (Illuminating Engineering Society): 1986 (no heading line), 1991,
// 1995, 2002 and 2019. Layout from memory of ANSI/IES LM-63-02 and LM-63-19,
// held to files written from closed formulas.

// isLM63 says whether the file has the format's heading or its TILT line.
func (r *reader) isLM63() bool {
	if h := strings.TrimSpace(r.lines[0]); strings.HasPrefix(h, "IESNA") || strings.HasPrefix(h, "IES:") {
		return true
	}
	for _, l := range r.lines {
		if strings.HasPrefix(strings.TrimSpace(l), "TILT=") {
			return true
		}
	}
	return false
}

// token is a number's text with its line.
type token struct {
	text string
	line int
}

// tokens cuts the lines from `from` on into words at spaces and commas.
func (r *reader) tokens(from int) []token {
	var out []token
	for i := from; i < len(r.lines); i++ {
		for _, w := range strings.FieldsFunc(r.lines[i], func(c rune) bool { return c == ' ' || c == '\t' || c == ',' }) {
			out = append(out, token{w, i + 1})
			if len(out) > maxValues+4*maxAngles {
				return out
			}
		}
	}
	return out
}

// stream reads numbers one after the other, over line ends.
type stream struct {
	r     *reader
	t     []token
	at    int
	first error
}

func (s *stream) line() int {
	if s.at < len(s.t) {
		return s.t[s.at].line
	}
	return len(s.r.lines)
}

func (s *stream) next(what string) float64 {
	if s.first != nil {
		return 0
	}
	if s.at >= len(s.t) {
		s.first = s.r.fault(len(s.r.lines), "lum-short", "The file is cut, or its counts are wrong.", "the file ends where %s is expected", what)
		return 0
	}
	v, err := s.r.number(s.t[s.at].text, s.t[s.at].line, what)
	if err != nil {
		s.first = err
	}
	s.at++
	return v
}

func (s *stream) list(n int, what string) []float64 {
	out := make([]float64, 0, min(n, len(s.t)))
	for range n {
		out = append(out, s.next(what))
		if s.first != nil {
			return nil
		}
	}
	return out
}

func (s *stream) count(lo, hi int, what string) int {
	line := s.line()
	v := s.next(what)
	if s.first != nil {
		return 0
	}
	n, err := s.r.whole(v, line, lo, hi, what)
	if err != nil {
		s.first = err
	}
	return n
}

func (s *stream) bound(v, lo, hi float64, line int, what string) {
	if s.first == nil && !(v >= lo && v <= hi) {
		s.first = s.r.fault(line, "lum-range", "", "%s is %g; it must be %g to %g", what, v, lo, hi)
	}
}

const feetToMetres = 0.3048 // exact

func (r *reader) lm63() (*Web, error) {
	w := &Web{Format: "LM-63-1986"}
	head := strings.TrimSpace(r.lines[0])
	switch {
	case strings.HasPrefix(head, "IESNA91"):
		w.Format = "LM-63-1991"
	case strings.HasPrefix(head, "IESNA:"), strings.HasPrefix(head, "IES:"):
		w.Format = head[strings.Index(head, ":")+1:]
		switch w.Format {
		case "LM-63-1995", "LM-63-2002", "LM-63-2019":
		default:
			return nil, r.fault(1, "lum-version", "Known are LM-63-1986 (no heading), IESNA91, LM-63-1995, LM-63-2002 and LM-63-2019.", "unknown version %.40q", head)
		}
	case strings.HasPrefix(head, "IESNA"):
		return nil, r.fault(1, "lum-version", "Known are IESNA91, IESNA:LM-63-1995, IESNA:LM-63-2002 and IES:LM-63-2019.", "unknown version %.40q", head)
	}
	tilt := -1
	for i, l := range r.lines {
		l = strings.TrimSpace(l)
		if strings.HasPrefix(l, "TILT=") {
			tilt = i
			break
		}
		for _, k := range []string{"[LUMINAIRE]", "[TEST]"} {
			if rest, ok := strings.CutPrefix(l, k); ok && (w.Says == "" || k == "[LUMINAIRE]") {
				w.Says = strings.TrimSpace(rest)
			}
		}
	}
	if tilt < 0 {
		return nil, r.fault(len(r.lines), "lum-tilt", "An LM-63 file has a line TILT=NONE or TILT=INCLUDE before its numbers.", "the line TILT= is missing")
	}
	s := &stream{r: r, t: r.tokens(tilt + 1)}
	switch kind := strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(r.lines[tilt]), "TILT=")); kind {
	case "NONE":
	case "INCLUDE":
		s.tilt(w)
	default:
		return nil, r.fault(tilt+1, "lum-tilt", "Put the tilt table into the file (TILT=INCLUDE), or write TILT=NONE.", "the tilt table is in another file (%.40q), which isn't read", kind)
	}
	s.body(w)
	if s.first != nil {
		return nil, s.first
	}
	if s.at < len(s.t) {
		return nil, r.fault(s.t[s.at].line, "lum-long", "The counts of angles are wrong, or two files were joined.", "there are numbers after the last candela value")
	}
	return w, nil
}

// tilt reads the table of the lamp's tilt.
func (s *stream) tilt(w *Web) {
	s.count(1, 3, "the lamp's place in the luminaire")
	n := s.count(1, maxAngles, "the number of tilt angles")
	line := s.line()
	angles := s.list(n, "a tilt angle")
	factors := s.list(n, "a tilt factor")
	if s.first != nil {
		return
	}
	if err := s.r.ascending(angles, line, "tilt angle"); err != nil {
		s.first = err
		return
	}
	for i, a := range angles {
		s.bound(a, 0, 180, line, "a tilt angle")
		s.bound(factors[i], 0, 10, line, "a tilt factor")
		w.Tilt = append(w.Tilt, [2]float64{a, factors[i]})
	}
}

func (s *stream) body(w *Web) {
	lamps := s.count(1, 1000, "the number of lamps")
	line := s.line()
	lumens := s.next("lumens a lamp") // −1: absolute photometry
	if lumens != -1 {
		s.bound(lumens, 0, 1e8, line, "lumens a lamp")
		w.Lamp = unit.Lumen(lumens * float64(lamps))
	}
	line = s.line()
	multiplier := s.next("the candela multiplier")
	s.bound(multiplier, 1e-9, 1e9, line, "the candela multiplier")
	nv := s.count(1, maxAngles, "the number of vertical angles")
	nh := s.count(1, maxAngles, "the number of horizontal angles")
	line = s.line()
	switch kind := s.count(1, 3, "the photometric type"); kind {
	case 2, 3:
		s.fail(line, "lum-type", "Ask the maker for a type C file; types A and B turn about other axes (headlamps, floodlights).", "the photometry is of type %s; only type C is read", map[int]string{2: "B", 3: "A"}[kind])
	}
	if s.first == nil && nv*nh > maxValues {
		s.fail(line, "lum-many", "", "%d × %d candela values; at most %d", nv, nh, maxValues)
	}
	units := s.count(1, 2, "the kind of measures (1 feet, 2 metres)")
	var size [3]float64
	for i := range size {
		line = s.line()
		size[i] = s.next("a measure of the opening")
		s.bound(size[i], -1000, 1000, line, "a measure of the opening")
		if units == 1 {
			size[i] *= feetToMetres
		}
	}
	// Negative measures mean a round opening of that diameter.
	w.Opening = [2]unit.Metre{unit.Metre(math.Abs(size[0])), unit.Metre(math.Abs(size[1]))}
	line = s.line()
	ballast := s.next("the ballast factor")
	s.bound(ballast, 1e-3, 100, line, "the ballast factor")
	line = s.line()
	second := s.next("the ballast-lamp factor")
	watts := s.next("watts")
	s.bound(watts, -1, 1e6, line, "watts")
	w.Watts = unit.Watt(math.Max(0, watts))
	multiplier *= ballast
	// From 1995 on the place is for other use; before it's a factor.
	if w.Format == "LM-63-1986" || w.Format == "LM-63-1991" {
		s.bound(second, 1e-3, 100, line, "the ballast-lamp factor")
		multiplier *= second
	}
	lineV := s.line()
	w.gamma = s.list(nv, "a vertical angle")
	lineH := s.line()
	h := s.list(nh, "a horizontal angle")
	lineI := s.line()
	w.candela = s.list(nv*nh, "a candela value")
	if s.first != nil {
		return
	}
	if err := s.r.ascending(w.gamma, lineV, "vertical angle"); err != nil {
		s.first = err
		return
	}
	if err := s.r.ascending(h, lineH, "horizontal angle"); err != nil {
		s.first = err
		return
	}
	s.planes(w, h, lineV, lineH)
	for i, v := range w.candela {
		if v < 0 {
			s.fail(lineI, "lum-negative", "Candela can't be negative.", "candela value %d is %g", i+1, v)
			return
		}
		w.candela[i] = v * multiplier
		s.bound(w.candela[i], 0, 1e12, lineI, "a candela value with its multipliers")
	}
}

func (s *stream) fail(line int, code, hint, format string, args ...any) {
	if s.first == nil {
		s.first = s.r.fault(line, code, hint, format, args...)
	}
}

// planes checks the angles' ends and takes the symmetry from them.
func (s *stream) planes(w *Web, h []float64, lineV, lineH int) {
	g0, g1 := w.gamma[0], w.gamma[len(w.gamma)-1]
	if g0 < 0 || g1 > 180 {
		s.fail(lineV, "lum-range", "γ goes from 0 (straight ahead) to 180.", "vertical angles from %g to %g", g0, g1)
	}
	if len(w.gamma) > 1 && (g0 != 0 && g0 != 90 || g1 != 90 && g1 != 180) {
		// Narrow lamps are often measured over part of the angle only; what lies
		// outside is then dark. The first angle must still be one of these.
		if g0 != 0 && g0 != 90 {
			s.fail(lineV, "lum-order", "Type C begins at 0 or 90.", "vertical angles begin at %g", g0)
		}
	}
	first, last := h[0], h[len(h)-1]
	w.start = first
	w.span = last - first
	ok := false
	switch {
	case len(h) == 1 && first == 0:
		ok = true
	case first == 0 && (last == 90 || last == 180 || last == 360), first == 90 && last == 270:
		ok = true
	case first == 0 && last > 180 && last < 360:
		// All round, the closing plane left out: close it.
		ok = true
		n := len(w.gamma)
		h = append(h, 360)
		w.candela = append(w.candela, w.candela[:n]...)
		w.span = 360
	}
	if !ok {
		s.fail(lineH, "lum-order", "Type C: 0 alone, 0 to 90, 0 to 180, 90 to 270 or 0 to 360.", "horizontal angles from %g to %g", first, last)
		return
	}
	for _, v := range h {
		w.c = append(w.c, v-first)
	}
}
