package lamps

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"lampwise/internal/fault"
)

// The most an order may hold: what a person switches by hand in one clip.
const (
	MaxLamps     = 12   // 5-lamps.md, Solve
	MaxHolds     = 64   // at 2 s each more than two minutes of switching
	maxOrderText = 4096 // bytes
	maxLampName  = 32   // letters
)

const (
	wordAll  = "all"
	wordDark = "dark"
)

// Order is what was switched in a switch clip, hold after hold.
type Order struct {
	Lamps []string // in order of first mention, or as they were given
	Holds []OrderHold
}

// OrderHold is one hold of an order.
type OrderHold struct {
	// Setting holds one number a lamp: 0 off, 1 full, between them what its
	// dimmer was said to read (0.5 = 50 %). The level in light follows from
	// the dimmer curve.
	Setting []float64
}

// ParseOrder reads an order such as
//
//	all, -key, all, -rim        everything on, then one lamp off at a time
//	dark, key, rim, key+rim     everything off, then the lamps named
//	all, all+key=50%, key=25%   dimmer readings in per cent
//
// Holds are separated by commas. A hold is "all", "dark", or a list of lamps
// joined by "+"; one that begins with "-" starts from all lamps and takes the
// named ones away ("-key -rim"). A name is letters, digits, "_" and, inside,
// "-". lamps, when not nil, lists the only names allowed (a set already
// learned); when nil the names come from the order. Every error is a fault.
func ParseOrder(text string, lamps []string) (*Order, error) {
	if len(text) > maxOrderText {
		return nil, badOrder("an order has at most 4096 characters", "order is %d characters long", len(text))
	}
	p := &orderParser{known: lamps != nil, index: map[string]int{}}
	for _, l := range lamps {
		if err := p.declare(l); err != nil {
			return nil, err
		}
	}
	parts := strings.Split(strings.ReplaceAll(text, "−", "-"), ",")
	if len(parts) > MaxHolds {
		return nil, badOrder("film the lamps in two clips", "order has %d holds; the most is %d", len(parts), MaxHolds)
	}
	holds := make([][]orderTerm, len(parts))
	for i, part := range parts {
		terms, err := p.terms(i+1, strings.TrimSpace(part))
		if err != nil {
			return nil, err
		}
		holds[i] = terms
	}
	o := &Order{Lamps: p.lamps}
	if len(o.Lamps) == 0 {
		return nil, badOrder(`name the lamps, for example "all, -key, all, -rim"`, "order names no lamp")
	}
	for i, terms := range holds {
		setting, err := p.setting(i+1, terms)
		if err != nil {
			return nil, err
		}
		o.Holds = append(o.Holds, OrderHold{Setting: setting})
	}
	return o, nil
}

// String writes the order in the form ParseOrder reads.
func (o *Order) String() string {
	parts := make([]string, len(o.Holds))
	for i := range o.Holds {
		parts[i] = o.HoldText(i)
	}
	return strings.Join(parts, ", ")
}

// HoldText writes hold i as an order would ("-key", "key+rim=50%").
func (o *Order) HoldText(i int) string { return settingText(o.Lamps, o.Holds[i].Setting) }

// settingText picks the shorter of the two ways to write a hold.
func settingText(lamps []string, setting []float64) string {
	var on, off, dim []string
	for l, v := range setting {
		switch v {
		case 0:
			off = append(off, "-"+lamps[l])
		case 1:
			on = append(on, lamps[l])
		default:
			dim = append(dim, lamps[l]+"="+strconv.FormatFloat(v*100, 'g', 10, 64)+"%")
		}
	}
	switch {
	case len(on)+len(dim) == 0:
		return wordDark
	case len(off)+len(dim) == 0:
		return wordAll
	case len(on) <= len(off):
		return strings.Join(append(on, dim...), "+")
	}
	text := strings.Join(off, " ")
	if len(off) == 0 {
		text = wordAll
	}
	for _, d := range dim {
		text += "+" + d
	}
	return text
}

type orderTerm struct {
	word   string
	remove bool
	value  float64 // setting; 1 when none was said
	valued bool
}

type orderParser struct {
	known bool
	lamps []string
	index map[string]int
}

// declare adds a lamp.
func (p *orderParser) declare(name string) error {
	if err := CheckLampName(name); err != nil {
		return err
	}
	if _, ok := p.index[name]; ok {
		return badOrder("give each lamp its own name", "lamp %q is named twice", name)
	}
	for _, l := range p.lamps {
		if strings.EqualFold(l, name) {
			return badOrder("write the name the same way each time", "lamps %q and %q differ only in capitals", l, name)
		}
	}
	if len(p.lamps) == MaxLamps {
		return badOrder("lamps always switched together count as one", "order names more than %d lamps", MaxLamps)
	}
	p.index[name] = len(p.lamps)
	p.lamps = append(p.lamps, name)
	return nil
}

// CheckLampName says whether a lamp may bear the name.
func CheckLampName(name string) error {
	const hint = `a name is letters, digits, "_" and, inside, "-"; for example key, rim, tail-lamp`
	if name == "" {
		return badOrder(hint, "a lamp has no name")
	}
	if len([]rune(name)) > maxLampName {
		return badOrder(fmt.Sprintf("use at most %d letters", maxLampName), "lamp name %q is too long", name)
	}
	for i, r := range name {
		inside := i > 0 && i < len(name)-1
		if !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '_' && (r != '-' || !inside) {
			return badOrder(hint, "lamp name %q has %q in it", name, r)
		}
	}
	switch strings.ToLower(name) {
	case wordAll, wordDark, "none", "off", "on", "ambient":
		return badOrder(`"all" is every lamp, "dark" is no lamp; ambient light is always there and isn't named`, "%q can't be a lamp's name", name)
	}
	return nil
}

// terms splits one hold into its words. A minus works as one only at the start
// of a word, since names may have a hyphen inside.
func (p *orderParser) terms(number int, text string) ([]orderTerm, error) {
	if text == "" {
		return nil, badOrder(`write "dark" for a hold with every lamp off`, "hold %d of the order is empty", number)
	}
	var terms []orderTerm
	for i := 0; i < len(text); {
		sign := byte(0)
		start := i
		for i < len(text) && (text[i] == ' ' || text[i] == '\t' || text[i] == '+' || text[i] == '-') {
			if text[i] == '+' || text[i] == '-' {
				if sign != 0 {
					return nil, badOrder("one sign before each lamp", "hold %d of the order, %q: two signs follow each other", number, text)
				}
				sign = text[i]
			}
			i++
		}
		if len(terms) > 0 && sign == 0 && i > start {
			return nil, badOrder(`join lamps with "+", holds with ","`, "hold %d of the order, %q: a sign is missing between two lamps", number, text)
		}
		if len(terms) == 0 && sign == '+' {
			return nil, badOrder(`write "key+rim"`, "hold %d of the order, %q, begins with a plus", number, text)
		}
		end := i
		for end < len(text) && !strings.ContainsRune(" \t+", rune(text[end])) {
			end++
		}
		if end == i {
			return nil, badOrder("name a lamp after the sign", "hold %d of the order, %q, ends in a sign", number, text)
		}
		term, err := p.term(number, text[i:end], sign == '-')
		if err != nil {
			return nil, err
		}
		terms = append(terms, term)
		i = end
	}
	return terms, nil
}

// term reads one word, with its per cent if it has one.
func (p *orderParser) term(number int, word string, remove bool) (orderTerm, error) {
	t := orderTerm{remove: remove, value: 1}
	name, value, valued := strings.Cut(word, "=")
	t.word, t.valued = name, valued
	if valued {
		v, err := parseSetting(number, name, value)
		if err != nil {
			return t, err
		}
		if remove {
			return t, badOrder(fmt.Sprintf("write %s=%s or -%s", name, value, name), "hold %d of the order: -%s has a level", number, word)
		}
		t.value = v
	}
	if name == wordAll || name == wordDark {
		if remove || valued {
			return t, badOrder(`"all" and "dark" stand alone or first`, "hold %d of the order: %q takes no sign and no level", number, name)
		}
		return t, nil
	}
	if lower := strings.ToLower(name); lower == wordAll || lower == wordDark || lower == "none" || lower == "off" || lower == "on" {
		return t, badOrder(`write "all" for every lamp on, "dark" for every lamp off`, "hold %d of the order: %q is no lamp", number, name)
	}
	if _, ok := p.index[name]; ok {
		return t, nil
	}
	if p.known {
		return t, unknownLamp(fmt.Sprintf("hold %d of the order", number), name, p.lamps)
	}
	if a, b, ok := p.joined(name); ok {
		return t, badOrder(fmt.Sprintf("write -%s -%s with a space to take both away", a, b), "hold %d of the order: is %q one lamp or two?", number, name)
	}
	return t, p.declare(name)
}

// joined says whether a name with a hyphen is two names already met.
func (p *orderParser) joined(name string) (a, b string, ok bool) {
	for i := range name {
		if name[i] != '-' {
			continue
		}
		_, okA := p.index[name[:i]]
		_, okB := p.index[name[i+1:]]
		if okA && okB {
			return name[:i], name[i+1:], true
		}
	}
	return "", "", false
}

// setting turns one hold's words into a number for each lamp.
func (p *orderParser) setting(number int, terms []orderTerm) ([]float64, error) {
	s := make([]float64, len(p.lamps))
	base := terms[0]
	if base.word == wordAll || base.remove {
		for i := range s {
			s[i] = 1
		}
	}
	seen := map[string]bool{}
	for k, t := range terms {
		if t.word == wordAll || t.word == wordDark {
			if k > 0 {
				return nil, badOrder(`write "all" or "dark" first`, "hold %d of the order: %q isn't first", number, t.word)
			}
			if t.word == wordDark && len(terms) > 1 {
				return nil, badOrder(`"dark" stands alone`, "hold %d of the order: dark with a lamp on", number)
			}
			continue
		}
		if seen[t.word] {
			return nil, badOrder("name each lamp once in a hold", "hold %d of the order names %q twice", number, t.word)
		}
		seen[t.word] = true
		i := p.index[t.word]
		switch {
		case t.remove && base.word != wordAll && !base.remove:
			return nil, badOrder(fmt.Sprintf("what isn't named is off already: leave -%s out, or begin with all", t.word), "hold %d of the order takes %q away from lamps named one by one", number, t.word)
		case t.remove:
			s[i] = 0
		case !t.valued && s[i] == 1:
			return nil, badOrder("leave it out, or give it a level such as "+t.word+"=50%", "hold %d of the order: %q is on already", number, t.word)
		default:
			s[i] = t.value
		}
	}
	return s, nil
}

func parseSetting(number int, name, value string) (float64, error) {
	hint := fmt.Sprintf("write what the dimmer reads, for example %s=50%%", name)
	digits, ok := strings.CutSuffix(value, "%")
	if !ok {
		return 0, badOrder(hint, "hold %d of the order: %s=%s has no per cent sign", number, name, value)
	}
	if strings.ContainsAny(digits, "xXpPeE_+-") { // only what a dimmer shows
		return 0, badOrder(hint, "hold %d of the order: %s=%s is no per cent", number, name, value)
	}
	v, err := strconv.ParseFloat(digits, 64)
	if err != nil || !(v > 0 && v <= 100) {
		return 0, badOrder(hint+"; a lamp that is off isn't named", "hold %d of the order: %s=%s is not above 0 and at most 100 %%", number, name, value)
	}
	return v / 100, nil
}

// unknownLamp is the fault for a name that isn't one of the set's.
func unknownLamp(where, name string, lamps []string) error {
	hint := "the lamps are " + strings.Join(lamps, ", ")
	if near, ok := fault.Nearest(name, lamps); ok {
		hint = fmt.Sprintf("did you mean %q? %s", near, hint)
	}
	return fault.New(fault.Usage, "lamp-unknown", hint, "%s: no lamp is called %q", where, name)
}

func badOrder(hint, format string, args ...any) error {
	return fault.New(fault.Usage, "order-syntax", hint, format, args...)
}

// Same says whether two holds of the order have every lamp alike.
func (o *Order) Same(i, j int) bool { return slices.Equal(o.Holds[i].Setting, o.Holds[j].Setting) }
