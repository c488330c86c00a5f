package job

import (
	"math"
	"math/rand/v2"
	"testing"

	"lampwise/internal/lamps"
	"lampwise/internal/picture"
)

// TestLampViews: a lamp that stands well above the noise is shown as it is; one
// that is far below it is shown as smooth light, not as grain.
func TestLampViews(t *testing.T) {
	const w, h = 96, 64
	rng := rand.New(rand.NewPCG(1, 1))
	picture1 := func(f func(x, y int) float64) *picture.Image {
		im := picture.NewImage(w, h, picture.SpaceSceneLinear)
		for y := range h {
			for x := range w {
				v := f(x, y)
				im.Set(x, y, [3]float64{v, v, v})
			}
		}
		return im
	}
	strong := picture1(func(x, y int) float64 { return 0.1 + 0.05*float64((x/7+y/5)%2) })
	faint := picture1(func(x, y int) float64 { return 0.0003 + 0.003*rng.NormFloat64() })
	ambient := picture1(func(x, y int) float64 { return 0.02 })
	set := lamps.NewSet(&lamps.Separation{
		Design: &lamps.Design{Lamps: []string{"key", "tail"}, Level: [][]float64{{1, 1}, {0, 1}, {1, 0}, {0, 0}}},
		W:      w, H: h, Picture: []*picture.Image{strong, faint}, Ambient: ambient,
		Noise: lamps.Noise{Constant: [3]float64{5e-6, 5e-6, 5e-6}}, Effective: []float64{1, 1, 1, 1}, Inflation: 1,
	})
	set.Mix = []float64{1, 1}
	views, part := lampViews(set, w, h)
	if part[0] > 0.001 || part[1] < 0.5 {
		t.Errorf("shown in another's stead: key %.3f, tail %.3f", part[0], part[1])
	}
	grain := func(im *picture.Image) (s float64) {
		for p := 4; p < len(im.Pix); p += 3 {
			s += math.Pow(float64(im.Pix[p]-im.Pix[p-3]), 2)
		}
		return math.Sqrt(s / float64(w*h))
	}
	for p := range strong.Pix {
		if d := math.Abs(float64(views[0].Pix[p] - strong.Pix[p])); d > 1e-3 {
			t.Fatalf("key's light is %.4f off at %d", d, p)
		}
	}
	if g, was := grain(views[1]), grain(faint); g > was/3 {
		t.Errorf("tail's grain is %.5f of %.5f", g, was)
	}
}
