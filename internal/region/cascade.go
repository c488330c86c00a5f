package region

import (
	_ "embed"
	"math"
	"slices"
	"sync"

	pigo "github.com/esimov/pigo/core"
)

// facefinder is the cascade of decision trees that the library pigo v1.4.6
// ships as cascade/facefinder (MIT; the licence lies beside the file). Its
// trees compare the brightness of pairs of pixels (Markuš et al. 2013,
// arXiv:1305.4537), so that any rising tone gives the same answer but for
// rounding.
//
//go:embed facefinder/facefinder
var facefinder []byte

var cascade = sync.OnceValue(func() *pigo.Pigo {
	p, err := pigo.NewPigo().Unpack(facefinder)
	if err != nil {
		panic("the face finder's cascade, which is part of this program, can't be read: " + err.Error())
	}
	return p
})

// How the cascade is walked over the picture.
const (
	leastFace = 20 // working pixels; below this the cascade knows no faces
)

// window is one place where the cascade saw a face, in pixels of the picture
// that was searched: centre, side, and how far the head leans (degrees,
// clockwise as seen).
type window struct {
	x, y, side, roll, score float64
}

// pass is one walk over a picture: turned, perhaps mirrored.
type pass struct {
	roll   float64
	mirror bool
}

// stride is how finely a walk goes: the window's shift in parts of its side,
// and from size to size.
type stride struct{ shift, size float64 }

// scan walks the cascade over g once for each pass, with windows of least to
// most pixels. The library can turn its trees itself, but clamps columns to
// the number of rows; so the picture is turned instead.
func scan(g *grey, passes []pass, by stride, least, most int) []window {
	out := make([][]window, len(passes))
	var wait sync.WaitGroup
	for i, p := range passes {
		wait.Go(func() { out[i] = scanOnce(g, p, by, least, most) })
	}
	wait.Wait()
	return slices.Concat(out...)
}

func scanOnce(g *grey, p pass, by stride, least, most int) []window {
	t := g.turned(p.roll, p.mirror)
	found := cascade().RunCascade(pigo.CascadeParams{
		MinSize: least, MaxSize: min(t.w, t.h, most), ShiftFactor: by.shift, ScaleFactor: by.size,
		ImageParams: pigo.ImageParams{Pixels: t.pix, Rows: t.h, Cols: t.w, Dim: t.w},
	}, 0)
	out := make([]window, 0, len(found))
	for _, d := range found {
		x, y := t.back(float64(d.Col), float64(d.Row))
		if x < 0 || y < 0 || x >= float64(g.w) || y >= float64(g.h) {
			continue
		}
		out = append(out, window{x, y, float64(d.Scale), p.roll, float64(d.Q)})
	}
	return out
}

// grey is a picture of eight-bit brightness.
type grey struct {
	w, h int
	pix  []uint8
}

// turnedGrey is a grey picture that was turned about its middle (and mirrored)
// and how to get back.
type turnedGrey struct {
	grey
	from     *grey
	sin, cos float64
	mirror   bool
}

// turned turns the picture anticlockwise, so that a head that leans by roll
// degrees clockwise stands upright. What comes from outside repeats the edge.
func (g *grey) turned(roll float64, mirror bool) turnedGrey {
	sin, cos := math.Sincos(roll * math.Pi / 180)
	w := int(math.Ceil(float64(g.w)*cos + float64(g.h)*math.Abs(sin)))
	h := int(math.Ceil(float64(g.h)*cos + float64(g.w)*math.Abs(sin)))
	t := turnedGrey{grey: grey{w: w, h: h}, from: g, sin: sin, cos: cos, mirror: mirror}
	if roll == 0 && !mirror {
		t.pix = g.pix
		return t
	}
	t.pix = make([]uint8, w*h)
	for y := range h {
		for x := range w {
			sx, sy := t.back(float64(x), float64(y))
			t.pix[y*w+x] = g.between(sx, sy)
		}
	}
	return t
}

// back gives the place in the picture that was turned.
func (t *turnedGrey) back(x, y float64) (float64, float64) {
	if t.mirror {
		x = float64(t.w-1) - x
	}
	dx, dy := x-float64(t.w-1)/2, y-float64(t.h-1)/2
	return float64(t.from.w-1)/2 + dx*t.cos - dy*t.sin, float64(t.from.h-1)/2 + dx*t.sin + dy*t.cos
}

// between interpolates between four pixels; outside, the edge repeats.
func (g *grey) between(x, y float64) uint8 {
	x = min(max(x, 0), float64(g.w-1))
	y = min(max(y, 0), float64(g.h-1))
	x0, y0 := int(x), int(y)
	x1, y1 := min(x0+1, g.w-1), min(y0+1, g.h-1)
	fx, fy := x-float64(x0), y-float64(y0)
	at := func(x, y int) float64 { return float64(g.pix[y*g.w+x]) }
	top := at(x0, y0)*(1-fx) + at(x1, y0)*fx
	bottom := at(x0, y1)*(1-fx) + at(x1, y1)*fx
	return uint8(math.Round(top*(1-fy) + bottom*fy))
}

// part takes n×n pixels from x0, y0 on, k pixels apart, each the mean of what
// it covers (by k/2 steps inside) or, for k < 1, between its neighbours.
func (g *grey) part(x0, y0, k float64, n int) *grey {
	out := &grey{w: n, h: n, pix: make([]uint8, n*n)}
	steps := max(1, int(math.Ceil(k)))
	for y := range n {
		for x := range n {
			sum := 0.0
			for j := range steps {
				for i := range steps {
					dx := k * ((float64(i)+0.5)/float64(steps) - 0.5)
					dy := k * ((float64(j)+0.5)/float64(steps) - 0.5)
					sum += float64(g.between(x0+k*float64(x)+dx, y0+k*float64(y)+dy))
				}
			}
			out.pix[y*n+x] = uint8(math.Round(sum / float64(steps*steps)))
		}
	}
	return out
}
