package lamps

import (
	"math"
	"testing"
)

// Every plan tells all lamps apart, and its order reads back.
func TestAdvise(t *testing.T) {
	for n := 1; n <= MaxLamps; n++ {
		plans, err := Advise(n, AdviseOptions{})
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range plans {
			if r := p.Order.Design(nil).Rank(); !r.Full() {
				t.Errorf("%d lamps, %s: %q leaves %v together", n, p.Kind, p.Order, r.Together)
			}
			back, err := ParseOrder(p.Order.String(), p.Order.Lamps)
			if err != nil || back.String() != p.Order.String() {
				t.Errorf("%d lamps, %s: %q reads back as %v, %v", n, p.Kind, p.Order, back, err)
			}
			if p.Hold < leastHold || p.Hold > mostHold || math.IsInf(p.Deviation, 0) {
				t.Errorf("%d lamps, %s: %+v", n, p.Kind, p)
			}
		}
		if n == 5 {
			for _, p := range plans {
				t.Logf("%-22s deviation %.4f, hold %.1f s, %.0f s in all, %d switches: %s %s", p.Kind, p.Deviation, float64(p.Hold), float64(p.Total), p.Switches, p.Order, p.Why)
			}
		}
	}
	for _, n := range []int{0, -1, 13} {
		if _, err := Advise(n, AdviseOptions{}); err == nil {
			t.Errorf("advice for %d lamps", n)
		}
	}
}

// Schechner, Nayar and Belhumeur 2007, section 2.2: with noise that doesn't
// depend on the light, an S-matrix of order n lowers the variance of each lamp
// alone by (n+1)²/4n; with photon noise alone it gains nothing. No ambient light
// is unknown there, so the design here is without its column.
func TestMultiplexGain(t *testing.T) {
	for _, n := range []int{3, 7, 11} {
		rows := hadamard(n)
		rows = rows[1 : len(rows)-1] // without dark and all
		if len(rows) != n {
			t.Fatalf("order %d has %d rows", n, len(rows))
		}
		eq := newNormal(n)
		for _, r := range rows {
			eq.add(r, 0, 1)
		}
		if !factorise(eq.a, n) {
			t.Fatalf("order %d is singular", n)
		}
		inv := make([]float64, n*n)
		inverseFrom(eq.a, n, inv, make([]float64, n))
		want := 4 * float64(n) / float64((n+1)*(n+1))
		for i := range n {
			if math.Abs(inv[i*n+i]-want) > 1e-12 {
				t.Errorf("order %d, lamp %d: variance %.6f of one lamp alone, published %.6f", n, i, inv[i*n+i], want)
			}
		}
	}
}

// Reading noise favours several on; photon noise doesn't.
func TestAdviseByNoise(t *testing.T) {
	deviation := func(noise Noise, kind string) float64 {
		plans, err := Advise(7, AdviseOptions{Noise: noise})
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range plans {
			if p.Kind == kind {
				return p.Deviation
			}
		}
		t.Fatalf("no plan %q", kind)
		return 0
	}
	reading := ConstantNoise(.01)
	photon := Noise{Photon: [3]float64{1e-4, 1e-4, 1e-4}}
	if a, b := deviation(reading, "several on"), deviation(reading, "one on"); a >= b {
		t.Errorf("with reading noise several on has %.4f, one on %.4f", a, b)
	}
	if a, b := deviation(photon, "several on"), deviation(photon, "one on"); a <= b {
		t.Errorf("with photon noise several on has %.4f, one on %.4f", a, b)
	}
}
