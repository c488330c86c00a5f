package gauge

import (
	"math"
	"slices"

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
		if len(v) < fewestCells {
			// Nothing to compare with yet: the first frame's cells are their own reference.
			w[k] = 1.5 * max(leastAgreement, c.noise[k])
			continue
		}
		now := max(leastAgreement, 2*spread(v)/math.Sqrt2)
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
