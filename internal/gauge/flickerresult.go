package gauge

import (
	"fmt"
	"math"
	"strings"

	"lampwise/internal/unit"
)

// Flickering is what Flicker found.
type Flickering struct {
	Frames int `json:"frames"`
	// Searched is false where there were too few neighbouring frames, and
	// Notes say so.
	Searched bool  `json:"searched"`
	Wave     *Wave `json:"wave"` // nil: none above the limit
	// Rate is the frames' own, in 1/s.
	Rate     unit.Hertz `json:"rate"`
	Problems []Problem  `json:"problems,omitempty"`
	Notes    []string   `json:"notes,omitempty"`
}

// Wave is a pulsing that was found.
type Wave struct {
	Amplitude float64   `json:"amplitude"` // per cent of the light, peak
	Error     float64   `json:"error"`     // of Amplitude
	Stops     unit.Stop `json:"stops"`     // peak to peak
	// Aliased is the frequency at which it is seen, in Hz: positive when the
	// bands move up; without a sign for the whole picture.
	Aliased unit.Hertz `json:"aliased"`
	// Bands is how many light-dark pairs lie over the picture's height; 0 when
	// the whole picture pulses.
	Bands float64 `json:"bands"`
	// Mains are the mains frequencies, 50 or 60 Hz, whose doubled frequency is
	// seen so; more than one where they can't be told apart, none for a lamp
	// with a frequency of its own.
	Mains []int `json:"mains"`
	// Readout is the time the sensor takes from the first row to the last, as
	// it follows from the bands; 0 when not known.
	Readout unit.Second `json:"readout"`
	// Shutters are the shutter times that mend it, longest first.
	Shutters []Shutter `json:"shutters,omitempty"`
}

// Shutter is an exposure time.
type Shutter struct {
	Seconds  unit.Second `json:"seconds"`
	Fraction string      `json:"fraction"` // "1/50"
	Angle    unit.Degree `json:"angle"`
}

// Result says what was found.
func (k *Flicker) Result() Flickering {
	out := Flickering{Frames: k.frames}
	if k.cam.Curve == nil {
		out.Notes = append(out.Notes, "the camera's curve isn't known, so flicker can't be searched for")
		return out
	}
	if k.frames == 0 {
		out.Notes = append(out.Notes, "no frame was looked at")
		return out
	}
	fast, slow := k.fast, k.slow
	fast.close()
	slow.close()
	if fast.windows == 0 && k.run >= shortestWindow {
		out.Notes = append(out.Notes, "the picture is too dark to search it for flicker")
		return out
	}
	if fast.windows == 0 || len(k.steps) == 0 {
		out.Notes = append(out.Notes, fmt.Sprintf("flicker needs %d frames in a row with light in them; the longest run was %d", shortestWindow, k.run))
		return out
	}
	step := median(append([]float64(nil), k.steps...))
	if !(step > 0) {
		out.Notes = append(out.Notes, "the frames' times don't rise, so flicker has no frequency")
		return out
	}
	out.Searched, out.Rate = true, unit.Hertz(1/step)
	w, from, to := fast.strongest(1/step, false)
	slowly := false
	s, f, t := slow.strongest(1/step/slowGroup, true)
	if s != nil {
		// In half a minute nearly every strip has somebody before it at some time.
		s.Error *= 2
		if s.Amplitude < waveSure*s.Error {
			s = nil
		}
	}
	if s != nil && (w == nil || s.Amplitude > w.Amplitude || math.Abs(float64(w.Aliased)) < stillBelow) {
		w, from, to, slowly = s, f, t, true
	}
	if w == nil {
		out.Notes = append(out.Notes, "bands that stand still (100 Hz at exactly 25 or 50 frames a second, 120 Hz at 30 or 60) can't be seen")
		return out
	}
	k.explain(w, 1/step, slowly)
	out.Wave = w
	out.Problems = append(out.Problems, w.problem(from, to))
	return out
}

// strongest is the wave that stands out most, nil when none does.
func (w *flickerWindow) strongest(rate float64, slow bool) (*Wave, float64, float64) {
	if w.windows == 0 {
		return nil, 0, 0
	}
	best, at, wave, stands := 0.0, -1, 0, waveStands
	if slow {
		stands = slowStands
	}
	for r := slowestCell; r < rateCells; r++ {
		hz := float64(r) / (2 * rateCells) * rate
		for c := range waveCells {
			cycles := math.Abs(float64(c)*waveStep - waveMost)
			if slow && cycles < slowLeast || !slow && cycles < slowLeast && hz < stillBelow {
				continue
			}
			p := w.power[r][c]
			if p <= best || p < stands*w.background(r, c) || !w.peak(r, c) {
				continue
			}
			best, at, wave = p, r, c
		}
	}
	if at < 0 {
		return nil, 0, 0
	}
	var out *Wave
	from, to := math.Inf(1), math.Inf(-1)
	for _, k := range w.kept {
		rate0, wave0 := float64(at)/(2*rateCells), float64(wave)*waveStep-waveMost
		a, e, r, c := fitWave(k, rate0, wave0)
		if math.Abs(r) < leastTurns*slowestCell/(2*rateCells) || 100*a < thresholdFactor*FlickerLimit || a < waveSure*e {
			continue
		}
		from, to = min(from, k.from), max(to, k.to)
		if out == nil || 100*a > out.Amplitude {
			if c < 0 {
				r, c = -r, -c
			}
			out = &Wave{Amplitude: 100 * a, Error: 100 * e, Aliased: unit.Hertz(r * rate), Bands: c, Stops: unit.Stop(math.Log2((1 + min(a, 0.99)) / (1 - min(a, 0.99))))}
		}
	}
	return out, from, to
}

// peak says whether no neighbouring cell is stronger.
func (w *flickerWindow) peak(r, c int) bool {
	for dr := -1; dr <= 1; dr++ {
		for dc := -1; dc <= 1; dc++ {
			rr, cc := r+dr, c+dc
			if cc < 0 || cc >= waveCells || rr > rateCells {
				continue
			}
			if rr < 0 {
				rr, cc = -rr, waveCells-1-cc
			}
			if w.power[rr][cc] > w.power[r][c] {
				return false
			}
		}
	}
	return true
}

// background is the usual power of waves of the same bands and other rates:
// what moves has more of it the slower and the broader.
func (w *flickerWindow) background(r, c int) float64 {
	var p []float64
	for _, d := range []int{-16, -14, -12, -10, -8, -7, -6, 6, 7, 8, 10, 12, 14, 16} {
		rr, cc := r+d, c
		if rr > rateCells {
			continue
		}
		if rr < 0 {
			rr, cc = -rr, waveCells-1-c
		}
		p = append(p, w.power[rr][cc])
	}
	return median(p) / math.Ln2 // power of noise is exponential: its median is ln 2 of its mean
}

// fitWave finds the wave near rate (cycles a frame) and wave (cycles over the
// height) that fits a window's calm bands best, with its amplitude and that's standard error times two.
func fitWave(k keptWindow, rate, wave float64) (a, err, r, c float64) {
	signal, n, bands := k.signal, k.frames, len(k.scale)
	weight, total := hann(n)
	calm := 0.0
	for _, s := range k.scale {
		if s == 1 {
			calm++
		}
	}
	power := func(rate, wave float64) float64 {
		re, im := 0.0, 0.0
		for f := range n {
			for b, scale := range k.scale {
				if scale < 1 {
					continue
				}
				s, c := math.Sincos(2 * math.Pi * (rate*float64(f) + wave*(float64(b)+0.5)/float64(bands)))
				x := signal[f*bands+b] * weight[f]
				re += x * c
				im += x * s
			}
		}
		return 2 * math.Hypot(re, im) / (total * calm)
	}
	r, c = rate, wave
	a = power(r, c)
	for dr, dc := 0.25/rateCells, waveStep/2; dr > 1e-4; dr, dc = dr/2, dc/2 {
		for moved := true; moved; {
			moved = false
			for _, d := range [][2]float64{{dr, 0}, {-dr, 0}, {0, dc}, {0, -dc}} {
				if math.Abs(r+d[0]-rate) > 0.75/rateCells || math.Abs(c+d[1]-wave) > 1.5*waveStep {
					continue // another wave's
				}
				if p := power(r+d[0], c+d[1]); p > a {
					a, r, c, moved = p, r+d[0], c+d[1], true
				}
			}
		}
	}
	if math.Abs(c) < wholeBelow {
		c = 0
		a = power(r, c)
	}
	// What the wave leaves, as if it were white; neighbouring bands and frames
	// are not independent, which a factor of four in number allows for.
	left := 0.0
	for i, x := range signal {
		if k.scale[i%bands] == 1 {
			left += x * x
		}
	}
	count := calm * float64(n)
	left = max(0, left/count-a*a/2)
	err = 2*math.Sqrt(2*left*4*1.5/count) + fitDoubt*a
	return a, err, r, c
}

// leastTurns is how far below the slowest cell, as a part of its rate, a wave
// may turn out to be: still slower it is another window's.
const leastTurns = 0.8

// fitDoubt is what an amplitude errs by besides, as a part of itself: bands are
// means over rows, and the calmest strips are chosen by their calm.
const fitDoubt = 0.05

// waveSure is how many times its error (two standard errors) a wave's amplitude
// must be.
const waveSure = 2.5

// mainsTolerance is how far a mains may be off, in Hz of the doubled
// frequency: European and American networks stay within 0.2 Hz of nominal
// nearly always (common practice, no source), doubled.
const mainsTolerance = 0.4

// explain finds the mains and the cure.
func (k *Flicker) explain(w *Wave, rate float64, slowly bool) {
	tolerance := mainsTolerance
	if slowly {
		// A group of frames can't tell waves apart that are its own rate apart.
		tolerance = 0.15
	}
	var doubled float64
	for _, mains := range []int{50, 60} {
		f := float64(2 * mains)
		alias := f - rate*math.Round(f/rate)
		d := math.Abs(alias - float64(w.Aliased))
		if w.Bands == 0 {
			d = math.Abs(math.Abs(alias) - math.Abs(float64(w.Aliased)))
		}
		// Half-way between two frames the sign is lost too.
		d = min(d, math.Abs(rate-math.Abs(alias)-math.Abs(float64(w.Aliased))))
		if d <= tolerance {
			w.Mains = append(w.Mains, mains)
			doubled = f
		}
	}
	if w.Bands == 0 {
		w.Aliased = unit.Hertz(math.Abs(float64(w.Aliased)))
	}
	if len(w.Mains) != 1 {
		return
	}
	if w.Bands > 0 {
		w.Readout = unit.Second(w.Bands / doubled)
	}
	for n := int(doubled / rate); n >= 1; n-- {
		s := float64(n) / doubled
		w.Shutters = append(w.Shutters, Shutter{Seconds: unit.Second(s), Fraction: fraction(1 / s), Angle: unit.Degree(360 * s * rate)})
	}
}

func fraction(inverse float64) string {
	s := fmt.Sprintf("1/%.1f", inverse)
	return strings.TrimSuffix(s, ".0")
}

func (w *Wave) problem(from, to float64) Problem {
	p := Problem{Kind: "flicker-bands", Size: w.Amplitude, Error: w.Error, Unit: "% of the light", From: from, To: to, Severity: Note}
	what := fmt.Sprintf("%.1f light and dark bands lie across the picture", w.Bands)
	if w.Bands == 0 {
		p.Kind, what = "flicker-whole", "the whole picture pulses"
	}
	p.What = fmt.Sprintf("%s, seen at %.2f Hz, ±%.1f %% of the light (%.2f stop from dark to light)", what, math.Abs(float64(w.Aliased)), w.Amplitude, w.Stops)
	// Common practice, no source.
	switch {
	case w.Amplitude >= 5:
		p.Severity = Fault
	case w.Amplitude >= 1.5:
		p.Severity = Warn
	}
	switch {
	case len(w.Mains) == 1 && len(w.Shutters) > 0:
		var s []string
		for _, x := range w.Shutters {
			s = append(s, fmt.Sprintf("%s s (%.0f°)", x.Fraction, x.Angle))
		}
		p.Advice = fmt.Sprintf("a lamp pulses with a mains of %d Hz: set the shutter to %s, or use a lamp that does not pulse", w.Mains[0], strings.Join(s, " or "))
	case len(w.Mains) == 1:
		p.Advice = fmt.Sprintf("a lamp pulses with a mains of %d Hz, and no shutter time within a frame mends it at this frame rate: use a lamp that does not pulse", w.Mains[0])
	case len(w.Mains) == 2:
		p.Advice = "a lamp pulses with the mains; at this frame rate 50 and 60 Hz look the same: where you live tells, and the shutter must be a multiple of 1/100 or 1/120 s"
	default:
		p.Advice = "a lamp pulses at a frequency of its own, perhaps its dimmer's: turn it up, change the shutter time until the pulsing goes, or use another lamp"
	}
	return p
}
