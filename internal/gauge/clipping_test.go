package gauge

import (
	"encoding/json"
	"math"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// sensor limits the scene's light as a full sensor does: noise first, then
// the limit, then a codec's error.
func (s *scene) clipped(o shot, full float64, codec float64) *picture.Frame {
	f := s.frame(o)
	top := uint16(math.Round(s.Range.LumaToCode(s.eOf(full), s.Bits)))
	for i, v := range f.Y {
		if v > top {
			v = top
		}
		n := gaussPool[(i*7+o.index*131)&(len(gaussPool)-1)]
		f.Y[i] = uint16(max(0, math.Round(float64(v)+codec*float64(n))))
	}
	return f
}

func (s *scene) eOf(x float64) float64 {
	slope, offset := s.curve.SignalFromE(s.Range)
	return (s.curve.Encode(x) - offset) / slope
}

func TestClipIsToldFromAnEvenBrightSurfaceByItsNoise(t *testing.T) {
	for _, c := range []struct {
		name    string
		noise   float64 // b of the photons
		codec   float64 // codes
		even    bool    // the brightest surface is an even one, not clipped
		found   bool
		sure    bool
		tooFine bool // noise too small to tell: whatever it says, it must not be sure
	}{
		{name: "noisy, clipped", noise: 2e-3, codec: 0.3, found: true, sure: true},
		{name: "noisy, even wall", noise: 2e-3, codec: 0.3, even: true},
		{name: "clean, clipped", noise: 4e-5, codec: 0.2, found: true, tooFine: true},
		{name: "clean, even wall", noise: 4e-5, codec: 0.2, even: true, tooFine: true},
		{name: "noisy, clipped, wide codec error", noise: 2e-2, codec: 1.5, found: true, sure: true},
	} {
		s := newScene(480, 270, 10, 7)
		s.b = c.noise
		full := 12.0
		if c.even {
			for ch := range s.wall {
				for y := 20; y < 120; y++ {
					for x := 300; x < 450; x++ {
						s.wall[ch][y*s.Width+x] = 12
					}
				}
			}
			s.max = 12
			full = 100
		} else {
			// A surface that rises through the clip, as a lamp's glow does.
			for ch := range s.wall {
				for y := 20; y < 120; y++ {
					for x := 300; x < 450; x++ {
						s.wall[ch][y*s.Width+x] = float32(3 + 0.15*float64(x-300))
					}
				}
			}
		}
		var f ClipFinder
		var v Viewer
		for i := range 4 {
			f.AddView(v.Look(s.clipped(shot{index: i}, full, c.codec)))
		}
		got := f.Find()
		want := s.Range.LumaToCode(s.eOf(12), 10)
		t.Logf("%s: %+v", c.name, got)
		switch {
		case c.tooFine && got.Sure:
			t.Errorf("%s: sure where noise can't tell: %+v", c.name, got)
		case c.tooFine && c.even:
		case got.Found != c.found || got.Sure != c.sure:
			t.Errorf("%s: %+v", c.name, got)
		case c.found && math.Abs(got.Code-want) > 2:
			t.Errorf("%s: code %.1f, want %.1f", c.name, got.Code, want)
		}
	}
}

func TestFloorMirrorsClip(t *testing.T) {
	rng := newRand(8)
	var c, m ClipFinder
	for range 3 {
		f := ramp(10, 955, 925, rng)
		c.Add(f)
		for i := range f.Y {
			f.Y[i] = 1023 - f.Y[i]
		}
		m.Add(f)
	}
	a, b := c.Find(), m.Floor()
	if !a.Found || !b.Found || math.Abs(1023-a.Code-b.Code) > 1e-9 {
		t.Errorf("clip %+v, floor %+v", a, b)
	}
}

func TestClippedPartsAreWhereAndWhen(t *testing.T) {
	c, _ := colour.CurveByID("log-420")
	cam := Camera{Curve: c, ClipCode: 900}
	k := NewClipping(cam)
	var v Viewer
	frame := flat(format709, c, [3]float64{0.2, 0.2, 0.2})
	bad := flat(format709, c, [3]float64{0.2, 0.2, 0.2})
	y0 := Box{0.75, 0, 0.125, 0.2}
	x0, t0, x1, t1 := y0.Pixels(format709.Width, format709.Height)
	for y := t0; y < t1; y++ {
		for x := x0; x < x1; x++ {
			bad.Y[y*160+x] = 905
		}
	}
	for y := 60; y < 90; y++ { // no light at all
		for x := range 16 {
			bad.Y[y*160+x] = 90
		}
	}
	for i := range 100 {
		f := frame
		if i >= 40 && i < 60 {
			f = bad
		}
		f.Index, f.Time = i, float64(i)/10
		k.Add(v.Look(f))
	}
	got := k.Result()
	area := y0.W * y0.H
	if math.Abs(got.High.Any-area/5) > 1e-3 || len(got.High.Places) != 1 || len(got.Problems) != 2 {
		t.Fatalf("%+v", got)
	}
	p := got.Problems[0]
	if p.Kind != "clipped" || math.Abs(p.Size-100*area) > p.Error || p.From != 4 || p.To != 5.9 || p.Where[0].X < 0.7 || p.Where[0].Y != 0 {
		t.Errorf("%+v", p)
	}
	p = got.Problems[1]
	if p.Kind != "crushed" || math.Abs(p.Size-100*16.0/160/3) > p.Error || p.From != 4 || p.Where[0].X != 0 || p.Where[0].Y < 0.6 {
		t.Errorf("%+v", p)
	}
	if _, err := json.Marshal(got); err != nil {
		t.Error(err)
	}
}

func TestClippingDrill(t *testing.T) {
	t.Parallel()
	const clip = 880.0
	try := func(low bool) func(uint64, float64) (bool, float64, float64) {
		return func(n uint64, size float64) (bool, float64, float64) {
			s := newScene(480, 270, 10, n)
			s.lit = false
			s.max = 5
			s.paint()
			cam := s.camera()
			cam.ClipCode = clip
			k := NewClipping(cam)
			var v Viewer
			at := s.rng.IntN(200)
			for i := range 2 {
				f := s.frame(shot{index: i, time: float64(i) / 25, x: 0.5, y: 0.6})
				// A patch of the planted area, clipped or black.
				left := int(math.Round(size / 100 * float64(len(f.Y))))
				side := int(math.Ceil(math.Sqrt(float64(left))))
				for y := at; left > 0; y++ {
					for x := 20; x < 20+side && left > 0; x++ {
						p := y*s.Width + x
						f.Y[p], left = clip, left-1
						if low {
							f.Y[p] = 94
						}
						f.Cb[y*s.Width/2+x/2], f.Cr[y*s.Width/2+x/2] = 512, 512
					}
				}
				k.Add(v.Look(f))
			}
			want := "clipped"
			if low {
				want = "crushed"
			}
			for _, p := range k.Result().Problems {
				if p.Kind == want {
					return true, p.Size, p.Error
				}
			}
			return false, 0, 0
		}
	}
	drill(t, "clipped part, %", ClippedLimit, 20, 5, try(false))
	drill(t, "crushed part, %", CrushedLimit, 20, 5, try(true))
}

func TestClippingOfNothingAndOfAllBlack(t *testing.T) {
	if r := NewClipping(Camera{}).Result(); r.High != nil || len(r.Notes) == 0 {
		t.Errorf("%+v", r)
	}
	c, _ := colour.CurveByID("log-420")
	for _, lin := range []float64{0, 100} {
		k := NewClipping(Camera{Curve: c})
		var v Viewer
		k.Add(v.Look(flat(format709, c, [3]float64{lin, lin, lin})))
		r := k.Result()
		if _, err := json.Marshal(r); err != nil {
			t.Errorf("%g: %v", lin, err)
		}
		if lin == 0 && (r.Low == nil || math.Abs(r.Low.Any-1) > 1e-9) {
			t.Errorf("all black: %+v", r.Low)
		}
	}
}
