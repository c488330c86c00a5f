package demo

import (
	"context"
	"math"
	"runtime"
	"slices"
	"sync"
	"testing"

	"lampwise/internal/picture"
)

// small is a studio that several tests look at; tracing it takes a second.
var small = sync.OnceValues(func() (*Studio, error) {
	return NewStudio(context.Background(), StudioOptions{Height: 136, Seed: 1, Fine: 0.5}, nil)
})

func smallStudio(t *testing.T) *Studio {
	t.Helper()
	s, err := small()
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestSumOfPictures: all lamps on is the sum of each alone, to float32.
func TestSumOfPictures(t *testing.T) {
	s := smallStudio(t)
	all := s.Mix(s.Levels())
	sum := make([]float64, len(all))
	for l, level := range s.Levels() {
		one := make([]float64, len(s.lamps))
		one[l] = level
		mix := s.Mix(one)
		var total float64
		for i, v := range mix {
			sum[i] += float64(v)
			total += float64(v)
		}
		if total <= 0 {
			t.Errorf("%s gives no light", s.lamps[l].Name)
		}
	}
	for i, v := range all {
		if math.Abs(float64(v)-sum[i]) > 1e-5*math.Abs(sum[i])+1e-6 {
			t.Fatalf("value %d: %g all together, %g one by one", i, v, sum[i])
		}
	}
}

// TestRestIsStill: with nobody moving, front over back is the whole.
func TestRestIsStill(t *testing.T) {
	s := smallStudio(t)
	in := s.inner
	for i := range s.pics {
		for k := range in.w() * in.h() {
			at := (in.y0+k/in.w())*s.w + in.x0 + k%in.w()
			for c := range 3 {
				a := s.fore.pics[i][3*k+c] + (1-s.fore.cover[k])*s.back.pics[i][3*k+c]
				if b := s.still[i][3*at+c]; math.Abs(float64(a-b)) > 1e-4*math.Abs(float64(b))+1e-5 {
					t.Fatalf("picture %d pixel %d: layers make %g, the whole is %g", i, k, a, b)
				}
			}
		}
	}
	// A mechanic who stands a hair beside himself must look the same but for
	// the resampling.
	c := exampleCamera(t, s.Width, s.Height)
	f := NewFilm(s, c, 1)
	if err := f.light(context.Background(), s.Levels()); err != nil {
		t.Fatal(err)
	}
	if err := f.aim(context.Background(), Still); err != nil {
		t.Fatal(err)
	}
	row := make([]float32, 3*s.Width)
	for y := range s.Height {
		f.moved(row, y, Body{X: 1e-9})
		for i, v := range row {
			if w := f.rest[3*y*s.Width+i]; math.Abs(float64(v-w)) > 1e-3*float64(w)+1e-3 {
				t.Fatalf("row %d value %d: %g moved by nothing, %g at rest", y, i, v, w)
			}
		}
	}
}

func filmSome(t *testing.T, s *Studio, seed uint64, frames int) []*picture.Frame {
	t.Helper()
	c := exampleCamera(t, s.Width, s.Height)
	f := NewFilm(s, c, seed)
	script := scripts(s.lamps, 1, float64(s.Height)/1080)[0]
	levels := script.play(s.lamps)
	var out []*picture.Frame
	for i := range frames {
		pic := picture.NewFrame(c.Format)
		pose := Pose{DX: 0.4 * float64(i), DY: -0.2, Degrees: 0.1, Scale: 1.0002}
		err := f.Frame(context.Background(), i, Shot{Levels: levels[i+30], Pose: pose, Gain: 1, Body: Moving(float64(i)/Rate, 1)}, pic)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, pic)
	}
	return out
}

// TestSameSeedSameFrames: tracing and filming give the same codes again, on
// one processor and on several; another seed gives other noise.
func TestSameSeedSameFrames(t *testing.T) {
	trace := func() *Studio {
		s, err := NewStudio(context.Background(), StudioOptions{Height: 90, Seed: 1, Fine: 0.3}, nil)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	before := runtime.GOMAXPROCS(1)
	a := filmSome(t, trace(), 7, 6)
	runtime.GOMAXPROCS(4)
	s := trace()
	b, c := filmSome(t, s, 7, 6), filmSome(t, s, 8, 6)
	runtime.GOMAXPROCS(before)
	for i := range a {
		if !slices.Equal(a[i].Y, b[i].Y) || !slices.Equal(a[i].Cb, b[i].Cb) || !slices.Equal(a[i].Cr, b[i].Cr) {
			t.Fatalf("frame %d differs between one processor and four", i)
		}
	}
	if slices.Equal(b[3].Y, c[3].Y) {
		t.Error("another seed gave the same noise")
	}
}

// TestPose: the picture's content lies where the pose says.
func TestPose(t *testing.T) {
	s := &Studio{Width: 200, Height: 120, Margin: 10}
	for _, p := range []Pose{Still, {DX: 6.5, DY: -3, Scale: 1}, {Degrees: 90, Scale: 1}, {Scale: 1.25}, {DX: 2, DY: 1, Degrees: -1.5, Scale: 0.99}} {
		back := s.inverse(p)
		for _, ref := range [][2]float64{{100, 60}, {140, 60}, {20.5, 100}} {
			// Forward by the definition: about the picture's centre, clockwise
			// on the screen (y grows downward), enlarged, then shifted.
			x, y := ref[0]-100, ref[1]-60
			sin, cos := math.Sincos(p.Degrees * math.Pi / 180)
			fx := 100 + p.Scale*(cos*x-sin*y) + p.DX
			fy := 60 + p.Scale*(sin*x+cos*y) + p.DY
			gx, gy := back(fx-0.5, fy-0.5) // pixel centres lie at half numbers
			if math.Abs(gx-10+0.5-ref[0]) > 1e-9 || math.Abs(gy-10+0.5-ref[1]) > 1e-9 {
				t.Errorf("%+v: %v comes back as %g, %g", p, ref, gx-10+0.5, gy-10+0.5)
			}
		}
	}
}

// TestCubic: the sampling returns pixels at pixels, straight lines between.
func TestCubic(t *testing.T) {
	const w, h = 12, 9
	src := make([]float32, w*h)
	for y := range h {
		for x := range w {
			src[y*w+x] = float32(3*x - 2*y)
		}
	}
	four := make([]float32, 4*w*h)
	for i, v := range src {
		for c := range 4 {
			four[4*i+c] = v * float32(c+1)
		}
	}
	r := seeded(9)
	for range 200 {
		x, y := float32(r.between(-1, w)), float32(r.between(-1, h))
		var a, b [4]float32
		sampleCubic4(four, w, h, x, y, &a)
		sampleCubic(four, w, h, 4, float64(x), float64(y), b[:])
		for c := range a {
			if math.Abs(float64(a[c]-b[c])) > 1e-3 {
				t.Fatalf("at %g, %g: %v, the plain way %v", x, y, a, b)
			}
		}
	}
	var out [1]float32
	for _, p := range [][2]float64{{4, 5}, {4.25, 5.5}, {2.9, 3.1}} {
		sampleCubic(src, w, h, 1, p[0], p[1], out[:])
		if want := 3*p[0] - 2*p[1]; math.Abs(float64(out[0])-want) > 1e-4 {
			t.Errorf("at %v: %g, wanted %g", p, out[0], want)
		}
	}
}

// TestGlareKeepsLight: glare moves light about; an even picture stays as it is
// and a bright spot's light is kept.
func TestGlareKeepsLight(t *testing.T) {
	const w, h = 96, 64
	even := make([]float32, 3*w*h)
	spot := make([]float32, 3*w*h)
	for i := range even {
		even[i] = 2
	}
	spot[3*(30*w+50)] = 1000
	g := newGlow(even, w, h, 2, h)
	if v := g.at(17, 23)[1]; math.Abs(float64(v/(2*glareTotal()))-1) > 1e-4 {
		t.Errorf("glow of an even picture is %g, wanted %g", v, 2*glareTotal())
	}
	g = newGlow(spot, w, h, 2, h)
	var sum float64
	for y := range h {
		for x := range w {
			sum += float64(g.at(x, y)[0])
		}
	}
	// The wide part's tail is held at the edges: a little is counted anew.
	if want := 1000 * float64(glareTotal()); math.Abs(sum/want-1) > 0.05 {
		t.Errorf("glow of a spot sums to %g, wanted %g", sum, want)
	}
}

// TestCardIsGrey: the card reads what 18 % of the light on it should: the
// irradiance at its middle, summed plainly over the lamps' faces, through
// exposure and falloff.
func TestCardIsGrey(t *testing.T) {
	s := smallStudio(t)
	c := exampleCamera(t, s.Width, s.Height)
	lamps := s.lamps
	b, materials := buildScene(lamps, 0.3)
	tr := newTracer(b, materials, makePalette(), colWhite, lamps, sensorBands())
	p, n := cardFrame.point(v3(0, 0, 0.0011)), cardFrame.z
	var native [3]float64
	dr := draw{seed: 99, block: newBlockers()}
	round := tr.gather(p, n, n, dr, 600)
	for l := range lamps {
		from, _ := tr.lampPictures(l)
		var e float64
		const samples = 3000
		last := int32(-1)
		for k := range samples {
			u, v := spread(k, 0.3, 0.8)
			ls, ok := lamps[l].face.sample(p, u, v)
			if ok && n.dot(ls.dir) > 0 && !tr.tree.blocked(p.mad(offset, n), ls.dir, 0, ls.dist*0.9995, &last) {
				e += float64(ls.l*n.dot(ls.dir)/ls.pdf) / samples
			}
		}
		for i, w := range s.levelShares(l, lamps[l].Level) {
			for k := range 3 {
				native[k] += w * 0.18 * (e/math.Pi*float64(tr.seen[from+i][colWhite][k]) + float64(round[from+i][k]))
			}
		}
	}
	v := newView(cameraEye, cameraTarget, cameraAngle, s.Width, s.Height, s.Margin)
	cos := p.sub(v.eye).unit().dot(v.fwd)
	for k := range native {
		native[k] *= math.Pow(float64(cos), 4)
	}
	want := c.Expose(native)
	var card mark
	for _, m := range s.marks {
		if m.name == "card" {
			card = m
		}
	}
	got := s.reading(c, s.Mix(s.Levels()), card).RGB
	for k := range want {
		// The mean over the card against its middle, few samples a pixel, and
		// glare: some per cent.
		if math.Abs(got[k]/want[k]-1) > 0.06 {
			t.Errorf("channel %d: the card reads %.4f, 18 %% of the light on it is %.4f", k, got[k], want[k])
		}
	}
}
