package gauge

import (
	"math"
	"testing"
)

// shifted paints the wall moved by dx, dy pixels, linear between pixels.
func (s *scene) shifted(from [3][]float32, dx, dy float64) {
	fx, fy := math.Floor(dx), math.Floor(dy)
	ax, ay := float32(dx-fx), float32(dy-fy)
	clamp := func(v, n int) int { return min(max(v, 0), n-1) }
	for c := range s.wall {
		for y := range s.Height {
			y0, y1 := clamp(y-int(fy), s.Height), clamp(y-int(fy)-1, s.Height)
			for x := range s.Width {
				x0, x1 := clamp(x-int(fx), s.Width), clamp(x-int(fx)-1, s.Width)
				top := (1-ax)*from[c][y0*s.Width+x0] + ax*from[c][y0*s.Width+x1]
				bottom := (1-ax)*from[c][y1*s.Width+x0] + ax*from[c][y1*s.Width+x1]
				s.wall[c][y*s.Width+x] = (1-ay)*top + ay*bottom
			}
		}
	}
}

// handlingTry films a wall that drifts by size pixels in two seconds while the
// mechanic walks and the exposure changes a little.
func handlingTry(n uint64, size float64) Handling {
	s := newScene(480, 270, 10, n)
	walk := walk(s.rng)
	var from [3][]float32
	for c := range from {
		from[c] = append([]float32(nil), s.wall[c]...)
	}
	turn := 2 * math.Pi * s.rng.Float64()
	var k Handled
	viewer := Viewer{Step: 2}
	const frames = 16
	for i := range frames {
		t := float64(i) / 8
		part := size * float64(i) / (frames - 1)
		s.shifted(from, part*math.Cos(turn), part*math.Sin(turn))
		o := shot{index: i, time: t, stops: 0.05 * t}
		o.x, o.y = walk(t)
		k.Add(viewer.Look(s.frame(o)))
	}
	return k.Result()
}

func TestHandlingDrill(t *testing.T) {
	drill(t, "picture wanders, pixels", HandlingLimit, 12, 4, func(n uint64, size float64) (bool, float64, float64) {
		for _, p := range handlingTry(n, size).Problems {
			return true, p.Size, p.Error
		}
		return false, 0, 0
	})
}

func TestHandlingTellsNothingOfABlankWall(t *testing.T) {
	f := noiseFrame(format709, 1)
	for i := range f.Y {
		f.Y[i] = 300
	}
	var k Handled
	var v Viewer
	for i := range 5 {
		f.Index, f.Time = i, float64(i)/25
		k.Add(v.Look(f))
	}
	if r := k.Result(); r.Reach != nil || len(r.Problems) > 0 || len(r.Notes) != 1 {
		t.Errorf("%+v", r)
	}
	if r := (&Handled{}).Result(); r.Reach != nil || len(r.Problems) > 0 {
		t.Errorf("nothing was looked at: %+v", r)
	}
}
