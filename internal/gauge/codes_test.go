package gauge

import (
	"encoding/json"
	"math"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

func lookAtCodes(s *scene, cam Camera, frames int, change func(code uint16, i int) uint16) CodesFound {
	c := NewCodes(cam)
	var v Viewer
	for k := range frames {
		f := s.frame(shot{index: k, x: 0.3 + 0.1*float64(k), y: 0.6})
		if change != nil {
			for i, y := range f.Y {
				f.Y[i] = change(y, i)
			}
		}
		c.Add(v.Look(f))
	}
	return c.Result()
}

func TestCombDrill(t *testing.T) {
	t.Parallel()
	drill(t, "codes on a comb, %", CombLimit, 20, 8, func(n uint64, size float64) (bool, float64, float64) {
		s := newScene(320, 180, 10, n)
		step := []float64{4, 4, 2, 3.435}[n%4]
		r := newRand(n + 70000)
		got := lookAtCodes(s, s.camera(), 3, func(y uint16, _ int) uint16 {
			if 100*r.Float64() < size {
				return uint16(math.Round(math.Round(float64(y)/step) * step))
			}
			return y
		})
		if got.Comb == nil {
			return false, 0, 0
		}
		if size > 0 && math.Abs(got.Comb.Step-step) > 0.02*step {
			return false, 0, 0
		}
		return true, 100 * got.Comb.Share, 100 * got.Comb.Error
	})
}

func TestEffectiveBits(t *testing.T) {
	for _, c := range []struct {
		name   string
		bits   int
		change func(uint16, int) uint16
		want   float64
		gaps   bool
	}{
		{"10 bits", 10, nil, 10, false},
		{"8 in 10", 10, func(y uint16, _ int) uint16 { return y &^ 3 }, 8, false},
		{"8 in 10 with a codec's error", 10, func(y uint16, i int) uint16 {
			return y&^3 + uint16(math.Round(math.Abs(float64(gaussPool[i&0xffff]))*0.3))
		}, 8, false},
		{"10 in 12", 12, func(y uint16, _ int) uint16 { return y &^ 3 }, 10, false},
		{"full range made narrow and back", 10, func(y uint16, _ int) uint16 {
			return uint16(math.Round(math.Round(float64(y)*876/1023) * 1023 / 876))
		}, 10 + math.Log2(876.0/1023), true},
	} {
		s := newScene(480, 270, c.bits, 800)
		got := lookAtCodes(s, s.camera(), 2, c.change)
		if got.Effective == nil || math.Abs(*got.Effective-c.want) > 0.5 || (got.Comb != nil) != (c.change != nil) || got.Comb != nil && got.Comb.Gaps != c.gaps {
			t.Errorf("%s: effective %v, want %.2f; %+v", c.name, got.Effective, c.want, got.Comb)
		} else {
			t.Logf("%s: %.2f bits", c.name, *got.Effective)
		}
	}
}

func TestRangeTagAgainstContent(t *testing.T) {
	bt709, _ := colour.CurveByID("bt1886")
	for _, c := range []struct {
		tag, made, looks colour.Range
	}{{colour.Narrow, colour.Narrow, ""}, {colour.Narrow, colour.Full, colour.Full}, {colour.Full, colour.Narrow, colour.Narrow}, {colour.Full, colour.Full, colour.Full}} {
		f := picture.NewFrame(picture.Format{Width: 320, Height: 180, Bits: 8, Sub: picture.Sub420, Range: c.tag, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft})
		for i := range f.Y {
			e := min(max(float64(i%320)/300-0.03+0.01*float64(gaussPool[i]), 0), 1)
			f.Y[i] = uint16(math.Round(c.made.LumaToCode(e, 8)))
		}
		k := NewCodes(Camera{Curve: bt709})
		var v Viewer
		k.Add(v.Look(f))
		got := k.Result()
		if got.Range.Looks != c.looks || (len(got.Problems) > 0) != (c.looks != "" && c.looks != c.tag) {
			t.Errorf("tagged %s, made %s: %+v %+v", c.tag, c.made, got.Range, got.Problems)
		}
	}
}

func TestCurveReadings(t *testing.T) {
	s := newScene(480, 270, 10, 810)
	black := func(f *picture.Frame) { fill(f, s.curve, Box{0.9, 0.8, 0.1, 0.2}, [3]float64{0, 0, 0}) }
	look := func(id string, change func(code float64) float64) CodesFound {
		k, err := colour.CurveByID(id)
		if err != nil {
			t.Fatal(err)
		}
		c := NewCodes(Camera{Curve: k})
		var v Viewer
		f := s.frame(shot{x: 0.5, y: 0.6})
		black(f)
		for i, y := range f.Y {
			f.Y[i] = uint16(min(max(math.Round(change(float64(y))), 0), 1023))
		}
		c.Add(v.Look(f))
		return c.Result()
	}
	same := func(c float64) float64 { return c }
	down := func(c float64) float64 { return 64 + 876*c/1023 }
	up := func(c float64) float64 { return (c - 64) / 876 * 1023 }
	if r := look("log-420", same); r.Curve.Claimed.Verdict != Fits || len(r.Problems) > 0 {
		t.Errorf("as recorded: %+v", r.Curve)
	}
	// Expanded by a decoder: black at 36 is 59 codes darker than no light.
	if r := look("log-420", up); r.Curve.Claimed.Verdict != Impossible || r.Curve.Stretched.Verdict != Fits || r.Problems[len(r.Problems)-1].Kind != "curve-levels" {
		t.Errorf("expanded: %+v", r.Curve)
	}
	// Squeezed into narrow range: possible, but the other reading fits.
	if r := look("log-420", down); r.Curve.Claimed.Verdict != Possible || r.Curve.Squeezed.Verdict != Fits || len(r.Notes) == 0 {
		t.Errorf("squeezed: %+v", r.Curve)
	}
	for _, c := range []CodesFound{look("log-420", same), look("log-420", up), look("bt709", same)} {
		if _, err := json.Marshal(c); err != nil {
			t.Error(err)
		}
	}
}

func TestDarkerThanNoLightDrill(t *testing.T) {
	t.Parallel()
	drill(t, "black under the curve's, codes", BlackLimit, 15, 5, func(n uint64, size float64) (bool, float64, float64) {
		s := newScene(320, 180, 10, n)
		c := NewCodes(s.camera())
		var v Viewer
		f := s.frame(shot{x: 0.5, y: 0.6})
		fill(f, s.curve, Box{0.88, 0.8, 0.1, 0.15}, [3]float64{0, 0, 0})
		for i, y := range f.Y {
			f.Y[i] = y - uint16(math.Round(size))
		}
		c.Add(v.Look(f))
		for _, p := range c.Result().Problems {
			if p.Kind == "curve-levels" || p.Kind == "curve-wrong" {
				return true, p.Size, p.Error
			}
		}
		return false, 0, 0
	})
}

func TestCodesOfOddClips(t *testing.T) {
	c, _ := colour.CurveByID("log-420")
	for _, lin := range []float64{0, 0.2, 60} {
		k := NewCodes(Camera{Curve: c})
		var v Viewer
		k.Add(v.Look(flat(format709, c, [3]float64{lin, lin, lin})))
		r := k.Result()
		if _, err := json.Marshal(r); err != nil {
			t.Error(err)
		}
		if r.Effective != nil || len(r.Problems) > 0 || len(r.Notes) == 0 {
			t.Errorf("even frame of %g: %+v", lin, r)
		}
	}
	if r := NewCodes(Camera{}).Result(); len(r.Notes) == 0 {
		t.Errorf("no frames: %+v", r)
	}
}
