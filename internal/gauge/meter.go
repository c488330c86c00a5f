package gauge

import "lampwise/internal/picture"

// Measured is all that a Meter found of a recording.
type Measured struct {
	Frames    int         `json:"frames"`
	Readings  []Reading   `json:"readings"`
	Clipping  Clipped     `json:"clipping"`
	Constancy Steady      `json:"constancy"`
	Noise     NoiseFound  `json:"noise"`
	Flicker   Flickering  `json:"flicker"`
	Codes     CodesFound  `json:"codes"`
	Focus     Sharpness   `json:"focus"`
	Repeats   Repeated    `json:"repeats"`
	Handling  Handling    `json:"handling"`
	Smooth    *SmoothArea `json:"smooth,omitempty"`
	Scopes    *ScopeData  `json:"-"` // large; written as pictures and as a file of its own
}

// MeterOptions say what a Meter measures.
type MeterOptions struct {
	Camera  Camera
	Regions []Region
	Face    *Region // whose focus is watched; nil: none was found
	// Thin: what needs no unbroken run of frames looks at one frame in so many,
	// two neighbours at a time; 0 and 1: at each.
	Thin   int
	Smooth bool // tell smooth areas by level, which the budget wants
	Scopes bool // count what scopes show
}

// Meter measures a recording: every frame it is given is looked at once, and
// all accumulators are given that View.
type Meter struct {
	viewer    Viewer
	thin      int
	frames    int
	readings  *Readings
	clipping  *Clipping
	constancy *Constancy
	noise     *Noise
	flicker   *Flicker
	codes     *Codes
	focus     *Focus
	repeats   *Repeats
	handled   *Handled
	smooth    *Smooth
	scopes    *Scopes
}

// thinConstancy is every so manieth frame that exposure, white balance and the
// picture's place are watched on where frames are spared: changes last longer.
const thinConstancy = 8

// NewMeter makes a meter.
func NewMeter(o MeterOptions) *Meter {
	m := &Meter{
		thin: max(1, o.Thin), readings: NewReadings(o.Camera, o.Regions), clipping: NewClipping(o.Camera), constancy: NewConstancy(o.Camera), noise: NewNoise(o.Camera),
		flicker: NewFlicker(o.Camera), codes: NewCodes(o.Camera), focus: NewFocus(o.Face), repeats: &Repeats{}, handled: &Handled{},
	}
	if o.Smooth {
		m.smooth = &Smooth{}
	}
	if o.Scopes {
		m.scopes = NewScopes(o.Camera)
	}
	return m
}

// Add looks at a frame.
func (m *Meter) Add(f *picture.Frame) {
	all := m.thin == 1 || m.frames == 0
	steady := all || f.Index%thinConstancy == 0
	// Two neighbours, neither the first of a run: how much of the noise stays
	// wants the difference over two frames, too.
	k := f.Index % (2 * m.thin)
	levels := all || k == 1 || k == 2
	// Noise of chroma wants the frame before with its chroma.
	look := m.viewer.LookPlain
	if steady || levels || k == 0 {
		look = m.viewer.Look
	}
	v := look(f)
	m.flicker.Add(v)
	m.repeats.Add(v)
	if steady {
		m.constancy.Add(v)
		m.handled.Add(v)
	}
	if levels {
		m.readings.Add(v)
		m.clipping.Add(v)
		m.noise.Add(v)
		m.codes.Add(v)
		m.focus.Add(v)
		if m.smooth != nil {
			m.smooth.Add(v)
		}
		if m.scopes != nil {
			m.scopes.Add(v)
		}
	}
	m.frames++
}

// Result tells.
func (m *Meter) Result() Measured {
	out := Measured{
		Frames: m.frames, Readings: m.readings.Result(), Clipping: m.clipping.Result(), Constancy: m.constancy.Result(), Noise: m.noise.Result(),
		Flicker: m.flicker.Result(), Codes: m.codes.Result(), Repeats: m.repeats.Result(), Handling: m.handled.Result(),
	}
	out.Focus = m.focus.Result(&out.Noise)
	if m.smooth != nil {
		s := m.smooth.Result()
		out.Smooth = &s
	}
	if m.scopes != nil {
		out.Scopes = m.scopes.Result()
	}
	return out
}

// Problems are all that was found wrong, the worst first.
func (m *Measured) Problems() []Problem {
	var out []Problem
	for _, p := range [][]Problem{
		m.Clipping.Problems, m.Constancy.Problems, m.Noise.Problems, m.Flicker.Problems, m.Codes.Problems, m.Focus.Problems, m.Repeats.Problems, m.Handling.Problems,
	} {
		out = append(out, p...)
	}
	SortProblems(out)
	return out
}

// Notes are what could not be told, and why, each once.
func (m *Measured) Notes() []string {
	var out []string
	seen := map[string]bool{}
	for _, notes := range [][]string{
		m.Clipping.Notes, m.Constancy.Notes, m.Noise.Notes, m.Flicker.Notes, m.Codes.Notes, m.Focus.Notes, m.Repeats.Notes, m.Handling.Notes,
	} {
		for _, n := range notes {
			if !seen[n] {
				seen[n] = true
				out = append(out, n)
			}
		}
	}
	return out
}
