package demo

import (
	"context"
	"math"
	"testing"
)

// plainSensor reads X, Y, Z: what the checks against closed forms look at is Y.
func plainSensor() (s [3]spectrum) {
	for c := range 3 {
		for i := range bands {
			s[c][i] = float32(matching[c][i])
		}
	}
	return s
}

// plainTracer makes a tracer of a few plain materials: after the lamps' faces
// come the given ones.
func plainTracer(lamps []Lamp, greys []float32, build func(b *builder, material func(i int) int), gloss ...material) *tracer {
	b := newBuilder()
	for i := range lamps {
		if len(lamps[i].spectra) == 0 {
			lamps[i].spectra = []spectrum{whitened(evenSpectrum)}
		}
		lamps[i].face.build(b, i)
	}
	palette := []spectrum{evenSpectrum}
	var list []material
	for i := range lamps {
		list = append(list, material{"face", func(s *spot, _ frame) { s.lamp = int8(i) }})
	}
	for i, g := range greys {
		s := evenSpectrum
		for k := range s {
			s[k] *= g
		}
		palette = append(palette, s)
		list = append(list, material{"grey", func(s *spot, _ frame) { s.paint(i+1, 1) }})
	}
	list = append(list, gloss...)
	build(b, func(i int) int { return len(lamps) + i })
	return newTracer(b, list, palette, 0, lamps, plainSensor())
}

// TestPlateUnderSmallSource: a grey plate under a ball of light sends back
// E·ρ/π, with E = π·L·(r/d)²·cos θ for a ball wholly above the plate's plane
// (closed form; the ball is a Lambertian source of radius r).
func TestPlateUnderSmallSource(t *testing.T) {
	const r, l, rho = 0.05, 1000.0, 0.18
	for _, place := range []vec{v3(0, 1.5, 0), v3(0.8, 1.2, 0.3)} {
		lamps := []Lamp{{face: emitter{shape: shapeSphere, frame: frame{o: place, x: world.x, y: world.y, z: world.z}, halfX: r, radiance: l}}}
		tr := plainTracer(lamps, []float32{rho}, func(b *builder, m func(int) int) {
			b.begin(world, m(0))
			b.quad(v3(-1, 0, -1), v3(1, 0, -1), v3(1, 0, 1), v3(-1, 0, 1))
		})
		d2 := float64(place.dot(place))
		want := rho * l * r * r / d2 * float64(place.y) / math.Sqrt(d2)
		o, dir := v3(0.2, 1, 0.1), v3(-0.2, -1, -0.1).unit()
		h, ok := tr.tree.nearest(o, dir, 0, 10, layerAll)
		if !ok {
			t.Fatal("the ray missed the plate")
		}
		var got float64
		const n = 4000
		for i := range n {
			var round, out light
			tr.shade(o, dir, h, draw{seed: 7, i: i, block: newBlockers()}, &round, 0, &out)
			got += float64(out[0][1]) / n
		}
		// Every direction of the cone gives nearly the same: the error is that
		// of float32, and of cos θ over the cone.
		if math.Abs(got/want-1) > 0.002 {
			t.Errorf("source at %v: radiance %g, closed form %g", place, got, want)
		}
	}
}

// TestFurnaceOfLamps puts a plate where the same light comes from everywhere:
// a perfect white must look like its surroundings, and no gloss may add light.
func TestFurnaceOfLamps(t *testing.T) {
	side := func(n vec) Lamp {
		f := frame{o: n.mul(-1), y: n}
		f.x, f.z = basis(n)
		return Lamp{face: emitter{shape: shapeRect, frame: f, halfX: 1, halfZ: 1, radiance: 100}}
	}
	lamps := []Lamp{
		side(vec{1, 0, 0}), side(vec{-1, 0, 0}), side(vec{0, 1, 0}),
		side(vec{0, -1, 0}), side(vec{0, 0, 1}), side(vec{0, 0, -1}),
	}
	type surface struct {
		name      string
		f0, rough float32
		metal     bool
	}
	cases := []surface{
		{"white", 0, 0, false},
		{"gloss", 0.04, 0.05, false},
		{"gloss", 0.04, 0.2, false},
		{"gloss", 0.04, 0.5, false},
		{"metal", 1, 0.05, true},
		{"metal", 1, 0.2, true},
		{"metal", 1, 0.3, true},
		{"metal", 1, 0.4, true},
	}
	for _, c := range cases {
		m := material{c.name, func(s *spot, _ frame) {
			if c.metal {
				s.bare(0, c.rough)
				return
			}
			s.paint(0, 1)
			s.gloss(c.f0, c.rough)
		}}
		tr := plainTracer(lamps, nil, func(b *builder, m func(int) int) {
			b.begin(world, m(0))
			b.quad(v3(-0.1, 0, -0.1), v3(0.1, 0, -0.1), v3(0.1, 0, 0.1), v3(-0.1, 0, 0.1))
		}, m)
		for _, dir := range []vec{v3(0, -1, 0), v3(0.7, -0.7, 0).unit()} {
			o := dir.mul(-0.8)
			h, ok := tr.tree.nearest(o, dir, 0, 10, layerAll)
			if !ok || tr.lampAt(h) >= 0 {
				t.Fatal("the ray missed the plate")
			}
			var got, square float64
			const n = 8000
			for i := range n {
				var round, out light
				tr.shade(o, dir, h, draw{seed: 11, i: i, block: newBlockers()}, &round, 0, &out)
				var sum float64
				for l := range lamps {
					sum += float64(out[l][1]) / 100
				}
				got += sum / n
				square += sum * sum / n
			}
			se := math.Sqrt((square - got*got) / n)
			want := plainAlbedo(c.f0, c.rough, c.metal, float64(-dir.y))
			if math.Abs(got-want) > 4*se+0.004 {
				t.Errorf("%s f0 %g α %g seen along %v: %.4f of the surroundings (± %.4f), summed over the hemisphere %.4f", c.name, c.f0, c.rough, dir, got, se, want)
			}
			if want > 1.01 {
				t.Errorf("%s f0 %g α %g gives back %.3f of what it gets", c.name, c.f0, c.rough, want)
			}
		}
	}
}

// plainAlbedo sums a surface's reflection over the hemisphere on a fine grid,
// with no sampling by its shape.
func plainAlbedo(f0, rough float32, metal bool, mu float64) float64 {
	wo := v3(math.Sqrt(1-mu*mu), 0, mu)
	keep := 1.0
	if f0 > 0 {
		keep = 1 - float64(f0+(1-f0)*schlick(wo.z))
	}
	if metal {
		keep = 0
	}
	sum := keep
	if f0 == 0 {
		return sum
	}
	const n = 1200
	for i := range n {
		z := (float64(i) + 0.5) / n
		r := math.Sqrt(1 - z*z)
		for j := range n {
			a := 2 * math.Pi * (float64(j) + 0.5) / n
			w := v3(r*math.Cos(a), r*math.Sin(a), z)
			half := wo.add(w).unit()
			f := f0 + (1-f0)*schlick(wo.dot(half))
			sum += float64(f*ggx(half.z, rough)*smithOver4(w.z, wo.z, rough)*w.z) * 2 * math.Pi / (n * n)
		}
	}
	return sum
}

// TestClosedBox: in a closed box of reflectance ρ all that a lamp gives must be
// taken in by the walls, ∫E dA·(1 − ρ) = Φ, which needs every bounce.
func TestClosedBox(t *testing.T) {
	const l, r = 500.0, 0.15
	for _, rho := range []float32{0.3, 0.7} {
		lamps := []Lamp{{face: emitter{shape: shapeSphere, frame: at(0.3, 0.2, -0.1), halfX: r, radiance: l}}}
		tr := plainTracer(lamps, []float32{rho}, func(b *builder, m func(int) int) {
			b.begin(world, m(0))
			b.box(vec{}, 2, 2.4, 3, 1e-6)
		})
		area := []float64{2.4 * 3, 2 * 3, 2 * 2.4}
		flux := 4 * math.Pi * math.Pi * r * r * l
		rnd := seeded(3)
		var in, square float64
		const n = 6000
		for i := range n {
			// A place on a wall, evenly by area.
			k := rnd.between(0, 2*(area[0]+area[1]+area[2]))
			u, v := rnd.between(-1, 1), rnd.between(-1, 1)
			var p, nn vec
			s := 1.0
			if i%2 == 0 {
				s = -1
			}
			k /= 2
			switch {
			case k < area[0]:
				p, nn = v3(s, 1.2*u, 1.5*v), v3(-s, 0, 0)
			case k < area[0]+area[1]:
				p, nn = v3(u, 1.2*s, 1.5*v), v3(0, -s, 0)
			default:
				p, nn = v3(u, 1.2*v, 1.5*s), v3(0, 0, -s)
			}
			p = p.mad(1e-4, nn)
			d := draw{seed: mix64(uint64(i)), block: newBlockers()}
			e := math.Pi * float64(tr.gather(p, nn, nn, d, 4)[0][1])
			if ls, ok := lamps[0].face.sample(p, rnd.float(), rnd.float()); ok && nn.dot(ls.dir) > 0 {
				e += float64(ls.l * nn.dot(ls.dir) / ls.pdf)
			}
			in += e / n
			square += e * e / n
		}
		all := 2 * (area[0] + area[1] + area[2])
		got := in * all * (1 - float64(rho))
		se := math.Sqrt((square-in*in)/n) * all * (1 - float64(rho))
		// The ball itself takes nothing in, but hides a little of the box from itself.
		if math.Abs(got-flux) > 4*se+0.005*flux {
			t.Errorf("reflectance %g: the walls take in %g lm of %g lm (standard error %g)", rho, got, flux, se)
		}
	}
}

// TestLampsApart traces a scene with two lamps, then with the lamps in the
// other order and one of them changed: a lamp's picture must be the same
// light, within the samples' own spread, whatever the other gives.
func TestLampsApart(t *testing.T) {
	one := Lamp{face: emitter{shape: shapeSphere, frame: at(-0.6, 1.2, 0.6), halfX: 0.2, radiance: 300}}
	two := Lamp{face: emitter{shape: shapeRect, frame: along(v3(0.8, 1, 0.5), v3(0, 0.2, 0)), halfX: 0.3, halfZ: 0.2, radiance: 200}}
	scene := func(lamps ...Lamp) *tracer {
		return plainTracer(lamps, []float32{0.5, 0.8}, func(b *builder, m func(int) int) {
			b.begin(world, m(0))
			b.box(vec{0, 1, 0}, 4, 2.002, 4, 1e-6)
			b.begin(world, m(1))
			b.ball(v3(0, 0.3, 0), v3(0.3, 0.3, 0.3), 20)
		})
	}
	trace := func(tr *tracer) *layer {
		v := newView(v3(0, 0.9, 1.9), v3(0, 0.35, 0), 40, 32, 24, 0)
		q := quality{least: 12, most: 12, gridStep: 4, paths: 160}
		mix := make([]float32, len(tr.pictures))
		for i := range mix {
			mix[i] = 1
		}
		l, err := tr.traceLayer(context.Background(), v, layerAll, q, 5, mix, func(int, int) bool { return true }, nil)
		if err != nil {
			t.Fatal(err)
		}
		return l
	}
	dim := two
	dim.face.radiance = 10
	there, back, dimmed := trace(scene(one, two)), trace(scene(two, one)), trace(scene(one, dim))
	for i := range 2 {
		var a, b, off float64
		for k := 1; k < len(there.pics[i]); k += 3 {
			x, y := float64(there.pics[i][k]), float64(back.pics[1-i][k])
			a += x
			b += y
			off += math.Abs(x - y)
		}
		if math.Abs(a/b-1) > 0.006 {
			t.Errorf("lamp %d: mean %g, in the other order %g", i, a, b)
		}
		if off/b > 0.05 {
			t.Errorf("lamp %d: pixels differ by %.1f %% on average", i, 100*off/b)
		}
	}
	for k, v := range there.pics[0] {
		if dimmed.pics[0][k] != v {
			t.Fatal("one lamp's picture changes with the other's brightness")
		}
	}
}

// TestNetsBall holds a meshed ball to the ball.
func TestNetsBall(t *testing.T) {
	b := newBuilder()
	b.begin(world, 0)
	const r = 0.1
	b.nets(func(p vec) float32 { return ball(p, vec{0.01, 0, 0}, r) }, v3(-0.13, -0.13, -0.13), v3(0.15, 0.13, 0.13), 0.004)
	var sum float64
	for i, q := range b.tris {
		sum += 0.5 * float64(q.e1.cross(q.e2).length())
		out := q.a.sub(vec{0.01, 0, 0})
		if d := float64(out.length()) - r; math.Abs(d) > 0.0005 {
			t.Fatalf("a vertex is %g m off the ball", d)
		}
		if out.unit().dot(b.facets[i].n0) < 0.999 {
			t.Fatalf("a normal points away from the ball's")
		}
		if n := q.e1.cross(q.e2); n.length() > 1e-6 && n.dot(out) < 0 {
			t.Fatalf("a triangle looks inward: %v %v at %v", n, n.unit().dot(out.unit()), out)
		}
	}
	if want := 4 * math.Pi * r * r; math.Abs(sum/want-1) > 0.01 {
		t.Errorf("the ball's surface is %g m², wanted %g", sum, want)
	}
}
