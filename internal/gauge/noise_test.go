package gauge

import (
	"encoding/json"
	"image/png"
	"math"
	"os"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// neutral makes the scene's wall the same in all channels, so that luma's
// noise follows from theirs.
func (s *scene) neutral() {
	copy(s.wall[0], s.wall[1])
	copy(s.wall[2], s.wall[1])
}

// lumaShare is what of the channels' variance is left in luma.
func lumaShare(m colour.MatrixCoefficients) float64 {
	r, g, b := m.Weights()
	return r*r + g*g + b*b
}

func measureNoise(s *scene, frames int, after func(f *picture.Frame)) NoiseFound {
	n := NewNoise(s.camera())
	go7 := walk(s.rng)
	var v Viewer
	for i := range frames {
		x, y := go7(float64(i) / 25)
		f := s.frame(shot{index: i, time: float64(i) / 25, x: x, y: y})
		if after != nil {
			after(f)
		}
		n.Add(v.Look(f))
	}
	return n.Result()
}

// What the estimators must keep, of the true σ: a level's figure rests on
// hundreds of differences or more and on a wall that is not even.
const (
	timeTolerance  = 0.06
	spaceTolerance = 0.12
)

func TestNoiseByLevelAndItsLineWhereSigmaIsKnown(t *testing.T) {
	share := lumaShare(colour.MatrixBT709)
	for i, c := range []struct{ a, b float64 }{{4e-7, 2e-4}, {2e-6, 2e-3}, {1e-5, 5e-4}, {1e-6, 4e-3}} {
		for _, bits := range []int{10, 12} {
			s := newScene(480, 270, bits, uint64(100+i))
			s.lit = false
			s.paint()
			s.neutral()
			s.a, s.b = c.a, c.b
			got := measureNoise(s, 12, nil)
			if got.Line == nil || got.Agree == nil {
				t.Fatalf("a %g b %g: %+v", c.a, c.b, got)
			}
			light := newLight(s.curve, s.Range)
			bad, n := 0, 0
			for _, l := range got.Levels {
				if l.Time == nil || l.N < 4000 {
					continue
				}
				e := s.Range.LumaFromCode(l.Code*float64(int(1)<<bits)/1024, bits)
				x := light.exact(e)
				want := math.Sqrt(share*(c.a+c.b*max(x, 0))) / light.slope(e) * 876
				if light.slope(e+want/876)/light.slope(e-want/876) > 1.4 {
					continue // the curve bends within the noise: want is no truth
				}
				n++
				tolerance := math.Hypot(timeTolerance, 3*l.SE / *l.Time)
				if math.Abs(*l.Time/want-1) > tolerance {
					bad++
					t.Logf("a %g b %g, %d bits, code %.0f: over time %.3f, true %.3f (n %d)", c.a, c.b, bits, l.Code, *l.Time, want, l.N)
				}
				if l.Space != nil && math.Abs(*l.Space/want-1) > spaceTolerance {
					bad++
					t.Logf("a %g b %g, %d bits, code %.0f: in space %.3f, true %.3f", c.a, c.b, bits, l.Code, *l.Space, want)
				}
			}
			if n < 4 || bad > max(2, n/4) {
				t.Errorf("a %g b %g, %d bits: %d of %d levels off", c.a, c.b, bits, bad, n)
			}
			if !*got.Agree || *got.Persistence > 0.1 {
				t.Errorf("a %g b %g: ratio %.2f persistence %.2f", c.a, c.b, *got.Ratio, *got.Persistence)
			}
			grey := colour.Grey / math.Sqrt(share*(c.a+c.b*colour.Grey))
			if math.Abs(*got.SNRGrey/grey-1) > 0.05 {
				t.Errorf("a %g b %g: signal to noise at grey %.1f, true %.1f", c.a, c.b, *got.SNRGrey, grey)
			}
			floor := math.Log2((share*c.b + math.Sqrt(share*share*c.b*c.b+4*share*c.a)) / 2 / colour.Grey)
			if math.Abs(float64(*got.Floor)-floor) > float64(got.FloorError) {
				t.Errorf("a %g b %g: floor %.2f ± %.2f stops, true %.2f", c.a, c.b, *got.Floor, got.FloorError, floor)
			}
			t.Logf("a %g b %g, %d bits: line %.3g + %.3g·x (true %.3g, %.3g), grey %.1f (%.1f), floor %.2f ± %.2f (%.2f), ratio %.2f", c.a, c.b, bits, got.Line.A, got.Line.B, share*c.a, share*c.b, *got.SNRGrey, grey, *got.Floor, got.FloorError, floor, *got.Ratio)
		}
	}
}

func TestNoiseReductionIsSaid(t *testing.T) {
	s := newScene(480, 270, 10, 120)
	s.b = 2e-3
	// Over time: each frame keeps half of the one before.
	var old []float64
	over := measureNoise(s, 14, func(f *picture.Frame) {
		if old == nil {
			old = make([]float64, len(f.Y))
			for i, v := range f.Y {
				old[i] = float64(v)
			}
			return
		}
		for i, v := range f.Y {
			old[i] += 0.5 * (float64(v) - old[i])
			f.Y[i] = uint16(math.Round(old[i]))
		}
	})
	if over.Persistence == nil || math.Abs(*over.Persistence-0.5) > 0.12 || len(over.Notes) == 0 {
		t.Errorf("over time: %v %v", over.Persistence, over.Notes)
	}
	// In space: a small blur.
	s = newScene(480, 270, 10, 121)
	s.b = 2e-3
	space := measureNoise(s, 8, func(f *picture.Frame) {
		w := f.Width
		src := append([]uint16(nil), f.Y...)
		for y := 1; y < f.Height-1; y++ {
			for x := 1; x < w-1; x++ {
				i := y*w + x
				f.Y[i] = uint16((4*int(src[i]) + 2*(int(src[i-1])+int(src[i+1])+int(src[i-w])+int(src[i+w])) + int(src[i-w-1]) + int(src[i-w+1]) + int(src[i+w-1]) + int(src[i+w+1]) + 8) / 16)
			}
		}
	})
	if space.Agree == nil || *space.Agree || *space.Ratio > 0.6 {
		t.Errorf("in space: %v %v", space.Ratio, space.Notes)
	}
}

func TestNoiseIsNotFooledByFlickerAndMotion(t *testing.T) {
	run := func(row func(i int) func(y int) float64) NoiseFound {
		s := newScene(480, 270, 10, 130)
		s.b = 1e-3
		s.neutral()
		n := NewNoise(s.camera())
		go7 := walk(s.rng)
		var v Viewer
		for i := range 10 {
			o := shot{index: i, row: row(i)}
			o.x, o.y = go7(float64(i) / 25)
			n.Add(v.Look(s.frame(o)))
		}
		return n.Result()
	}
	steady := run(func(int) func(int) float64 { return nil })
	bands := run(func(i int) func(int) float64 {
		return func(y int) float64 { return 1 + 0.15*math.Sin(float64(y)/30+2.1*float64(i)) }
	})
	if math.Abs(*bands.SNRGrey / *steady.SNRGrey - 1) > 0.05 {
		t.Errorf("signal to noise at grey %.1f, with bands of 15 %% %.1f", *steady.SNRGrey, *bands.SNRGrey)
	}
}

func TestNoiseAddedToRealPictures(t *testing.T) {
	for _, name := range []string{"images/stilllife_log420.png", "images/desk_log420.png"} {
		file, err := os.Open(truthFile(t, name))
		if err != nil {
			t.Fatal(err)
		}
		im, err := png.Decode(file)
		file.Close()
		if err != nil {
			t.Fatal(err)
		}
		c, _ := colour.CurveByID("log-420")
		b := im.Bounds()
		f := picture.NewFrame(picture.Format{Width: b.Dx(), Height: b.Dy(), Bits: 10, Sub: picture.Sub444, Range: colour.Full, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft})
		base := make([]float64, len(f.Y))
		for y := range b.Dy() {
			for x := range b.Dx() {
				r, g, bl, _ := im.At(b.Min.X+x, b.Min.Y+y).RGBA()
				base[y*b.Dx()+x] = (0.2126*float64(r) + 0.7152*float64(g) + 0.0722*float64(bl)) / 65535 * 1023
			}
		}
		for _, sigma := range []float64{3, 20} {
			r := newRand(uint64(sigma))
			n := NewNoise(Camera{Curve: c})
			var v Viewer
			for k := range 16 {
				for i := range f.Y {
					f.Y[i], f.Cb[i], f.Cr[i] = uint16(max(0, math.Round(base[i]+sigma*r.NormFloat64()))), 512, 512
				}
				f.Index = k
				n.Add(v.Look(f))
			}
			got := n.Result()
			bad, levels := 0, 0
			var space []float64
			for _, l := range got.Levels {
				if l.Time == nil || l.N < 2000 || l.Code < 4*sigma {
					continue
				}
				levels++
				if math.Abs(*l.Time/sigma-1) > math.Hypot(timeTolerance, 3*l.SE/sigma) {
					bad++
				}
				if l.Space != nil {
					space = append(space, *l.Space/sigma)
				}
			}
			if levels < 5 || bad > max(1, levels/10) {
				t.Errorf("%s, σ %g: %d of %d levels off over time", name, sigma, bad, levels)
			}
			// A picture's own texture and noise adds to the figure in space, which
			// then must be said; where the noise outweighs it the two agree.
			if m := median(space); m < 1-spaceTolerance || sigma > 10 && (m > 1.2 || !*got.Agree) || m > 1.5 && (*got.Agree || len(got.Notes) == 0) {
				t.Errorf("%s, σ %g: in space %.2f of it, agree %v", name, sigma, m, *got.Agree)
			}
			t.Logf("%s, σ %g: %d levels, space/time %.2f", name, sigma, levels, *got.Ratio)
		}
	}
}

func TestNoiseOfOddClips(t *testing.T) {
	c, _ := colour.CurveByID("log-420")
	for name, lin := range map[string]float64{"black": 0, "even": 0.2, "clipped": 60} {
		for _, frames := range []int{0, 1, 5} {
			n := NewNoise(Camera{Curve: c})
			var v Viewer
			f := flat(format709, c, [3]float64{lin, lin, lin})
			for i := range frames {
				f.Index = i
				n.Add(v.Look(f))
			}
			r := n.Result()
			if _, err := json.Marshal(r); err != nil {
				t.Errorf("%s, %d frames: %v", name, frames, err)
			}
			if r.Line != nil || r.SNRGrey != nil || len(r.Notes) == 0 || len(r.Problems) > 0 {
				t.Errorf("%s, %d frames: %+v", name, frames, r)
			}
		}
	}
}

// Noise that is worth telling: size is how many times the limit's noise lies in
// grey, so the limit is 1.
func TestNoisyDrill(t *testing.T) {
	t.Parallel()
	share := lumaShare(colour.MatrixBT709)
	drill(t, "noise at grey, of the limit's (signal over noise 20)", 1, 8, 4, func(n uint64, size float64) (bool, float64, float64) {
		s := newScene(320, 180, 10, n)
		s.lit = false
		s.paint()
		s.neutral()
		if size == 0 {
			size = 0.4 // a clean clip has noise, too
		}
		sigma := size * colour.Grey / noisyGrey / math.Sqrt(share)
		s.a, s.b = 1e-6, (sigma*sigma-1e-6)/colour.Grey
		for _, p := range measureNoise(s, 12, nil).Problems {
			if p.Kind == "noise" {
				return true, noisyGrey / p.Size, p.Error * noisyGrey / (p.Size * p.Size)
			}
		}
		return false, 0, 0
	})
}
