package region

import (
	"bufio"
	"image"
	_ "image/jpeg"
	_ "image/png"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// Photographs are read where Debian's packages put them (python3-skimage and
// python-matplotlib-data, which it needs) and never copied.
var photoFolders = []string{
	"/usr/lib/python3/dist-packages/skimage/data",
	"/usr/share/matplotlib/mpl-data/sample_data",
}

// photoFile finds a photograph; without it the test is skipped by its name.
func photoFile(t testing.TB, name string) string {
	t.Helper()
	for _, dir := range photoFolders {
		if path := filepath.Join(dir, name); fileIsThere(path) {
			return path
		}
	}
	t.Skipf("%s is not here; apt-get install python3-skimage", name)
	return ""
}

func fileIsThere(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

// truthFile finds a file of published check values beside the repository;
// without it the test is skipped by its name.
func truthFile(t testing.TB, name string) string {
	t.Helper()
	dir := os.Getenv("LAMPWISE_TRUTH")
	if dir == "" {
		root, err := os.Getwd()
		if err != nil {
			t.Fatal(err)
		}
		for !fileIsThere(filepath.Join(root, "go.mod")) {
			up := filepath.Dir(root)
			if up == root {
				t.Fatal("no go.mod above the test")
			}
			root = up
		}
		dir = filepath.Join(root, "..", "shared", "truth")
	}
	path := filepath.Join(dir, name)
	if !fileIsThere(path) {
		t.Skipf("%s is not here; set LAMPWISE_TRUTH to the folder of check values", name)
	}
	return path
}

// readPhoto reads a still as a display signal. Its sRGB is taken for BT.1886's
// signal, which is near enough for finding things.
func readPhoto(t testing.TB, path string) *picture.Image {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	im, _, err := image.Decode(bufio.NewReader(f))
	if err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	b := im.Bounds()
	out := picture.NewImage(b.Dx(), b.Dy(), picture.SpaceDisplay)
	for y := range b.Dy() {
		for x := range b.Dx() {
			r, g, bl, _ := im.At(b.Min.X+x, b.Min.Y+y).RGBA()
			out.Set(x, y, [3]float64{float64(r) / 65535, float64(g) / 65535, float64(bl) / 65535})
		}
	}
	return out
}

// each makes a picture of another space through a function of each pixel.
func each(im *picture.Image, s picture.Space, f func(v [3]float64) [3]float64) *picture.Image {
	out := picture.NewImage(im.W, im.H, s)
	for y := range im.H {
		for x := range im.W {
			out.Set(x, y, f(im.At(x, y)))
		}
	}
	return out
}

// linearOf turns a display signal to scene-linear light with middle grey at 0.18.
func linearOf(im *picture.Image) *picture.Image {
	k := sceneGrey / displayGrey
	return each(im, picture.SpaceSceneLinear, func(v [3]float64) [3]float64 {
		for c := range v {
			v[c] = k * colour.BT1886.Decode(v[c])
		}
		return v
	})
}

// gained multiplies light by two to the stops.
func gained(im *picture.Image, stops float64) *picture.Image {
	return each(im, im.Space, func(v [3]float64) [3]float64 {
		for c := range v {
			v[c] *= math.Exp2(stops)
		}
		return v
	})
}

// noisy adds a sensor's noise to light: photon noise and a floor, sigma being
// the deviation at grey, relative to grey.
func noisy(im *picture.Image, sigma float64, rnd *rand.Rand) *picture.Image {
	return each(im, im.Space, func(v [3]float64) [3]float64 {
		for c := range v {
			s := sigma * math.Sqrt(sceneGrey*max(v[c], 0)+sceneGrey*sceneGrey/100)
			v[c] += s * rnd.NormFloat64()
		}
		return v
	})
}

// loggedTen is the camera signal of light through log-420, in ten-bit steps.
func loggedTen(t testing.TB, im *picture.Image) *picture.Image {
	t.Helper()
	curve, err := colour.CurveByID("log-420")
	if err != nil {
		t.Fatal(err)
	}
	return each(im, picture.SpaceSignal, func(v [3]float64) [3]float64 {
		for c := range v {
			v[c] = math.Round(1023*curve.Encode(v[c])) / 1023
		}
		return v
	})
}

// leaned turns a picture about its middle, clockwise as seen, on a ground of
// its own mean: what it shows leans by that many degrees.
func leaned(im *picture.Image, degrees float64) *picture.Image {
	var mean [3]float64
	for p := range im.W * im.H {
		for c := range mean {
			mean[c] += float64(im.Pix[3*p+c]) / float64(im.W*im.H)
		}
	}
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	w := int(float64(im.W)*cos + float64(im.H)*math.Abs(sin))
	h := int(float64(im.H)*cos + float64(im.W)*math.Abs(sin))
	out := picture.NewImage(w, h, im.Space)
	for y := range h {
		for x := range w {
			dx, dy := float64(x)-float64(w-1)/2, float64(y)-float64(h-1)/2
			sx, sy := float64(im.W-1)/2+dx*cos+dy*sin, float64(im.H-1)/2-dx*sin+dy*cos
			if sx < 0 || sy < 0 || sx > float64(im.W-1) || sy > float64(im.H-1) {
				out.Set(x, y, mean)
				continue
			}
			out.Set(x, y, mixedAt(im, sx, sy))
		}
	}
	return out
}

// mixedAt interpolates between four pixels; outside, the edge repeats.
func mixedAt(im *picture.Image, x, y float64) (v [3]float64) {
	x, y = min(max(x, 0), float64(im.W-1)), min(max(y, 0), float64(im.H-1))
	x0, y0 := int(x), int(y)
	x1, y1 := min(x0+1, im.W-1), min(y0+1, im.H-1)
	fx, fy := x-float64(x0), y-float64(y0)
	a, b, c, d := im.At(x0, y0), im.At(x1, y0), im.At(x0, y1), im.At(x1, y1)
	for i := range v {
		v[i] = (a[i]*(1-fx)+b[i]*fx)*(1-fy) + (c[i]*(1-fx)+d[i]*fx)*fy
	}
	return v
}

// leanedPlace is where a place of im, in parts, is in out, which is im scaled
// and then leaned.
func leanedPlace(im, out *picture.Image, scale, degrees, x, y float64) (float64, float64) {
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	dx, dy := scale*(x-0.5)*float64(im.W), scale*(y-0.5)*float64(im.H)
	return (dx*cos-dy*sin)/float64(out.W) + 0.5, (dx*sin+dy*cos)/float64(out.H) + 0.5
}

func seeded(n uint64) *rand.Rand { return rand.New(rand.NewPCG(n, 420)) }

// decoded420 is the light of a picture whose numbers are log-420's signal.
func decoded420(t testing.TB, im *picture.Image) *picture.Image {
	t.Helper()
	curve, err := colour.CurveByID("log-420")
	if err != nil {
		t.Fatal(err)
	}
	return each(im, picture.SpaceSceneLinear, func(v [3]float64) [3]float64 {
		for c := range v {
			v[c] = curve.Decode(v[c])
		}
		return v
	})
}
