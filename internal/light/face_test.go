package light

import (
	"math"
	"testing"

	"lampwise/internal/unit"

	"pgregory.net/rapid"
)

// summed is the slow obvious reference: a face as many small parts, each by
// L·cos·cos/d².
func summed(f face, p, n Vec) float64 {
	const k = 90
	sum := 0.0
	part := func(q, z Vec, area, l float64) {
		d := q.Sub(p)
		r := d.Length()
		ci, co := d.Dot(n)/r, -d.Dot(z)/r
		if ci > 0 && co > 0 {
			sum += l * area * ci * co / (r * r)
		}
	}
	switch f := f.(type) {
	case *sphereFace:
		for i := range 2 * k { // bands of equal area
			z := 2*(float64(i)+0.5)/(2*k) - 1
			r := math.Sqrt(1 - z*z)
			for j := range k {
				s, c := math.Sincos(2 * math.Pi * (float64(j) + 0.5) / k)
				d := Vec{r * c, r * s, z}
				part(f.o.Add(d.Times(f.radius)), d, 4*math.Pi*f.radius*f.radius/(2*k*k), f.luminance)
			}
		}
	case *tubeFace:
		for i := range 8 * k {
			for j := range 24 {
				s, c := math.Sincos(2 * math.Pi * (float64(j) + 0.5) / 24)
				d := f.y.Times(c).Add(f.z.Times(s))
				q := f.o.Add(f.x.Times(f.half * (2*(float64(i)+0.5)/(8*k) - 1))).Add(d.Times(f.radius))
				part(q, d, 2*math.Pi*f.radius*2*f.half/(8*k*24), f.luminance)
			}
		}
	case *flatFace:
		for i := range k {
			for j := range k {
				q, a := Vec{}, f.area()/(k*k)
				if f.disc {
					r := f.halfX * math.Sqrt((float64(i)+0.5)/k)
					s, c := math.Sincos(2 * math.Pi * (float64(j) + 0.5) / k)
					q = f.point(r*c, r*s, 0)
				} else {
					q = f.point(f.halfX*(2*(float64(i)+0.5)/k-1), f.halfY*(2*(float64(j)+0.5)/k-1), 0)
				}
				d := p.Sub(q)
				part(q, f.z, a, f.luminance*narrowed(d.Dot(f.z)/d.Length(), f.grid))
			}
		}
	}
	return sum
}

func someDirection(t *rapid.T, name string) Vec {
	z := rapid.Float64Range(-1, 1).Draw(t, name+" z")
	a := rapid.Float64Range(0, 2*math.Pi).Draw(t, name+" angle")
	r := math.Sqrt(1 - z*z)
	return Vec{r * math.Cos(a), r * math.Sin(a), z}
}

// The closed forms are those of the sums, wherever the plane cuts the face.
func TestFacesAgainstSums(t *testing.T) {
	for name, c := range map[string]struct {
		f   face
		tol float64 // of the sum, or of what an unhindered face gives when the horizon cuts it
	}{
		"ball":             {&sphereFace{facing(Vec{}, Vec{0, 0, 1}, 0), 0.3, 1000}, 0.003},
		"rectangle":        {&flatFace{frame: facing(Vec{}, Vec{1, 0.5, 0.2}, 0.3), halfX: 0.5, halfY: 0.3, luminance: 1000}, 0.003},
		"disc":             {&flatFace{frame: facing(Vec{}, Vec{0.1, 0.2, -1}, 0), disc: true, halfX: 0.4, halfY: 0.4, luminance: 1000}, 0.003},
		"gridded panel":    {&flatFace{frame: facing(Vec{}, Vec{1, 0, 0}, 0), halfX: 0.3, halfY: 0.3, luminance: 1000, grid: 0.4}, 0.02},
		"gridded disc":     {&flatFace{frame: facing(Vec{}, Vec{1, 0, 0}, 0), disc: true, halfX: 0.05, halfY: 0.05, luminance: 1000, grid: 0.3}, 0.02},
		"tube, ends apart": {&tubeFace{facing(Vec{}, Vec{0, 1, 0}, 0), 0.6, 0.013, 4000}, 0.02},
	} {
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				d := someDirection(t, "place")
				p := d.Times(rapid.Float64Range(0.7, 4).Draw(t, "distance"))
				n := someDirection(t, "normal")
				tol := c.tol
				if tube, ok := c.f.(*tubeFace); ok {
					// The line stands for a tube that is thin against its distance: where
					// the horizon cuts it, its side is nearer than its axis by R.
					h := p.Sub(tube.x.Times(p.Dot(tube.x))).Length()
					if h < 20*tube.radius {
						return
					}
					tol = 2 * tube.radius / h
				}
				got, want := c.f.at(p, n), summed(c.f, p, n)
				// Against what a plane that looks at the face would get, and in a
				// grid's dark against a twentieth of what the face gives ahead.
				ahead := c.f.axis().z.Times(p.Length())
				full := math.Max(summed(c.f, p, p.Times(-1).Unit()), 5e-2*c.f.at(ahead, ahead.Times(-1).Unit()))
				if math.IsNaN(got) || math.Abs(got-want) > tol*math.Max(full, 1e-9)+1e-9 {
					t.Fatalf("at %v toward %v: %g, summed %g (squarely %g)", p, n, got, want, full)
				}
			})
		})
	}
}

// Values printed in textbooks; photometry-examples.json names each.
func TestTextbookValues(t *testing.T) {
	down := facing(Vec{}, Vec{0, 0, -1}, 0)
	toward := Vec{0, 0, 1}
	sin, cos := math.Sincos(30 * math.Pi / 180)
	lamp := &pointFace{frame: facing(Vec{0, 0, 3}, Vec{0, 0, -1}, 0), shape: Even(1000), gain: 1}
	foot := Vec{3 * sin / cos, 0, 0}
	a := &pointFace{frame: facing(Vec{0, 0, 2.5}, Vec{0, 0, -1}, 0), shape: Even(1200), gain: 1}
	b := &pointFace{frame: facing(Vec{2, 0, 2}, Vec{0, 0, -1}, 0), shape: Even(800), gain: 1}
	p := Vec{0.5, 0, 0}
	disc := func(r, l, d float64) float64 {
		return (&flatFace{frame: down, disc: true, halfX: r, halfY: r, luminance: l}).at(Vec{0, 0, -d}, toward)
	}
	for name, pair := range map[string][2]float64{
		"inverse square":                     {(&pointFace{frame: down, shape: Even(1000), gain: 1}).at(Vec{0, 0, -2}, toward), 250},
		"point method, horizontal":           {lamp.at(foot, toward), 72.16878364870324},
		"point method, vertical":             {lamp.at(foot, Vec{-1, 0, 0}), 41.666666666666664},
		"two lamps on one point":             {a.at(p, toward) + b.at(p, toward), 283.43027858909295},
		"disc on axis, 25 cm at 1 m":         {disc(0.25, 1000, 1), 184.7995678582231},
		"disc on axis, 25 cm at 2.5 m":       {disc(0.25, 1000, 2.5), 31.10487775831478},
		"disc on axis, 15 cm at 0.5 m":       {disc(0.15, 5000, 0.5), 1296.9877927664281},
		"rectangle from under a corner":      {(&flatFace{frame: down, halfX: 0.3, halfY: 0.15, luminance: 1000}).at(Vec{0.3, 0.15, -1.5}, toward), 70.74774711612697},
		"flux of a matt face of 318.3 cd":    {(&flatFace{frame: down, halfX: 0.5, halfY: 0.5, luminance: 318.309886}).flux(), 1000},
		"flux of 100 cd all round":           {float64(Even(100).Flux()), 1256.6370614359173},
		"disc against inverse square at 5 Ø": {math.Pi * 0.01 * 1000 / disc(0.1, 1000, 1), 1.01},
	} {
		// Textbook values to nine digits; the last is 1 + r²/d² exactly.
		if math.Abs(pair[0]/pair[1]-1) > 1e-8 {
			t.Errorf("%s: %.10g, expected %.10g", name, pair[0], pair[1])
		}
	}
}

// From 2.2 times a disc's diameter inverse square is right within 5 %, from
// five times within 1 % (r²/d²).
func TestWhereInverseSquareHolds(t *testing.T) {
	s := &Scene{lamps: []sceneLamp{{face: &flatFace{frame: facing(Vec{}, Vec{0, 0, -1}, 0), disc: true, halfX: 0.1, halfY: 0.1, luminance: 1}}}}
	for _, c := range []struct{ err, want float64 }{{0.05, math.Sqrt(0.2 - 0.01)}, {0.01, math.Sqrt(1 - 0.01)}} {
		if d := float64(s.InverseSquareFrom(0, c.err)); math.Abs(d-c.want) > 1e-3 {
			t.Errorf("within %g from %.4f m, expected %.4f", c.err, d, c.want)
		}
	}
}

func TestBeam(t *testing.T) {
	b := NewBeam(5000, 2, 20, 36.46) // 20000 cd
	for _, c := range []struct{ at, want float64 }{{0, 20000}, {10, 10000}, {18.23, 2000}} {
		if got := float64(b.Candela(0, unitDegree(c.at))); math.Abs(got/c.want-1) > 1e-3 {
			t.Errorf("%g°: %.1f cd, expected %g", c.at, got, c.want)
		}
	}
	// Without a field angle the fall is Gaussian: this beam's is that, too.
	if f := NewBeam(5000, 2, 20, 0); math.Abs(f.Fall-b.Fall) > 2e-3 {
		t.Errorf("fall %g and %g", f.Fall, b.Fall)
	}
	// The flux of the same curve in ies_expected.csv: 2744.253 lm.
	if f := float64(NewBeam(5000, 2, 20, 0).Flux()); math.Abs(f/2744.253-1) > 2e-3 {
		t.Errorf("flux %.2f lm", f)
	}
}

func unitDegree(v float64) unit.Degree { return unit.Degree(v) }
