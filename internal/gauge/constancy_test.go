package gauge

import (
	"encoding/json"
	"math"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/unit"
)

// watch films a scene with the mechanic moving and gives what Constancy says.
func watch(n uint64, seconds float64, change func(t float64) shot) Steady {
	s := newScene(192, 108, 10, n)
	c := NewConstancy(s.camera())
	go7 := walk(s.rng)
	var v Viewer
	const rate = 6.25
	for i := range int(seconds * rate) {
		t := float64(i) / rate
		o := change(t)
		o.index, o.time = 4*i, t
		o.x, o.y = go7(t)
		c.Add(v.Look(s.frame(o)))
	}
	return c.Result()
}

func first(s Steady, kind string) (bool, float64, float64) {
	for _, p := range s.Problems {
		if p.Kind == kind {
			return true, p.Size, p.Error
		}
	}
	return false, 0, 0
}

func TestExposureAndWhiteDrill(t *testing.T) {
	t.Parallel()
	const clean = 8
	at := func(n uint64) float64 { return 2 + float64(n%5) }
	// A clean clip must raise none of the four kinds; the three drills below
	// see different clean clips.
	drill(t, "exposure jump, stops", float64(ExposureLimit), clean, 4, func(n uint64, size float64) (bool, float64, float64) {
		s := watch(n, 8, func(t float64) shot {
			if t >= at(n) {
				return shot{stops: size}
			}
			return shot{}
		})
		if size == 0 {
			return len(s.Problems) > 0, 0, 0
		}
		return first(s, "exposure-jump")
	})
	drill(t, "exposure drift, stops", 2*float64(ExposureLimit), clean, 4, func(n uint64, size float64) (bool, float64, float64) {
		s := watch(n+5000, 12, func(t float64) shot { return shot{stops: -size * max(0, t-2) / 10} })
		if size == 0 {
			return len(s.Problems) > 0, 0, 0
		}
		ok, got, e := first(s, "exposure-drift")
		return ok, -got, e
	})
	drill(t, "white balance jump, mired", float64(WhiteLimit), clean, 4, func(n uint64, size float64) (bool, float64, float64) {
		s0 := newScene(16, 9, 10, 1)
		x := whiteAxes(s0.camera().Gamut)
		// The gains that turn a neutral by size mired: the columns of the axes' inverse.
		det := x.inverse[0][0]*x.inverse[1][1] - x.inverse[0][1]*x.inverse[1][0]
		rg, bg := x.inverse[1][1]/det*size, -x.inverse[1][0]/det*size
		s := watch(n+9000, 8, func(t float64) shot {
			if t >= at(n) {
				return shot{gain: [3]float64{math.Exp2(rg), 1, math.Exp2(bg)}}
			}
			return shot{}
		})
		if size == 0 {
			return len(s.Problems) > 0, 0, 0
		}
		return first(s, "white-jump")
	})
	drill(t, "white balance drift, mired", 2*float64(WhiteLimit), clean/2, 3, func(n uint64, size float64) (bool, float64, float64) {
		s0 := newScene(16, 9, 10, 1)
		x := whiteAxes(s0.camera().Gamut)
		// The gains that turn a neutral by size mired: the columns of the axes' inverse.
		det := x.inverse[0][0]*x.inverse[1][1] - x.inverse[0][1]*x.inverse[1][0]
		rg, bg := x.inverse[1][1]/det*size, -x.inverse[1][0]/det*size
		s := watch(n+13000, 12, func(t float64) shot {
			k := max(0, t-2) / 10
			return shot{gain: [3]float64{math.Exp2(k * rg), 1, math.Exp2(k * bg)}}
		})
		if size == 0 {
			return len(s.Problems) > 0, 0, 0
		}
		return first(s, "white-drift")
	})
}

// The axes are held to adaptation itself, at a shift they were not made with.
func TestWhiteAxesAgreeWithAdaptation(t *testing.T) {
	for _, id := range []string{"bt709", "bt2020"} {
		g := colour.MustGamut(id)
		x := whiteAxes(g)
		for _, want := range []float64{-20, 8, 25} {
			k := colour.XYFromCCT(6500, 0)
			c := g.FromXYZ().Apply(colour.Adapt(k, g.W, colour.CAT16).Apply(colour.XYFromCCT(unit.Kelvin(6500).Shifted(unit.Mired(want)), 0).XYZ()))
			got, duv := x.split(math.Log2(c[0]/c[1]), math.Log2(c[2]/c[1]))
			if math.Abs(got-want) > 0.06*math.Abs(want)+0.1 || math.Abs(duv) > 0.003 {
				t.Errorf("%s: %.2f mired Duv %.4f, want %g", id, got, duv, want)
			}
		}
	}
}

func TestConstancyTellsLampsFromTheCamera(t *testing.T) {
	t.Parallel()
	// film runs a scene whose wall is changed by light at some time.
	film := func(n uint64, at func(s *scene, t float64) shot) Steady {
		s := newScene(192, 108, 10, n)
		c := NewConstancy(s.camera())
		w := walk(s.rng)
		var v Viewer
		for i := range 60 {
			now := float64(i) / 6
			o := at(s, now)
			o.index, o.time = 4*i, now
			o.x, o.y = w(now)
			c.Add(v.Look(s.frame(o)))
		}
		return c.Result()
	}
	// A cloud: 0.4 stop less over four seconds, and back.
	cloud := film(1, func(_ *scene, t float64) shot {
		return shot{stops: -0.4 * max(0, min(1, (t-1)/3, (9-t)/3))}
	})
	if len(cloud.Changes) != 2 || cloud.Changes[0].Jump || math.Abs(cloud.Changes[0].Size+0.4) > 0.03 || math.Abs(cloud.Changes[1].Size-0.4) > 0.03 {
		t.Errorf("cloud: %+v", cloud.Changes)
	}
	// A lamp from the left goes up: what it lights changes by more than the rest.
	lamp := film(2, func(s *scene, t float64) shot {
		if t == 5 {
			for c := range s.wall {
				for i := range s.wall[c] {
					s.wall[c][i] *= float32(1 + 1.5*math.Exp(-3*float64(i%s.Width)/float64(s.Width)))
				}
			}
		}
		return shot{}
	})
	// It may lift most of the picture alike or not.
	told := false
	for _, ch := range lamp.Changes {
		told = told || (ch.Of == "light" || ch.Of == "exposure") && ch.From < 5.1 && ch.To > 4.7 && math.Abs(ch.Size) > 0.1
	}
	if !told {
		t.Errorf("lamp: %+v", lamp.Changes)
	}
	auto := film(3, func(_ *scene, t float64) shot {
		return shot{stops: 0.3 * max(0, min(1, t-5))}
	})
	if len(auto.Changes) != 1 || auto.Changes[0].Of != "exposure" || !auto.Changes[0].Jump || math.Abs(auto.Changes[0].From-5) > 0.4 || math.Abs(auto.Changes[0].To-6) > 0.4 {
		t.Errorf("automatic exposure: %+v", auto.Changes)
	}
	// Mains flicker of the whole picture is no jump.
	flicker := film(4, func(_ *scene, t float64) shot { return shot{stops: 0.04 * math.Sin(2*math.Pi*2.3*t)} })
	if len(flicker.Changes) != 0 {
		t.Errorf("flicker: %+v", flicker.Changes)
	}
	cut := film(5, func(s *scene, t float64) shot {
		if t == 2 {
			s.paint()
		}
		return shot{}
	})
	if cut.Known || len(cut.Notes) == 0 {
		t.Errorf("another picture: %+v", cut.Changes)
	}
}

func TestConstancyKnowsWhenItCannotTell(t *testing.T) {
	c, _ := colour.CurveByID("log-420")
	for name, lin := range map[string]float64{"black": 0, "clipped": 60} {
		k := NewConstancy(Camera{Curve: c, ClipCode: 900})
		var v Viewer
		for i := range 10 {
			f := flat(format709, c, [3]float64{lin, lin, lin})
			f.Index, f.Time = i, float64(i)
			k.Add(v.Look(f))
		}
		r := k.Result()
		if r.Known || len(r.Notes) == 0 || len(r.Problems) > 0 {
			t.Errorf("all %s: %+v", name, r)
		}
		if _, err := json.Marshal(r); err != nil {
			t.Error(err)
		}
	}
	if r := NewConstancy(Camera{Curve: c}).Result(); r.Known {
		t.Errorf("no frames: %+v", r)
	}
}
