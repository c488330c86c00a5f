package demo

import (
	"context"
	"math"

	"lampwise/internal/picture"
)

// Pose is how the camera stands against the reference: the picture's content
// lies DX, DY pixels further right and down, turned clockwise by Degrees and
// enlarged by Scale about the picture's centre.
type Pose struct {
	DX      float64 `json:"dx_px"`
	DY      float64 `json:"dy_px"`
	Degrees float64 `json:"rotation_deg"`
	Scale   float64 `json:"scale"`
}

// Still is the pose of the reference.
var Still = Pose{Scale: 1}

// Body is where the mechanic is against his place in the reference: lengths in
// metres, x to the picture's right and y down, the head's on top of the body's;
// the head's tilt in rad; how far the lids are closed, 0..1.
type Body struct {
	X, Y         float64
	HeadX, HeadY float64
	Tilt         float64
	Lids         float64
}

// Shot is one frame to be filmed.
type Shot struct {
	Levels []float64 // of each lamp as Studio.Lamps lists them; 1 = full light
	Pose   Pose
	Gain   float64 // of the camera against the reference, a factor; 1 = as it was
	Body   Body
}

// Film makes frames of a studio with a camera. It keeps what stays the same
// from frame to frame. Not for several goroutines; inside it uses all processors.
type Film struct {
	studio *Studio
	rec    *recording

	levels  []float64
	weights []float32 // of the pictures, as they're in full, fullF and fullB
	added   int       // how often the mix was changed by differences only
	pose    Pose
	reached Pose // the pose mayGo was made for
	fresh   bool

	full   []float32 // mix with margin, 3·w·h
	fullF  []float32 // front layer's mix over the studio's inner box, 4 channels: premultiplied RGB and cover
	fullB  []float32 // back layer's mix there, 3 channels
	fullL  []float32 // the front layer's mix where the lids are, closed; over lidBox of the studio, 4 channels
	lids   float64   // how far closed front and rest show them
	rest   []float32 // frame-sized, posed
	front  []float32 // posed, over the box: 4 channels, premultiplied RGB and cover
	behind []float32 // posed, over the box
	mayGo  []bool    // over the box: the mechanic may reach here
	box    box       // moving box in frame pixels
}

// NewFilm starts a recording; seed makes its noise.
func NewFilm(s *Studio, c *Camera, seed uint64) *Film {
	f := &Film{studio: s, rec: c.record(seed)}
	m := s.Margin
	f.box = box{max(0, s.moving.x0-m), max(0, s.moving.y0-m), min(s.Width, s.moving.x1-m), min(s.Height, s.moving.y1-m)}
	f.full = make([]float32, 3*s.w*s.h)
	f.fullF = make([]float32, 4*s.inner.w()*s.inner.h())
	f.fullB = make([]float32, 3*s.inner.w()*s.inner.h())
	f.fullL = make([]float32, 4*s.lidBox.w()*s.lidBox.h())
	f.rest = make([]float32, 3*s.Width*s.Height)
	f.front = make([]float32, 4*f.box.w()*f.box.h())
	f.behind = make([]float32, 3*f.box.w()*f.box.h())
	return f
}

// shares turns lamps' levels into pictures' weights.
func (s *Studio) shares(levels []float64) []float32 {
	w := make([]float32, len(s.pics))
	for l := range levels {
		for i, k := range s.levelShares(l, levels[l]) {
			w[s.first[l]+i] = float32(k)
		}
	}
	return w
}

// Mix is the linear light of the given levels at rest, in the sensor's
// channels, frame-sized, 3 values a pixel.
func (s *Studio) Mix(levels []float64) []float32 {
	w := s.shares(levels)
	out := make([]float32, 3*s.Width*s.Height)
	for y := range s.Height {
		row := out[3*y*s.Width : 3*(y+1)*s.Width]
		at := 3 * ((y+s.Margin)*s.w + s.Margin)
		for i, k := range w {
			addScaled(row, s.still[i][at:at+len(row)], k)
		}
	}
	return out
}

func addScaled(dst, src []float32, k float32) {
	if k == 0 {
		return
	}
	src = src[:len(dst)]
	for i, v := range src {
		dst[i] += k * v
	}
}

// moreOften is how many times a mix is changed by adding differences before
// it's made anew, so that float32's rounding can't pile up.
const moreOften = 40

// light makes the mix of the shot's levels, if it isn't there already. When a
// few lamps have changed, only their difference is added.
func (f *Film) light(ctx context.Context, levels []float64) error {
	if f.weights != nil && equal(f.levels, levels) {
		return nil
	}
	s := f.studio
	w := s.shares(levels)
	var which []int
	for i := range w {
		if f.weights == nil || w[i] != f.weights[i] {
			which = append(which, i)
		}
	}
	anew := f.weights == nil || len(which) > 3 || f.added >= moreOften
	step := make([]float32, len(w))
	if anew {
		which, f.added = nil, 0
		for i, k := range w {
			if k != 0 {
				which = append(which, i)
			}
			step[i] = k
		}
	} else {
		f.added++
		for _, i := range which {
			step[i] = w[i] - f.weights[i]
		}
	}
	f.levels = append(f.levels[:0], levels...)
	f.weights = w
	f.fresh = false // what follows from it must be made again
	b := s.inner
	return eachRow(ctx, s.h, func(y int) {
		row := f.full[3*y*s.w : 3*(y+1)*s.w]
		if anew {
			clear(row)
		}
		for _, i := range which {
			addScaled(row, s.still[i][3*y*s.w:], step[i])
		}
		if y >= s.lidBox.y0 && y < s.lidBox.y1 {
			f.lightLids(y, which, step, anew)
		}
		if y < b.y0 || y >= b.y1 {
			return
		}
		from, to := 3*(y-b.y0)*b.w(), 3*(y-b.y0+1)*b.w()
		back := f.fullB[from:to]
		if anew {
			clear(back)
		}
		for _, i := range which {
			addScaled(back, s.back.pics[i][from:to], step[i])
		}
		for x := b.x0; x < b.x1; x++ {
			at := (y-b.y0)*b.w() + x - b.x0
			c := s.fore.cover[at]
			o := f.fullF[4*at : 4*at+4 : 4*at+4]
			if anew {
				o[0], o[1], o[2], o[3] = 0, 0, 0, c
			}
			if c == 0 {
				continue
			}
			for _, i := range which {
				k := step[i]
				p := s.fore.pics[i][3*at : 3*at+3 : 3*at+3]
				o[0] += k * p[0]
				o[1] += k * p[1]
				o[2] += k * p[2]
			}
		}
	})
}

func equal(a, b []float64) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}

// inverse gives, for a place of the posed frame, the place in the reference
// with margin.
func (s *Studio) inverse(p Pose) func(x, y float64) (float64, float64) {
	cx, cy := float64(s.Width)/2, float64(s.Height)/2
	sin, cos := math.Sincos(p.Degrees * math.Pi / 180)
	m := float64(s.Margin)
	return func(x, y float64) (float64, float64) {
		x, y = (x+0.5-cx-p.DX)/p.Scale, (y+0.5-cy-p.DY)/p.Scale
		return cx + cos*x + sin*y - 0.5 + m, cy - sin*x + cos*y - 0.5 + m
	}
}

// aim poses the mix: what the camera would see with nobody moving.
func (f *Film) aim(ctx context.Context, p Pose) error {
	if f.fresh && f.pose == p {
		return nil
	}
	s := f.studio
	f.pose = p
	back := s.inverse(p)
	plain := p == Still
	err := eachRow(ctx, s.Height, func(y int) {
		row := f.rest[3*y*s.Width : 3*(y+1)*s.Width]
		inBox := y >= f.box.y0 && y < f.box.y1
		if plain {
			copy(row, f.full[3*((y+s.Margin)*s.w+s.Margin):])
		} else {
			for x := range s.Width {
				sx, sy := back(float64(x), float64(y))
				sampleCubic(f.full, s.w, s.h, 3, sx, sy, row[3*x:3*x+3])
			}
		}
		if !inBox {
			return
		}
		for x := f.box.x0; x < f.box.x1; x++ {
			at := (y-f.box.y0)*f.box.w() + x - f.box.x0
			o, b := f.front[4*at:4*at+4], f.behind[3*at:3*at+3]
			if plain {
				from := (y+s.Margin-s.inner.y0)*s.inner.w() + x + s.Margin - s.inner.x0
				copy(o, f.fullF[4*from:4*from+4])
				copy(b, f.fullB[3*from:3*from+3])
			} else {
				sx, sy := back(float64(x), float64(y))
				ix, iy := sx-float64(s.inner.x0), sy-float64(s.inner.y0)
				sampleCubic(f.fullF, s.inner.w(), s.inner.h(), 4, ix, iy, o)
				sampleCubic(f.fullB, s.inner.w(), s.inner.h(), 3, ix, iy, b)
			}
		}
	})
	if f.mayGo == nil || s.apart(p, f.reached) > 1 {
		f.reach()
		f.reached = p
	}
	f.fresh, f.lids = true, 0
	return err
}

// apart bounds how far a pixel lies from one pose to another.
func (s *Studio) apart(a, b Pose) float64 {
	half := math.Hypot(float64(s.Width), float64(s.Height)) / 2
	return math.Hypot(a.DX-b.DX, a.DY-b.DY) + half*(math.Abs(a.Degrees-b.Degrees)*math.Pi/180+math.Abs(a.Scale-b.Scale))
}

// reach marks the pixels the mechanic can cover or uncover.
func (f *Film) reach() {
	w, h := f.box.w(), f.box.h()
	r := int(math.Ceil(float64(f.studio.Height)*motionReach)) + 3
	near := make([]bool, w*h)
	for y := range h {
		run := 0
		mark := func(x int) {
			at := y*w + x
			if f.front[4*at+3] > 0 {
				run = r + 1
			}
			if run > 0 {
				near[at] = true
				run--
			}
		}
		for x := range w {
			mark(x)
		}
		run = 0
		for x := w - 1; x >= 0; x-- {
			mark(x)
		}
	}
	f.mayGo = make([]bool, w*h)
	for x := range w {
		run := 0
		mark := func(y int) {
			at := y*w + x
			if near[at] {
				run = r + 1
			}
			if run > 0 {
				f.mayGo[at] = f.studio.moves(x+f.box.x0, y+f.box.y0)
				run--
			}
		}
		for y := range h {
			mark(y)
		}
		run = 0
		for y := h - 1; y >= 0; y-- {
			mark(y)
		}
	}
}

// motionReach bounds how far the mechanic moves, as a share of the frame's height.
const motionReach = 0.02

// moves says whether a frame pixel goes with the mechanic at all.
func (s *Studio) moves(x, y int) bool {
	x, y = x+s.Margin-s.moving.x0, y+s.Margin-s.moving.y0
	if x < 0 || y < 0 || x >= s.moving.w() || y >= s.moving.h() {
		return false
	}
	at := y*s.moving.w() + x
	return s.pose.body[at] > 0 || s.pose.head[at] > 0
}

// Frame films one shot into out.
func (f *Film) Frame(ctx context.Context, index int, sh Shot, out *picture.Frame) error {
	if err := f.light(ctx, sh.Levels); err != nil {
		return err
	}
	if err := f.aim(ctx, sh.Pose); err != nil {
		return err
	}
	f.blink(sh.Body.Lids)
	s := f.studio
	const block = 8
	err := eachRow(ctx, (s.Height+block-1)/block, func(j int) {
		var scratch rowScratch
		native := make([]float32, 3*s.Width)
		for y := j * block; y < min((j+1)*block, s.Height); y++ {
			f.moved(native, y, sh.Body)
			f.rec.row(native, index, y, float32(sh.Gain), &scratch, out)
		}
	})
	f.rec.started = true
	out.Index = index
	return err
}

// moved gives row y of the scene with the mechanic where he is.
func (f *Film) moved(row []float32, y int, b Body) {
	s := f.studio
	copy(row, f.rest[3*y*s.Width:])
	if y < f.box.y0 || y >= f.box.y1 || b == (Body{Lids: b.Lids}) {
		return
	}
	w, h := f.box.w(), f.box.h()
	j := y - f.box.y0
	k := s.pose.metre
	cx, cy := s.pose.neckX-float32(s.Margin), s.pose.neckY-float32(s.Margin)
	bx, by := float32(b.X)*k, float32(b.Y)*k
	hx, hy, tilt := float32(b.HeadX)*k, float32(b.HeadY)*k, float32(b.Tilt)
	px := f.box.x0 + s.Margin - s.moving.x0
	py := (y + s.Margin - s.moving.y0) * s.moving.w()
	var q [4]float32
	for i := range w {
		at := j*w + i
		if !f.mayGo[at] {
			continue
		}
		wb, wh := s.pose.body[py+px+i], s.pose.head[py+px+i]
		x := float32(f.box.x0+i) - cx
		v := float32(y) - cy
		dx := wb*bx + wh*(hx-tilt*v)
		dy := wb*by + wh*(hy+tilt*x)
		sampleCubic4(f.front, w, h, float32(i)-dx, float32(j)-dy, &q)
		a := 1 - clamp32(q[3], 0, 1)
		o := row[3*(f.box.x0+i) : 3*(f.box.x0+i)+3 : 3*(f.box.x0+i)+3]
		c := f.behind[3*at : 3*at+3 : 3*at+3]
		o[0] = max(q[0], 0) + a*c[0]
		o[1] = max(q[1], 0) + a*c[1]
		o[2] = max(q[2], 0) + a*c[2]
	}
}
