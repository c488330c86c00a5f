package demo

import (
	"math"
	"testing"
)

// TestLampsAgainstArea holds each lamp's drawing of directions to the plain
// sum over points of its face: irradiance on a plate at several places, near
// and far, square and askew.
func TestLampsAgainstArea(t *testing.T) {
	lamps := map[string]emitter{
		"rect": {shape: shapeRect, frame: along(v3(0.1, 1, 0.2), v3(0, 0, 0)), halfX: 0.5, halfZ: 0.3, radiance: 100, hot: 1.7},
		"tube": {shape: shapeTube, frame: at(0, 1, 0), halfX: 0.6, halfZ: 0.013, radiance: 5000},
		"disc": {shape: shapeDisc, frame: along(v3(0.2, 1.5, 0), v3(0, 0, 0)), halfX: 0.05, radiance: 60000, beam: 0.4},
		"ball": {shape: shapeSphere, frame: at(0, 1.2, 0), halfX: 0.325, radiance: 1000},
	}
	places := []struct{ p, n vec }{
		{v3(0, 0, 0), v3(0, 1, 0)},
		{v3(0.4, 0.3, -0.3), v3(0.2, 0.9, 0.3).unit()},
		{v3(-0.2, 0.55, 0.15), v3(0, 1, 0)},
	}
	for name, e := range lamps {
		for i, c := range places {
			var drawn float64
			const n = 20000
			for k := range n {
				u, v := spread(k, 0.13, 0.57)
				s, ok := e.sample(c.p, u, v)
				if !ok {
					continue
				}
				if nl := c.n.dot(s.dir); nl > 0 {
					drawn += float64(s.l*nl/s.pdf) / n
				}
				if e.shape == shapeTube {
					continue
				}
				q := c.p.mad(s.dist, s.dir)
				l, pdf := e.seen(c.p, q, s.dir)
				if math.Abs(float64(l/s.l)-1) > 2e-3 || math.Abs(float64(pdf/s.pdf)-1) > 2e-3 {
					t.Fatalf("%s: drawn with radiance %g and density %g, seen with %g and %g", name, s.l, s.pdf, l, pdf)
				}
			}
			want := plainIrradiance(&e, c.p, c.n)
			// Both are sums over some ten thousand well-spread points.
			if math.Abs(drawn/want-1) > 0.004 {
				t.Errorf("%s at place %d: drawn directions give %g lx, the face's points %g lx", name, i, drawn, want)
			}
		}
	}
}

// plainIrradiance sums over a grid on the lamp's face.
func plainIrradiance(e *emitter, p, n vec) float64 {
	const g = 300
	var sum float64
	add := func(q, face vec, area, l float64) {
		d := q.sub(p)
		r2 := float64(d.dot(d))
		w := d.unit()
		c, s := float64(-w.dot(face)), float64(n.dot(w))
		if c > 0 && s > 0 {
			sum += l * c * s * area / r2
		}
	}
	for i := range g {
		for j := range g {
			u, v := (float64(i)+0.5)/g, (float64(j)+0.5)/g
			switch e.shape {
			case shapeRect:
				q := e.frame.point(v3((2*u-1)*float64(e.halfX), 0, (2*v-1)*float64(e.halfZ)))
				add(q, e.frame.y, 4*float64(e.halfX)*float64(e.halfZ)/(g*g), float64(e.toward(q, 1)))
			case shapeDisc:
				r := float64(e.halfX) * math.Sqrt(u)
				q := e.frame.point(v3(r*math.Cos(2*math.Pi*v), 0, r*math.Sin(2*math.Pi*v)))
				cos := p.sub(q).unit().dot(e.frame.y)
				add(q, e.frame.y, math.Pi*float64(e.halfX*e.halfX)/(g*g), float64(e.toward(q, cos)))
			case shapeTube:
				a := 2 * math.Pi * v
				face := e.frame.y.mul(float32(math.Cos(a))).add(e.frame.z.mul(float32(math.Sin(a))))
				q := e.frame.o.mad(float32(2*u-1)*e.halfX, e.frame.x).mad(e.halfZ, face)
				add(q, face, 2*math.Pi*float64(e.halfZ)*2*float64(e.halfX)/(g*g), float64(e.radiance))
			case shapeSphere:
				z := 2*u - 1
				r := math.Sqrt(1 - z*z)
				face := v3(r*math.Cos(2*math.Pi*v), z, r*math.Sin(2*math.Pi*v))
				q := e.frame.o.mad(e.halfX, face)
				add(q, face, 4*math.Pi*float64(e.halfX*e.halfX)/(g*g), float64(e.radiance))
			}
		}
	}
	return sum
}
