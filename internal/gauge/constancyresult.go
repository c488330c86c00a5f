package gauge

import (
	"fmt"
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/unit"
)

// Steady is what Constancy found.
type Steady struct {
	Frames int `json:"frames"`
	// Known is false where nothing can be told, and Notes say why.
	Known bool `json:"known"`
	// Exposure is in stops, White in mired (positive warmer), Tint in Duv
	// (positive toward green), all against the clip's first second.
	Exposure []Moment  `json:"exposure,omitempty"`
	White    []Moment  `json:"white,omitempty"`
	Tint     []Moment  `json:"tint,omitempty"`
	Changes  []Change  `json:"changes,omitempty"`
	Problems []Problem `json:"problems,omitempty"`
	Notes    []string  `json:"notes,omitempty"`
}

// Change is one jump or drift.
type Change struct {
	Of    string  `json:"of"` // "exposure", "white" or "light"
	Jump  bool    `json:"jump"`
	From  float64 `json:"from"` // s
	To    float64 `json:"to"`
	Size  float64 `json:"size"` // stops or mired
	Error float64 `json:"error"`
}

// Result says what changed.
func (c *Constancy) Result() Steady {
	out := Steady{Frames: c.frames}
	if c.cam.Curve == nil {
		out.Notes = append(out.Notes, "the camera's curve isn't known, so changes have no size in stops")
		return out
	}
	var t, g, warm, apart []float64
	axes := whiteAxes(c.cam.Gamut)
	moved := 0
	for _, b := range c.over.bins {
		if b.v[0].n == 0 {
			continue
		}
		mean := func(k int) float64 { return b.v[k].sum / float64(b.v[k].n) }
		w, d := axes.split(mean(1), mean(2))
		t, g, warm, apart = append(t, (b.from+b.to)/2), append(g, mean(0)), append(warm, w), append(apart, mean(3))
		if mean(4) < otherPicture {
			moved++
		}
		one := func(v float64, k int) Moment {
			return Moment{From: b.from, To: b.to, N: b.v[k].n, Mean: v, Least: v, Most: v}
		}
		e := one(mean(0), 0)
		e.Least, e.Most = b.v[0].least, b.v[0].most
		out.Exposure, out.White, out.Tint = append(out.Exposure, e), append(out.White, one(w, 1)), append(out.Tint, one(d, 1))
	}
	switch {
	case len(g) < 3:
		out.Exposure, out.White, out.Tint = nil, nil, nil
		out.Notes = append(out.Notes, "too few frames, or too little of the picture is neither black nor clipped, to tell whether anything changed")
		return out
	case 2*moved > len(g):
		out.Notes = append(out.Notes, "the picture is another one after the first second: the camera moved or the shot was cut, so changes can't be told")
		return out
	}
	out.Known = true
	const exposureError, whiteError = 0.008, 0.6 // floors: rounding and the cells' own bias
	tell := func(of string, v []float64, limit, floor float64, problem func(Change) Problem) {
		for _, ch := range changes(t, v, limit, floor) {
			ch.Of = of
			out.Changes = append(out.Changes, ch)
			out.Problems = append(out.Problems, problem(ch))
		}
	}
	tell("exposure", g, float64(ExposureLimit), exposureError, Change.exposureProblem)
	tell("white", warm, float64(WhiteLimit), whiteError, Change.whiteProblem)
	tell("light", apart, float64(LightLimit), exposureError, Change.lightProblem)
	return out
}

func (ch Change) exposureProblem() Problem {
	kind, what := "exposure-drift", "the exposure drifts"
	if ch.Jump {
		kind, what = "exposure-jump", "the exposure jumps"
	}
	advice := "set exposure to manual: shutter, aperture and sensitivity all fixed; if they are, it's the light: cover the window"
	p := Problem{Kind: kind, What: fmt.Sprintf("%s by %+.2f stop", what, ch.Size), Size: ch.Size, Error: ch.Error, Unit: "stop", From: ch.From, To: ch.To, Severity: Note, Advice: advice}
	// Common practice, no source: a tenth of a stop shows in a cut, a third in one shot.
	switch d := math.Abs(ch.Size); {
	case d >= 1.0/3:
		p.Severity = Fault
	case d >= 0.1:
		p.Severity = Warn
	}
	return p
}

// unevenError is the part of an uneven change by which its size may be off:
// somebody who moves makes up a part of the cells, which one isn't known.
const unevenError = 0.25

func (ch Change) lightProblem() Problem {
	return Problem{
		Kind: "light-uneven", What: fmt.Sprintf("most of the picture changes by %.2f stop or more, and not alike", math.Abs(ch.Size)), Size: math.Abs(ch.Size), Error: ch.Error + unevenError*math.Abs(ch.Size), Unit: "stop",
		From: ch.From, To: ch.To, Severity: Warn,
		Advice: "a lamp was moved, dimmed or switched, or a cloud passed: leave the lamps alone while filming and cover the window; if the camera was moved, lock its tripod",
	}
}

func (ch Change) whiteProblem() Problem {
	kind, what := "white-drift", "the white balance drifts"
	if ch.Jump {
		kind, what = "white-jump", "the white balance jumps"
	}
	to := "warmer"
	if ch.Size < 0 {
		to = "colder"
	}
	p := Problem{
		Kind: kind, What: fmt.Sprintf("%s %.0f mired %s", what, math.Abs(ch.Size), to), Size: ch.Size, Error: ch.Error, Unit: "mired", From: ch.From, To: ch.To, Severity: Note,
		Advice: "set the white balance to a fixed value; if it is, a lamp or the daylight changed its colour",
	}
	// Common practice, no source: 10 mired is a filter step one sees side by side.
	switch d := math.Abs(ch.Size); {
	case d >= 25:
		p.Severity = Fault
	case d >= 10:
		p.Severity = Warn
	}
	return p
}

// axes of white: what log2(R/G) and log2(B/G) of a neutral become when its
// light turns one mired warmer, and a Duv of 1 greener.
type axes struct{ inverse [2][2]float64 }

func whiteAxes(g *colour.Gamut) axes {
	if g == nil {
		g = colour.MustGamut("bt709")
	}
	const base, dm, dd = unit.Kelvin(6500), 2.0, 0.002
	from := g.FromXYZ()
	ratio := func(k unit.Kelvin, duv float64) [2]float64 {
		c := from.Apply(colour.Adapt(colour.XYFromCCT(base, 0), g.W, colour.CAT16).Apply(colour.XYFromCCT(k, duv).XYZ()))
		return [2]float64{math.Log2(c[0] / c[1]), math.Log2(c[2] / c[1])}
	}
	n, m, d := ratio(base, 0), ratio(base.Shifted(dm), 0), ratio(base, dd)
	a, b := (m[0]-n[0])/dm, (d[0]-n[0])/dd
	c, e := (m[1]-n[1])/dm, (d[1]-n[1])/dd
	det := a*e - b*c
	return axes{[2][2]float64{{e / det, -b / det}, {-c / det, a / det}}}
}

func (x axes) split(rg, bg float64) (mired, duv float64) {
	return x.inverse[0][0]*rg + x.inverse[0][1]*bg, x.inverse[1][0]*rg + x.inverse[1][1]*bg
}
