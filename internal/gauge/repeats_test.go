package gauge

import (
	"encoding/json"
	"math"
	"slices"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// copies films frames of which some show the one before, with a codec's error.
func copies(n uint64, frames int, still bool, double func(i int) bool, time func(i int) float64) Repeated {
	s := newScene(160, 90, 10, n)
	s.still = still
	s.b = 4e-4
	w := walk(s.rng)
	var r Repeats
	var v Viewer
	kept := picture.NewFrame(s.Format)
	for i := range frames {
		t := time(i)
		if !double(i) || i == 0 {
			o := shot{index: i, time: t}
			o.x, o.y = w(t)
			f := s.frame(o)
			copy(kept.Y, f.Y)
			copy(kept.Cb, f.Cb)
			copy(kept.Cr, f.Cr)
		} else {
			for k := range kept.Y {
				if s.rng.IntN(12) == 0 {
					kept.Y[k] ^= 1
				}
			}
		}
		kept.Index, kept.Time = i, t
		r.Add(v.Look(kept))
	}
	return r.Result()
}

func at25(i int) float64 { return float64(i) / 25 }

func TestDoubledFramesDrill(t *testing.T) {
	t.Parallel()
	const limit = 1 // frame
	drill(t, "doubled frames", limit, 15, 4, func(n uint64, size float64) (bool, float64, float64) {
		r := newRand(n)
		var which []int
		for len(which) < int(size) {
			if i := 14 + r.IntN(40); !slices.Contains(which, i) {
				which = append(which, i)
			}
		}
		got := copies(n, 60, n%2 == 0, func(i int) bool { return slices.Contains(which, i) }, at25)
		return got.Doubled > 0, float64(got.Doubled), 0
	})
	drill(t, "missing frames", limit, 15, 4, func(n uint64, size float64) (bool, float64, float64) {
		got := copies(n, 60, false, func(int) bool { return false }, func(i int) float64 {
			if i >= 40 {
				return at25(i + int(size))
			}
			return at25(i) + 1e-4*float64(i%3) // times are rounded
		})
		return got.Missing > 0, float64(got.Missing), 0
	})
}

func TestCadenceFreezeAndStill(t *testing.T) {
	c := copies(950, 120, false, func(i int) bool { return i%5 == 4 }, func(i int) float64 { return float64(i) / 30 })
	if c.Cadence != 5 || math.Abs(float64(c.Rate)-24) > 0.01 || c.Doubled != 24 {
		t.Errorf("24 in 30: %+v", c)
	}
	f := copies(951, 100, false, func(i int) bool { return i > 40 && i <= 70 }, at25)
	if len(f.Freezes) != 1 || math.Abs(f.Freezes[0].From-1.6) > 0.05 || math.Abs(f.Freezes[0].To-2.8) > 0.05 || f.Problems[0].Kind != "freeze" {
		t.Errorf("freeze: %+v", f)
	}
	// A still picture without noise is no freeze that can be told by noise, but it stands still.
	k, _ := colour.CurveByID("log-420")
	var r Repeats
	var v Viewer
	p := flat(format709, k, [3]float64{0.2, 0.2, 0.2})
	for i := range 50 {
		p.Index, p.Time = i, at25(i)
		r.Add(v.Look(p))
	}
	if got := r.Result(); len(got.Freezes) != 1 {
		t.Errorf("still: %+v", got)
	}
	for _, x := range []Repeated{c, f, (&Repeats{}).Result()} {
		if _, err := json.Marshal(x); err != nil {
			t.Error(err)
		}
	}
}

// Without noise a codec may leave a frame as the one before was, which is no
// stutter that anybody sees; half a second of it is a freeze all the same.
func TestFramesAlikeWithoutNoiseAreNoCopies(t *testing.T) {
	for _, c := range []struct {
		alike int
		want  string
	}{{1, ""}, {3, ""}, {20, "freeze"}} {
		var r Repeats
		var v Viewer
		frames := evenClip(420, 60)
		for i, f := range frames {
			if at := i; at < 20 || at >= 20+c.alike {
				f.Y[(31*i)%len(f.Y)] += 40
			} else {
				copy(f.Y, frames[19].Y)
			}
			r.Add(v.Look(f))
		}
		got := r.Result()
		kind := ""
		for _, p := range got.Problems {
			kind += p.Kind
		}
		if kind != c.want || len(got.Notes) == 0 {
			t.Errorf("%d frames alike: %q, want %q; %v", c.alike, kind, c.want, got.Notes)
		}
	}
}

func TestAmountOfAProblem(t *testing.T) {
	for _, c := range []struct {
		p    Problem
		want string
	}{
		{Problem{Size: 1, Unit: "frames"}, "1 frame"},
		{Problem{Size: 3, Unit: "frames"}, "3 frames"},
		{Problem{Size: -0.8254, Error: 0.055, Unit: "stop"}, "-0.825 ± 0.055 stop"},
	} {
		if got := c.p.Amount(); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}
