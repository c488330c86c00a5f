package gauge

import (
	"fmt"
	"math"
	"slices"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
	"lampwise/internal/unit"
)

// Constancy watches whether exposure and white balance stay put. Each frame is
// compared with the clip's beginning cell by cell, and what most cells agree
// on counts: a person who moves, or a practical that is switched, changes the
// cells they cover and not the answer. A camera that is moved spoils it, which
// is said.
type Constancy struct {
	cam       Camera
	format    picture.Format
	light     *light
	clip      float32
	w, h      int
	cell      []int32 // of each sample that is used
	at        []int32
	sums      []cellSum
	before    []cellSum // of the frame that was looked at before
	reference []cellSum
	diff      [][3]float64
	noise     [3]float64
	refFrom   float64
	refFrames int
	over      *series // exposure, red/green, blue/green (log2), how far two thirds of the cells depart from the exposure at least, likeness
	frames    int
}

type cellSum struct {
	rgb     [3]float64
	n, bad  int
	logs    [3]float64 // log2 of luminance, R/G, B/G
	ok      bool
	logSum  [3]float64 // of the reference's frames
	logTime int
}

const (
	// ExposureLimit is the jump in stops, and WhiteLimit that in mired, from
	// which a change within two seconds is told; a slower one from twice that.
	ExposureLimit unit.Stop  = 0.03
	WhiteLimit    unit.Mired = 3
	// LightLimit is by how many stops two thirds of the picture must differ
	// from what the rest agrees on before an uneven change of light is told.
	// Less than that may be somebody who sat down elsewhere.
	LightLimit  unit.Stop = 0.1
	unmovedPart           = 1.0 / 3

	constancyAcross, constancyDown = 32, 18
	agreeingPart                   = 0.25 // of the cells must have stayed as they were
	constancyBins                  = 4096
	referenceTime                  = 1.0   // s; what the rest is compared with
	darkestCell                    = 0.004 // linear: 5.5 stops under grey; below it noise and black rule
	clippedCell                    = 0.02  // a cell with more of it clipped is left out
	fewestCells                    = 24
	leastAgreement                 = 0.008 // stops
	// Every so manieth cell is tried as the one the others agree with: dozens
	// are, and one of those that stayed is among them as good as always.
	agreementStride = 11
	otherPicture    = 0.3 // likeness below which it is another picture
	structure       = 0.1 // stops; cells that differ less from their neighbours show none
	jumpTime        = 2.0 // s
)

// NewConstancy makes a watcher. The camera's curve must be known for sizes in
// stops; without it nothing is told.
func NewConstancy(cam Camera) *Constancy {
	return &Constancy{cam: cam, over: newSeries(5, constancyBins)}
}

// Add looks at a frame.
func (c *Constancy) Add(v *View) {
	if c.cam.Curve == nil {
		return
	}
	if c.format != v.Format || c.w != v.W {
		c.start(v)
	}
	c.measure(v)
	if c.frames == 0 {
		c.refFrom = v.Time
	}
	c.frames++
	if v.Time-c.refFrom <= referenceTime {
		c.learn()
	}
	c.compare(v.Time)
}

func (c *Constancy) start(v *View) {
	c.format, c.w, c.h = v.Format, v.W, v.H
	c.light = newLight(c.cam.Curve, v.Range)
	c.clip = float32(c.cam.clipE(v.Format) - clipMargin)
	c.sums = make([]cellSum, constancyAcross*constancyDown)
	c.reference, c.before = make([]cellSum, len(c.sums)), make([]cellSum, len(c.sums))
	c.cell, c.at = c.cell[:0], c.at[:0]
	// Every second sample each way, where that leaves a cell enough.
	step := 1
	if v.W*v.H >= 4*len(c.sums)*64 {
		step = 2
	}
	for y := 0; y < v.H; y += step {
		for x := 0; x < v.W; x += step {
			c.at = append(c.at, int32(y*v.W+x))
			c.cell = append(c.cell, int32(y*constancyDown/v.H*constancyAcross+x*constancyAcross/v.W))
		}
	}
}

// measure fills the cells with the frame's mean light.
func (c *Constancy) measure(v *View) {
	for i := range c.sums {
		c.sums[i] = cellSum{}
	}
	m := codeToE(v.Format)
	for i, at := range c.at {
		s := &c.sums[c.cell[i]]
		r, g, b := m.rgb(v.Y[at], v.Cb[at], v.Cr[at])
		s.n++
		if max(r, g, b) >= c.clip {
			s.bad++
			continue
		}
		s.rgb[0] += float64(c.light.at(r))
		s.rgb[1] += float64(c.light.at(g))
		s.rgb[2] += float64(c.light.at(b))
	}
	w := lumWeights(c.cam)
	for i := range c.sums {
		s := &c.sums[i]
		n := float64(s.n - s.bad)
		if n == 0 || float64(s.bad) > clippedCell*float64(s.n) {
			continue
		}
		r, g, b := s.rgb[0]/n, s.rgb[1]/n, s.rgb[2]/n
		lum := w[0]*r + w[1]*g + w[2]*b
		if lum < darkestCell || r <= darkestCell/4 || g <= darkestCell/4 || b <= darkestCell/4 {
			continue
		}
		s.logs = [3]float64{math.Log2(lum), math.Log2(r / g), math.Log2(b / g)}
		s.ok = true
	}
}

// learn adds the frame to what later ones are compared with.
func (c *Constancy) learn() {
	for i, s := range c.sums {
		if s.ok {
			r := &c.reference[i]
			r.logTime++
			for k, v := range s.logs {
				r.logSum[k] += v
			}
		}
	}
	c.refFrames++
}

func (c *Constancy) compare(t float64) {
	c.diff = c.diff[:0]
	for i, s := range c.sums {
		r := c.reference[i]
		// A cell that was often clipped or dark in the reference is none.
		if !s.ok || 2*r.logTime < c.refFrames {
			continue
		}
		n := float64(r.logTime)
		c.diff = append(c.diff, [3]float64{s.logs[0] - r.logSum[0]/n, s.logs[1] - r.logSum[1]/n, s.logs[2] - r.logSum[2]/n})
	}
	if len(c.diff) < fewestCells {
		nan := math.NaN()
		c.over.add(t, nan, nan, nan, nan, nan)
		return
	}
	at := c.agreement()
	d := make([]float64, len(c.diff))
	for i, x := range c.diff {
		d[i] = math.Abs(x[0] - at[0])
	}
	slices.Sort(d)
	c.over.add(t, at[0], at[1], at[2], d[int(unmovedPart*float64(len(d)))], c.likeness())
}

// agreement is the change of exposure and colour that most cells agree on in
// all three. The mechanic's cells may be as many as those that stayed, but they
// don't agree with each other; on one value alone they might.
func (c *Constancy) agreement() [3]float64 {
	w := c.width()
	near := func(a, b [3]float64, k float64) bool {
		return math.Abs(a[0]-b[0]) <= k*w[0] && math.Abs(a[1]-b[1]) <= k*w[1] && math.Abs(a[2]-b[2]) <= k*w[2]
	}
	most, at := 0, [3]float64{}
	for i := 0; i < len(c.diff); i += agreementStride {
		n, a := 0, c.diff[i]
		for _, b := range c.diff {
			if near(a, b, 1) {
				n++
			}
		}
		if n > most {
			most, at = n, a
		}
	}
	if float64(most) < agreeingPart/2*float64(len(c.diff)) {
		// No exposure moved them all: a lamp did, or the picture did.
		for k := range at {
			v := make([]float64, len(c.diff))
			for i, d := range c.diff {
				v[i] = d[k]
			}
			at[k] = agreed(v, agreeingPart)
		}
		return at
	}
	for range 2 {
		n, sum := 0.0, [3]float64{}
		for _, a := range c.diff {
			if near(a, at, 1.5) {
				n++
				for k := range sum {
					sum[k] += a[k]
				}
			}
		}
		for k := range sum {
			at[k] = sum[k] / n
		}
	}
	return at
}

// likeness is how alike the frame's structure is to the reference's (1 = the
// same): the correlation of what each cell differs by from the one beside it.
// A lamp leaves edges where they are, another picture has others.
func (c *Constancy) likeness() float64 {
	const most = 1.0 // stop; a lamp's own edge outweighs nothing else
	hold := func(v float64) float64 { return min(max(v, -most), most) }
	var aa, bb, ab, n float64
	for i := range len(c.sums) - 1 {
		if (i+1)%constancyAcross == 0 {
			continue
		}
		p, q, r, s := c.sums[i], c.sums[i+1], c.reference[i], c.reference[i+1]
		if !p.ok || !q.ok || r.logTime == 0 || s.logTime == 0 {
			continue
		}
		a := hold(q.logs[0] - p.logs[0])
		b := hold(s.logSum[0]/float64(s.logTime) - r.logSum[0]/float64(r.logTime))
		aa, bb, ab, n = aa+a*a, bb+b*b, ab+a*b, n+1
	}
	if n < fewestCells || bb < n*structure*structure {
		return 1
	}
	if aa == 0 {
		return 0
	}
	return ab / math.Sqrt(aa*bb)
}

// width is how far apart cells may lie and still agree: a few times the noise
// of a cell's mean, which is had from how cells differ from frame to frame.
func (c *Constancy) width() [3]float64 {
	var w [3]float64
	v := make([]float64, 0, len(c.sums))
	for k := range w {
		v = v[:0]
		for i, s := range c.sums {
			if s.ok && c.before[i].ok {
				v = append(v, s.logs[k]-c.before[i].logs[k])
			}
		}
		now := leastAgreement
		if len(v) >= fewestCells {
			now = max(leastAgreement, 2*spread(v)/math.Sqrt2)
		}
		// A slow mean, since one frame's motion widens it.
		if c.noise[k] == 0 {
			c.noise[k] = now
		}
		c.noise[k] += 0.1 * (min(now, 3*c.noise[k]) - c.noise[k])
		w[k] = 1.5 * c.noise[k]
	}
	copy(c.before, c.sums)
	return w
}

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

func (ch Change) lightProblem() Problem {
	return Problem{
		Kind: "light-uneven", What: fmt.Sprintf("most of the picture changes by %.2f stop or more, and not alike", math.Abs(ch.Size)), Size: math.Abs(ch.Size), Error: ch.Error, Unit: "stop",
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
