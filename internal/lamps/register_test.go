package lamps

import (
	"math"
	"math/rand/v2"
	"testing"

	"lampwise/internal/picture"
)

// warped moves a picture by a known similarity: out(apply(x)) = in(x).
func warped(in *picture.Image, s Similarity) *picture.Image {
	// Align samples out(x) = in(s.apply(x)); its inverse is what is wanted.
	inverse := Similarity{Rotation: -s.Rotation, Scale: 1 / s.Scale}
	x, y := inverse.apply(-s.DX+float64(in.W-1)/2, -s.DY+float64(in.H-1)/2, in.W, in.H)
	inverse.DX, inverse.DY = x-float64(in.W-1)/2, y-float64(in.H-1)/2
	out, _ := (&Light{Image: in}).Align(inverse)
	return out.Image
}

// Phase correlation finds whole shifts of a random picture exactly and
// fractions to a tenth of a pixel.
func TestCorrelate(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	const w, h = 200, 120
	base := newPlane(2*w, 2*h)
	for i := range base.v {
		base.v[i] = rng.NormFloat64()
	}
	base = base.blurred(1)
	cut := func(dx, dy float64) *plane {
		p := newPlane(w, h)
		for y := range h {
			for x := range w {
				p.v[y*w+x], _ = base.sample(float64(x)+50-dx, float64(y)+50-dy)
			}
		}
		return p
	}
	ref := cut(0, 0)
	for _, s := range [][2]float64{{0, 0}, {7, -3}, {-21, 14}, {2.5, .25}, {-.3, 9.7}} {
		dx, dy := correlate(ref, cut(s[0], s[1]))
		if math.Abs(dx-s[0]) > .15 || math.Abs(dy-s[1]) > .15 {
			t.Errorf("shift %v found as %.3f, %.3f", s, dx, dy)
		}
	}
}

// Known movements of a rendered picture, under other light and with the figure
// elsewhere: shift within 0.3 pixels (5-lamps.md), and far better as a rule.
func TestRegister(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 9))
	g := newGarage(rng, 5)
	cam := newCamera()
	const w, h = 480, 270
	ref := cam.average(rng, mixed(g.render(w, h, pose{}, nudge{}), flat([]float64{1, 1, 1, 1, 1})), 12)
	worst := 0.0
	for _, n := range []nudge{{}, {dx: .4, dy: -.3}, {dx: -9.6, dy: 5.2, degrees: .4, scale: 1.004}, {dx: 25.4, dy: -14.2, degrees: -1.2, scale: .985}, {dx: 2, degrees: 2.5, scale: 1.03}} {
		light := mixed(g.render(w, h, pose{x: .06, lean: .03}, n), flat([]float64{.5, 1.4, 1, .6, 1}))
		r := Register(ref.Image, cam.shoot(rng, light).Image, .003)
		if n.scale == 0 {
			n.scale = 1
		}
		e := math.Hypot(r.DX-n.dx, r.DY-n.dy)
		turn, grow := math.Abs(r.Rotation-n.degrees*math.Pi/180)*w/2, math.Abs(r.Scale-n.scale)*w/2
		worst = max(worst, e, turn, grow)
		if !r.Sure || max(e, turn, grow) > .1 {
			t.Errorf("%+v found as %+v: off by %.3f px, %.3f by turning, %.3f by scale", n, r, e, turn, grow)
		}
	}
	t.Logf("worst error %.3f pixels", worst)
}

// A picture of something else isn't matched.
func TestRegisterUnlike(t *testing.T) {
	for seed := range uint64(4) {
		rng := rand.New(rand.NewPCG(seed, 19))
		a := newGarage(rng, 4).render(240, 135, pose{}, nudge{})
		b := newGarage(rng, 4).render(240, 135, pose{absent: true}, nudge{})
		other := picture.NewImage(240, 135, picture.SpaceSceneLinear)
		for i := range other.Pix {
			other.Pix[i] = float32(.1 + .1*grain(float64(i/3%240)/7, float64(i/720)/7, seed))
		}
		one := mixed(a, flat([]float64{1, 1, 1, 1}))
		if r := Register(one, other, .003); r.Sure {
			t.Errorf("seed %d: clouds are taken for the set: kept %.2f", seed, r.Kept)
		}
		// Two garages share walls and floor, but not what hangs there.
		r := Register(one, mixed(b, flat([]float64{1, 1, 1, 1})), .003)
		t.Logf("seed %d: another garage is kept to %.2f, sure %v", seed, r.Kept, r.Sure)
	}
}

// Aligning a moved picture brings it back.
func TestAlign(t *testing.T) {
	g, poses, _, _ := smallGarage(23, 1)
	_ = g
	img := softened(softened(mixed(poses[0], flat([]float64{1, 1, 1, 1, 0}))))
	s := Similarity{DX: 3.3, DY: -1.7, Rotation: .01, Scale: 1.01}
	moved := &Light{Image: warped(img, s), Clipped: make([]bool, img.W*img.H)}
	back, seen := moved.Align(s)
	var worst float64
	for y := 12; y < img.H-12; y++ {
		for x := 12; x < img.W-12; x++ {
			p := y*img.W + x
			if !seen[p] {
				t.Fatalf("%d,%d isn't seen", x, y)
			}
			worst = max(worst, math.Abs(float64(back.Pix[3*p+1]-img.Pix[3*p+1])))
		}
	}
	if worst > .02 {
		t.Errorf("a pixel comes back off by %.4f", worst)
	}
	if l := s.Largest(img.W, img.H); l < 4 || l > 8 {
		t.Errorf("largest movement %.2f", l)
	}
}
