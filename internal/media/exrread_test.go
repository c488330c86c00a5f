package media

import (
	"context"
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"lampwise/internal/picture"
)

// An EXR's numbers are kept: negative ones, ones far above one, halves and floats.
// The file is built here byte by byte from its published layout ("OpenEXR File
// Layout", single part, scan lines, no compression).
func TestEXRNumbers(t *testing.T) {
	t.Parallel()
	needFFmpeg(t)
	pixels := [][3]float32{{0.18, 0.5, 1}, {-0.25, 0, 16}, {1000, 0.001953125, 65504}, {0.333251953125, 2, 4}}
	for _, half := range []bool{true, false} {
		path := filepath.Join(t.TempDir(), "light.exr")
		if err := os.WriteFile(path, exr(2, 2, pixels, half), 0o644); err != nil {
			t.Fatal(err)
		}
		s, err := ReadStill(context.Background(), path)
		if err != nil {
			t.Fatal(err)
		}
		if s.Image.Space != picture.SpaceSceneLinear || s.Image.W != 2 || s.Image.H != 2 {
			t.Fatalf("%+v", s.Image)
		}
		for i, p := range pixels {
			for c := range 3 {
				got, want := float64(s.Image.Pix[3*i+c]), float64(p[c])
				tolerance := 0.0
				if half {
					tolerance = math.Abs(want) / 1024 // a half has 11 bits
				}
				if math.Abs(got-want) > tolerance {
					t.Errorf("half %t, pixel %d, channel %d: %g, want %g", half, i, c, got, want)
				}
			}
		}
	}
}

func exr(w, h int, pixels [][3]float32, half bool) []byte {
	le := binary.LittleEndian
	b := []byte{0x76, 0x2f, 0x31, 0x01, 2, 0, 0, 0}
	attribute := func(name, kind string, value []byte) {
		b = append(append(append(b, name...), 0), append([]byte(kind), 0)...)
		b = le.AppendUint32(b, uint32(len(value)))
		b = append(b, value...)
	}
	kind, size := uint32(2), 4
	if half {
		kind, size = 1, 2
	}
	var channels []byte
	for _, n := range []string{"B", "G", "R"} {
		channels = append(channels, n[0], 0)
		channels = le.AppendUint32(channels, kind)
		channels = append(channels, 0, 0, 0, 0)
		channels = le.AppendUint32(le.AppendUint32(channels, 1), 1)
	}
	box := []byte{}
	for _, v := range []int{0, 0, w - 1, h - 1} {
		box = le.AppendUint32(box, uint32(v))
	}
	one := le.AppendUint32(nil, math.Float32bits(1))
	attribute("channels", "chlist", append(channels, 0))
	attribute("compression", "compression", []byte{0})
	attribute("dataWindow", "box2i", box)
	attribute("displayWindow", "box2i", box)
	attribute("lineOrder", "lineOrder", []byte{0})
	attribute("pixelAspectRatio", "float", one)
	attribute("screenWindowCenter", "v2f", make([]byte, 8))
	attribute("screenWindowWidth", "float", one)
	b = append(b, 0)
	line := 8 + 3*w*size
	for y := range h {
		b = le.AppendUint64(b, uint64(len(b)+8*(h-y)+y*line))
	}
	for y := range h {
		b = le.AppendUint32(le.AppendUint32(b, uint32(y)), uint32(3*w*size))
		for _, c := range []int{2, 1, 0} {
			for x := range w {
				v := pixels[y*w+x][c]
				if half {
					b = le.AppendUint16(b, toHalf(v))
				} else {
					b = le.AppendUint32(b, math.Float32bits(v))
				}
			}
		}
	}
	return b
}

// toHalf cuts a float to IEEE 754 binary16 (normal numbers only).
func toHalf(v float32) uint16 {
	bits := math.Float32bits(v)
	if bits<<1 == 0 {
		return uint16(bits >> 16)
	}
	return uint16(bits>>16&0x8000 | (bits>>23&0xff-112)<<10&0x7c00 | bits>>13&0x3ff)
}

// Real scene-linear pictures come through whole: their size, their negative
// values (wide colours), their highlights, each channel in its place. Figures
// made with: ffmpeg 5.1 -i FILE -f rawvideo -c:v rawvideo, and sums over the
// planes G, B, R in Python.
func TestPublishedEXRs(t *testing.T) {
	t.Parallel()
	needFFmpeg(t)
	for _, c := range []struct {
		name   string
		w, h   int
		lo, hi float64
		mean   [3]float64 // of R, G, B
	}{
		{"Desk.exr", 644, 874, -0.0119171142578125, 233.75, [3]float64{6.064031897, 6.048353516, 2.850173826}},
		{"StillLife.exr", 1240, 846, 0, 491.5, [3]float64{0.135308174, 0.078107940, 0.058171331}},
		{"WideColorGamut.exr", 800, 800, -1.302734375, 21.4375, [3]float64{1.099068954, 0.962274233, 1.081928696}},
	} {
		path := filepath.Join(truthFolder(t), "images", c.name)
		if _, err := os.Stat(path); err != nil {
			t.Skipf("%s is not here", path)
		}
		s, err := ReadStill(context.Background(), path)
		if err != nil {
			t.Fatal(err)
		}
		lo, hi := float64(slices.Min(s.Image.Pix)), float64(slices.Max(s.Image.Pix))
		if s.Image.W != c.w || s.Image.H != c.h || lo != c.lo || hi != c.hi {
			t.Errorf("%s: %d×%d, %g to %g", c.name, s.Image.W, s.Image.H, lo, hi)
		}
		var sum [3]float64
		for i, v := range s.Image.Pix {
			sum[i%3] += float64(v)
		}
		for k := range sum {
			// The figures are given to ten digits.
			if got := sum[k] / float64(c.w*c.h); math.Abs(got-c.mean[k]) > 1e-8 {
				t.Errorf("%s: channel %d has the mean %.10f, want %.10f", c.name, k, got, c.mean[k])
			}
		}
	}
}

// truthFolder is where published check files lie (LAMPWISE_TRUTH, else ../shared/truth beside the repository).
func truthFolder(t *testing.T) string {
	t.Helper()
	if dir := os.Getenv("LAMPWISE_TRUTH"); dir != "" {
		return dir
	}
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for ; dir != filepath.Dir(dir); dir = filepath.Dir(dir) {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return filepath.Join(dir, "..", "shared", "truth")
		}
	}
	t.Fatal("no go.mod above this folder")
	return ""
}
