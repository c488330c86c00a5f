package demo

import (
	"context"
	"math"
	"runtime/debug"

	"lampwise/internal/colour"
)

// Studio is the example's room with its light known: one linear picture for
// each lamp, in the sensor's own channels. It's what the tracer made and the
// camera films; nothing in it changes afterwards.
type Studio struct {
	Width, Height int // of a frame
	Margin        int // pixels more on each side, so that the camera can be moved

	lamps []Lamp
	pics  []pictureOf
	first []int

	w, h   int         // with margin
	still  [][]float32 // front over back, for each picture; 3·w·h
	moving box         // where the mechanic can be; outside it still is the whole truth
	inner  box         // moving and a border: what fore and back hold
	fore   *layer
	back   *layer
	pose   poseMap

	lidBox  box         // where the eyes are, with margin
	lidPics [][]float32 // the front layer there with the lids closed; 3·w·h of lidBox
	marks   []mark

	// native is how light becomes the sensor's channels; the camera takes it back out.
	native colour.Mat3
}

// box is a rectangle of pixels, x1 and y1 left out.
type box struct{ x0, y0, x1, y1 int }

func (b box) w() int { return b.x1 - b.x0 }
func (b box) h() int { return b.y1 - b.y0 }

func (b box) has(x, y int) bool { return x >= b.x0 && x < b.x1 && y >= b.y0 && y < b.y1 }

// NativeFromXYZ is the example sensor's response: three broad channels that
// overlap, as a matrix on CIE XYZ (a sensor without metamerism of its own).
// Its size is that of ordinary cameras' published matrices; the numbers are
// the example's own.
var NativeFromXYZ = colour.Mat3{
	{0.74, -0.16, -0.07},
	{-0.40, 1.22, 0.20},
	{-0.06, 0.16, 0.62},
}

// sensorBands are the three channels' sensitivities at the bands.
func sensorBands() (s [3]spectrum) {
	for i := range bands {
		v := NativeFromXYZ.Apply([3]float64{matching[0][i], matching[1][i], matching[2][i]})
		for c := range 3 {
			s[c][i] = float32(v[c])
		}
	}
	return s
}

// StudioOptions says how large and how finely to trace.
type StudioOptions struct {
	Height int // of the frame, even, 90..2160; the width is 16:9
	Seed   uint64
	Fine   float64 // work per pixel, 1 = as shipped
}

// frameWidth is 16:9, even.
func frameWidth(h int) int { return (h*16/9 + 1) / 2 * 2 }

// NewStudio traces the room. progress counts rows of work.
func NewStudio(ctx context.Context, o StudioOptions, progress func(done, total int)) (*Studio, error) {
	if o.Fine == 0 {
		o.Fine = 1
	}
	// The pictures are large and short-lived ones come between them: a tighter
	// collector keeps the peak near what's really held.
	defer debug.SetGCPercent(debug.SetGCPercent(30))
	lamps := exampleLamps()
	unit := float64(o.Height) / 1080
	b, materials := buildScene(lamps, min(1, math.Max(0.3, unit)))
	t := newTracer(b, materials, makePalette(), colWhite, lamps, sensorBands())
	s := &Studio{
		Width: frameWidth(o.Height), Height: o.Height, Margin: max(4, int(math.Round(20*unit))),
		lamps: lamps, pics: t.pictures, first: t.first, native: NativeFromXYZ,
	}
	s.w, s.h = s.Width+2*s.Margin, s.Height+2*s.Margin
	v := newView(cameraEye, cameraTarget, cameraAngle, s.Width, s.Height, s.Margin)

	coarse := 1
	if o.Height >= 720 {
		coarse = 2
	}
	done, total := 0, s.h+s.h/coarse
	ticks := make(chan struct{}, 64)
	stop := make(chan struct{})
	go func() {
		for range ticks {
			done++
			if progress != nil {
				progress(done, total)
			}
		}
		close(stop)
	}()
	tick := func() { ticks <- struct{}{} }
	defer func() { close(ticks); <-stop }()

	mix := make([]float32, len(t.pictures))
	for l := range lamps {
		for i, k := range s.levelShares(l, lamps[l].Level) {
			mix[t.first[l]+i] = float32(k)
		}
	}
	most := func(n float64) int { return max(2, int(math.Round(n*o.Fine))) }
	q := quality{
		least: most(4), most: most(16), good: 0.03,
		gridStep: max(2, int(math.Round(6*unit))), paths: most(16),
		lens: lensRadius, focus: focusAt,
	}
	all := func(int, int) bool { return true }
	fore, err := t.traceLayer(ctx, v, layerFigure|layerFront, q, o.Seed, mix, all, tick)
	if err != nil {
		return nil, err
	}
	if err := s.traceLids(ctx, t, v, q, o.Seed, mix); err != nil {
		return nil, err
	}
	need := needBehind(fore, int(math.Ceil(26*unit))+2)
	q.lens = 0
	q.least, q.most, q.good = most(4), most(8), 0.04
	vb := v
	if coarse == 2 {
		c := *v
		c.w, c.h, c.scale, c.cx, c.cy = v.w/2, v.h/2, v.scale*2, v.cx/2, v.cy/2
		vb = &c
		q.gridStep = max(2, q.gridStep*2/3)
	}
	wanted := func(x, y int) bool {
		x, y = min(x*coarse, s.w-1), min(y*coarse, s.h-1)
		return need[y*s.w+x]
	}
	back, err := t.traceLayer(ctx, vb, layerBack, q, o.Seed^0x51, mix, wanted, tick)
	if err != nil {
		return nil, err
	}
	back.fillHoles()
	if err := back.defocus(ctx, v, coarse); err != nil {
		return nil, err
	}
	s.place(v)
	if err := s.compose(ctx, fore, back, coarse); err != nil {
		return nil, err
	}
	if err := s.glaze(ctx); err != nil {
		return nil, err
	}
	return s, nil
}

// lensRadius is the aperture's: 50 mm at f/2.8 has 8.9 mm.
const lensRadius = 0.0089

// Lamps lists the lamps, the ambient last; Shot.Levels goes by it.
func (s *Studio) Lamps() []Lamp { return append([]Lamp(nil), s.lamps...) }

// Region gives a named place in frame pixels, in the reference pose: x, y of
// its top left corner, width, height; false where there's none of that name.
func (s *Studio) Region(name string) (box [4]float64, ok bool) {
	for _, m := range s.marks {
		if m.name == name {
			return [4]float64{float64(m.x), float64(m.y), float64(m.w), float64(m.h)}, true
		}
	}
	return box, false
}

// levelShares gives the weights of a lamp's pictures at a level.
func (s *Studio) levelShares(l int, level float64) []float64 {
	return levelShares(&s.lamps[l], level)
}

func levelShares(l *Lamp, level float64) []float64 {
	if l.Filament {
		w := filamentShares(level)
		return w[:]
	}
	return []float64{level}
}

// needBehind marks the pixels where the room behind can show: where the layer
// in front is not solid, and as far round as the mechanic may move.
func needBehind(fore *layer, reach int) []bool {
	w, h := fore.w, fore.h
	row := make([]bool, w*h)
	for y := range h {
		last := -1 << 30
		for x := range w {
			if fore.cover[y*w+x] < 0.999 {
				last = x
			}
			row[y*w+x] = x-last <= reach
		}
		last = 1 << 30
		for x := w - 1; x >= 0; x-- {
			if fore.cover[y*w+x] < 0.999 {
				last = x
			}
			row[y*w+x] = row[y*w+x] || last-x <= reach
		}
	}
	out := make([]bool, w*h)
	for x := range w {
		last := -1 << 30
		for y := range h {
			if row[y*w+x] {
				last = y
			}
			out[y*w+x] = y-last <= reach
		}
		last = 1 << 30
		for y := h - 1; y >= 0; y-- {
			if row[y*w+x] {
				last = y
			}
			out[y*w+x] = out[y*w+x] || last-y <= reach
		}
	}
	return out
}

// compose lays the front over the back, in the front's memory, and keeps both
// apart where the mechanic moves.
func (s *Studio) compose(ctx context.Context, fore, back *layer, coarse int) error {
	b := s.inner
	n := len(s.pics)
	s.still = make([][]float32, n)
	s.fore = &layer{w: b.w(), h: b.h(), pics: make([][]float32, n), cover: crop(fore.cover, 1, s.w, b)}
	s.back = &layer{w: b.w(), h: b.h(), pics: make([][]float32, n)}
	return eachRow(ctx, n, func(i int) {
		p, behind := fore.pics[i], back.enlarge(i, coarse, s.w, s.h)
		s.fore.pics[i], s.back.pics[i] = crop(p, 3, s.w, b), crop(behind, 3, s.w, b)
		for k, c := range fore.cover {
			r := 1 - c
			p[3*k] += r * behind[3*k]
			p[3*k+1] += r * behind[3*k+1]
			p[3*k+2] += r * behind[3*k+2]
		}
		s.still[i] = p
		back.pics[i] = nil
	})
}
