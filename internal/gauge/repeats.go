package gauge

import (
	"fmt"
	"math"
	"slices"

	"lampwise/internal/unit"
)

// Repeats finds frames that show the one before again, and frames that are
// missing by their times. A camera's noise makes each frame differ from the
// last even where nothing moves; one that hardly differs is a copy.
type Repeats struct {
	frames  int
	pairs   int
	last    View      // Index and Time only
	recent  []float64 // usual differences, the last of them
	quiet   []float64 // likewise, of the quieter half of the picture
	parts   []float64
	first   []framePair // that wait until these are known
	warm    bool
	doubled []Repeat
	doubles int
	gaps    []TimeGap
	missing int
	runFrom float64
	runTo   float64
	runN    int
	runSure int // of runN: that are told from frames that happen to be alike
	frozen  int // doubles in freezes
	freezes []Moment
	between map[int]int // frames from one double to the next
	since   int
	steps   []float64
	stillN  int
}

// Repeat is a frame that repeats the one before.
type Repeat struct {
	Index int     `json:"index"`
	Time  float64 `json:"time"`
	Part  float64 `json:"part"` // its difference, as a part of what is usual
}

// TimeGap is a place where frames are missing.
type TimeGap struct {
	Index  int     `json:"index"` // of the frame after it
	Time   float64 `json:"time"`
	Frames int     `json:"frames"` // that are missing
}

const (
	copyPart   = 0.25 // of the usual difference: a copy, a codec's error allowed for
	usualOf    = 25   // frames whose median difference is the usual one
	usualLeast = 0.1  // 10-bit codes; where less is usual, still frames can't be told from copies
	quietPart  = 64   // samples of a row that are judged together
	gapPart    = 1.5  // of the usual step
	freezeTime = 0.5  // s of copies in a row
	mostEvents = 64
)

// Add looks at a frame.
func (r *Repeats) Add(v *View) {
	r.frames++
	if r.frames > 1 && v.Index == r.last.Index+1 {
		r.time(v)
	}
	r.last.Index, r.last.Time = v.Index, v.Time
	b := v.Before
	if b == nil {
		if len(r.first) > 0 {
			r.judgeFirst()
		}
		r.endRun()
		r.since = 0
		return
	}
	r.pairs++
	// Every second row of samples is enough.
	sum, n := 0, 0
	r.parts = r.parts[:0]
	for y := 0; y < v.H; y += 2 {
		now, before := v.Y[y*v.W:(y+1)*v.W], b.Y[y*v.W:][:v.W]
		for x := 0; x < len(now); x += quietPart {
			end, part := min(x+quietPart, len(now)), 0
			for i, c := range now[x:end] {
				d := int(c) - int(before[x+i])
				part += max(d, -d)
			}
			sum += part
			r.parts = append(r.parts, float64(part)/float64(end-x))
		}
		n += len(now)
	}
	unit := 1024 / float64(int(1)<<v.Bits)
	p := framePair{v.Index, v.Time, b.Time, float64(sum) / float64(n) * unit, median(r.parts) * unit}
	if r.warm {
		r.judge(p)
		return
	}
	// The first frames wait until it is known what is usual.
	if r.first = append(r.first, p); len(r.first) == usualOf/2 {
		r.judgeFirst()
	}
}

// framePair is a frame with the one before it.
type framePair struct {
	index        int
	time, before float64
	d            float64 // mean difference, in 10-bit codes
	quiet        float64 // likewise, of the part of the picture that half of it lies under
}

func (r *Repeats) judgeFirst() {
	for _, p := range r.first {
		if p.d > 0 {
			r.recent, r.quiet = append(r.recent, p.d), append(r.quiet, p.quiet)
		}
	}
	r.warm = true
	for _, p := range r.first {
		r.judge(p)
	}
	r.first = nil
}

func (r *Repeats) judge(p framePair) {
	usual := 0.0
	if len(r.recent) > 0 {
		usual = median(append([]float64(nil), r.recent...))
	}
	// Somebody who pauses makes a frame differ less than is usual, but leaves the
	// noise of what stands still anyway.
	quiet := 0.0
	if len(r.quiet) > 0 {
		quiet = median(append([]float64(nil), r.quiet...))
	}
	if p.d == 0 || usual >= usualLeast && p.d < copyPart*usual && (quiet < usualLeast || p.quiet < copyPart*quiet) {
		part := 0.0
		if usual > 0 {
			part = p.d / usual
		}
		if r.runN == 0 {
			r.runFrom = p.before
		}
		r.runN++
		r.runTo = p.time
		// Without noise neighbours may be alike by chance, or as a codec that
		// spares still parts has them: only a long run of those means something.
		if usual >= usualLeast {
			r.runSure++
			r.double(p, part)
		} else {
			r.since++
			r.stillN++
		}
		return
	}
	r.since++
	r.endRun()
	if usual < usualLeast {
		r.stillN++
	}
	r.recent, r.quiet = append(r.recent, p.d), append(r.quiet, p.quiet)
	if len(r.recent) > usualOf {
		r.recent, r.quiet = r.recent[1:], r.quiet[1:]
	}
}

func (r *Repeats) double(p framePair, part float64) {
	r.doubles++
	r.since++
	if r.between == nil {
		r.between = map[int]int{}
	}
	if len(r.between) < mostEvents || r.between[r.since] > 0 {
		r.between[r.since]++
	}
	r.since = 0
	if len(r.doubled) < mostEvents {
		r.doubled = append(r.doubled, Repeat{p.index, p.time, part})
	}
}

func (r *Repeats) endRun() {
	if r.runN > 0 && r.runTo-r.runFrom >= freezeTime && len(r.freezes) < mostEvents {
		r.freezes = append(r.freezes, Moment{From: r.runFrom, To: r.runTo, N: r.runN})
		r.doubles += r.runN - r.runSure // a freeze is one whatever the noise
		r.frozen += r.runN
	}
	r.runN, r.runSure = 0, 0
}

// time compares the step from the frame before with the usual one.
func (r *Repeats) time(v *View) {
	step := v.Time - r.last.Time
	if len(r.steps) >= usualOf/2 {
		usual := median(append([]float64(nil), r.steps...))
		if usual > 0 && step > gapPart*usual {
			n := int(math.Round(step/usual)) - 1
			r.missing += n
			if len(r.gaps) < mostEvents {
				r.gaps = append(r.gaps, TimeGap{v.Index, v.Time, n})
			}
			return
		}
	}
	if r.steps = append(r.steps, step); len(r.steps) > 4*usualOf {
		r.steps = r.steps[1:]
	}
}

// Repeated is what Repeats found.
type Repeated struct {
	Frames  int `json:"frames"`
	Pairs   int `json:"pairs"`
	Doubled int `json:"doubled"`
	Missing int `json:"missing"`
	// Cadence is the number of frames of which one is a copy, 0 when copies
	// come at no fixed distance; Rate is what was filmed then, in 1/s.
	Cadence  int        `json:"cadence"`
	Rate     unit.Hertz `json:"rate"`
	Copies   []Repeat   `json:"copies,omitempty"` // the first of them
	Gaps     []TimeGap  `json:"gaps,omitempty"`
	Freezes  []Moment   `json:"freezes,omitempty"`
	Problems []Problem  `json:"problems,omitempty"`
	Notes    []string   `json:"notes,omitempty"`
}

// Result tells.
func (r *Repeats) Result() Repeated {
	if len(r.first) > 0 {
		r.judgeFirst()
	}
	whole := *r // what comes after may go on with a run that ends here
	whole.endRun()
	r = &whole
	freezes := append([]Moment(nil), r.freezes...)
	out := Repeated{Frames: r.frames, Pairs: r.pairs, Doubled: r.doubles, Missing: r.missing, Copies: r.doubled, Gaps: r.gaps, Freezes: freezes}
	if r.pairs == 0 {
		out.Notes = append(out.Notes, "no two neighbouring frames were looked at, so copies can't be told")
		return out
	}
	if 2*r.stillN > r.pairs {
		out.Notes = append(out.Notes, "the picture stands still and has no noise, so copies can't be told from frames that happen to be alike")
	}
	for _, f := range freezes {
		out.Problems = append(out.Problems, Problem{
			Kind: "freeze", What: fmt.Sprintf("the picture stands still for %.1f s", f.To-f.From), Size: f.To - f.From, Error: 2 * (f.To - f.From) / float64(f.N), Unit: "s", From: f.From, To: f.To,
			Severity: Fault, Advice: "look there: a recording or an encoding that got stuck, unless it is a still on purpose",
		})
	}
	if loose := r.doubles - r.frozen; loose > 0 {
		r.copies(&out, loose)
	}
	if r.missing > 0 {
		places := "one place"
		if n := len(r.gaps); n > 1 {
			places = fmt.Sprintf("%d places", n)
		}
		out.Problems = append(out.Problems, Problem{
			Kind: "frames-missing", What: framesThat(r.missing, "is", "are") + " missing by their times, at " + places, Size: float64(r.missing), Unit: "frames",
			From: r.gaps[0].Time, To: r.gaps[len(r.gaps)-1].Time, Severity: Fault, Advice: "use a faster card or a lower data rate; in a file made from this clip, check the frame rate setting",
		})
	}
	return out
}

func framesThat(n int, one, several string) string {
	if n == 1 {
		return "one frame " + one
	}
	return fmt.Sprintf("%d frames %s", n, several)
}

func (r *Repeats) copies(out *Repeated, n int) {
	p := Problem{Kind: "frames-doubled", What: framesThat(n, "repeats", "repeat") + " the one before", Size: float64(n), Unit: "frames", Severity: Warn, Advice: "motion stutters there: record at the rate you publish, with a card fast enough, and convert no frame rates"}
	if len(r.doubled) > 0 {
		p.From, p.To = r.doubled[0].Time, r.doubled[len(r.doubled)-1].Time
	}
	most, at := 0, 0
	for gap, c := range r.between {
		if c > most || c == most && gap < at {
			most, at = c, gap
		}
	}
	// The first distance runs from the clip's start and means nothing.
	const fewest = 4
	if at > 1 && most >= fewest && float64(most) > 0.8*float64(r.doubles-1) && len(r.steps) > 0 {
		out.Cadence = at
		rate := 1 / median(slices.Clone(r.steps))
		out.Rate = unit.Hertz(rate * float64(at-1) / float64(at))
		p.What = fmt.Sprintf("one frame in %d repeats the one before: %.3g pictures a second in a file of %.3g", at, float64(out.Rate), rate)
		p.Advice = "the clip was made at another rate: take it back to its own rate, or record at the rate you publish"
	}
	out.Problems = append(out.Problems, p)
}
