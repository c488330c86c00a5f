package region

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// The picture is told in parts: pixels of any grid belong as their middles do.
func TestRegionPixels(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		part := rapid.Float64Range(0, 1)
		b := Box{X: part.Draw(t, "x"), Y: part.Draw(t, "y")}
		b.W = max(1e-6, part.Draw(t, "w")*(1-b.X))
		b.H = max(1e-6, part.Draw(t, "h")*(1-b.Y))
		b.X, b.Y = min(b.X, 1-b.W), min(b.Y, 1-b.H)
		r := Region{Name: "x", Box: b, Shape: rapid.SampledFrom([]Shape{ShapeBox, ShapeEllipse}).Draw(t, "shape")}
		if err := r.Check(); err != nil {
			t.Fatal(err)
		}
		w, h := rapid.IntRange(1, 80).Draw(t, "cols"), rapid.IntRange(1, 80).Draw(t, "rows")
		got := r.Pixels(w, h)
		if len(got) == 0 || !slices.IsSorted(got) || got[0] < 0 || got[len(got)-1] >= w*h {
			t.Fatalf("pixels %v of %d×%d", got, w, h)
		}
		want := 0
		for p := range w * h {
			x, y := (float64(p%w)+0.5)/float64(w), (float64(p/w)+0.5)/float64(h)
			in := x >= b.X && x < b.X+b.W && y >= b.Y && y < b.Y+b.H
			if r.Shape == ShapeEllipse {
				in = in && math.Hypot((x-b.X-b.W/2)/b.W, (y-b.Y-b.H/2)/b.H) <= 0.5
			}
			if in {
				want++
			}
			if in != slices.Contains(got, p) && len(got) > 1 {
				t.Fatalf("pixel %d,%d of %v: belongs %v", p%w, p/w, b, in)
			}
		}
		if len(got) != max(want, 1) {
			t.Fatalf("%d pixels, want %d", len(got), want)
		}
		moved := b.Moved(rapid.Float64Range(-2, 2).Draw(t, "dx"), rapid.Float64Range(-2, 2).Draw(t, "dy"))
		if err := (Region{Name: "x", Box: moved}).Check(); err != nil {
			t.Fatalf("moved: %v", err)
		}
	})
}

// grown against its definition.
func TestGrown(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h, r := rapid.IntRange(1, 14).Draw(t, "w"), rapid.IntRange(1, 14).Draw(t, "h"), rapid.IntRange(0, 5).Draw(t, "r")
		in := rapid.SliceOfN(rapid.Bool(), w*h, w*h).Draw(t, "in")
		got := make([]bool, w*h)
		for _, p := range grown(in, w, h, r) {
			got[p] = true
		}
		for p := range got {
			want := false
			for q, on := range in {
				want = want || on && max(p%w-q%w, q%w-p%w) <= r && max(p/w-q/w, q/w-p/w) <= r
			}
			if got[p] != want {
				t.Fatalf("pixel %d of %d×%d, grown by %d: %v", p, w, h, r, got[p])
			}
		}
	})
}

// Patches are a partition of what is in, each connected by sides.
func TestPatches(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.IntRange(1, 12).Draw(t, "w"), rapid.IntRange(1, 12).Draw(t, "h")
		in := rapid.SliceOfN(rapid.Bool(), w*h, w*h).Draw(t, "in")
		of := make([]int, w*h)
		for i, c := range patches(in, w, h, 1) {
			for _, p := range c.pixels {
				if of[p] != 0 || !in[p] {
					t.Fatalf("pixel %d belongs twice or not at all", p)
				}
				of[p] = i + 1
			}
		}
		for p := range in {
			if in[p] != (of[p] != 0) {
				t.Fatalf("pixel %d is left out", p)
			}
			if p%w+1 < w && in[p] && in[p+1] && of[p] != of[p+1] {
				t.Fatalf("neighbours %d and %d are parted", p, p+1)
			}
			if p+w < w*h && in[p] && in[p+w] && of[p] != of[p+w] {
				t.Fatalf("neighbours %d and %d are parted", p, p+w)
			}
		}
	})
}

// Selection against sorting.
func TestNth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.SliceOfN(rapid.Float64Range(-3, 3), 1, 60).Draw(t, "v")
		if rapid.Bool().Draw(t, "alike") {
			for i := range v {
				v[i] = math.Round(v[i])
			}
		}
		sorted := slices.Sorted(slices.Values(v))
		n := len(v)
		for k := range v {
			if got := nth(slices.Clone(v), k); got != sorted[k] {
				t.Fatalf("%d-th of %v: %v", k, v, got)
			}
		}
		if got, want := median(v), (sorted[(n-1)/2]+sorted[n/2])/2; got != want {
			t.Fatalf("median of %v: %v, want %v", v, got, want)
		}
	})
}
