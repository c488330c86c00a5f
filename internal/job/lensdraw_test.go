package job

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A polygon cut off at a frame stays inside it, with the area of what's inside.
func TestClipped(t *testing.T) {
	square := [][2]float64{{-1, -1}, {3, -1}, {3, 5}, {-1, 5}}
	got := clipped(square, 2, 0, 2)
	area := 0.0
	for i, a := range got {
		b := got[(i+1)%len(got)]
		area += (a[0]*b[1] - b[0]*a[1]) / 2
		if math.Abs(a[0]) > 2 || a[1] < 0 || a[1] > 2 {
			t.Errorf("%v lies outside", a)
		}
	}
	if math.Abs(math.Abs(area)-6) > 1e-12 { // −1..2 by 0..2
		t.Errorf("area %g", area)
	}
	if out := clipped(square, 0.5, 10, 12); len(out) != 0 {
		t.Errorf("%v of what lies beside", out)
	}
}

// The sheet is drawn for a face and for a hall, and says what the figures say.
func TestLensSheet(t *testing.T) {
	for _, r := range []LensRequest{
		{Focal: 135, Sensor: [2]float64{36, 20.25}, F: 2, Focus: 3, Background: 12, Lines: 1080},
		{Focal: 16, Sensor: [2]float64{36, 20.25}, F: 11, Focus: 6, Background: 7, Lines: 1080},
	} {
		l, err := Lens(r)
		if err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(t.TempDir(), "lens.svg")
		if err := DrawLens(l, file, false); err != nil {
			t.Fatal(err)
		}
		if err := DrawLens(l, file, false); err == nil {
			t.Error("a drawing that is there was replaced")
		}
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		svg := string(data)
		for _, bad := range []string{"NaN", "Inf"} {
			if strings.Contains(svg, bad) {
				t.Errorf("%g mm: %s in the drawing", r.Focal, bad)
			}
		}
		if far := "sharp from"; !strings.Contains(svg, far) || (l.Far == nil) != strings.Contains(svg, "m on (") {
			t.Errorf("%g mm: what is sharp isn't told", r.Focal)
		}
	}
}
