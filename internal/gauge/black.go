package gauge

import "fmt"

// Black finds stretches in which a finished file shows nothing. (Stretches in
// which it stands still are found by Repeats.)
type Black struct {
	frames   int
	from, to float64
	n        int
	step     float64
	last     float64
	found    []Moment
}

const (
	// BlackTime is how long, in s, the picture must be black to be told.
	BlackTime = 0.2

	blackLevel = 0.02 // E′; what is darker is black to the eye (common practice, no source)
	blackPart  = 0.98 // of the picture

	timeRounding = 1e-6 // s
)

// Add looks at a frame.
func (b *Black) Add(v *View) {
	if b.frames > 0 {
		b.step = v.Time - b.last
	}
	b.frames++
	b.last = v.Time
	m := codeToE(v.Format)
	dark := 0
	for _, c := range v.Mean {
		if m.luma(c) < blackLevel {
			dark++
		}
	}
	if float64(dark) < blackPart*float64(len(v.Mean)) {
		b.end()
		return
	}
	if b.n == 0 {
		b.from = v.Time
	}
	b.n++
	b.to = v.Time
}

// end closes a black stretch; its last frame is shown for a step more. A clip
// that is nothing but black is told however short.
func (b *Black) end() {
	if b.n > 0 && len(b.found) < mostEvents {
		if m := (Moment{From: b.from, To: b.to + b.step, N: b.n}); m.To-m.From >= BlackTime-timeRounding || b.n == b.frames {
			b.found = append(b.found, m)
		}
	}
	b.n = 0
}

// Blacked is what Black found.
type Blacked struct {
	Frames   int       `json:"frames"`
	Black    []Moment  `json:"black,omitempty"`
	Problems []Problem `json:"problems,omitempty"`
}

// Result tells.
func (b *Black) Result() Blacked {
	open := *b
	open.found = append([]Moment(nil), b.found...)
	open.end()
	out := Blacked{Frames: b.frames, Black: open.found}
	for _, m := range out.Black {
		p := Problem{
			Kind: "black", What: fmt.Sprintf("the picture is black for %.2f s", m.To-m.From), Size: m.To - m.From, Error: 2 * b.step, Unit: "s", From: m.From, To: m.To,
			Severity: Warn, Advice: "look there: a gap between two cuts, or meant so",
		}
		if m.N == b.frames {
			p.What, p.Severity, p.Advice = "all that was looked at is black", Fault, "the lens was capped, or the wrong file was taken"
		}
		out.Problems = append(out.Problems, p)
	}
	return out
}
