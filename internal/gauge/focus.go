package gauge

import (
	"fmt"
	"math"
	"slices"

	"lampwise/internal/picture"
)

// Focus compares how sharp the face is with the rest of the picture. Sharpness
// is told as the blur of an edge: how the energy of differences over a few
// pixels stands to that over more of them gives the standard deviation, in
// pixels, of the Gaussian that an edge seems blurred by, whatever its contrast.
// Noise has energy too and is taken off, by level.
type Focus struct {
	face   *Region
	format picture.Format
	frames int
	cell   []energy // of the picture, without the face
	inFace energy
	mask   []bool // samples in the face
	w, h   int
	over   *series // of the face's three energies
}

// energy is summed squared differences over each lag, with the levels they
// were taken at.
type energy struct {
	sum    [focusLags]float64
	n      float64
	levels [noiseBySteps]float64
}

const (
	// FocusLimit is by how many pixels of blur the face must be softer than
	// the sharpest part of the rest before that is told.
	FocusLimit = 0.6

	focusLags   = 3
	focusBins   = 1024
	sharpPart   = 0.2 // part of the cells that are sharper than what stands for the rest
	fewestSharp = 8   // cells with edges in them
	// A cell's differences over the longest lag must have so much energy, in
	// squared 10-bit codes, for an edge to be there, and the shortest so many
	// times the noise's.
	leastEdge      = 40.0
	edgeOverNoise  = 0.3
	mostBlur       = 12.0
	focusErrorPart = 0.3
	focusError     = 0.3
)

// Lags of the differences, in pixels.
var focusLag = [focusLags]int{2, 8, 32}

// NewFocus makes a meter of sharpness; face may be nil.
func NewFocus(face *Region) *Focus { return &Focus{face: face, over: newSeries(focusLags, focusBins)} }

// Add measures a frame.
func (k *Focus) Add(v *View) {
	if k.format != v.Format || k.w != v.W {
		k.format, k.w, k.h = v.Format, v.W, v.H
		k.cell, k.inFace = make([]energy, cells), energy{}
		k.mask = nil
		if k.face != nil {
			k.mask = make([]bool, v.W*v.H)
			k.face.points(v.Width, v.Height, 1, func(x, y int) {
				if x%v.Step == 0 && y%v.Step == 0 && x/v.Step < v.W && y/v.Step < v.H {
					k.mask[y/v.Step*v.W+x/v.Step] = true
				}
			})
		}
	}
	k.frames++
	f := v.Frame
	w := f.Width
	before := k.inFace
	reach := focusLag[focusLags-1] / 2
	across, down := cellsOf(v.W, v.H)
	// Every second row of samples is enough.
	for y := 0; y < v.H; y += 2 {
		fy := y * v.Step
		if fy < reach || fy >= f.Height-reach {
			continue
		}
		for x := range v.W {
			fx := x * v.Step
			if fx < reach || fx >= w-reach {
				continue
			}
			e := &k.cell[down[y]+across[x]]
			if k.mask != nil && k.mask[y*v.W+x] {
				e = &k.inFace
			}
			at := fy*w + fx
			e.levels[min(int(f.Y[at])*noiseBySteps>>v.Bits, noiseBySteps-1)]++
			e.n++
			for i, lag := range focusLag {
				h := lag / 2
				dx := float64(int(f.Y[at+h]) - int(f.Y[at-h]))
				dy := float64(int(f.Y[at+h*w]) - int(f.Y[at-h*w]))
				e.sum[i] += dx*dx + dy*dy
			}
		}
	}
	if k.mask != nil {
		if n := k.inFace.n - before.n; n > 0 {
			var e [focusLags]float64
			for i := range e {
				e[i] = (k.inFace.sum[i] - before.sum[i]) / n
			}
			k.over.add(v.Time, e[:]...)
		}
	}
}

// Sharpness is what Focus found, in pixels of the clip.
type Sharpness struct {
	Frames int `json:"frames"`
	// Face and Rest are the blur of edges in the face and in the sharpest
	// fifth of the rest; nil where there are no edges to tell by.
	Face     *float64  `json:"face"`
	Rest     *float64  `json:"rest"`
	Error    float64   `json:"error"`          // of the difference
	Sharpest []Place   `json:"sharpest"`       // where the picture is sharpest
	Over     []Moment  `json:"over,omitempty"` // Face over time
	Problems []Problem `json:"problems,omitempty"`
	Notes    []string  `json:"notes,omitempty"`
}

// Result tells, given the clip's noise (nil when not known: then soft and
// noisy parts seem sharper than they are).
func (k *Focus) Result(noise *NoiseFound) Sharpness {
	out := Sharpness{Frames: k.frames}
	if k.frames == 0 {
		out.Notes = append(out.Notes, "no frame was looked at")
		return out
	}
	byLevel := noiseByLevel(noise, k.format.Bits)
	if byLevel == nil {
		out.Notes = append(out.Notes, "the noise isn't known, so noisy parts seem sharper than they are")
	}
	var blurs []float64
	sharp := make([]float64, cells)
	for i := range k.cell {
		if b, ok := k.cell[i].blur(byLevel, k.format.Bits); ok {
			blurs = append(blurs, b)
			sharp[i] = b
		}
	}
	if len(blurs) >= fewestSharp {
		slices.Sort(blurs)
		rest := blurs[int(sharpPart*float64(len(blurs)))]
		out.Rest = &rest
		count := make([]float64, cells)
		for i, b := range sharp {
			if b > 0 && b <= rest*1.1 {
				count[i] = 1
			}
		}
		out.Sharpest = places(count)
	} else {
		out.Notes = append(out.Notes, "too few edges in the picture to tell how sharp it is")
	}
	if k.face == nil {
		out.Notes = append(out.Notes, "no face is known, so there is nothing to compare with the rest")
		return out
	}
	face, ok := k.inFace.blur(byLevel, k.format.Bits)
	if !ok {
		out.Notes = append(out.Notes, "the face shows no edges to tell by: too dark, too noisy or far out of focus")
		return out
	}
	out.Face = &face
	k.time(&out, byLevel)
	if out.Rest == nil {
		return out
	}
	d := face - *out.Rest
	out.Error = focusError + focusErrorPart*math.Abs(d)
	if d >= thresholdFactor*FocusLimit {
		p := Problem{
			Kind: "focus", What: fmt.Sprintf("the face is softer than the sharpest part of the rest: edges are blurred by %.1f pixels there and by %.1f elsewhere", face, *out.Rest),
			Size: d, Error: out.Error, Unit: "pixels of blur", Severity: Warn, Where: boxes(out.Sharpest),
			Advice: "set the focus on the eyes by hand, with the picture enlarged, and leave it there; or close the aperture by a stop",
		}
		if d >= 4*FocusLimit {
			p.Severity = Fault
		}
		out.Problems = append(out.Problems, p)
	}
	return out
}

// time follows the face's blur and tells where it changes.
func (k *Focus) time(out *Sharpness, byLevel []float64) {
	var t, v []float64
	for _, b := range k.over.bins {
		e := energy{n: 1, levels: k.inFace.levels}
		for i := range e.sum {
			e.sum[i] = b.v[i].sum / float64(b.v[i].n)
		}
		for i := range e.levels {
			e.levels[i] /= k.inFace.n
		}
		if blur, ok := e.blur(byLevel, k.format.Bits); ok {
			t, v = append(t, (b.from+b.to)/2), append(v, blur)
			out.Over = append(out.Over, Moment{From: b.from, To: b.to, N: b.v[0].n, Mean: blur, Least: blur, Most: blur})
		}
	}
	for _, ch := range changes(t, v, FocusLimit, focusError) {
		what := "sharper"
		if ch.Size > 0 {
			what = "softer"
		}
		out.Problems = append(out.Problems, Problem{
			Kind: "focus-moves", What: fmt.Sprintf("the face becomes %s by %.1f pixels of blur", what, math.Abs(ch.Size)), Size: ch.Size, Error: ch.Error + focusErrorPart*math.Abs(ch.Size), Unit: "pixels of blur",
			From: ch.From, To: ch.To, Severity: Warn, Advice: "set the focus to manual; if it is, whoever sits there moved to or from the camera, or moved fast",
		})
	}
}

// noiseByLevel is the variance by level, in the recording's codes, filled in
// between the levels that are known.
func noiseByLevel(n *NoiseFound, bits int) []float64 {
	if n == nil || len(n.Levels) == 0 {
		return nil
	}
	unit := float64(int(1)<<bits) / 1024
	out := make([]float64, noiseBySteps)
	for i := range out {
		code := (float64(i) + 0.5) * 1024 / noiseBySteps
		best := math.Inf(1)
		for _, l := range n.Levels {
			s := l.Time
			if s == nil || l.Space != nil && *l.Space < *s {
				// Between them the smaller: what moves adds to the one, texture to the other.
				s = l.Space
			}
			if d := math.Abs(l.Code - code); s != nil && d < best {
				best, out[i] = d, *s**s*unit*unit
			}
		}
	}
	return out
}

// blur is the standard deviation of the blur of the edges in e.
func (e *energy) blur(noise []float64, bits int) (float64, bool) {
	if e.n == 0 {
		return 0, false
	}
	floor := 0.0
	for l, n := range e.levels {
		if noise != nil {
			floor += 4 * n * noise[l] // two differences, each of two samples
		}
	}
	unit := float64(int(1)<<bits) / 1024
	var s [focusLags]float64
	for i := range s {
		s[i] = (e.sum[i] - floor) / e.n
	}
	if s[focusLags-1] < leastEdge*unit*unit || s[0] < edgeOverNoise*floor/e.n || s[0] <= 0 {
		return 0, false
	}
	// Each pair of lags tells blurs about as wide as its shorter lag best.
	fine := blurOf(s[0]/s[1], focusLag[0], focusLag[1])
	coarse := blurOf(s[1]/s[2], focusLag[1], focusLag[2])
	const change = 2.0 // pixels
	if fine < change || coarse < change {
		return fine, true
	}
	return coarse, true
}

// blurOf is the blur whose edge has this ratio of energies over two lags.
func blurOf(ratio float64, short, long int) float64 {
	lo, hi := 0.0, mostBlur
	for range 40 {
		mid := (lo + hi) / 2
		if edgeEnergy(mid, short)/edgeEnergy(mid, long) > ratio {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

// edgeEnergy is ∫(F(x + L/2) − F(x − L/2))² dx of a unit edge blurred by a
// Gaussian of standard deviation s, F its integral.
func edgeEnergy(s float64, lag int) float64 {
	l := float64(lag)
	if s < 1e-6 {
		return l
	}
	return l*math.Erf(l/(2*s)) - 2*s/math.Sqrt(math.Pi)*(1-math.Exp(-l*l/(4*s*s)))
}
