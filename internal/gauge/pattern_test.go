package gauge

import (
	"math"
	"math/cmplx"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
	"lampwise/internal/unit"
)

// stripes shows an unevenly lit wall with stripes over part of its width: pairs
// of them, difference cd/m² apart, at an angle, moving by so many pairs a second.
type stripes struct {
	pairs, difference, angle, area, speed float64
	soft                                  bool // sines instead of squares
	seconds                               float64
}

func (s stripes) show(n uint64) Flashes {
	const peak, rate, w, h = 200.0, 12.5, 160, 90
	f := picture.NewFrame(picture.Format{Width: w, Height: h, Bits: 10, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft})
	for i := range f.Cb {
		f.Cb[i], f.Cr[i] = 512, 512
	}
	r := newRand(n)
	phase, lit := 6*r.Float64(), 6*r.Float64()
	sin, cos := math.Sincos(s.angle)
	wide := s.area * w
	// The area's extent along the waves holds the pairs.
	each := s.pairs / (wide*math.Abs(cos) + h*math.Abs(sin))
	k := NewFlash(peak)
	var v Viewer
	if s.seconds == 0 {
		s.seconds = 1.2
	}
	for i := range int(rate * s.seconds) {
		t := float64(i) / rate
		for y := range h {
			for x := range w {
				l := 60 + 25*math.Sin(3*float64(x)/w+lit)*math.Cos(2*float64(y)/h)
				if float64(x) < wide {
					at := 2*math.Pi*(each*(float64(x)*cos+float64(y)*sin)+s.speed*t) + phase
					d := math.Sin(at)
					if !s.soft {
						d = math.Copysign(1, d)
					}
					l += s.difference / 2 * d
				}
				l = max(0, l+r.NormFloat64())
				f.Y[y*w+x] = uint16(math.Round(colour.Narrow.LumaToCode(math.Pow(l/peak, 1/2.4), 10)))
			}
		}
		f.Index, f.Time = i, t
		k.Add(v.Look(f))
	}
	return k.Result()
}

// The limits, each just kept and just broken.
func TestPatternsAtTheLimits(t *testing.T) {
	for _, c := range []struct {
		name string
		s    stripes
		bad  bool
	}{
		{"12 pairs over half the picture", stripes{pairs: 12, difference: 60, area: 0.55}, true},
		{"12 pairs aslant", stripes{pairs: 12, difference: 60, area: 1, angle: 0.7}, true},
		{"30 thin pairs", stripes{pairs: 30, difference: 60, area: 0.6}, true},
		{"soft stripes", stripes{pairs: 10, difference: 70, area: 0.7, soft: true}, true},
		{"4 pairs", stripes{pairs: 4, difference: 60, area: 1}, false},
		{"12 pairs 12 cd/m² apart", stripes{pairs: 12, difference: 12, area: 1}, false},
		{"a third of the picture, still", stripes{pairs: 12, difference: 60, area: 0.33}, false},
		{"a third of the picture, moving", stripes{pairs: 12, difference: 60, area: 0.33, speed: 1.7}, true},
		{"a fifth of the picture, moving", stripes{pairs: 12, difference: 60, area: 0.2, speed: 1.7}, false},
		{"for a third of a second", stripes{pairs: 12, difference: 60, area: 1, seconds: 0.35}, false},
	} {
		got := c.s.show(7)
		if (got.Pattern != nil) != c.bad {
			t.Errorf("%s: %+v", c.name, got.Pattern)
		}
		if c.bad && got.Pattern != nil && (math.Abs(got.Pattern.Pairs-c.s.pairs) > got.Pattern.PairsError || got.Pattern.Moves != (c.s.speed > 0)) {
			t.Errorf("%s: %+v", c.name, got.Pattern)
		}
	}
}

func TestPatternDrill(t *testing.T) {
	t.Parallel()
	kind := func(n uint64) stripes {
		r := newRand(n + 60000)
		return stripes{pairs: 8 + 20*r.Float64(), angle: math.Pi * r.Float64(), area: 0.7 + 0.3*r.Float64(), soft: n%2 == 0}
	}
	drill(t, "stripes' difference, cd/m²", patternChange, 6, 4, func(n uint64, size float64) (bool, float64, float64) {
		s := kind(n)
		// Clean is stripes of half the limit.
		s.difference = max(size, patternChange/2)
		p := s.show(n).Pattern
		if p == nil {
			return false, 0, 0
		}
		return true, float64(p.Difference), float64(p.Error)
	})
	drill(t, "pairs of stripes", patternPairs, 6, 4, func(n uint64, size float64) (bool, float64, float64) {
		s := kind(n)
		s.difference, s.pairs = 60, max(size, 3)
		p := s.show(n).Pattern
		if p == nil {
			return false, 0, 0
		}
		return true, p.Pairs, p.PairsError
	})
}

// A mechanic before an uneven wall and boards of all sizes is no pattern.
func TestNoPatternInAScene(t *testing.T) {
	for n := range uint64(4 * drills) {
		s := newScene(320, 180, 10, n)
		k := NewFlash(0)
		var v Viewer
		w := walk(s.rng)
		for i := range 8 {
			o := shot{index: i, time: float64(i) / 8}
			o.x, o.y = w(o.time)
			k.Add(v.Look(s.frame(o)))
		}
		if r := k.Result(); r.Pattern != nil {
			t.Errorf("scene %d: %+v", n, *r.Pattern)
		}
	}
}

func TestTransformAgainstTheSum(t *testing.T) {
	const n = 16
	r := newRand(3)
	v := make([]complex128, n)
	for i := range v {
		v[i] = complex(r.NormFloat64(), r.NormFloat64())
	}
	got := append([]complex128(nil), v...)
	transform(got)
	for k := range n {
		var want complex128
		for i, x := range v {
			want += x * cmplx.Rect(1, -2*math.Pi*float64(i*k)/n)
		}
		if cmplx.Abs(got[k]-want) > 1e-12*n {
			t.Errorf("%d: %v, want %v", k, got[k], want)
		}
	}
}

func TestPatternOfOddClips(t *testing.T) {
	for _, size := range [][2]int{{2, 2}, {16, 16}, {700, 20}} {
		k := NewFlash(unit.CandelaPerSquareMetre(0))
		var v Viewer
		for i := range 10 {
			f := flat(picture.Format{Width: size[0], Height: size[1], Bits: 8, Sub: picture.Sub444, Range: colour.Full, Matrix: colour.MatrixBT601}, colour.BT1886, [3]float64{0.3, 0.3, 0.3})
			f.Index, f.Time = i, float64(i)/10
			k.Add(v.Look(f))
		}
		if r := k.Result(); r.Pattern != nil || len(r.Problems) > 0 {
			t.Errorf("%v: %+v", size, r)
		}
	}
}
