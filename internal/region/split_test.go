package region

import (
	"math"
	"strings"
	"testing"

	"lampwise/internal/picture"
)

// litPortrait is a portrait as it would be under one lamp: the photograph is
// taken for what the head reflects, an egg for its form.
func litPortrait(im *picture.Image, f Face, dir [3]float64) *picture.Image {
	out := picture.NewImage(im.W, im.H, picture.SpaceSceneLinear)
	for y := range im.H {
		for x := range im.W {
			cos := facing(f, (float64(x)+0.5)/float64(im.W), (float64(y)+0.5)/float64(im.H), dir)
			v := im.At(x, y)
			for c := range v {
				v[c] *= cos
			}
			out.Set(x, y, v)
		}
	}
	return out
}

// facing is the cosine of the light on the egg; what is behind it faces the camera.
func facing(f Face, x, y float64, dir [3]float64) float64 {
	u, v := f.local(x, y)
	n := [3]float64{(u - faceAll.u) / (1.2 * faceAll.ru), (v - faceAll.v) / (1.2 * faceAll.rv), 0}
	r := n[0]*n[0] + n[1]*n[1]
	if r >= 1 {
		n = [3]float64{0, 0, 1}
	} else {
		n[2] = math.Sqrt(1 - r)
	}
	return max(0, n[0]*dir[0]+n[1]*dir[1]+n[2]*dir[2])
}

// from is a direction to a lamp: degrees round the picture (0 right, 90 below)
// and out of its plane.
func from(round, out float64) [3]float64 {
	s, c := math.Sincos(round * math.Pi / 180)
	so, co := math.Sincos(out * math.Pi / 180)
	return [3]float64{c * co, s * co, so}
}

func portrait(t *testing.T, name string) (*picture.Image, Face) {
	t.Helper()
	im := readPhoto(t, photoFile(t, name))
	im = im.Shrink(picture.Fit(im.W, im.H, 400, 400))
	faces := Faces(im)
	if len(faces) == 0 {
		t.Fatal("no face")
	}
	return linearOf(im), faces[0]
}

func sumOf(a, b *picture.Image, kb float64) *picture.Image {
	out := picture.NewImage(a.W, a.H, a.Space)
	for i := range out.Pix {
		out.Pix[i] = a.Pix[i] + float32(kb)*b.Pix[i]
	}
	return out
}

// The lit side is where the key falls on, from wherever it comes; the fill,
// here from the other side, doesn't matter.
func TestLitSideByTheKey(t *testing.T) {
	t.Parallel()
	for _, p := range portraits {
		im, f := portrait(t, p.file)
		for round := 0.0; round < 360; round += 45 {
			dir := from(round, 30)
			key := litPortrait(im, f, dir)
			fill := litPortrait(im, f, from(round+180, 40))
			mix := sumOf(key, fill, 0.2)
			l, err := newLight(Scene{Picture: mix, Lamps: []Lamp{{"fill", fill}, {"key", key}}, Clip: 6})
			if err != nil {
				t.Fatal(err)
			}
			got := l.faceRegions(f, "")
			lit, shade := got[0], got[1]
			if lit.Mask == nil || shade.Mask == nil {
				t.Errorf("%s, key from %.0f°: no sides: %s", p.file, round, shade.Reason)
				continue
			}
			if shade.Confidence < min(f.Confidence, Sure) {
				t.Errorf("%s, key from %.0f°: the shaded side is doubted (%.2f): %s", p.file, round, shade.Confidence, shade.Reason)
			}
			mean := func(r Region) float64 {
				sum, n := 0.0, 0.0
				for _, q := range r.Pixels(im.W, im.H) {
					sum += facing(f, (float64(q%im.W)+0.5)/float64(im.W), (float64(q/im.W)+0.5)/float64(im.H), dir)
					n++
				}
				return sum / n
			}
			if a, b := mean(lit), mean(shade); a < 1.6*b {
				t.Errorf("%s, key from %.0f°: the lit side faces it by %.2f, the shaded by %.2f", p.file, round, a, b)
			}
			s, _ := l.splitFace(f, l.lamps[1].lum, false)
			if off := math.Abs(math.Remainder(s.from-round*math.Pi/180, 2*math.Pi)) * 180 / math.Pi; off > 25 {
				t.Errorf("%s: the key from %.0f° is told to come from %.0f°", p.file, round, s.from*180/math.Pi)
			}
		}
	}
}

func TestFrontalKeyHasNoShade(t *testing.T) {
	im, f := portrait(t, "astronaut.png")
	// The photograph's own light falls off by 0.4 stop; flatten it, as the egg's
	// reflectance should be.
	key := litPortrait(each(im, im.Space, func(v [3]float64) [3]float64 {
		y := bt709Luma[0]*v[0] + bt709Luma[1]*v[1] + bt709Luma[2]*v[2]
		k := 0.3 * math.Pow(max(y, 1e-3)/0.3, 0.3) / max(y, 1e-3)
		return [3]float64{k * v[0], k * v[1], k * v[2]}
	}), f, [3]float64{0, 0, 1})
	l, err := newLight(Scene{Picture: key, Lamps: []Lamp{{"key", key}}})
	if err != nil {
		t.Fatal(err)
	}
	got := l.faceRegions(f, "key")
	if got[1].Confidence >= Sure {
		t.Errorf("a shaded side in frontal light: %.2f: %s", got[1].Confidence, got[1].Reason)
	}
	if got[0].Confidence < Sure {
		t.Errorf("the lit side is doubted (%.2f): %s", got[0].Confidence, got[0].Reason)
	}
}

// Shine and clipped skin belong to neither side.
func TestShineIsLeftOut(t *testing.T) {
	im, f := portrait(t, "astronaut.png")
	key := litPortrait(im, f, from(180, 30))
	spot := func(x, y float64) bool {
		u, v := f.local(x, y)
		return math.Hypot(u-0.12, v+0.15) < 0.07 // on the shaded half of the forehead
	}
	const clip = 4
	for p := range key.W * key.H {
		if spot((float64(p%key.W)+0.5)/float64(key.W), (float64(p/key.W)+0.5)/float64(key.H)) {
			for c := range 3 {
				key.Pix[3*p+c] = clip
			}
		}
	}
	for _, known := range []float64{clip, 0} {
		l, err := newLight(Scene{Picture: key, Lamps: []Lamp{{"key", key}}, Clip: known})
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range l.faceRegions(f, "key") {
			if r.Mask == nil {
				t.Fatalf("clip %v: no %s: %s", known, r.Name, r.Reason)
			}
			for _, p := range r.Pixels(key.W, key.H) {
				if float64(key.Pix[3*p]) > 0.9*clip {
					t.Fatalf("clip %v: shine is part of %s", known, r.Name)
				}
			}
		}
	}
}

func TestLitSideByTheFrameAlone(t *testing.T) {
	im, f := portrait(t, "astronaut.png")
	for _, c := range []struct {
		round float64
		word  string
	}{{180, "from the left"}, {0, "from the right"}} {
		frame := litPortrait(im, f, from(c.round, 25))
		l, err := newLight(Scene{Picture: frame})
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range l.faceRegions(f, "") {
			if !strings.Contains(r.Reason, c.word) || !strings.Contains(r.Reason, "no lamp pictures") {
				t.Errorf("light %s: %s", c.word, r.Reason)
			}
			if r.Confidence > ownLightCap {
				t.Errorf("%s: confidence %.2f without lamp pictures", r.Name, r.Confidence)
			}
		}
	}
}

func TestKeyIsPicked(t *testing.T) {
	im, f := portrait(t, "astronaut.png")
	left, right := litPortrait(im, f, from(180, 30)), litPortrait(im, f, from(0, 30))
	dim := sumOf(right, right, -0.7)
	mix := sumOf(left, dim, 1)
	for _, c := range []struct {
		key   string
		lamps []Lamp
		word  string
	}{
		{"", []Lamp{{"a", dim}, {"b", left}}, "from the left"},
		{"a", []Lamp{{"a", dim}, {"b", left}}, "from the right"},
		{"", []Lamp{{"key", dim}, {"b", left}}, "from the right"},
	} {
		l, err := newLight(Scene{Picture: mix, Lamps: c.lamps})
		if err != nil {
			t.Fatal(err)
		}
		if r := l.faceRegions(f, c.key)[0]; !strings.Contains(r.Reason, c.word) {
			t.Errorf("key %q of %s, %s: %s", c.key, c.lamps[0].Name, c.lamps[1].Name, r.Reason)
		}
	}
}

// The slope's elimination against Cramer's rule.
func TestSolve3(t *testing.T) {
	m := [3][4]float64{{4, -2, 1, 11}, {-2, 4, -2, -16}, {1, -2, 4, 17}}
	x, ok := solve3(m)
	if !ok {
		t.Fatal("no answer")
	}
	det := func(c int) float64 {
		a := m
		if c >= 0 {
			for r := range a {
				a[r][c] = m[r][3]
			}
		}
		return a[0][0]*(a[1][1]*a[2][2]-a[1][2]*a[2][1]) - a[0][1]*(a[1][0]*a[2][2]-a[1][2]*a[2][0]) + a[0][2]*(a[1][0]*a[2][1]-a[1][1]*a[2][0])
	}
	for c := range x {
		if want := det(c) / det(-1); math.Abs(x[c]-want) > 1e-12 {
			t.Errorf("x[%d] = %v, want %v", c, x[c], want)
		}
	}
	if _, ok := solve3([3][4]float64{{1, 2, 3, 4}, {2, 4, 6, 8}, {1, 1, 1, 1}}); ok {
		t.Error("a singular system has an answer")
	}
}
