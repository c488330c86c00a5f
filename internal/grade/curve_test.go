package grade

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/interp"
	"pgregory.net/rapid"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
)

func buildTone(t testing.TB, c Curve) (*toneCurves, *colour.Curve) {
	t.Helper()
	curve, err := colour.CurveByID("log-420")
	if err != nil {
		t.Fatal(err)
	}
	tc, err := newToneCurves(c, curve)
	if err != nil {
		t.Fatal(err)
	}
	return tc, curve
}

// rising draws strictly rising numbers.
func rising(t *rapid.T, n int, name string) []float64 {
	out := make([]float64, n)
	x := rapid.Float64Range(-1, 1).Draw(t, name+" start")
	for i := range out {
		x += rapid.Float64Range(1e-3, 1).Draw(t, name)
		out[i] = x
	}
	return out
}

func TestMonotoneCubicRisesAndPassesItsPoints(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 12).Draw(t, "points")
		x, y := rising(t, n, "x"), rising(t, n, "y")
		p := newPchip(x, y)
		for i := range x {
			if got := p.at(x[i]); math.Abs(got-y[i]) > 1e-12 {
				t.Fatalf("at point %d: %v, want %v", i, got, y[i])
			}
		}
		lo, hi := x[0]-1, x[n-1]+1
		last := math.Inf(-1)
		for i := range 2001 {
			v := lo + (hi-lo)*float64(i)/2000
			if got := p.at(v); got <= last {
				t.Fatalf("falls or stands at %v: %v after %v", v, got, last)
			} else {
				last = got
			}
			// Its slope is that of a difference quotient, which errs by h times
			// the curve's bend at most (and by rounding).
			const h, rounding = 1e-6, 1e-8
			if d, want := p.slopeAt(v), (p.at(v+h)-p.at(v-h))/(2*h); math.Abs(d-want) > h*math.Max(bend(p, v-h), bend(p, v+h))+rounding*math.Max(1, d) {
				t.Fatalf("slope at %v is %v, by difference %v", v, d, want)
			}
		}
	})
}

// bend bounds the second derivative in the segment that holds v: a cubic
// Hermite's is linear, so its ends bound it.
func bend(p *pchip, v float64) float64 {
	if n := len(p.x); v <= p.x[0] || v >= p.x[n-1] {
		return 0
	}
	i := p.segment(v)
	h := p.x[i+1] - p.x[i]
	d := (p.y[i+1] - p.y[i]) / h
	return math.Max(math.Abs(6*d-4*p.slope[i]-2*p.slope[i+1]), math.Abs(6*d-2*p.slope[i]-4*p.slope[i+1])) / h
}

func TestMonotoneCubicHasAContinuousSlope(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, 8).Draw(t, "points")
		p := newPchip(rising(t, n, "x"), rising(t, n, "y"))
		for _, x := range p.x {
			const h = 1e-11
			if a, b := p.slopeAt(x-h), p.slopeAt(x+h); math.Abs(a-b) > 1e-3*math.Max(1, a) {
				t.Fatalf("slope jumps from %v to %v at a point", a, b)
			}
		}
	})
}

// Another implementation as judge: gonum's FritschButland has the same slopes
// at inner points (its end slopes differ, so the first and last interval are
// left out).
func TestMonotoneCubicAgreesWithAnotherImplementation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(5, 10).Draw(t, "points")
		x, y := rising(t, n, "x"), rising(t, n, "y")
		p := newPchip(x, y)
		var ref interp.FritschButland
		if err := ref.Fit(x, y); err != nil {
			t.Fatal(err)
		}
		for i := range 200 {
			v := x[1] + (x[n-2]-x[1])*float64(i)/199
			if a, b := p.at(v), ref.Predict(v); math.Abs(a-b) > 1e-10 {
				t.Fatalf("at %v: %v, other %v", v, a, b)
			}
		}
	})
}

func TestCurvePointsAreStopsToStops(t *testing.T) {
	points := [][2]float64{{-4, -4.5}, {-1, -1.2}, {0, 0}, {2, 2.3}, {5, 4.6}}
	tc, c := buildTone(t, Curve{Master: points})
	for _, s := range points {
		y := tc.channel(1, c.Encode(colour.Grey*math.Exp2(s[0])))
		if got := math.Log2(c.Decode(y) / colour.Grey); math.Abs(got-s[1]) > 1e-9 {
			t.Errorf("%v stops → %v, want %v", s[0], got, s[1])
		}
	}
	if black := c.Encode(0); tc.channel(0, black) != black {
		t.Errorf("zero light moved from %v to %v", black, tc.channel(0, black))
	}
}

func TestFootIsGivenInCodes(t *testing.T) {
	tc, _ := buildTone(t, Curve{Master: [][2]float64{{-3, -3}, {0, 0}, {4, 4}}, Foot: [][2]float64{{95, 80}, {110, 100}}})
	for _, f := range [][2]float64{{95, 80}, {110, 100}} {
		if got := tc.channel(2, f[0]/1023) * 1023; math.Abs(got-f[1]) > 1e-9 {
			t.Errorf("code %v → %v, want %v", f[0], got, f[1])
		}
	}
}

func TestIdentityPointsChangeNothing(t *testing.T) {
	tc, c := buildTone(t, Curve{Master: [][2]float64{{-3, -3}, {0, 0}, {4, 4}}, Red: [][2]float64{{0, 0}}})
	for i := range 1001 {
		y := float64(i)/1000*1.2 - 0.1
		for ch := range 3 {
			if got := tc.channel(ch, y); math.Abs(got-y) > 1e-12 {
				t.Fatalf("%v became %v", y, got)
			}
		}
	}
	_ = c
}

func TestChannelCurvesFollowTheMaster(t *testing.T) {
	tc, c := buildTone(t, Curve{Master: [][2]float64{{0, 1}}, Blue: [][2]float64{{1, 0.5}}})
	y := c.Encode(colour.Grey)
	v := tc.apply([3]float64{y, y, y})
	for ch, want := range []float64{1, 1, 0.5} {
		if got := math.Log2(c.Decode(v[ch]) / colour.Grey); math.Abs(got-want) > 1e-9 {
			t.Errorf("channel %d lands at %v stops, want %v", ch, got, want)
		}
	}
}

func TestCurveSlopesAreTold(t *testing.T) {
	g := Starting("log-420")
	g.Look.Off = true
	g.Curve = Curve{Master: [][2]float64{{-4, -4}, {-1, -1.6}, {1, 1.6}, {4, 4}}}
	p, err := Build(g, Clip{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	s := p.CurveSlopes()
	if s.Most < 1.55 || s.Most > 1.9 || math.Abs(s.MostAt) > 1.1 || s.Least > 0.85 || s.Least <= 0 {
		t.Errorf("%+v", s)
	}
	g.Curve.Off = true
	if p, err = Build(g, Clip{}, nil); err != nil {
		t.Fatal(err)
	}
	if s := p.CurveSlopes(); s.Least != 1 || s.Most != 1 {
		t.Errorf("off: %+v", s)
	}
}

func TestPointsUnderTheFootAreRefused(t *testing.T) {
	c, _ := colour.CurveByID("log-420")
	for name, curve := range map[string]Curve{
		"output under black": {Master: [][2]float64{{-14, -14}, {-13.9999999, -13.9999999}}},
		"point in the foot":  {Master: [][2]float64{{-8, -8}}, Foot: [][2]float64{{64, 64}, {130, 130}}},
		"foot above grey":    {Foot: [][2]float64{{500, 500}}},
	} {
		_, err := newToneCurves(curve, c)
		if f, ok := fault.As(err); !ok || f.Code != "grade-points" {
			t.Errorf("%s: got %v", name, err)
		}
	}
}
