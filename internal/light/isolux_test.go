package light

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// twelveLamps is the room that the stated speed is of: 5 × 4 m, twelve lamps
// of every shape, a few things.
func twelveLamps() string {
	var b strings.Builder
	b.WriteString(strings.Replace(strings.Replace(smallRoom, "width = 4", "width = 5", 1), "depth = 5", "depth = 4", 1))
	kinds := []string{"panel-60", "lantern-65", "tube-120", "bulb", "strip-100", "spot-30", "softbox-90", "panel-30", "window", "panel-60", "spot-30", "softbox-90"}
	for i, k := range kinds {
		x, y := 0.5+0.37*float64(i), 0.4+0.6*float64(i%5)
		fmt.Fprintf(&b, "[[lamp]]\nname = \"lamp-%d\"\nkind = %q\nat = [%g, %g, %g]\n", i+1, k, x, y, 1.6+0.05*float64(i))
		if k == "panel-30" {
			b.WriteString("grid = 40\n")
		}
	}
	b.WriteString("[[thing]]\nname = \"bench\"\nat = [2.5, 2.2, 0.9]\nsize = [1.5, 0.5, 0.05]\nreflectance = 0.3\n")
	b.WriteString("[[thing]]\nname = \"flag\"\nat = [1.2, 1.6, 1.6]\nsize = [0.01, 0.6, 0.6]\nreflectance = 0.03\n")
	return b.String()
}

// The map's light is what is read at its points one by one: the coarse grids'
// spreading costs little where nothing's edge throws a hard shadow.
func TestIsoluxAgainstReading(t *testing.T) {
	s := sceneOf(t, twelveLamps())
	n := Vec{0, -1, 0}
	m := s.Isolux(0.1, 1.2, n)
	var off []float64
	for j := 1; j < m.H-1; j += 3 {
		for i := 1; i < m.W-1; i += 3 {
			sum := 0.0
			for l, lit := range s.At(Vec{float64(i) * 0.1, float64(j) * 0.1, 1.2}, n, Apart) {
				sum += float64(lit.Total()) * s.Level(l)
			}
			off = append(off, math.Abs(math.Log2(float64(m.Lux[j*m.W+i])/sum)))
		}
	}
	bad := 0
	for _, v := range off {
		if !(v < 0.05) { // stops: a contour line's width
			bad++
		}
	}
	if bad*50 > len(off) {
		t.Errorf("%d of %d points are off by more than 0.05 stop", bad, len(off))
	}
}

// Contours of a cone are circles, closed, of the right radius.
func TestContours(t *testing.T) {
	m := &Map{Step: 0.1, W: 41, H: 41}
	for j := range 41 {
		for i := range 41 {
			m.Lux = append(m.Lux, float32(10-math.Hypot(float64(i)*0.1-2, float64(j)*0.1-2)))
		}
	}
	lines := m.Contours(9)
	if len(lines) != 1 {
		t.Fatalf("%d lines", len(lines))
	}
	p := lines[0].Points
	if p[0] != p[len(p)-1] || len(p) < 30 {
		t.Errorf("%d points, from %v to %v", len(p), p[0], p[len(p)-1])
	}
	for _, q := range p {
		// Between grid points the cone is taken as straight: under a hundredth of the step.
		if r := math.Hypot(q[0]-2, q[1]-2); math.Abs(r-1) > 2e-3 {
			t.Fatalf("radius %g", r)
		}
	}
	if lines := m.Contours(100); len(lines) != 0 {
		t.Errorf("lines of a light that isn't there: %d", len(lines))
	}
	// A line that leaves the map stays open.
	open := m.Contours(7.5)
	if len(open) != 4 {
		t.Errorf("%d open lines in the corners", len(open))
	}
}

// The stated speed: a whole plan with twelve lamps and a 2 cm map of 5 × 4 m
// in under 200 ms; the ladder alone in under 16 ms once the room is known.
func BenchmarkPlanTwelveLamps(b *testing.B) {
	text := []byte(twelveLamps())
	for b.Loop() {
		p, err := Parse(text, "bench.toml")
		if err != nil {
			b.Fatal(err)
		}
		s, err := NewScene(p, nil)
		if err != nil {
			b.Fatal(err)
		}
		for _, place := range s.Places {
			s.Read(place)
		}
		s.Falloff()
		s.Isolux(0.02, 1.2, Vec{0, -1, 0})
	}
}

func BenchmarkSceneTwelveLamps(b *testing.B) {
	p := parsed(b, twelveLamps())
	for b.Loop() {
		s, err := NewScene(p, nil)
		if err != nil {
			b.Fatal(err)
		}
		for _, place := range s.Places {
			s.Read(place)
		}
	}
}

// A scene made again from another is the scene made from the start.
func TestAgainIsAnew(t *testing.T) {
	text := twelveLamps()
	first := sceneOf(t, text)
	for _, change := range [][2]string{
		{"at = [0.5, 0.4, 1.6]", "at = [0.7, 0.5, 1.7]"},
		{"kind = \"bulb\"", "kind = \"bulb\"\nlevel = 0.3"},
		{"size = [1.5, 0.5, 0.05]", "size = [1.2, 0.5, 0.05]"},
	} {
		p := parsed(t, strings.Replace(text, change[0], change[1], 1))
		again, err := first.Again(p)
		if err != nil {
			t.Fatal(err)
		}
		anew, err := NewScene(p, nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, place := range anew.Places {
			a, b := again.Read(place), anew.Read(place)
			for l := range a {
				if a[l] != b[l] {
					t.Errorf("%s: lamp %d at %s: %v again, %v anew", change[1], l, place.Name, a[l], b[l])
				}
			}
		}
	}
}

// Dragging one lamp of twelve: the ladder must follow a picture of the screen.
func BenchmarkDragOneLamp(b *testing.B) {
	text := twelveLamps()
	s := sceneOf(b, text)
	moved := [2]*Plan{parsed(b, text), parsed(b, strings.Replace(text, "at = [0.5, 0.4, 1.6]", "at = [0.7, 0.5, 1.7]", 1))}
	for i := 0; b.Loop(); i++ {
		t, err := s.Again(moved[i%2])
		if err != nil {
			b.Fatal(err)
		}
		for _, place := range t.Places {
			t.Read(place)
		}
		s = t
	}
}

// What a sheet fills in is what each point gives by itself, within its bound: a
// hundredth of a stop, even by a lamp, at the edge of a beam and past a horizon.
func TestSheetIsTheFunction(t *testing.T) {
	s := sceneOf(t, twelveLamps())
	const step, z = 0.02, 1.2
	n := Vec{0, -1, 0}
	computed := 0
	for l := range s.lamps {
		at := func(i, j int) float64 {
			return s.lamps[l].face.at(Vec{float64(i) * step, float64(j) * step, z}, n)
		}
		count := 0
		d := newSheet(251, 201, func(i, j int) float64 { count++; return at(i, j) })
		computed += count
		most := 0.0
		for j := range 201 {
			for i := range 251 {
				most = math.Max(most, at(i, j))
			}
		}
		for j := range 201 {
			for i := range 251 {
				got, want := d.v[j*251+i], at(i, j)
				if math.IsNaN(want) != math.IsNaN(got) || math.Abs(got-want) > 0.007*want+1e-4*most {
					t.Fatalf("lamp %d at %d, %d: %g filled, %g computed", l, i, j, got, want)
				}
			}
		}
	}
	if k := float64(computed) / float64(12*251*201); k > 0.3 {
		t.Errorf("%.2f of the points were computed", k)
	} else {
		t.Logf("%.2f of the points were computed", k)
	}
}
