package gauge

import (
	"math"
	"math/rand/v2"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// finished is a picture on the screen's curve: so many per cent of its samples
// at black and as many at white, the others between lo and hi of the signal,
// with a codec's noise, in the codes of a range.
func finished(n uint64, tag, made colour.Range, ends, lo, hi float64) *picture.Frame {
	r := newRand(n)
	bits := []int{8, 10}[n%2]
	f := picture.NewFrame(picture.Format{Width: 320, Height: 180, Bits: bits, Sub: picture.Sub420, Range: tag, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft})
	for i := range f.Cb {
		f.Cb[i], f.Cr[i] = 1<<(bits-1), 1<<(bits-1)
	}
	top := float64(int(1)<<bits - 1)
	for i := range f.Y {
		e := lo + (hi-lo)*r.Float64()
		switch u := 100 * r.Float64(); {
		case u < ends:
			e = 0
		case u < 2*ends:
			e = 1
		}
		noise := 0.4 * r.NormFloat64()
		if e == 0 || e == 1 {
			noise /= 4 // ends are clean: they were clipped
		}
		f.Y[i] = uint16(min(max(math.Round(made.LumaToCode(e, bits)+noise), 0), top))
	}
	return f
}

func rangeProblem(f *picture.Frame) (Problem, bool) {
	screen, _ := colour.CurveByID("bt1886")
	c := NewCodes(Camera{Curve: screen})
	var v Viewer
	c.Add(v.Look(f))
	for _, p := range c.Result().Problems {
		if p.Kind == "range-tag" {
			return p, true
		}
	}
	return Problem{}, false
}

func TestRangeTagDrill(t *testing.T) {
	t.Parallel()
	// Full range in a file tagged narrow: what gives it away is black and white
	// themselves. Size: the part of the picture at them.
	drill(t, "full range tagged narrow, % of the picture at its ends", RangeLimit, 40, 10, func(n uint64, size float64) (bool, float64, float64) {
		made := colour.Full
		if size == 0 {
			made = colour.Narrow // a clean clip goes a little over white and under black, as it may
			p, hit := rangeProblem(finished(n, colour.Narrow, made, 1, -0.04, 1.06))
			return hit, p.Size, p.Error
		}
		p, hit := rangeProblem(finished(n, colour.Narrow, made, size/2, 0.03, 0.97))
		return hit, p.Size, p.Error
	})
	// Narrow range in a file tagged full: black and white stand where narrow range
	// has them. Size: the part at each; what is told is where black stands.
	drill(t, "narrow range tagged full, % of the picture at each end", RangeLimit, 40, 10, func(n uint64, size float64) (bool, float64, float64) {
		if size == 0 {
			// A faded look: black was lifted and white drawn in, and every other
			// picture is cut off there, too.
			r := newRand(n + 1000000)
			lo, hi := 0.12*r.Float64(), 1-0.12*r.Float64()
			f := finished(n, colour.Full, colour.Full, 0, lo, hi)
			if n%4 < 2 {
				f = finished(n, colour.Full, colour.Full, 0, lo-0.1, hi+0.1)
				for i, y := range f.Y {
					f.Y[i] = min(max(y, uint16(colour.Full.LumaToCode(lo, f.Bits))), uint16(colour.Full.LumaToCode(hi, f.Bits)))
				}
			}
			p, hit := rangeProblem(f)
			return hit, p.Size, p.Error
		}
		p, hit := rangeProblem(finished(n, colour.Full, colour.Narrow, size, 0.02, 0.98))
		return hit, size + p.Size - 64, p.Error
	})
}

// A clip is made with one camera curve, or a near kin of it, and another is
// claimed, whose black lies higher by one, two or four times the limit or more:
// then the darkest part would be darker than no light. A claimed curve with a
// lower black can't be told wrong by this, and isn't tried.
func TestWrongCurveDrill(t *testing.T) {
	t.Parallel()
	type pair struct {
		made, claimed *colour.Curve
		by            float64 // codes of 10 bits
	}
	black := func(c *colour.Curve) float64 {
		slope, offset := c.SignalFromE(colour.Narrow)
		return colour.Narrow.LumaToCode((c.Encode(0)-offset)/slope, 10)
	}
	var same []*colour.Curve
	for _, a := range colour.Curves() {
		if a.Kind == colour.KindCamera {
			same = append(same, a)
		}
	}
	// pick takes two published curves and, between their blacks there being gaps,
	// lowers the made one's codes until the difference is the one wanted.
	pick := func(r *rand.Rand, size float64) pair {
		for {
			a, b := same[r.IntN(len(same))], same[r.IntN(len(same))]
			if d := black(b) - black(a); a != b && d >= size/2 && d <= 60 {
				return pair{a, b, max(size, d)}
			}
			if d := black(b) - black(a); a != b && math.Abs(d) < 3 {
				return pair{a, b, size}
			}
		}
	}
	drill(t, "another curve claimed, codes of black", BlackLimit, 20, 8, func(n uint64, size float64) (bool, float64, float64) {
		r := newRand(n + 80000)
		c0 := same[r.IntN(len(same))]
		p := pair{c0, c0, 0}
		if size > 0 {
			p = pick(r, size)
		}
		lower := math.Round(p.by - (black(p.claimed) - black(p.made)))
		p.by = lower + black(p.claimed) - black(p.made)
		s := newScene(320, 180, 10, n)
		s.curve, s.table = p.made, newEncoder(p.made)
		c := NewCodes(Camera{Curve: p.claimed})
		f := s.frame(shot{x: 0.5, y: 0.6})
		fill(f, p.made, Box{0.88, 0.8, 0.1, 0.15}, [3]float64{0, 0, 0})
		for i, y := range f.Y {
			f.Y[i] = uint16(max(0, float64(y)-lower))
		}
		var v Viewer
		c.Add(v.Look(f))
		for _, x := range c.Result().Problems {
			if x.Kind == "curve-levels" || x.Kind == "curve-wrong" {
				return true, size + x.Size - p.by, x.Error
			}
		}
		return false, 0, 0
	})
}

// Saturated red by turns with black, its measure 20 and more times 320ths: too
// little luminance for a general flash. What is told is flashes a second.
func TestRedFlashDrill(t *testing.T) {
	t.Parallel()
	drill(t, "change of saturated red", redChange, 12, 6, func(n uint64, size float64) (bool, float64, float64) {
		r := newRand(n)
		hz := []float64{4, 5, 6.25, 12.5}[n%4]
		d := size
		if size == 0 {
			d = redChange * 2 / 3
			if n%2 == 0 { // strong, but no more often than is allowed
				d, hz = 80, 3
			}
		}
		pale := 0.2 * r.Float64() / 0.8 / 2 // green and blue, of red: at most a fifth of all together
		red := d / redScale / (1 - 2*pale)
		got := show(25, 2.2, 0.3+0.5*r.Float64(), 200, func(t float64) [3]float64 {
			if math.Mod(t*hz+1e-9, 1) < 0.5 {
				return [3]float64{red, red * pale, red * pale}
			}
			return [3]float64{0.0005, 0.0005, 0.0005}
		})
		for _, p := range got.Problems {
			if p.Kind == "flashes-red" {
				return true, size + p.Size - hz, p.Error
			}
		}
		return false, 0, 0
	})
}

func TestFreezeDrill(t *testing.T) {
	t.Parallel()
	drill(t, "freeze, s", freezeTime, 15, 5, func(n uint64, size float64) (bool, float64, float64) {
		frames := int(math.Round(25 * size))
		at := 30 + int(n%17)
		// Clean: a run of copies of a quarter second.
		if size == 0 {
			frames = 6
		}
		got := copies(n, at+frames+30, false, func(i int) bool { return i > at && i <= at+frames }, at25)
		for _, p := range got.Problems {
			if p.Kind == "freeze" {
				return true, p.Size, p.Error
			}
		}
		return false, 0, 0
	})
}

func TestFocusMovesDrill(t *testing.T) {
	t.Parallel()
	drill(t, "focus that moves, pixels of blur", FocusLimit, 5, 3, func(n uint64, size float64) (bool, float64, float64) {
		const w, h, base, each, steps = 400, 225, 0.7, 4, 4
		r := newRand(n + 90000)
		f := picture.NewFrame(picture.Format{Width: w, Height: h, Bits: 10, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft})
		var pics [steps + 1][]float32
		for i := range pics {
			b := base + size*float64(i)/steps
			pics[i] = tiles(w, h, n, testFace, base, math.Sqrt(max(b*b-base*base, 0))+0.01)
		}
		k, noise := NewFocus(&testFace), NewNoise(Camera{})
		var v Viewer
		from := 6 + int(n%5)
		for i := range 24 {
			at := r.IntN(len(gaussPool))
			for p, x := range pics[min(max(i-from, 0), steps)] {
				f.Y[p] = uint16(math.Round(float64(x) + 2*float64(gaussPool[(at+p)&(len(gaussPool)-1)])))
			}
			// A frame in each: focus is followed in bins of time, not of frames.
			f.Index, f.Time = i, float64(i*each)/25
			look := v.Look(f)
			k.Add(look)
			noise.Add(look)
		}
		found := noise.Result()
		for _, p := range k.Result(&found).Problems {
			if p.Kind == "focus-moves" {
				return true, p.Size, p.Error
			}
		}
		return false, 0, 0
	})
}

// A lamp comes up from one side: the picture gains from nothing at one border to
// six times the size at the other, so that whatever change is taken for the
// camera's, two thirds of it differ by the size at least and by twice at most.
// What is told must lie between.
func TestUnevenLightDrill(t *testing.T) {
	t.Parallel()
	drill(t, "light that changes unevenly, stops", float64(LightLimit), 8, 5, func(n uint64, size float64) (bool, float64, float64) {
		s := newScene(192, 108, 10, n)
		s.lit = false
		s.paint()
		// Nowhere so dark that a cell doesn't count: what is planted is to be known.
		for ch := range s.wall {
			for p, x := range s.wall[ch] {
				s.wall[ch][p] = max(x, 0.02)
			}
		}
		c := NewConstancy(s.camera())
		w := walk(s.rng)
		var v Viewer
		for i := range 50 {
			t := float64(i) / 6.25
			if i == 20+int(n%12) {
				for ch := range s.wall {
					for p := range s.wall[ch] {
						s.wall[ch][p] *= float32(math.Exp2(6 * size * float64(p%s.Width) / float64(s.Width)))
					}
				}
			}
			o := shot{index: 4 * i, time: t}
			o.x, o.y = w(t)
			c.Add(v.Look(s.frame(o)))
		}
		r := c.Result()
		if size == 0 {
			return len(r.Problems) > 0, 0, 0
		}
		hit, got, e := first(r, "light-uneven")
		return hit, size + max(got-2*size, 0) + min(got-size, 0), e
	})
}

// Bands that hardly move: half a minute of film each, so a few in the normal run.
func TestSlowBandsDrill(t *testing.T) {
	t.Parallel()
	cases := []mainsCase{{29.97, 60, 0.016}, {23.976, 60, 0.02}, {59.94, 60, 0.012}, {29.97, 60, 0.009}}
	drill(t, "bands that hardly move, %", SlowFlickerLimit, 3, 2, func(n uint64, size float64) (bool, float64, float64) {
		r := searchFlicker(n+400, cases[int(n)%len(cases)], size, 1030)
		if r.Wave == nil {
			return false, 0, 0
		}
		return true, r.Wave.Amplitude, r.Wave.Error
	})
}
