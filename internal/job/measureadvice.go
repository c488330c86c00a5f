package job

import (
	"fmt"
	"math"
	"slices"

	"lampwise/internal/colour"
	"lampwise/internal/gauge"
	"lampwise/internal/picture"
	"lampwise/internal/region"
	"lampwise/internal/unit"
)

// PreflightItem is a thing to set on the camera before the next recording.
type PreflightItem struct {
	Item    string `json:"item"`
	Set     string `json:"set"`
	Why     string `json:"why"`
	Evident bool   `json:"evident"` // this clip shows that it was not so
}

const (
	// What a grey card must be off by before exposure or white balance is called
	// off: a third of a stop is a camera's own step; 15 mired a small correction
	// filter's (common practice, no source).
	exposureOff = 1.0 / 3
	exposureBad = 1.0
	whiteOff    = 15.0
	whiteBad    = 40.0
	duvOff      = 0.006
	duvBad      = 0.015
	// The lit side of a face, deep to light skin, at a usual exposure (common
	// practice, no source).
	faceLow, faceHigh = -1.5, 2.0
	faceError         = 1.0 // stop; skin isn't a card
)

// exposureProblems compares the card, or else the face, with where it belongs.
func exposureProblems(readings []gauge.Reading, from, to float64) []gauge.Problem {
	make := func(kind, what string, size, e float64, s gauge.Severity, advice string) []gauge.Problem {
		return []gauge.Problem{{Kind: kind, What: what, Size: size, Error: e, Unit: "stop", From: from, To: to, Severity: s, Advice: advice}}
	}
	if c := readingOf(readings, region.Card); c != nil && c.Stops != nil {
		s := float64(*c.Stops)
		e := 2*float64(c.SE) + cardError
		if math.Abs(s) < exposureOff || math.Abs(s) <= e {
			return nil
		}
		severity := gauge.Note
		if math.Abs(s) >= exposureBad {
			severity = gauge.Warn
		}
		what := fmt.Sprintf("the grey card reads %+.2f stop from grey", s)
		if s > 0 {
			return make("exposure-over", what, s, e, severity, "close the aperture, dim the lamps or take less sensitivity; if you expose over to keep noise down, say so once: --intended over="+fmt.Sprintf("%.1f", s))
		}
		return make("exposure-under", what, s, e, severity, "open the aperture or bring the lamps up before raising the sensitivity; if it is meant, say so once: --intended under="+fmt.Sprintf("%.1f", -s))
	}
	if f := readingOf(readings, region.FaceLit); f != nil && f.Stops != nil {
		s := float64(*f.Stops)
		what := fmt.Sprintf("the lit side of the face reads %+.1f stop from grey; faces mostly lie between %+.1f and %+.1f there", s, faceLow, faceHigh)
		advice := "hold a grey card into the light once: it tells the exposure without guessing at skin"
		switch {
		case s > faceHigh:
			return make("exposure-over", what, s-faceHigh, faceError, gauge.Note, advice)
		case s < faceLow:
			return make("exposure-under", what, s-faceLow, faceError, gauge.Note, advice)
		}
	}
	return nil
}

// cardError is what a printed card and a codec may be off by, in stops.
const cardError = 0.05

func readingOf(readings []gauge.Reading, name string) *gauge.Reading {
	for i := range readings {
		if readings[i].Region == name {
			return &readings[i]
		}
	}
	return nil
}

// whiteProblems compares the card's colour with a neutral's.
func whiteProblems(cam gauge.Camera, readings []gauge.Reading, from, to float64) []gauge.Problem {
	c := readingOf(readings, region.Card)
	if c == nil || c.XY == nil || cam.Gamut == nil {
		return nil
	}
	const neutral = "neutral"
	gaps := gauge.Gaps(cam, []gauge.Reading{*c, {Region: neutral, XY: &cam.Gamut.W}}, neutral)
	var out []gauge.Problem
	for _, g := range gaps {
		if g.Region != region.Card {
			continue
		}
		// What may be nothing at all within its error isn't told.
		if m := float64(g.Mired); math.Abs(m) >= whiteOff && math.Abs(m) > float64(g.Error)+2 {
			p := gauge.Problem{
				Kind: "white-warm", What: fmt.Sprintf("the card is %.0f mired warmer than a neutral", m), Size: m, Error: float64(g.Error) + 2, Unit: "mired", From: from, To: to, Severity: gauge.Note,
				Advice: "set the camera's white balance to the key lamp's colour, or balance on the card in the grade; if it is meant, say so once: --intended warm",
			}
			if m < 0 {
				p.Kind, p.What = "white-cold", fmt.Sprintf("the card is %.0f mired colder than a neutral", -m)
				p.Advice = "set the camera's white balance to the key lamp's colour, or balance on the card in the grade; if it is meant, say so once: --intended cold"
			}
			if math.Abs(m) >= whiteBad {
				p.Severity = gauge.Warn
			}
			out = append(out, p)
		}
		if d := g.Duv; math.Abs(d) >= duvOff {
			kind, to2 := "white-green", "green"
			if d < 0 {
				kind, to2 = "white-magenta", "magenta"
			}
			p := gauge.Problem{
				Kind: kind, What: fmt.Sprintf("the card is tinted %s by a Duv of %+.3f", to2, d), Size: d, Error: 0.002, Unit: "Duv", From: from, To: to, Severity: gauge.Note,
				Advice: "set the camera's tint, or balance on the card in the grade; a lamp that is off the black-body line wants a correction filter",
			}
			if math.Abs(d) >= duvBad {
				p.Severity = gauge.Warn
			}
			out = append(out, p)
		}
	}
	return out
}

// preflight says what to set on the camera: what this clip betrays first, then
// what every recording that is measured needs.
func preflight(problems []gauge.Problem) []PreflightItem {
	items := []struct {
		item, set, why string
		kinds          []string
	}{
		{"exposure", "manual: shutter, aperture", "an automatic changes with what moves in the picture", []string{"exposure-jump", "exposure-drift"}},
		{"sensitivity", "a fixed value, its automatic off", "else noise and exposure change with the picture", []string{"exposure-jump", "exposure-drift"}},
		{"white balance", "a fixed value in K", "an automatic follows the colours in the picture", []string{"white-jump", "white-drift"}},
		{"focus", "manual, on the eyes", "an automatic hunts when hands come before the face", []string{"focus", "focus-moves"}},
		{"stabiliser", "off on a tripod", "it drifts where nothing moves", []string{"handling-drift", "handling-shake"}},
		{"shutter", "a multiple of the mains' half period", "else lamps on the mains make bands", []string{"flicker-bands", "flicker-whole"}},
		{"highlights", "watch the recording's clip, not the screen's white", "what is clipped can't be graded", []string{"clipped"}},
		{"recording", "10 bits or more, the highest data rate", "fewer steps band in a grade", []string{"bits-few"}},
		{"levels", "note which range the camera tags", "a wrong tag shifts black and white", []string{"range-tag", "curve-wrong", "curve-levels"}},
		{"frame rate", "the rate you publish", "copies and gaps stutter", []string{"frames-doubled", "frames-missing", "freeze"}},
	}
	const always = 5
	var evident, rest []PreflightItem
	for i, it := range items {
		p := slices.IndexFunc(problems, func(p gauge.Problem) bool { return slices.Contains(it.kinds, p.Kind) })
		switch {
		case p >= 0:
			q := problems[p]
			evident = append(evident, PreflightItem{it.item, it.set, fmt.Sprintf("here %s, at %.1f s", q.What, q.From), true})
		case i < always:
			rest = append(rest, PreflightItem{it.item, it.set, it.why, false})
		}
	}
	return append(append([]PreflightItem{}, evident...), rest...)
}

// answer puts the result together.
func (j *measuring) answer(looks []*picture.Frame) (*MeasuredClip, error) {
	out := j.out
	screen := j.screenOf(looks)
	for _, r := range out.Found.Readings {
		out.Readings = append(out.Readings, ClipReading{r, screen[r.Region]})
	}
	out.camera = j.camera
	if j.request.Scopes != "" {
		var err error
		if out.Files, err = j.scopeFiles(j.request.Scopes, looks); err != nil {
			return nil, err
		}
	}
	j.ladder()
	if g := gauge.Gaps(j.camera, out.Found.Readings, gapBase(out.Found.Readings)); g != nil {
		out.Gaps = g
	}
	from, to := 0.0, j.info.Duration
	if n := len(out.Plan.Stretches); n > 0 {
		from, to = out.Plan.Stretches[0][0], out.Plan.Stretches[n-1][1]
	}
	problems := out.Found.Problems()
	problems = append(problems, exposureProblems(out.Found.Readings, from, to)...)
	problems = append(problems, whiteProblems(j.camera, out.Found.Readings, from, to)...)
	gauge.SortProblems(problems)
	out.Problems, out.Intended = sift(problems, j.intended)
	out.Preflight = preflight(out.Problems)
	for _, n := range out.Found.Notes() {
		if !slices.Contains(out.Notes, n) {
			out.Notes = append(out.Notes, n)
		}
	}
	return out, nil
}

// gapBase is the region that colours are told against.
func gapBase(readings []gauge.Reading) string {
	for _, n := range []string{region.FaceLit, region.Card, wholeFrame} {
		if r := readingOf(readings, n); r != nil && r.XY != nil {
			return n
		}
	}
	return ""
}

// ladder finds the stop ladder's ends.
func (j *measuring) ladder() {
	c := j.camera.Curve
	if c == nil {
		return
	}
	f := j.format()
	d := Decoding{Curve: c, Override: j.override}
	stops := func(light float64) *unit.Stop {
		s := unit.Stop(math.Log2(light / colour.Grey))
		if math.IsNaN(float64(s)) || math.IsInf(float64(s), 0) {
			return nil
		}
		return &s
	}
	l := &j.out.Ladder
	const lastCode = 1023
	l.Top = stops(d.clipLight(lastCode, f))
	code := j.camera.ClipCode
	if k := j.out.Found.Clipping.Clip; code == 0 && k != nil {
		code = *k
	}
	if code > 0 {
		l.Clip = stops(d.clipLight(code, f))
	}
	l.Floor = j.out.Found.Noise.Floor
}
