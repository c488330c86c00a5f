package gauge

import (
	"encoding/json"
	"math"
	"slices"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/unit"
)

// pulse is the light of a lamp that pulses at f Hz with modulation m, as a
// rolling shutter of exposure time e and readout time t sees row y of frame n:
// the integral of 1 + m·cos(2πft) over the row's exposure.
func pulse(m, f, e, readout, rate float64, n, h int) func(y int) float64 {
	seen := m * math.Sin(math.Pi*f*e) / (math.Pi * f * e)
	return func(y int) float64 {
		t := float64(n)/rate + readout*float64(y)/float64(h)
		return 1 + seen*math.Cos(2*math.Pi*f*t+0.7)
	}
}

type mainsCase struct {
	rate    float64
	mains   int
	readout float64
}

func searchFlicker(n uint64, c mainsCase, size float64, frames int) Flickering {
	s := newScene(96, 72, 10, n)
	s.b = 1e-4
	k := NewFlicker(s.camera())
	w := walk(s.rng)
	var v Viewer
	const exposure = 1.0 / 200 // shorter than a pulse
	f := float64(2 * c.mains)
	m := size / 100 * math.Pi * f * exposure / math.Sin(math.Pi*f*exposure)
	for i := range frames {
		o := shot{index: i, time: float64(i) / c.rate}
		o.x, o.y = w(o.time)
		if size > 0 {
			o.row = pulse(m, f, exposure, c.readout, c.rate, i, s.Height)
		}
		k.Add(v.Look(s.frame(o)))
	}
	return k.Result()
}

func TestFlickerDrill(t *testing.T) {
	t.Parallel()
	cases := []mainsCase{
		{24, 50, 0.016},
		{25, 60, 0.02},
		{29.97, 50, 0.011},
		{23.976, 50, 0.026},
		{59.94, 50, 0.012},
		{50, 60, 0.009},
		{24, 50, 0},
		{25, 60, 0},
		{30, 50, 0},
		{23.976, 50, 0},
	}
	wrong := 0
	drill(t, "flicker, %", FlickerLimit, 12, 10, func(n uint64, size float64) (bool, float64, float64) {
		c := cases[int(n)%len(cases)]
		r := searchFlicker(n, c, size, 100)
		if r.Wave == nil {
			return false, 0, 0
		}
		if size > FlickerLimit {
			whole := c.readout == 0
			if !slices.Equal(r.Wave.Mains, []int{c.mains}) || (r.Wave.Bands == 0) != whole || !whole && math.Abs(float64(r.Wave.Readout)/c.readout-1) > 0.1 {
				wrong++
				t.Logf("%+v: %+v", c, *r.Wave)
			}
		}
		return true, r.Wave.Amplitude, r.Wave.Error
	})
	if wrong > drills {
		t.Errorf("mains, bands or readout wrong in %d clips", wrong)
	}
}

// Bands that hardly move take half a minute to show.
func TestFlickerOfSlowBands(t *testing.T) {
	t.Parallel()
	const plain = 2 * SlowFlickerLimit
	for i, c := range []mainsCase{{29.97, 60, 0.016}, {23.976, 60, 0.02}} {
		r := searchFlicker(uint64(300+i), c, plain, 1030)
		if r.Wave == nil || !slices.Equal(r.Wave.Mains, []int{c.mains}) || math.Abs(r.Wave.Amplitude-plain) > r.Wave.Error {
			t.Errorf("%+v: %+v", c, r)
		}
	}
	if r := searchFlicker(310, mainsCase{25, 50, 0.016}, 0, 1030); r.Wave != nil {
		t.Errorf("no flicker: %+v", *r.Wave)
	}
}

func TestShuttersThatMendFlicker(t *testing.T) {
	for _, c := range []struct {
		rate  float64
		mains int
		want  string
		angle float64
	}{{24, 50, "1/50", 172.8}, {30, 50, "1/50", 216}, {25, 60, "1/60", 150}, {23.976, 60, "1/60", 143.9}} {
		k := &Flicker{}
		f := float64(2 * c.mains)
		w := &Wave{Amplitude: 1, Bands: 1.5, Aliased: unit.Hertz(f - c.rate*math.Round(f/c.rate))}
		k.explain(w, c.rate, false)
		if !slices.Contains(w.Mains, c.mains) {
			t.Errorf("%g/s, %d Hz: %v", c.rate, c.mains, w.Mains)
			continue
		}
		found := false
		for _, s := range w.Shutters {
			// A shutter of whole pulses takes in the same light at any moment.
			p := pulse(1, f, float64(s.Seconds), 0, c.rate, 3, 1)(0)
			if math.Abs(p-1) > 1e-9 || float64(s.Seconds) > 1/c.rate+1e-9 {
				t.Errorf("%g/s, %d Hz: shutter %s leaves %.3g", c.rate, c.mains, s.Fraction, p-1)
			}
			found = found || s.Fraction == c.want && math.Abs(float64(s.Angle)-c.angle) < 0.1
		}
		if !found {
			t.Errorf("%g/s, %d Hz: %+v has no %s", c.rate, c.mains, w.Shutters, c.want)
		}
	}
}

func TestFlickerOfOddClips(t *testing.T) {
	c, _ := colour.CurveByID("log-420")
	for _, frames := range []int{0, 1, 10, 80} {
		for _, lin := range []float64{0, 0.2} {
			k := NewFlicker(Camera{Curve: c})
			var v Viewer
			f := flat(format709, c, [3]float64{lin, lin, lin})
			for i := range frames {
				f.Index, f.Time = i, float64(i)/25
				k.Add(v.Look(f))
			}
			r := k.Result()
			if _, err := json.Marshal(r); err != nil {
				t.Error(err)
			}
			if r.Wave != nil || len(r.Notes) == 0 || r.Searched != (frames == 80 && lin > 0) {
				t.Errorf("%d frames of %g: %+v", frames, lin, r)
			}
		}
	}
}
