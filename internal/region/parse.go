package region

import (
	"math"
	"regexp"
	"strconv"
	"strings"

	"lampwise/internal/fault"
)

// Longest name of a region, in letters, and most regions drawn at a time.
const (
	maxName  = 32
	maxDrawn = 64
)

const parseHint = "Write name=x,y,w,h in per cent of the picture from its upper left corner, for example face-lit=41,22,6,9 or lamp=ellipse:70,10,5,8."

var nameForm = regexp.MustCompile(`^[a-z][a-z0-9]*(-[a-z0-9]+)*$`)

// Parse reads a region a person drew: "name=x,y,w,h" or
// "name=ellipse:x,y,w,h", the numbers being per cent of the picture's width
// and height. Names are lower case with hyphens.
func Parse(text string) (Region, error) {
	name, rest, ok := strings.Cut(text, "=")
	if !ok {
		return Region{}, fault.New(fault.Usage, "region-syntax", parseHint, "region %q has no = between name and numbers", text)
	}
	if err := checkName(name); err != nil {
		return Region{}, err
	}
	r := Region{Name: name, Shape: ShapeBox, Confidence: 1, Reason: "drawn"}
	if shape, numbers, ok := strings.Cut(rest, ":"); ok {
		r.Shape, rest = Shape(shape), numbers
		if r.Shape != ShapeBox && r.Shape != ShapeEllipse {
			hint := "A region's shape is box or ellipse."
			if near, ok := fault.Nearest(strings.ToLower(shape), []string{string(ShapeBox), string(ShapeEllipse)}); ok {
				hint = "Did you mean " + near + "?"
			}
			return Region{}, fault.New(fault.Usage, "region-shape", hint, "region %q: shape %q is not known", name, shape)
		}
	}
	v, err := parseNumbers(name, rest)
	if err != nil {
		return Region{}, err
	}
	r.Box = Box{v[0] / 100, v[1] / 100, v[2] / 100, v[3] / 100}
	if v[2] == 0 || v[3] == 0 {
		return Region{}, fault.New(fault.Usage, "region-box", "Give it a width and a height.", "region %q is empty: %s", name, rest)
	}
	if r.Box.X+r.Box.W > 1+boxSlack || r.Box.Y+r.Box.H > 1+boxSlack {
		hint := "The third and fourth numbers are width and height, and x+w and y+h may reach 100."
		if v[2] > v[0] && v[3] > v[1] {
			hint += " If they were meant as the lower right corner, write " + name + "=" + Box{r.Box.X, r.Box.Y, r.Box.W - r.Box.X, r.Box.H - r.Box.Y}.per() + "."
		}
		return Region{}, fault.New(fault.Usage, "region-box", hint, "region %q reaches out of the picture: %s", name, rest)
	}
	return r, nil
}

// ParseAll reads several and refuses a name given twice.
func ParseAll(texts []string) ([]Region, error) {
	if len(texts) > maxDrawn {
		return nil, fault.New(fault.Usage, "region-many", "Draw only what is to be read.", "%d regions, at most %d can be drawn", len(texts), maxDrawn)
	}
	out := make([]Region, 0, len(texts))
	seen := map[string]bool{}
	for _, t := range texts {
		r, err := Parse(t)
		if err != nil {
			return nil, err
		}
		if seen[r.Name] {
			return nil, fault.New(fault.Usage, "region-twice", "Give each region once, or number them: "+r.Name+"-2.", "region %q is drawn twice", r.Name)
		}
		seen[r.Name] = true
		out = append(out, r)
	}
	return out, nil
}

// String writes a drawn region as Parse reads it; a mask is left out.
func (r Region) String() string {
	if r.Shape == ShapeEllipse {
		return r.Name + "=" + string(ShapeEllipse) + ":" + r.Box.per()
	}
	return r.Name + "=" + r.Box.per()
}

// per writes the box in per cent.
func (b Box) per() string {
	var s []string
	for _, v := range []float64{b.X, b.Y, b.W, b.H} {
		s = append(s, strconv.FormatFloat(math.Round(v*1e8)/1e6, 'f', -1, 64))
	}
	return strings.Join(s, ",")
}

func checkName(name string) error {
	bad := func(hint, format string, args ...any) error {
		return fault.New(fault.Usage, "region-name", hint, format, args...)
	}
	if name == "" {
		return bad(parseHint, "a region has no name")
	}
	if len(name) > maxName {
		return bad("Use a shorter name.", "region %.40q: a name has at most %d letters", name, maxName)
	}
	if !nameForm.MatchString(name) {
		hint := "Names are lower case with hyphens, such as face-lit or work-bench."
		if plain := plainName(name); nameForm.MatchString(plain) {
			hint = "Names are lower case with hyphens: write " + plain + "."
		}
		return bad(hint, "region name %q isn't lower case with hyphens", name)
	}
	for _, known := range Names() {
		// A short word one letter off ("chair", "cars") is likelier a name of the user's own.
		if len(known) >= 8 && oneEdit(name, known) {
			return bad("Did you mean "+known+"? For a region of your own choose a name that can't be mistaken for it.", "region name %q is one letter off %s", name, known)
		}
	}
	return nil
}

// plainName lowers a name and turns what stands between its words into hyphens.
func plainName(name string) string {
	words := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= '0' && r <= '9')
	})
	return strings.Join(words, "-")
}

// oneEdit says whether a becomes b by one letter added, dropped or changed.
func oneEdit(a, b string) bool {
	if len(a) > len(b) {
		a, b = b, a
	}
	if a == b || len(b)-len(a) > 1 {
		return false
	}
	i := 0
	for i < len(a) && a[i] == b[i] {
		i++
	}
	if len(a) == len(b) {
		return a[i+1:] == b[i+1:]
	}
	return a[i:] == b[i+1:]
}

func parseNumbers(name, text string) ([4]float64, error) {
	var v [4]float64
	parts := strings.Split(text, ",")
	if len(parts) != len(v) {
		return v, fault.New(fault.Usage, "region-syntax", parseHint, "region %q has %d numbers, not 4", name, len(parts))
	}
	for i, p := range parts {
		p = strings.TrimSpace(p)
		x, err := strconv.ParseFloat(p, 64)
		if strings.HasSuffix(p, "%") {
			return v, fault.New(fault.Usage, "region-syntax", "Leave the % out: the numbers are per cent as they stand.", "region %q: %q is not a plain number", name, p)
		}
		if err != nil || math.IsNaN(x) || math.IsInf(x, 0) || strings.ContainsAny(p, "xXpP_") {
			return v, fault.New(fault.Usage, "region-syntax", parseHint, "region %q: %q is not a number", name, p)
		}
		if x < 0 || x > 100 {
			return v, fault.New(fault.Usage, "region-box", "Numbers are per cent of the picture, not pixels.", "region %q: %s is not between 0 and 100", name, p)
		}
		v[i] = x
	}
	return v, nil
}
