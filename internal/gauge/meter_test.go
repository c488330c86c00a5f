package gauge

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// planThin is what the default plan spares (internal/job, measureThin).
const planThin = 12

// planned films seconds of a scene and measures it as the default plan does:
// in stretches of 66 frames.
func planned(n uint64, w, h int, starts []int, change func(t float64, index, height int) shot) Measured {
	s := newScene(w, h, 10, n)
	s.b = 1e-4
	walk := walk(s.rng)
	m := NewMeter(MeterOptions{Camera: s.camera(), Thin: planThin})
	const run, rate = 66, 24.0
	for _, from := range starts {
		for i := from; i < from+run; i++ {
			t := float64(i) / rate
			o := change(t, i, h)
			o.index, o.time = i, t
			o.x, o.y = walk(t)
			m.Add(s.frame(o))
		}
	}
	return m.Result()
}

func found(m Measured, kind string) (bool, float64, float64) {
	for _, p := range m.Problems() {
		if p.Kind == kind {
			return true, p.Size, p.Error
		}
	}
	return false, 0, 0
}

// What the detectors find frame by frame they must find as the default plan
// spares frames, too.
func TestDefaultPlanDrill(t *testing.T) {
	t.Parallel()
	starts := []int{0, 150, 300}
	clean := func(m Measured) (bool, float64, float64) {
		alarm := false
		for _, q := range m.Problems() {
			// The lamp in the picture is clipped, and that is one thing to tell.
			if q.Kind == "clipped" && q.From == 0 && q.To > 7 && !alarm {
				continue
			}
			alarm = true
			t.Logf("clean clip: %+v", q)
		}
		return alarm, 0, 0
	}
	drill(t, "default plan: exposure jump, stops", float64(ExposureLimit), 4, 3, func(n uint64, size float64) (bool, float64, float64) {
		at := 2 + float64(n%10)
		m := planned(n, 160, 90, starts, func(t float64, _, _ int) shot {
			if t >= at {
				return shot{stops: size}
			}
			return shot{}
		})
		if size == 0 {
			return clean(m)
		}
		// Between two stretches a jump can't be told from a drift.
		if ok, got, e := found(m, "exposure-jump"); ok {
			return ok, got, e
		}
		return found(m, "exposure-drift")
	})
	drill(t, "default plan: flicker, %", FlickerLimit, 4, 3, func(n uint64, size float64) (bool, float64, float64) {
		m := planned(n+50, 160, 90, starts[:2], func(_ float64, i, h int) shot {
			if size == 0 {
				return shot{}
			}
			const exposure, f = 1.0 / 200, 100.0
			seen := size / 100 * math.Pi * f * exposure / math.Sin(math.Pi*f*exposure)
			return shot{row: pulse(seen, f, exposure, 0.016, 24, i, h)}
		})
		if size == 0 {
			return clean(m)
		}
		return found(m, "flicker-bands")
	})
}

// evenClip is a clip of one code.
func evenClip(code uint16, n int) []*picture.Frame {
	var out []*picture.Frame
	for i := range n {
		f := picture.NewFrame(picture.Format{Width: 160, Height: 90, Bits: 10, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft})
		for k := range f.Y {
			f.Y[k] = code
		}
		for k := range f.Cb {
			f.Cb[k], f.Cr[k] = 512, 512
		}
		f.Index, f.Time = i, float64(i)/25
		out = append(out, f)
	}
	return out
}

func TestMeterHasNoNonsenseForOddClips(t *testing.T) {
	curve, err := colour.CurveByID("log-420")
	if err != nil {
		t.Fatal(err)
	}
	cam := Camera{Curve: curve, Gamut: colour.MustGamut(curve.Gamuts[0])}
	face := Region{Name: "face-lit", Box: Box{0.4, 0.3, 0.1, 0.2}}
	for name, c := range map[string]struct {
		cam    Camera
		frames []*picture.Frame
		face   *Region
	}{
		"nothing":     {cam, nil, nil},
		"one frame":   {cam, evenClip(420, 1), &face},
		"black":       {cam, evenClip(64, 30), nil},
		"under black": {cam, evenClip(4, 30), &face},
		"blown":       {cam, evenClip(1019, 30), &face},
		"no curve":    {Camera{}, evenClip(420, 30), nil},
		"grey":        {cam, evenClip(420, 30), nil},
	} {
		for _, thin := range []int{1, planThin} {
			m := NewMeter(MeterOptions{Camera: c.cam, Regions: []Region{face}, Face: c.face, Thin: thin, Smooth: true, Scopes: true})
			for _, f := range c.frames {
				m.Add(f)
			}
			r := m.Result()
			if _, err := json.Marshal(r); err != nil {
				t.Errorf("%s: %v", name, err)
			}
			for _, p := range r.Problems() {
				if math.IsNaN(p.Size) || p.What == "" || p.Advice == "" || p.Unit == "" || p.Severity == "" {
					t.Errorf("%s: %+v", name, p)
				}
				// A still, even picture shows no lamp, camera or focus at fault.
				if slices.Contains([]string{"flicker-bands", "flicker-whole", "exposure-jump", "exposure-drift", "white-jump", "white-drift", "focus", "noise", "handling-drift", "handling-shake"}, p.Kind) {
					t.Errorf("%s: %+v", name, p)
				}
			}
			if got := r.Readings[0]; (c.cam.Curve == nil || name == "under black" || name == "nothing") != (got.Stops == nil) {
				if name != "black" {
					t.Errorf("%s: reads %v (%v)", name, got.Stops, got.Notes)
				}
			}
			if len(c.frames) > 0 && len(r.Notes()) == 0 {
				t.Errorf("%s: nothing is said of what can't be told", name)
			}
			for _, n := range r.Notes() {
				if strings.Contains(n, "NaN") || strings.Contains(n, "Inf") {
					t.Errorf("%s: %s", name, n)
				}
			}
		}
	}
}

// Meter and its parts agree: sparing frames is all it does.
func TestMeterIsItsParts(t *testing.T) {
	s := newScene(160, 90, 10, 3)
	cam := s.camera()
	m := NewMeter(MeterOptions{Camera: cam})
	clip, codes := NewClipping(cam), NewCodes(cam)
	var v Viewer
	for i := range 6 {
		f := s.frame(shot{index: i, time: float64(i) / 25, x: 0.5, y: 0.6})
		m.Add(f)
		w := v.Look(f)
		clip.Add(w)
		codes.Add(w)
	}
	same := func(a, b any) bool {
		x, _ := json.Marshal(a)
		y, _ := json.Marshal(b)
		return string(x) == string(y)
	}
	r := m.Result()
	if !same(r.Clipping, clip.Result()) || !same(r.Codes, codes.Result()) {
		t.Error("the meter's parts say otherwise than alone")
	}
}
