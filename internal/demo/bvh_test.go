package demo

import (
	"math"
	"testing"
)

// BenchmarkRays traces rays of the example's kind: from the camera, then from
// what they hit to the key.
func BenchmarkRays(b *testing.B) {
	lamps := exampleLamps()
	sc, materials := buildScene(lamps, 1)
	t := newTracer(sc, materials, makePalette(), colWhite, lamps, sensorBands())
	v := newView(cameraEye, cameraTarget, cameraAngle, 1920, 1080, 0)
	b.Run("camera", func(b *testing.B) {
		for i := 0; b.Loop(); i++ {
			o, d := v.ray(float32(i%1920), float32((i/1920*7)%1080))
			t.tree.nearest(o, d, 0, 100, layerAll)
		}
	})
	b.Run("shadow", func(b *testing.B) {
		last := int32(-1)
		for i := 0; b.Loop(); i++ {
			o, d := v.ray(float32(i%1920), float32((i/1920*7)%1080))
			h, _ := t.tree.nearest(o, d, 0, 100, layerAll)
			s := t.spotAt(o, d, h)
			ls, ok := lamps[0].face.sample(s.p, 0.3, 0.7)
			if ok {
				for range 4 {
					t.tree.blocked(s.p.mad(offset, s.ng), ls.dir, 0, ls.dist, &last)
				}
			}
		}
	})
	b.Run("bounce", func(b *testing.B) {
		r := seeded(1)
		for b.Loop() {
			o := v3(r.between(-1, 1), r.between(1, 2), r.between(0.9, 2))
			d := vec{float32(r.normal()), float32(r.normal()), float32(r.normal())}.unit()
			t.tree.nearest(o, d, 0, 100, layerAll)
		}
	})
}

// TestNearestAgainstAll holds the hierarchy to the plain way: every triangle
// is asked.
func TestNearestAgainstAll(t *testing.T) {
	r := seeded(5)
	var tris []triangle
	for range 700 {
		p := func(k float64) vec { return v3(k*r.normal(), k*r.normal(), k*r.normal()) }
		tris = append(tris, triangle{a: p(1), e1: p(0.3), e2: p(0.3), layer: 1 << (r.next() % 3), open: r.next()%5 == 0})
	}
	tr := buildTree(tris)
	hits := 0
	for range 3000 {
		o, d := v3(2*r.normal(), 2*r.normal(), 2*r.normal()), v3(r.normal(), r.normal(), r.normal()).unit()
		if r.next()%8 == 0 {
			d = vec{0, 0, 1} // along an axis
		}
		layers := uint8(1 + r.next()%7)
		best := float32(math.Inf(1))
		solid := false
		for i := range tr.tris {
			if k, _, _, in := tr.tris[i].intersect(o, d); in && k > 0 {
				if tr.tris[i].layer&layers != 0 {
					best = min(best, k)
				}
				solid = solid || !tr.tris[i].open && k < 3
			}
		}
		h, ok := tr.nearest(o, d, 0, float32(math.Inf(1)), layers)
		if ok != !math.IsInf(float64(best), 1) || ok && h.t != best {
			t.Fatalf("ray %v %v: nearest %v (%v), plain search %v", o, d, h.t, ok, best)
		}
		last := int32(-1)
		if got := tr.blocked(o, d, 0, 3, &last); got != solid {
			t.Fatalf("ray %v %v: blocked %v, plain search %v", o, d, got, solid)
		}
		if ok {
			hits++
		}
	}
	if hits < 500 {
		t.Fatalf("only %d rays hit anything: no test", hits)
	}
}
