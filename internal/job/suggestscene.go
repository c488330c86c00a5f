package job

import (
	"context"
	"fmt"
	"math"
	"slices"

	"lampwise/internal/colour"
	"lampwise/internal/gauge"
	"lampwise/internal/grade"
	"lampwise/internal/region"
)

// sample is the mean of a small square of a frame that was looked at.
type sample struct {
	y       [3]float64 // curve signal
	e       [3]float64 // R′G′B′ as recorded
	detail  float64    // contrast with its neighbours, in y
	face    bool
	lamp    bool // a lamp seen in the picture
	clipped bool
}

const (
	sampleColumns = 320  // squares across a frame
	samplesMost   = 5000 // that are sent through a path
)

// gather cuts the frames that were looked at into squares.
func (s *sight) gather() {
	program := s.work.Program
	face, hasFace := region.Region{}, false
	if s.face != nil {
		face, hasFace = region.Region{Box: region.Box(s.face.Box), Shape: region.ShapeEllipse}, true
	}
	lamp, hasLamp := s.place(region.Practical)
	clip := math.Inf(1)
	if s.camera.ClipCode > 0 {
		clip = colour.Narrow.LumaFromCode(s.camera.ClipCode-3, 10)
		if s.format().Range == colour.Full {
			clip = (s.camera.ClipCode - 3) / 1023
		}
	}
	for _, f := range s.looks {
		n := max(1, f.Width/sampleColumns)
		w, h := f.Width/n, f.Height/n
		cells := make([]sample, w*h)
		parallel(h, func(j int) {
			for i := range w {
				c := &cells[j*w+i]
				for y := j * n; y < (j+1)*n; y++ {
					for x := i * n; x < (i+1)*n; x++ {
						e := f.RGB(x, y)
						for k := range e {
							c.e[k] += e[k] / float64(n*n)
						}
					}
				}
				c.y = program.Input.Signal(c.e)
				c.clipped = max(c.e[0], c.e[1], c.e[2]) >= clip
				px, py := (float64(i)+0.5)/float64(w), (float64(j)+0.5)/float64(h)
				c.face = hasFace && face.Contains(px, py)
				c.lamp = hasLamp && lamp.Contains(px, py)
			}
		})
		for j := range h - 1 {
			for i := range w - 1 {
				a, b, c := &cells[j*w+i], &cells[j*w+i+1], &cells[(j+1)*w+i]
				a.detail = math.Hypot(mean3(a.y)-mean3(b.y), mean3(a.y)-mean3(c.y))
			}
		}
		s.samples = append(s.samples, cells...)
	}
}

func mean3(v [3]float64) float64 { return (v[0] + v[1] + v[2]) / 3 }

// few are evenly chosen samples that fulfil a condition.
func (s *sight) few(most int, want func(*sample) bool) []*sample {
	var all []*sample
	for i := range s.samples {
		if want(&s.samples[i]) {
			all = append(all, &s.samples[i])
		}
	}
	step := max(1, (len(all)+most-1)/most)
	var out []*sample
	for i := 0; i < len(all); i += step {
		out = append(out, all[i])
	}
	return out
}

// shown is where a grade brings the regions.
func (s *sight) shown(st *state) []RegionOnScene {
	k := *s.measuring
	k.work = st.work
	screen := k.screenOf(s.looks)
	out := []RegionOnScene{}
	for _, g := range s.out.Regions {
		one := RegionOnScene{Region: g.Name, Signal: screen[g.Name].Signal, Screen: screen[g.Name].Stops}
		if r := s.reading(g.Name); r != nil && r.Linear != nil && st.work.Path.Curve != nil {
			lab := colour.DisplayLab(st.work.Path.Exact(s.signalOf(st, *r.Linear)))
			one.Chroma = math.Hypot(lab[1], lab[2])
		}
		out = append(out, one)
	}
	return out
}

// signalOf is the curve signal of scene light.
func (s *sight) signalOf(st *state, light [3]float64) (y [3]float64) {
	for i, x := range light {
		y[i] = st.work.Path.Curve.Encode(x)
	}
	return y
}

// exposureStep is the least change worth making: the eye passes over a tenth
// of a stop between shots (common practice, no source).
const exposureStep = 0.1

// blownMost is the part of the picture that a brighter exposure may bring to
// the screen's top besides what the recording has clipped already.
const blownMost = 0.001

// exposure brings the card to grey, or else the lit side of the face to where
// it belongs, and no further than the brightest part bears.
func (a *adviser) exposure(g *grade.Grade) (Suggestion, *grade.Grade, error) {
	var out Suggestion
	was := 0.0
	if !g.Off(grade.StageExposure) {
		was = g.Exposure.Stops
	}
	var target float64
	var by *gauge.Reading
	switch card, lit := a.sight.reading(region.Card), a.sight.reading(region.FaceLit); {
	case card != nil && card.Stops != nil && !clippedMuch(card):
		by = card
		out.Reason = fmt.Sprintf("the grey card reads %+.2f stop and belongs at 0", float64(*card.Stops)+was)
	case lit != nil && lit.Stops != nil && !clippedMuch(lit):
		by, target = lit, float64(a.request.Face)
		out.Reason = fmt.Sprintf("no card is seen; the lit side of the face reads %+.2f stop, and %+.1f is usual for it (common practice; deep skin belongs lower, so look before you take it)", float64(*lit.Stops)+was, target)
	default:
		out.Unknown = true
		out.Reason = "neither a grey card nor a lit face was found that could be read: draw one with --region card=x,y,w,h"
		return out, nil, nil
	}
	want := target - float64(*by.Stops)
	out.Numbers = append(out.Numbers, number(by.Region+" reads", float64(*by.Stops), "stops from grey"), number("exposure before", was, "stops"), number("wanted", want, "stops"))
	if want > was {
		most, err := a.brightest(g, was, want)
		if err != nil {
			return out, nil, err
		}
		if most < want-0.005 {
			out.Reason += fmt.Sprintf("; it is held %.2f stop lower, since more would bring more than %.1f %% of the picture to the screen's top that the recording has not clipped", want-most, 100*blownMost)
			out.Numbers = append(out.Numbers, number("held back by highlights", want-most, "stops"))
			want = most
		}
	}
	want = math.Round(100*math.Min(math.Max(want, -8), 8)) / 100
	if math.Abs(want-was) < exposureStep {
		out.Reason += fmt.Sprintf("; that is within %.1f stop, so it stays", exposureStep)
		return out, nil, nil
	}
	g.Exposure.Stops = want
	g.SetOff(grade.StageExposure, false)
	out.Settings = []string{setting("exposure.stops", "%.2f", want), "exposure.off=false"}
	return out, g, g.Check()
}

func clippedMuch(r *gauge.Reading) bool { return r.Clipped != nil && *r.Clipped > 0.02 }

// brightest is the highest exposure between was and want at which what the
// recording has not clipped stays under the screen's top.
func (a *adviser) brightest(g *grade.Grade, was, want float64) (float64, error) {
	samples := a.sight.few(samplesMost, func(s *sample) bool { return !s.clipped && !s.lamp })
	blown := func(stops float64) (float64, error) {
		try := *g
		try.Exposure.Stops = stops
		try.SetOff(grade.StageExposure, false)
		st, err := a.state(&try)
		if err != nil {
			return 0, err
		}
		n := 0
		for _, s := range samples {
			v := st.work.Path.Exact(s.y)
			if max(v[0], v[1], v[2]) >= 0.995 {
				n++
			}
		}
		return float64(n) / float64(max(1, len(samples))), nil
	}
	before, err := blown(was)
	if err != nil {
		return 0, err
	}
	limit := before + blownMost
	lo, hi := was, want
	if b, err := blown(hi); err != nil || b <= limit {
		return hi, err
	}
	for hi-lo > 0.01 {
		m := (lo + hi) / 2
		b, err := blown(m)
		if err != nil {
			return 0, err
		}
		if b <= limit {
			lo = m
		} else {
			hi = m
		}
	}
	return lo, nil
}

// cardNeutral is the card's distance from neutral, in CIELAB on the screen,
// that is left alone: below one just noticeable step nobody sees it.
const cardNeutral = 1.0

// balance brings the card to neutral.
func (a *adviser) balance(g *grade.Grade) (Suggestion, *grade.Grade, error) {
	var out Suggestion
	card := a.sight.reading(region.Card)
	if card == nil || card.Linear == nil || card.XY == nil || clippedMuch(card) {
		out.Unknown = true
		out.Reason = "no grey card was found that could be read, and skin or a wall is no neutral: film a card under the key, or draw it with --region card=x,y,w,h. Coloured tubes and filament lamps call for a balance off a card; without one, warm middles against teal shadows (split) balance a picture"
		return out, nil, nil
	}
	gamut := a.now.work.Path.Gamut
	xy := colour.XYZ(gamut.ToXYZ().Apply(*card.Linear)).XY()
	k, duv, err := colour.CCT(xy)
	w, wduv, errW := colour.CCT(gamut.W)
	if err == nil && errW == nil {
		gap := float64(k.Mired() - w.Mired())
		out.Numbers = append(out.Numbers, number("card against the recording's white", gap, "mired"), number("card against the recording's white, across", duv-wduv, "Duv"))
		side := "warm"
		if gap < 0 {
			side = "cold"
		}
		out.Reason = fmt.Sprintf("the grey card is recorded %.0f mired too %s and %+.4f Duv off", math.Abs(gap), side, duv-wduv)
	} else {
		out.Reason = "the grey card is recorded far from neutral"
	}
	if card.CCT != nil {
		out.Numbers = append(out.Numbers, number("light on the card", float64(*card.CCT), "K"), number("light on the card", *card.Duv, "Duv"))
	}
	for _, m := range a.mixed {
		if m.Warn {
			out.Reason += fmt.Sprintf("; mixed light: %s and %s are %.0f mired apart, which no one balance removes (filter one of the lamps)", m.A, m.B, math.Abs(m.Mired))
			break
		}
	}
	rounded := *card.Linear
	for i, x := range rounded {
		rounded[i] = math.Round(x*1e5) / 1e5
	}
	keep := g.Balance.Keep
	if g.Off(grade.StageBalance) || keep == 1 {
		keep = 0
	}
	next := g.Balance
	next.White, next.Target, next.Keep, next.Off = grade.White{Card: &rounded}, grade.White{}, keep, false
	g.Balance = next
	g.SetOff(grade.StageBalance, false)
	if err := g.Check(); err != nil {
		return out, nil, err
	}
	then, err := a.state(g)
	if err != nil {
		return out, nil, err
	}
	neutral := func(st *state) float64 {
		y := st.work.Path.After(grade.StageBalance, a.sight.signalOf(st, *card.Linear))
		grey := mean3(y)
		return colour.DeltaE2000(colour.DisplayLab(signals(y, grey)), colour.DisplayLab(signals([3]float64{grey, grey, grey}, grey)))
	}
	before, after := neutral(a.now), neutral(then)
	out.Numbers = append(out.Numbers, number("card from neutral before", before, "ΔE00"), number("card from neutral after", after, "ΔE00"))
	switch {
	case before < cardNeutral:
		out.Reason += fmt.Sprintf("; with the grade as it is that comes to ΔE00 %.1f, so it stays", before)
		return out, nil, nil
	case after > before-0.5:
		out.Reason += "; what the grade keeps of it is kept (balance.keep)"
		return out, nil, nil
	}
	if keep > 0 {
		out.Reason += fmt.Sprintf("; balance.keep stays at %.2f, so that much of the warmth is left", keep)
	}
	out.Settings = []string{setting("balance.white", "{ card = [%g, %g, %g] }", rounded[0], rounded[1], rounded[2]), "balance.target={}", setting("balance.keep", "%g", keep), "balance.off=false"}
	return out, g, nil
}

// signals show scene light on the screen with its mean at grey, by BT.709's
// own camera curve: a measure of tint that no stage after it enters.
func signals(light [3]float64, mean float64) (v colour.RGB) {
	for i, x := range light {
		v[i] = colour.BT709.Encode(x / math.Max(mean, 1e-6) * colour.Grey)
	}
	return v
}

// MixedLight is the gap in colour between two lamps, or two sides of the face.
type MixedLight struct {
	A     string  `json:"a"`
	B     string  `json:"b"`
	Mired float64 `json:"mired"` // b redder than a is positive
	Warn  bool    `json:"warn"`
	Why   string  `json:"why"`
}

// mixedWarn is the gap from which two lights on one face are warned of: about
// a half-strength correction filter (common practice, no source).
const mixedWarn = 60.0

// mixedShare is the part of the light on a side of the face from which a lamp
// counts as lighting it (common practice, no source).
const mixedShare = 0.2

// mixedLight finds lamps of different colour: from the set's lamp pictures, or
// else from the two sides of the face.
func (s *sight) mixedLight(ctx context.Context, store Sets) ([]MixedLight, error) {
	out := []MixedLight{}
	if s.set != nil {
		set, keptSet, err := OpenSet(ctx, store, s.set.Name)
		if err != nil {
			return nil, err
		}
		shown := &LearnedSet{Files: map[string]string{}}
		describe(set, keptSet, shown)
		key := ""
		for _, l := range shown.Lamps {
			if l.Mired != nil && *l.Mired == 0 {
				key = l.Name
				break
			}
		}
		for _, l := range shown.Lamps {
			if l.Mired == nil || l.Name == key || key == "" {
				continue
			}
			onFace := math.Max(l.Share[region.FaceLit], l.Share[region.FaceShade])
			m := MixedLight{A: key, B: l.Name, Mired: *l.Mired, Warn: math.Abs(*l.Mired) >= mixedWarn && onFace >= mixedShare}
			m.Why = fmt.Sprintf("%.0f %% of the light on one side of the face", 100*onFace)
			if onFace < mixedShare {
				m.Why = fmt.Sprintf("%.0f %% of the light on the face at most, so it reads as a colour of the room", 100*onFace)
			}
			out = append(out, m)
		}
		slices.SortStableFunc(out, func(a, b MixedLight) int { return order(math.Abs(b.Mired) - math.Abs(a.Mired)) })
		return out, nil
	}
	lit, shade := s.reading(region.FaceLit), s.reading(region.FaceShade)
	if lit == nil || shade == nil || lit.XY == nil || shade.XY == nil {
		return out, nil
	}
	a, _, errA := colour.CCT(*lit.XY)
	b, _, errB := colour.CCT(*shade.XY)
	if errA != nil || errB != nil {
		return out, nil
	}
	gap := float64(b.Mired() - a.Mired())
	out = append(out, MixedLight{
		A: region.FaceLit, B: region.FaceShade, Mired: gap, Warn: math.Abs(gap) >= mixedWarn,
		Why: "the same skin on both sides, so the light differs; --set NAME tells which lamp",
	})
	return out, nil
}

func order(d float64) int {
	switch {
	case d < 0:
		return -1
	case d > 0:
		return 1
	}
	return 0
}
