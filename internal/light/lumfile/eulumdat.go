package lumfile

import (
	"math"
	"strings"

	"lampwise/internal/unit"
)

// EULUMDAT (Stockmar, 1990): one value a line. Layout from memory of the
// published description, held to laboratories' files.

// The format's numbers.
const (
	maxSets      = 20
	ratioLines   = 10
	millimetres  = 1000.0
	perThousand  = 1000.0
	fieldsOfASet = 6
)

// field reads the next line as a number.
func (r *reader) field(what string) (float64, error) {
	if r.at >= len(r.lines) {
		return 0, r.fault(len(r.lines), "lum-short", "The file is cut, or its counts are wrong.", "the file ends where %s is expected", what)
	}
	r.at++
	return r.number(strings.TrimSpace(r.lines[r.at-1]), r.at, what)
}

func (r *reader) text(what string) (string, error) {
	if r.at >= len(r.lines) {
		return "", r.fault(len(r.lines), "lum-short", "The file is cut.", "the file ends where %s is expected", what)
	}
	r.at++
	return strings.TrimSpace(r.lines[r.at-1]), nil
}

func (r *reader) eulumdat() (*Web, error) {
	w := &Web{Format: "EULUMDAT"}
	if _, err := r.text("the company"); err != nil {
		return nil, err
	}
	var head [6]int // type, symmetry, C planes, their step, γ angles, their step
	for i, c := range []struct {
		what   string
		lo, hi int
	}{{"the type", 0, 3}, {"the symmetry", 0, 4}, {"the number of C planes", 1, maxAngles}, {"", 0, 0}, {"the number of γ angles", 2, maxAngles}, {"", 0, 0}} {
		if c.what == "" {
			if _, err := r.field("a step of angles"); err != nil {
				return nil, err
			}
			continue
		}
		v, err := r.field(c.what)
		if err != nil {
			if i == 0 {
				return nil, r.fault(r.at, "lum-format", "LM-63 (.ies) and EULUMDAT (.ldt) files are read.", "this is neither an LM-63 nor an EULUMDAT file")
			}
			return nil, err
		}
		if head[i], err = r.whole(v, r.at, c.lo, c.hi, c.what); err != nil {
			return nil, err
		}
	}
	isym, mc, ng := head[1], head[2], head[4]
	if mc*ng > maxValues {
		return nil, r.fault(r.at, "lum-many", "", "%d × %d candela values; at most %d", mc, ng, maxValues)
	}
	if isym >= 2 && mc%4 != 0 && (isym != 2 || mc%2 != 0) {
		return nil, r.fault(4, "lum-count", "With this symmetry the planes come in fours.", "%d C planes with symmetry %d", mc, isym)
	}
	for _, what := range []string{"the report's number", "the lamp's name", "the lamp's number", "the file's name", "date and user"} {
		t, err := r.text(what)
		if err != nil {
			return nil, err
		}
		if what == "the lamp's name" {
			w.Says = t
		}
	}
	factor, err := r.measures(w)
	if err != nil {
		return nil, err
	}
	flux, err := r.sets(w)
	if err != nil {
		return nil, err
	}
	if err := r.intensities(w, isym, mc, ng); err != nil {
		return nil, err
	}
	// Intensities are for 1000 lm of the lamps. A negative count of lamps marks
	// absolute photometry: the flux is then the luminaire's own, and the rule is
	// the same.
	w.Lamp = unit.Lumen(flux)
	k := factor * flux / perThousand
	for i := range w.candela {
		w.candela[i] *= k
	}
	return w, nil
}

// measures reads lines 13 to 25 and gives the conversion factor.
func (r *reader) measures(w *Web) (factor float64, err error) {
	names := []string{
		"the length", "the width", "the height", "the opening's length", "the opening's width",
		"a height of the opening", "a height of the opening", "a height of the opening", "a height of the opening",
		"the downward fraction", "the light output ratio", "the conversion factor", "the tilt",
	}
	for i, what := range names {
		v, err := r.field(what)
		if err != nil {
			return 0, err
		}
		lo, hi := 0.0, 1e5
		switch i {
		case 3:
			w.Opening[1] = unit.Metre(v / millimetres)
		case 4:
			w.Opening[0] = unit.Metre(v / millimetres)
			if v == 0 {
				w.Opening[0] = w.Opening[1] // round
			}
		case 9, 10:
			hi = 200
		case 11:
			factor = v
			lo, hi = 1e-6, 1e6
		case 12:
			lo, hi = -360, 360
		}
		if !(v >= lo && v <= hi) {
			return 0, r.fault(r.at, "lum-range", "", "%s is %g; it must be %g to %g", what, v, lo, hi)
		}
	}
	return factor, nil
}

// sets reads the sets of lamps and gives the flux of the first.
func (r *reader) sets(w *Web) (flux float64, err error) {
	v, err := r.field("the number of lamp sets")
	if err != nil {
		return 0, err
	}
	n, err := r.whole(v, r.at, 1, maxSets, "the number of lamp sets")
	if err != nil {
		return 0, err
	}
	for i := range n {
		for k := range fieldsOfASet {
			switch k {
			case 1, 3, 4: // type, colour, rendering: texts
				if _, err := r.text("a lamp set's text"); err != nil {
					return 0, err
				}
			default:
				what := [...]string{"the number of lamps", "", "the lamps' flux", "", "", "watts"}[k]
				t, err := r.text(what)
				if err != nil {
					return 0, err
				}
				if t == "" && k == 5 {
					t = "0"
				}
				v, err := r.number(t, r.at, what)
				if err != nil {
					return 0, err
				}
				if !(math.Abs(v) <= 1e8) || (k == 2 && !(v > 0)) {
					return 0, r.fault(r.at, "lum-range", "", "%s is %g", what, v)
				}
				if i > 0 {
					continue
				}
				switch k {
				case 2:
					flux = v
				case 5:
					w.Watts = unit.Watt(math.Max(0, v))
				}
			}
		}
	}
	for range ratioLines {
		if _, err := r.field("a direct ratio"); err != nil {
			return 0, err
		}
	}
	return flux, nil
}

// intensities reads the angles and the planes that are stored.
func (r *reader) intensities(w *Web, isym, mc, ng int) error {
	list := func(n int, what string) ([]float64, error) {
		out := make([]float64, 0, min(n, len(r.lines)))
		for range n {
			v, err := r.field(what)
			if err != nil {
				return nil, err
			}
			out = append(out, v)
		}
		return out, nil
	}
	c, err := list(mc, "a C angle")
	if err != nil {
		return err
	}
	if err := r.ascending(c, r.at, "C angle"); err != nil {
		return err
	}
	if c[0] < 0 || c[mc-1] > 360 {
		return r.fault(r.at, "lum-range", "", "C angles from %g to %g", c[0], c[mc-1])
	}
	if w.gamma, err = list(ng, "a γ angle"); err != nil {
		return err
	}
	if err := r.ascending(w.gamma, r.at, "γ angle"); err != nil {
		return err
	}
	if w.gamma[0] < 0 || w.gamma[ng-1] > 180 {
		return r.fault(r.at, "lum-range", "", "γ angles from %g to %g", w.gamma[0], w.gamma[ng-1])
	}
	first, count := 0, mc
	switch isym {
	case 0:
		w.span = 360
	case 1:
		count, w.span = 1, 0
	case 2:
		count, w.span = mc/2+1, 180
	case 3:
		first, count, w.span = 3*mc/4, mc/2+1, 180
	case 4:
		count, w.span = mc/4+1, 90
	}
	w.start = c[first]
	want := map[int]float64{0: 0, 1: 0, 2: 0, 3: 270, 4: 0}[isym]
	if w.start != want {
		return r.fault(r.at, "lum-order", "", "with symmetry %d the first stored plane is at %g, not %g", isym, w.start, want)
	}
	for i := range count {
		v := c[(first+i)%mc] - w.start
		if v < 0 {
			v += 360
		}
		w.c = append(w.c, v)
	}
	if isym >= 2 && math.Abs(w.c[count-1]-w.span) > 1e-6 {
		return r.fault(r.at, "lum-order", "The C planes don't fit the symmetry.", "the stored planes reach %g of %g degrees", w.c[count-1], w.span)
	}
	if w.candela, err = list(count*ng, "a candela value"); err != nil {
		return err
	}
	for i, v := range w.candela {
		if v < 0 || v > 1e9 {
			return r.fault(r.at-len(w.candela)+1+i, "lum-negative", "Candela can't be negative.", "candela value %d is %g", i+1, v)
		}
	}
	if r.at < len(r.lines) {
		return r.fault(r.at+1, "lum-long", "The counts of angles are wrong, or two files were joined.", "there are lines after the last candela value")
	}
	if isym == 0 {
		// Close the circle.
		if w.c[mc-1] < 360 {
			w.c = append(w.c, 360)
			w.candela = append(w.candela, w.candela[:ng]...)
		}
		if len(w.c) == 1 {
			w.span = 0
		}
	}
	if isym == 1 {
		w.c = w.c[:1]
	}
	return nil
}
