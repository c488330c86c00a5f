package colour

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestDeltaE2000Properties(t *testing.T) {
	lab := rapid.Custom(func(t *rapid.T) [3]float64 {
		return [3]float64{rapid.Float64Range(0, 100).Draw(t, "L"), rapid.Float64Range(-128, 128).Draw(t, "a"), rapid.Float64Range(-128, 128).Draw(t, "b")}
	})
	rapid.Check(t, func(t *rapid.T) {
		a, b := lab.Draw(t, "a"), lab.Draw(t, "b")
		if d := DeltaE2000(a, a); d != 0 {
			t.Fatalf("%v differs from itself by %g", a, d)
		}
		d := DeltaE2000(a, b)
		if math.IsNaN(d) || d < 0 {
			t.Fatalf("%v to %v is %g", a, b, d)
		}
	})
}

func TestDisplayLab(t *testing.T) {
	if white := DisplayLab(RGB{1, 1, 1}); math.Abs(white[0]-100) > 1e-10 || math.Hypot(white[1], white[2]) > 1e-10 {
		t.Errorf("white is %v", white)
	}
	if black := DisplayLab(RGB{}); black != [3]float64{} {
		t.Errorf("black is %v", black)
	}
	if below := DisplayLab(RGB{-0.1, -0.1, -0.1}); below != [3]float64{} {
		t.Errorf("below black is %v", below)
	}
	// Y = 0.5^2.4, L* = 116·Y^(1/3) − 16, by hand.
	if half := DisplayLab(RGB{0.5, 0.5, 0.5}); math.Abs(half[0]-(116*math.Pow(0.5, 0.8)-16)) > 1e-10 {
		t.Errorf("half signal has L* %.6f", half[0])
	}
	// BT.709's red at full, as widely tabulated (from memory).
	if red := DisplayLab(RGB{1, 0, 0}); math.Abs(red[0]-53.24) > 0.01 || math.Abs(red[1]-80.09) > 0.02 || math.Abs(red[2]-67.20) > 0.02 {
		t.Errorf("red is %v", red)
	}
}

func TestLabRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := XYZ{rapid.Float64Range(-0.2, 3).Draw(t, "X"), rapid.Float64Range(-0.2, 3).Draw(t, "Y"), rapid.Float64Range(-0.2, 3).Draw(t, "Z")}
		back := XYZFromLab(LabFromXYZ(v, displayWhite), displayWhite)
		for k := range v {
			if math.Abs(back[k]-v[k]) > 1e-12 {
				t.Fatalf("%v comes back %v", v, back)
			}
		}
	})
}
