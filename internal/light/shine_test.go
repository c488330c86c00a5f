package light

import (
	"math"
	"testing"
)

// A coat gives back what Fresnel says, head-on, whatever its roughness, less what
// rough facets lose to each other; and it's the same both ways.
func TestCoatGivesBackItsShare(t *testing.T) {
	n := Vec{0, 0, 1}
	for _, name := range []string{"satin", "gloss", "skin"} {
		f, ok := FinishNamed(name)
		if !ok {
			t.Fatal(name)
		}
		eye, sum := Vec{0.1, 0, 1}.Unit(), 0.0
		const rings, around = 600, 360
		for i := range rings {
			theta := (float64(i) + 0.5) * math.Pi / 2 / rings
			for j := range around {
				phi := (float64(j) + 0.5) * 2 * math.Pi / around
				in := Vec{math.Sin(theta) * math.Cos(phi), math.Sin(theta) * math.Sin(phi), math.Cos(theta)}
				sum += f.toward(in, eye, n) / math.Pi * math.Cos(theta) * math.Sin(theta) * (math.Pi / 2 / rings) * (2 * math.Pi / around)
			}
		}
		// Facets steeper than 45° throw it under the horizon, α²/(1+α²) of them (GGX's
		// sum); masking takes about half as much again.
		a2 := f.rough * f.rough
		if k := sum / f.fresnel(eye.Dot(n)); k < 1-1.6*a2/(1+a2) || k > 1-0.9*a2/(1+a2)+0.01 {
			t.Errorf("%s gives back %.4f, %.3f of Fresnel's share", name, sum, k)
		}
		a, b := Vec{0.5, 0.2, 1}.Unit(), Vec{-0.3, 0.4, 1}.Unit()
		if x, y := f.toward(a, b, n), f.toward(b, a, n); math.Abs(x-y) > 1e-12 {
			t.Errorf("%s: %g there, %g back", name, x, y)
		}
	}
}

// A satin board throws a lamp into the lens where it lies in its mirror, and only
// there; matt it doesn't.
func TestSatinShinesInTheMirror(t *testing.T) {
	board := "[background]\nat = [1.6, 4.99, 1.4]\nreflectance = 0.18\n"
	lux := func(finish, bulb string) float64 {
		s := sceneOf(t, smallRoom+"[[lamp]]\nname = \"bulb\"\nkind = \"bulb\"\nat = "+bulb+"\n"+board+finish)
		return float64(s.Read(s.place(Background))[0].Direct)
	}
	const satin = "finish = \"satin\"\n"
	// The camera stands at 2, 1, 1.4: mirrored on the board's normal, 1.2, 1, 1.4.
	if k := lux(satin, "[1.2, 1, 1.4]") / lux("", "[1.2, 1, 1.4]"); k < 1.3 {
		t.Errorf("in the mirror satin reads %.2f times matt", k)
	}
	if k := lux(satin, "[3.6, 4, 2.3]") / lux("", "[3.6, 4, 2.3]"); k > 1.06 || k < 0.94 {
		t.Errorf("far from it satin reads %.2f times matt", k)
	}
}

// Patches give each other what they take, and all that they give.
func TestPatchesAreReciprocal(t *testing.T) {
	s := sceneOf(t, Example)
	n := len(s.patches)
	for i := range n {
		sum := 0.0
		for j := range n {
			sum += s.raw[i*n+j]
			a, b := s.patches[i].area*s.raw[i*n+j], s.patches[j].area*s.raw[j*n+i]
			if math.Abs(a-b) > 1e-12 {
				t.Fatalf("patch %d gives %d %g, takes %g", i, j, a, b)
			}
		}
		if sum > 0 && math.Abs(sum-1) > 0.01 {
			t.Errorf("patch %d gives %.5f of its light", i, sum)
		}
	}
}
