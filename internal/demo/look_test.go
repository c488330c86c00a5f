//go:build look

package demo

import (
	"context"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"lampwise/internal/colour"
	"lampwise/internal/media"
	"lampwise/internal/picture"
)

// Not checks: tools to look at the example while working on it. Run with
// go test -tags look -run TestLook, and the variables said at each.

// TestLookMake makes the example in the folder DEMO_MAKE, DEMO_MAKE_SIZE lines high.
func TestLookMake(t *testing.T) {
	dir := os.Getenv("DEMO_MAKE")
	if dir == "" {
		t.Skip("DEMO_MAKE names no folder")
	}
	size, _ := strconv.Atoi(os.Getenv("DEMO_MAKE_SIZE"))
	last, what := time.Now(), ""
	m, err := Make(context.Background(), Options{Dir: dir, Size: size, Overwrite: true}, func(_, _ int, w string) {
		if w != what {
			t.Logf("%s: %v", what, time.Since(last))
			last, what = time.Now(), w
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%s: %v", what, time.Since(last))
	for name, r := range m.Known.Readings {
		t.Logf("%s %+.2f %.3f", name, r.Stops, r.RGB)
	}
}

// TestLook writes stills to look at into the folder named by DEMO_LOOK (size
// by DEMO_LOOK_HEIGHT, work by DEMO_LOOK_FINE); it's not a check.
func TestLook(t *testing.T) {
	dir := os.Getenv("DEMO_LOOK")
	if dir == "" {
		t.Skip("DEMO_LOOK names no folder to write stills to")
	}
	height, _ := strconv.Atoi(os.Getenv("DEMO_LOOK_HEIGHT"))
	if height == 0 {
		height = 540
	}
	fine, _ := strconv.ParseFloat(os.Getenv("DEMO_LOOK_FINE"), 64)
	start := time.Now()
	s, err := NewStudio(context.Background(), StudioOptions{Height: height, Seed: 1, Fine: fine}, nil)
	if err != nil {
		t.Fatal(err)
	}
	fmt.Println("traced in", time.Since(start))
	c, err := NewCamera("log-420", "r7300-g8550", picture.Format{
		Width: s.Width, Height: s.Height, Bits: 10, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft,
	})
	if err != nil {
		t.Fatal(err)
	}
	ref := make([]float64, len(s.lamps))
	for l := range ref {
		ref[l] = s.lamps[l].Level
	}
	all := s.Mix(s.Levels())
	for _, m := range s.marks[:6] {
		line := fmt.Sprintf("%-11s %+.2f:", m.name, s.reading(c, all, m).Stops)
		for l := range ref {
			one := make([]float64, len(ref))
			one[l] = ref[l]
			line += fmt.Sprintf(" %s %+.2f", s.lamps[l].Name, s.reading(c, s.Mix(one), m).Stops)
		}
		fmt.Println(line)
	}
	s.still1(t, filepath.Join(dir, "all.png"), c, ref)
	for l := range ref {
		one := make([]float64, len(ref))
		one[l] = ref[l]
		s.still1(t, filepath.Join(dir, s.lamps[l].Name+".png"), c, one)
	}
}

func (s *Studio) still1(t *testing.T, path string, c *Camera, levels []float64) {
	mix := make([]float32, len(s.pics))
	for l := range levels {
		for i, k := range s.levelShares(l, levels[l]) {
			mix[s.first[l]+i] = float32(k)
		}
	}
	rgb := make([]float64, 3*s.Width*s.Height)
	for y := range s.Height {
		for x := range s.Width {
			at := 3 * ((y+s.Margin)*s.w + x + s.Margin)
			var n [3]float64
			for i, k := range mix {
				for ch := range 3 {
					n[ch] += float64(k * s.still[i][at+ch])
				}
			}
			v := c.Expose(n)
			copy(rgb[3*(y*s.Width+x):], v[:])
		}
	}
	show(t, path, c, rgb, s.Width, s.Height)
}

// show writes scene-linear camera RGB as a PNG, by a simple curve: 0.18 comes
// to about 0.41 of the signal, with a soft shoulder.
func show(t *testing.T, path string, c *Camera, rgb []float64, w, h int) {
	t.Helper()
	to709 := colour.RGBToRGB(c.Gamut, colour.MustGamut("bt709"), colour.CAT16)
	img := image.NewNRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			at := 3 * (y*w + x)
			v := to709.Apply([3]float64{rgb[at], rgb[at+1], rgb[at+2]})
			var q [3]uint8
			for ch := range 3 {
				l := max(v[ch], 0) * 0.78
				l = math.Pow(l/0.14, 1.12) * 0.14
				l = l * (1 + l/40) / (1 + 0.85*l)
				q[ch] = uint8(255*math.Pow(min(1, l), 1/2.4) + 0.5)
			}
			img.SetNRGBA(x, y, color.NRGBA{q[0], q[1], q[2], 255})
		}
	}
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	enc := png.Encoder{CompressionLevel: png.BestSpeed}
	if err := enc.Encode(f, img); err != nil {
		t.Fatal(err)
	}
}

// TestLookClip writes frames of clips made before: DEMO_LOOK_CLIP is
// "folder:clip:frame,frame,…".
func TestLookClip(t *testing.T) {
	dir, what := os.Getenv("DEMO_LOOK"), os.Getenv("DEMO_LOOK_CLIP")
	if dir == "" || what == "" {
		t.Skip("DEMO_LOOK and DEMO_LOOK_CLIP say nothing")
	}
	p := strings.Split(what, ":")
	c, err := NewCamera("log-420", "r7300-g8550", exampleFormat(16, 9))
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range strings.Split(p[2], ",") {
		i, _ := strconv.Atoi(n)
		path := filepath.Join(p[0], p[1])
		info, err := media.Probe(context.Background(), path)
		if err != nil {
			t.Fatal(err)
		}
		show(t, filepath.Join(dir, strings.TrimSuffix(p[1], ".mov")+"-"+n+".png"), c, readLinear(t, path, c, i, i), info.Video.Width, info.Video.Height)
	}
}

// TestLookCloser writes one close view: DEMO_LOOK_AT is "x,y,z,distance,degrees".
func TestLookCloser(t *testing.T) {
	dir, at := os.Getenv("DEMO_LOOK"), os.Getenv("DEMO_LOOK_AT")
	if dir == "" || at == "" {
		t.Skip("DEMO_LOOK and DEMO_LOOK_AT say nothing")
	}
	var x, y, z, dist, deg float64
	if _, err := fmt.Sscanf(at, "%f,%f,%f,%f,%f", &x, &y, &z, &dist, &deg); err != nil {
		t.Fatal(err)
	}
	lamps := exampleLamps()
	b, materials := buildScene(lamps, 1)
	tr := newTracer(b, materials, makePalette(), colWhite, lamps, sensorBands())
	fmt.Println(len(tr.tree.tris), "triangles")
	target := v3(x, y, z)
	eye := target.add(cameraEye.sub(target).unit().mul(float32(dist)))
	if os.Getenv("DEMO_LOOK_SIDE") != "" {
		var a, e float64
		fmt.Sscanf(os.Getenv("DEMO_LOOK_SIDE"), "%f,%f", &a, &e)
		s, c := math.Sincos(a * math.Pi / 180)
		se, ce := math.Sincos(e * math.Pi / 180)
		eye = target.add(v3(s*ce, se, c*ce).mul(float32(dist)))
	}
	size := 600
	v := newView(eye, target, deg, size, size, 0)
	s := &Studio{Width: size, Height: size, w: size, h: size, lamps: lamps, pics: tr.pictures, first: tr.first}
	mix := s.shares(s.Levels())
	q := quality{least: 3, most: 6, good: 0.05, gridStep: 6, paths: 12}
	l, err := tr.traceLayer(context.Background(), v, layerBack|layerFigure|layerFront, q, 3, mix, func(int, int) bool { return true }, nil)
	if err != nil {
		t.Fatal(err)
	}
	s.still = l.pics
	c, _ := NewCamera("log-420", "r7300-g8550", picture.Format{Width: 2, Height: 2, Bits: 10, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709})
	if g := os.Getenv("DEMO_LOOK_GAIN"); g != "" {
		k, _ := strconv.ParseFloat(g, 64)
		c.Exposure *= math.Exp2(k)
	}
	s.still1(t, filepath.Join(dir, "close.png"), c, s.Levels())
}
