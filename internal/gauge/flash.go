package gauge

import (
	"fmt"
	"slices"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
	"lampwise/internal/unit"
)

// Flash looks for flashes that can harm photosensitive viewers, after ITU-R
// BT.1702: a flash is a pair of opposing changes of 20 cd/m² or more whose
// darker picture lies under 160 cd/m² (above that, a contrast of 1/17); more
// than three in a second over more than a quarter of the picture are too many.
// Saturated red counts by its own measure. The display's peak luminance is
// assumed, since a file does not know its screen.
//
// It sees flashes only where it is given every frame. Regular patterns, which
// the recommendation treats too, are looked for beside them (see pattern).
//
// Source: ITU-R BT.1702, general and red flashes, regular patterns (these from memory); A. Wilkins, J. Emmett, G. Harding 2005, "Characterizing the Patterned Images That Precipitate Seizures and Optimizing Guidelines To Prevent Them", Epilepsia 46(8) (light and duration of patterns)
type Flash struct {
	peak    float64
	format  picture.Format
	light   *light
	weights [3]float64
	cells   []flashCell
	sum     []flashSum
	cell    []int32
	at      []int32
	w       int
	frames  int
	skipped int
	last    float64
	general flashTrack
	red     flashTrack
	stripes pattern
}

type flashSum struct{ r, g, b, n float32 }

type flashCell struct{ luminance, red swing }

// swing follows one value of a cell from turning point to turning point.
type swing struct {
	lo, hi       float64
	loRed, hiRed bool
	dir          int
	begun        bool
	times        [flashRing]float64
	n            int
}

type flashTrack struct {
	most     float64 // flashes a second over a quarter of the picture
	mostAt   float64
	from, to float64
	any      bool
	area     float64 // largest part with too many
}

const (
	// FlashPeak is the peak luminance that is assumed of a display, in cd/m²
	// (ITU-R BT.1702 speaks of a display of 200 cd/m²; from memory).
	FlashPeak unit.CandelaPerSquareMetre = 200

	flashChange   = 20.0 // cd/m²
	flashDark     = 160.0
	flashContrast = 1.0 / 17
	flashAllowed  = 3 // a second
	flashArea     = 0.25
	redShare      = 0.8
	redScale      = 320.0
	redChange     = 20.0
	flashLong     = 5.0 // s

	flashAcross, flashDown = 48, 27
	flashRing              = 32
)

// NewFlash makes a checker for a display of that peak luminance; 0 means FlashPeak.
func NewFlash(peak unit.CandelaPerSquareMetre) *Flash {
	if peak <= 0 {
		peak = FlashPeak
	}
	return &Flash{peak: float64(peak)}
}

// Add looks at a frame.
func (k *Flash) Add(v *View) {
	if k.format != v.Format || k.w != v.W {
		k.start(v)
	}
	if k.frames > 0 && v.Before == nil {
		k.skipped++
	}
	k.frames++
	k.last = v.Time
	clear(k.sum)
	m := codeToE(v.Format)
	for i, at := range k.at {
		r, g, b := m.rgb(v.Y[at], v.Cb[at], v.Cr[at])
		s := &k.sum[k.cell[i]]
		s.r += k.light.at(max(r, 0))
		s.g += k.light.at(max(g, 0))
		s.b += k.light.at(max(b, 0))
		s.n++
	}
	general, red := make([]int, 0, len(k.cells)), make([]int, 0, len(k.cells))
	for i, s := range k.sum {
		if s.n == 0 {
			continue
		}
		r, g, b := float64(s.r/s.n), float64(s.g/s.n), float64(s.b/s.n)
		c := &k.cells[i]
		c.luminance.follow(v.Time, k.peak*(k.weights[0]*r+k.weights[1]*g+k.weights[2]*b), false, significant)
		c.red.follow(v.Time, max(0, r-g-b)*redScale, r >= redShare*(r+g+b) && r > 0, significantRed)
		general, red = append(general, c.luminance.within(v.Time)), append(red, c.red.within(v.Time))
	}
	k.general.note(v.Time, general)
	k.red.note(v.Time, red)
	if k.stripes.wants(v.Time) {
		k.stripes.add(v.Time, v.W, func(at int) float64 {
			r, g, b := m.rgb(v.Y[at], v.Cb[at], v.Cr[at])
			return k.peak * (k.weights[0]*float64(k.light.at(max(r, 0))) + k.weights[1]*float64(k.light.at(max(g, 0))) + k.weights[2]*float64(k.light.at(max(b, 0))))
		})
	}
}

func (k *Flash) start(v *View) {
	k.format, k.w = v.Format, v.W
	k.light = newLight(colour.BT1886, v.Range)
	g := colour.MustGamut("bt709")
	if v.Matrix == colour.MatrixBT2020 {
		g = colour.MustGamut("bt2020")
	}
	k.weights[0], k.weights[1], k.weights[2] = g.LuminanceWeights()
	k.cells, k.sum = make([]flashCell, flashAcross*flashDown), make([]flashSum, flashAcross*flashDown)
	k.cell, k.at = k.cell[:0], k.at[:0]
	k.stripes.start(v.W, v.H)
	step := 1
	if v.W*v.H >= 4*len(k.cells)*16 {
		step = 2
	}
	for y := 0; y < v.H; y += step {
		for x := 0; x < v.W; x += step {
			k.at = append(k.at, int32(y*v.W+x))
			k.cell = append(k.cell, int32(y*flashDown/v.H*flashAcross+x*flashAcross/v.W))
		}
	}
}

func significant(lo, hi float64, _ bool) bool {
	if lo < flashDark {
		return hi-lo >= flashChange
	}
	return (hi-lo)/(hi+lo) >= flashContrast
}

func significantRed(lo, hi float64, saturated bool) bool { return saturated && hi-lo > redChange }

// follow takes the next value; a reversal that is significant is a change.
func (s *swing) follow(t, x float64, saturated bool, counts func(lo, hi float64, saturated bool) bool) {
	if !s.begun {
		s.lo, s.hi, s.loRed, s.hiRed, s.begun = x, x, saturated, saturated, true
		return
	}
	if x < s.lo {
		s.lo, s.loRed = x, saturated
	}
	if x > s.hi {
		s.hi, s.hiRed = x, saturated
	}
	switch {
	case s.dir <= 0 && x > s.lo && counts(s.lo, x, s.loRed || saturated):
		s.dir = 1
		s.change(t)
		s.hi, s.hiRed = x, saturated
	case s.dir >= 0 && x < s.hi && counts(x, s.hi, s.hiRed || saturated):
		s.dir = -1
		s.change(t)
		s.lo, s.loRed = x, saturated
	}
	// While it goes one way the other end goes along with the turning point.
	if s.dir > 0 && x >= s.hi {
		s.lo, s.loRed = x, saturated
	}
	if s.dir < 0 && x <= s.lo {
		s.hi, s.hiRed = x, saturated
	}
}

func (s *swing) change(t float64) {
	s.times[s.n%flashRing] = t
	s.n++
}

// within is the number of flashes, pairs of changes, in the second up to t.
func (s *swing) within(t float64) int {
	n := 0
	for i := max(0, s.n-flashRing); i < s.n; i++ {
		const second = 1 - 1e-6
		if t-s.times[i%flashRing] < second {
			n++
		}
	}
	return n / 2
}

// note finds how many flashes more than a quarter of the cells had.
func (k *flashTrack) note(t float64, flashes []int) {
	if len(flashes) == 0 {
		return
	}
	slices.Sort(flashes)
	// The count that just over a quarter reach.
	i := len(flashes) - 1 - int(flashArea*float64(len(flashes)))
	if i < 0 {
		return
	}
	if n := float64(flashes[i]); n > k.most {
		k.most, k.mostAt = n, t
	}
	if flashes[i] <= flashAllowed {
		return
	}
	over := 0
	for _, n := range flashes {
		if n > flashAllowed {
			over++
		}
	}
	k.area = max(k.area, float64(over)/float64(len(flashes)))
	if !k.any {
		k.any, k.from = true, t
	}
	k.to = t
}

// Flashes is what Flash found.
type Flashes struct {
	Frames int `json:"frames"`
	// Peak is the display's luminance that was assumed, cd/m².
	Peak unit.CandelaPerSquareMetre `json:"peak"`
	// General and Red are the most flashes in any second over more than a
	// quarter of the picture; more than 3 are too many.
	General float64 `json:"general"`
	Red     float64 `json:"red"`
	// Pattern is the worst regular pattern; nil: none beyond what is allowed.
	Pattern  *Pattern  `json:"pattern"`
	Problems []Problem `json:"problems,omitempty"`
	Notes    []string  `json:"notes,omitempty"`
}

// Result tells.
func (k *Flash) Result() Flashes {
	out := Flashes{Frames: k.frames, Peak: unit.CandelaPerSquareMetre(k.peak), General: k.general.most, Red: k.red.most}
	switch {
	case k.frames == 0:
		out.Notes = append(out.Notes, "no frame was looked at")
	case k.skipped > 0:
		out.Notes = append(out.Notes, "not every frame was looked at, so flashes may be missed")
	}
	for _, c := range []struct {
		track flashTrack
		kind  string
		what  string
	}{{k.general, "flashes", "flashes"}, {k.red, "flashes-red", "flashes of saturated red"}} {
		if !c.track.any {
			continue
		}
		p := Problem{
			Kind: c.kind, What: fmt.Sprintf("%.0f %s within a second over %.0f %% of the picture (ITU-R BT.1702 allows %d over %.0f %%; a display of %.0f cd/m² assumed)", c.track.most, c.what, 100*c.track.area, flashAllowed, 100*flashArea, k.peak),
			Size: c.track.most, Error: 1, Unit: "flashes in a second", From: max(0, c.track.from-1), To: c.track.to, Severity: Fault,
			Advice: "it can harm photosensitive viewers: slow it down, lower its contrast or cut it; warn before it if it must stay",
		}
		if c.track.to-c.track.from > flashLong {
			p.What += fmt.Sprintf("; it lasts longer than %.0f s", flashLong)
		}
		out.Problems = append(out.Problems, p)
	}
	if out.Pattern = k.stripes.result(); out.Pattern != nil {
		out.Problems = append(out.Problems, out.Pattern.problem(k.peak, k.stripes.from, k.stripes.to))
	}
	return out
}
