package demo

import (
	"math"
	"testing"

	"lampwise/internal/picture"
)

func exampleCamera(t testing.TB, w, h int) *Camera {
	t.Helper()
	c, err := NewCamera("log-420", "r7300-g8550", exampleFormat(w, h))
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// flatLight gives native light that a neutral of the scene-linear value makes
// under the camera's own white.
func flatLight(c *Camera, linear float64) [3]float64 {
	gains, _ := c.matrix()
	var n [3]float64
	for i := range n {
		n[i] = linear / c.ClipLinear / gains[i] / c.Exposure
	}
	return n
}

// film records frames of one even colour.
func filmFlat(c *Camera, native [3]float64, frames int) []*picture.Frame {
	w, h := c.Format.Width, c.Format.Height
	row := make([]float32, 3*w)
	for x := range w {
		for k := range 3 {
			row[3*x+k] = float32(native[k])
		}
	}
	rec := c.record(42)
	var out []*picture.Frame
	var scratch rowScratch
	for i := range frames {
		f := picture.NewFrame(c.Format)
		for y := range h {
			rec.row(row, i, y, 1, &scratch, f)
		}
		rec.started = true
		out = append(out, f)
	}
	return out
}

// TestNeutralStaysNeutral: what is white to the camera has equal channels from
// black through the clip, 18 % lands on the curve's published code, and what
// is over the clip lands on the clip's code.
func TestNeutralStaysNeutral(t *testing.T) {
	c := exampleCamera(t, 64, 8)
	for _, stops := range []float64{-6, -2, 0, 2, 5.5, 7, 9} {
		x := 0.18 * math.Exp2(stops)
		rgb := c.Expose(flatLight(c, x))
		want := min(x, c.ClipLinear)
		for i, v := range rgb {
			if math.Abs(v/want-1) > 1e-9 {
				t.Errorf("%+.1f stops, channel %d: %g, wanted %g", stops, i, v, want)
			}
		}
	}
	c.Electrons = [3]float64{1e12, 1e12, 1e12} // without noise
	c.ReadNoise, c.Pattern, c.Smoothing = [3]float64{}, 0, 0
	c.Prepare()
	for _, k := range []struct{ linear, code float64 }{
		{0.18, 420}, // truth/log-anchors.csv
		{0.90, 598},
		{0, 95},
		{100, c.ClipCode()},
	} {
		f := filmFlat(c, flatLight(c, k.linear), 1)[0]
		if got := float64(f.Y[3*64+30]); math.Abs(got-k.code) > 0.51 {
			t.Errorf("a neutral of %g is recorded at code %g, wanted %.1f", k.linear, got, k.code)
		}
		if cb, cr := f.Cb[5], f.Cr[5]; cb != 512 || cr != 512 {
			t.Errorf("a neutral of %g has chroma %d, %d", k.linear, cb, cr)
		}
	}
	if code := c.ClipCode(); code < 800 || code > 960 {
		t.Errorf("the clip is at code %.0f: it should lie well below 1023", code)
	}
}

// TestNoise holds the recorded luma's variance to photon statistics: a
// channel's variance is signal/electrons + read²/electrons², carried through
// white balance, matrix, curve and luma weights by their slopes, plus 1/12 for
// rounding.
func TestNoise(t *testing.T) {
	c := exampleCamera(t, 512, 64)
	c.Smoothing, c.Pattern = 0, 0
	c.Prepare()
	gains, m := c.matrix()
	kr, kg, kb := c.Format.Matrix.Weights()
	luma := [3]float64{kr, kg, kb}
	slope, _ := c.Curve.SignalFromE(c.Format.Range)
	perE := c.Format.Range.LumaToCode(1, c.Format.Bits) - c.Format.Range.LumaToCode(0, c.Format.Bits)
	for _, stops := range []float64{-1, 0, 2, 4} {
		x := 0.18 * math.Exp2(stops)
		native := flatLight(c, x)
		h := x * 1e-4
		perLinear := (c.Curve.Encode(x+h) - c.Curve.Encode(x-h)) / (2 * h) / slope * perE
		want := 1.0 / 12
		for j := range 3 {
			var k float64
			for i := range 3 {
				k += luma[i] * m[i][j] * c.ClipLinear * gains[j] * perLinear
			}
			s := native[j] * c.Exposure
			want += k * k * (s/c.Electrons[j] + c.ReadNoise[j]*c.ReadNoise[j]/(c.Electrons[j]*c.Electrons[j]))
		}
		f := filmFlat(c, native, 1)[0]
		var mean, square float64
		for _, v := range f.Y {
			mean += float64(v)
			square += float64(v) * float64(v)
		}
		n := float64(len(f.Y))
		mean /= n
		got := square/n - mean*mean
		// 32768 samples: the variance's own standard error is 0.8 %; the
		// curve's bend adds a little at low light.
		if math.Abs(got/want-1) > 0.04 {
			t.Errorf("%+.0f stops: variance %.3f code², photon statistics give %.3f", stops, got, want)
		}
	}
}

// TestNoiseReduction lowers the noise of steady frames and leaves their mean.
func TestNoiseReduction(t *testing.T) {
	c := exampleCamera(t, 256, 64)
	frames := filmFlat(c, flatLight(c, 0.18), 12)
	spread := func(f *picture.Frame) (mean, sd float64) {
		for _, v := range f.Y {
			mean += float64(v) / float64(len(f.Y))
		}
		for _, v := range f.Y {
			sd += (float64(v) - mean) * (float64(v) - mean) / float64(len(f.Y))
		}
		return mean, math.Sqrt(sd)
	}
	m0, s0 := spread(frames[0])
	m1, s1 := spread(frames[11])
	// A recursive filter that keeps k of the frame before leaves (1−k)/(1+k)
	// of the variance; the fixed pattern stays.
	limit := s0 * math.Sqrt((1-c.Smoothing)/(1+c.Smoothing)) * 1.15
	if s1 > limit {
		t.Errorf("noise went from %.2f to %.2f codes, wanted at most %.2f", s0, s1, limit)
	}
	if math.Abs(m0-m1) > 0.15 {
		t.Errorf("the mean moved from %.2f to %.2f", m0, m1)
	}
}

// TestClipShiftsHue: the sensor clips before white balance and matrix, so a
// saturated red that grows brighter keeps its hue up to the clip and then
// drifts toward yellow and white, never the other way.
func TestClipShiftsHue(t *testing.T) {
	c := exampleCamera(t, 16, 8)
	red := whitened(peak(632, 9))
	sensor := sensorBands()
	var native [3]float64
	for k := range 3 {
		for i := range bands {
			native[k] += float64(red[i] * sensor[k][i])
		}
	}
	ratio := func(gain float64) float64 {
		v := c.Expose([3]float64{native[0] * gain, native[1] * gain, native[2] * gain})
		return v[1] / v[0]
	}
	clip := 1 / (native[0] * c.Exposure)
	below := ratio(clip * 0.1)
	if math.Abs(ratio(clip*0.99)-below) > 1e-6 {
		// White balance's gains may cut a channel before the sensor clips.
		gains, _ := c.matrix()
		if gains[0] == 1 {
			t.Errorf("the hue moves below the clip: %g to %g", below, ratio(clip*0.99))
		}
	}
	last := below
	for gain := clip * 1.2; last < 1; gain *= 1.3 {
		now := ratio(gain)
		if now < last-1e-9 || gain > clip*100 {
			t.Fatalf("at %.1f times the clip green/red goes from %g to %g", gain/clip, last, now)
		}
		last = now
	}
	if white := ratio(clip * 1e5); math.Abs(white-1) > 1e-6 {
		t.Errorf("far over the clip green/red is %g: not white", white)
	}
}

// TestCodeTable holds the curve's table to the curve itself over all values
// there can be.
func TestCodeTable(t *testing.T) {
	c := exampleCamera(t, 16, 8)
	slope, offset := c.Curve.SignalFromE(c.Format.Range)
	for x := -0.05; x < c.ClipLinear*1.6; x += 0.0007 + 0.002*math.Abs(x) {
		want := c.Format.Range.LumaToCode((c.Curve.Encode(x)-offset)/slope, c.Format.Bits)
		// Half a step of the table: 2⁻¹² of the shifted value.
		if got := float64(c.code(float32(x))); math.Abs(got-want) > 0.12 {
			t.Fatalf("%g: code %g, the curve gives %g", x, got, want)
		}
	}
}
