package job

import (
	"math"
	"testing"
)

// TestKendall compares with the exact upper tails of Kendall's S as tables
// print them (Kaarsemaker and van Wijngaarden, Statistica Neerlandica 7, 1953;
// Hollander and Wolfe, Nonparametric Statistical Methods, table A.30), doubled.
func TestKendall(t *testing.T) {
	for _, c := range []struct {
		n, s int
		want float64
	}{{4, 6, 0.042}, {4, 4, 0.167}, {5, 8, 0.042}, {5, 10, 0.0083}, {6, 9, 0.068}, {6, 11, 0.028}, {8, 16, 0.031}, {10, 21, 0.036}, {5, 0, 0.592}} {
		want := math.Min(1, 2*c.want)
		if got := kendallP(c.n, c.s); math.Abs(got-want) > 0.0011 && !(c.s == 0 && got > 0.999) {
			t.Errorf("n %d, S %d: %.4f, want %.4f", c.n, c.s, got, want)
		}
		if a, b := kendallP(c.n, c.s), kendallP(c.n, -c.s); math.Abs(a-b) > 1e-12 {
			t.Errorf("n %d: %g upwards, %g downwards", c.n, a, b)
		}
	}
}

func TestTrend(t *testing.T) {
	points := func(values ...float64) (out []HistoryPoint) {
		for i, v := range values {
			for k := range 2 { // two clips a day
				w := v + 0.001*float64(k)
				out = append(out, HistoryPoint{Episode: string(rune('a' + i)), Clip: k + 1, Value: &w})
			}
		}
		return out
	}
	aging := trendOf(points(0, -0.05, -0.09, -0.16, -0.2))
	if aging == nil || !aging.Sure || math.Abs(aging.PerEpisode+0.05) > 0.005 || math.Abs(aging.Total+0.2) > 0.02 {
		t.Errorf("a lamp that ages: %+v", aging)
	}
	if still := trendOf(points(0.01, -0.02, 0.02, 0, -0.01)); still == nil || still.Sure {
		t.Errorf("a lamp that doesn't: %+v", still)
	}
	if few := trendOf(points(0, 1, 2)); few != nil {
		t.Errorf("three episodes have a trend: %+v", few)
	}
	s := &HistorySeries{What: "exposure", Unit: "stop", Points: points(0.01, 0.02, 0, 0.5, -0.01, 0.015)}
	strays := straysOf(s)
	if len(strays) != 2 || strays[0].Episode != "d" {
		t.Errorf("strays: %+v", strays)
	}
	if strays := straysOf(&HistorySeries{Unit: "stop", Points: points(0, 0, 0, 0.05, 0)}); strays != nil {
		t.Errorf("a twentieth of a stop is told as a stray: %+v", strays)
	}
}
