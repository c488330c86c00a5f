package region

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/dsp/fourier"

	"lampwise/internal/picture"
)

// Step is where a head is in one frame.
type Step struct {
	// DX and DY are its way from the first frame, in parts of the picture's
	// width and height.
	DX, DY float64
	// Confidence is 0 when the head was lost; DX and DY are then where it was last.
	Confidence float64
	Reason     string
}

// Tracker follows one head from frame to frame by phase correlation of the
// picture around it with the first frame's (Kuglin & Hines 1975), and looks
// for the face anew where that fails.
//
// Source: phase correlation: C. D. Kuglin, D. C. Hines 1975
type Tracker struct {
	first Face
	ref   *headPatch // of the first frame, or of the one in which it was found anew
	last  [2]float64
}

const (
	trackSide   = 64  // pixels of the part that is compared, each way
	trackFaces  = 1.5 // its side, in sides of the face's box
	trackRounds = 6   // of estimate, shift and estimate again
	trackStill  = 0.02
	// Alike is the normalised correlation from which two parts show the same head:
	// the same head under noise and a lean of a few degrees stays above, another
	// part of the picture below.
	trackAlike = 0.6
	// A head found anew must be within so many sides of where it was.
	trackReach = 1.5
)

// NewTracker starts at a face that was found in a frame.
func NewTracker(im *picture.Image, f Face) *Tracker {
	t := &Tracker{first: f}
	t.ref = cutHead(im, f, 0, 0)
	return t
}

// Track follows a face that was found in the first of some frames; the first
// step is 0, 0.
func Track(frames []*picture.Image, f Face) []Step {
	if len(frames) == 0 {
		return nil
	}
	t := NewTracker(frames[0], f)
	out := []Step{{Confidence: f.Confidence, Reason: "the first frame"}}
	for _, im := range frames[1:] {
		out = append(out, t.Next(im))
	}
	return out
}

// Next follows the head into the next frame, of the first one's size.
func (t *Tracker) Next(im *picture.Image) Step {
	at := t.last
	v, w, h := brightness(im)
	side := t.first.Box.W * float64(w) // working pixels
	pixel := trackFaces * side / trackSide
	var alike float64
	for range trackRounds {
		now := cutFrom(v, w, h, t.first, at[0], at[1])
		dx, dy := t.ref.shift(now)
		at[0] += dx * pixel / float64(w)
		at[1] += dy * pixel / float64(h)
		if math.Hypot(dx, dy) < trackStill {
			break
		}
	}
	now := cutFrom(v, w, h, t.first, at[0], at[1])
	alike = t.ref.likeness(now)
	if alike >= trackAlike && math.Hypot((at[0]-t.last[0])/t.first.Box.W, (at[1]-t.last[1])/t.first.Box.H) < trackReach {
		t.last = at
		return Step{at[0], at[1], min(alike, t.first.Confidence), fmt.Sprintf("followed: its picture correlates with the first one by %.2f", alike)}
	}
	// The head turned, the light changed, or something came before it.
	for _, f := range Faces(im) {
		if !f.Sure() {
			continue
		}
		dx, dy := f.Box.X+f.Box.W/2-t.first.Box.X-t.first.Box.W/2, f.Box.Y+f.Box.H/2-t.first.Box.Y-t.first.Box.H/2
		off := math.Hypot((dx-t.last[0])/t.first.Box.W, (dy-t.last[1])/t.first.Box.H)
		if ratio := f.Box.W / t.first.Box.W; off > trackReach || ratio > 1.4 || ratio < 1/1.4 {
			continue
		}
		t.last = [2]float64{dx, dy}
		t.ref = cutFrom(v, w, h, t.first, dx, dy)
		return Step{dx, dy, f.Confidence, "found anew: " + f.Reason}
	}
	return Step{t.last[0], t.last[1], 0, "lost: the face is turned, hidden or in other light"}
}

// headPatch is the picture around a head, trackSide square, without its mean,
// fading out towards its rim so that what is behind the head has little say.
type headPatch struct {
	v    []float64
	spec []complex128
}

func cutHead(im *picture.Image, f Face, dx, dy float64) *headPatch {
	v, w, h := brightness(im)
	return cutFrom(v, w, h, f, dx, dy)
}

func cutFrom(v []float64, w, h int, f Face, dx, dy float64) *headPatch {
	const n = trackSide
	p := &headPatch{v: make([]float64, n*n)}
	mx, my := f.Box.Middle()
	mx, my = (mx+dx)*float64(w)-0.5, (my+dy)*float64(h)-0.5
	pixel := trackFaces * f.Box.W * float64(w) / n
	sum, total := 0.0, 0.0
	weights := make([]float64, n*n)
	for j := range n {
		for i := range n {
			x, y := (float64(i)-(n-1)/2.0)/(n/2.0), (float64(j)-(n-1)/2.0)/(n/2.0)
			k := 0.0
			if r := math.Hypot(x, y); r < 1 {
				k = 0.5 + 0.5*math.Cos(math.Pi*r)
			}
			s := areaSample(v, w, h, mx+pixel*x*n/2, my+pixel*y*n/2, pixel)
			p.v[j*n+i], weights[j*n+i] = s, k
			sum += k * s
			total += k
		}
	}
	for i, k := range weights {
		p.v[i] = k * (p.v[i] - sum/total)
	}
	p.spec = make([]complex128, n*n)
	for i, x := range p.v {
		p.spec[i] = complex(x, 0)
	}
	transform(p.spec, false)
	return p
}

// areaSample is the mean of a square of the given side, or for less than a
// pixel the value between neighbours; outside, the edge repeats.
func areaSample(v []float64, w, h int, x, y, side float64) float64 {
	steps := max(1, int(math.Ceil(side)))
	sum := 0.0
	for j := range steps {
		for i := range steps {
			sx := x + side*((float64(i)+0.5)/float64(steps)-0.5)
			sy := y + side*((float64(j)+0.5)/float64(steps)-0.5)
			sum += between(v, w, h, sx, sy)
		}
	}
	return sum / float64(steps*steps)
}

func between(v []float64, w, h int, x, y float64) float64 {
	x = min(max(x, 0), float64(w-1))
	y = min(max(y, 0), float64(h-1))
	x0, y0 := int(x), int(y)
	x1, y1 := min(x0+1, w-1), min(y0+1, h-1)
	fx, fy := x-float64(x0), y-float64(y0)
	return (v[y0*w+x0]*(1-fx)+v[y0*w+x1]*fx)*(1-fy) + (v[y1*w+x0]*(1-fx)+v[y1*w+x1]*fx)*fy
}

// shift tells how far now's content lies from p's, in its pixels.
func (p *headPatch) shift(now *headPatch) (dx, dy float64) {
	const n = trackSide
	cross := make([]complex128, n*n)
	for i := range cross {
		a, b := now.spec[i], p.spec[i]
		c := a * complex(real(b), -imag(b))
		// Fine detail of a noisy picture is noise: frequencies above a third of
		// the pixels' fade out.
		u, v := float64(fold(i%n)), float64(fold(i/n))
		r := math.Hypot(u, v) / (n / 3.0)
		if m := math.Hypot(real(c), imag(c)); m > 0 {
			// The root keeps some of the strength: bare phase trusts empty frequencies as much.
			c *= complex(math.Exp(-2*r*r)/math.Sqrt(m), 0)
		}
		cross[i] = c
	}
	transform(cross, true)
	best := 0
	for i, c := range cross {
		if real(c) > real(cross[best]) {
			best = i
		}
	}
	at := func(x, y int) float64 { return real(cross[(y+n)%n*n+(x+n)%n]) }
	x, y := best%n, best/n
	return float64(fold(x)) + vertex(at(x-1, y), at(x, y), at(x+1, y)), float64(fold(y)) + vertex(at(x, y-1), at(x, y), at(x, y+1))
}

// fold counts an index of a transform from −n/2 to n/2.
func fold(i int) int {
	if i >= trackSide/2 {
		return i - trackSide
	}
	return i
}

// vertex of the parabola through three values at −1, 0, 1, the middle one the largest.
func vertex(a, b, c float64) float64 {
	d := a - 2*b + c
	if d >= 0 {
		return 0
	}
	return min(max((a-c)/(2*d), -0.5), 0.5)
}

// likeness is the normalised correlation of two patches, −1..1.
func (p *headPatch) likeness(q *headPatch) float64 {
	var ab, aa, bb float64
	for i, a := range p.v {
		b := q.v[i]
		ab, aa, bb = ab+a*b, aa+a*a, bb+b*b
	}
	if aa == 0 || bb == 0 {
		return 0
	}
	return ab / math.Sqrt(aa*bb)
}

// transform is the two-dimensional Fourier transform in place, rows first.
func transform(c []complex128, inverse bool) {
	const n = trackSide
	fft := fourier.NewCmplxFFT(n)
	line := make([]complex128, n)
	run := func(from, step int) {
		for i := range line {
			line[i] = c[from+i*step]
		}
		if inverse {
			fft.Sequence(line, line)
		} else {
			fft.Coefficients(line, line)
		}
		for i := range line {
			c[from+i*step] = line[i]
		}
	}
	for r := range n {
		run(r*n, 1)
	}
	for k := range n {
		run(k, n)
	}
}
