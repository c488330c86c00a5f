package media

import (
	"bytes"
	"context"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/jpeg"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/picture"
)

// ramp is a picture with every 16-bit code in its red, and codes in between in the others.
func ramp() *picture.Image {
	im := picture.NewImage(256, 256, picture.SpaceDisplay)
	for i := range 65536 {
		im.Pix[3*i] = float32(i) / 65535
		im.Pix[3*i+1] = float32(65535-i) / 65535
		im.Pix[3*i+2] = float32(i*7%65536) / 65535
	}
	return im
}

// Every code of 8 and 16 bits survives PNG and TIFF.
func TestStillsKeepEveryCode(t *testing.T) {
	t.Parallel()
	im := ramp()
	for _, c := range []struct {
		name  string
		write func(string, *picture.Image, int) error
	}{{"a.png", WritePNG}, {"a.tif", WriteTIFF}} {
		for _, bits := range []int{8, 16} {
			path := filepath.Join(t.TempDir(), c.name)
			if err := c.write(path, im, bits); err != nil {
				t.Fatal(err)
			}
			s, err := ReadStill(context.Background(), path)
			if err != nil {
				t.Fatal(err)
			}
			if s.Bits != bits || s.Image.W != 256 || s.Image.Space != picture.SpaceDisplay || len(s.Notes) != 0 {
				t.Fatalf("%s %d: %+v", c.name, bits, s)
			}
			top := float64(int(1)<<bits - 1)
			for i, v := range im.Pix {
				want := math.Floor(float64(v)*top + 0.5)
				if got := math.Round(float64(s.Image.Pix[i]) * top); got != want {
					t.Fatalf("%s %d bit: number %d has code %g, want %g", c.name, bits, i, got, want)
				}
			}
			onlyFiles(t, filepath.Dir(path), c.name)
		}
	}
}

// The TIFF and PNG written here hold what ffmpeg reads in them: an outside judge of both writers.
func TestStillsAgainstFFmpeg(t *testing.T) {
	t.Parallel()
	needFFmpeg(t)
	im := ramp()
	dir := t.TempDir()
	for _, name := range []string{"a.png", "a.tif"} {
		path, raw := filepath.Join(dir, name), filepath.Join(dir, name+".raw")
		write := WritePNG
		if name == "a.tif" {
			write = WriteTIFF
		}
		if err := write(path, im, 16); err != nil {
			t.Fatal(err)
		}
		ffmpeg(t, "-i", path, "-f", "rawvideo", raw) // the decoder's own format
		b, err := os.ReadFile(raw)
		if err != nil {
			t.Fatal(err)
		}
		var order binary.ByteOrder = binary.LittleEndian
		if name == "a.png" {
			order = binary.BigEndian // rgb48be
		}
		if len(b) != 6*65536 {
			t.Fatalf("%s: ffmpeg read %d bytes, want %d", name, len(b), 6*65536)
		}
		for i := range 3 * 65536 {
			if got, want := uint32(order.Uint16(b[2*i:])), code(im.Pix[i], 0xffff); got != want {
				t.Fatalf("%s: number %d is %d, want %d", name, i, got, want)
			}
		}
	}
}

func TestCodesAreClamped(t *testing.T) {
	inf := float32(math.Inf(1))
	for v, want := range map[float32]uint32{-1: 0, -inf: 0, 0: 0, 0.5: 128, 1: 255, 1.0001: 255, inf: 255, 254.4 / 255: 254} {
		if got := code(v, 255); got != want {
			t.Errorf("%g: code %d, want %d", v, got, want)
		}
	}
	if got := code(float32(math.NaN()), 255); got != 0 {
		t.Errorf("not a number: %d", got)
	}
}

// A JPEG gives its own codes: those the library decodes, in planes, with the
// standard's matrix, range and siting.
func TestJPEGCodes(t *testing.T) {
	t.Parallel()
	for _, ratio := range []image.YCbCrSubsampleRatio{image.YCbCrSubsampleRatio420} { // what the library writes
		m := image.NewYCbCr(image.Rect(0, 0, 37, 21), ratio)
		for i := range m.Y {
			m.Y[i] = uint8(i * 3)
		}
		for i := range m.Cb {
			m.Cb[i], m.Cr[i] = uint8(90+i%60), uint8(170-i%50)
		}
		var b bytes.Buffer
		if err := jpeg.Encode(&b, m, &jpeg.Options{Quality: 95}); err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(t.TempDir(), "phone.jpg")
		if err := os.WriteFile(path, withOrientation(b.Bytes(), 6), 0o644); err != nil {
			t.Fatal(err)
		}
		s, err := ReadStill(context.Background(), path)
		if err != nil {
			t.Fatal(err)
		}
		f := s.Frame
		want := picture.Format{Width: 37, Height: 21, Bits: 8, Sub: picture.Sub420, Range: colour.Full, Matrix: colour.MatrixBT601, Siting: picture.SiteCentre}
		if f.Format != want || s.Rotation != 90 {
			t.Fatalf("%+v turned by %d", f.Format, s.Rotation)
		}
		back, err := jpeg.Decode(bytes.NewReader(b.Bytes()))
		if err != nil {
			t.Fatal(err)
		}
		y := back.(*image.YCbCr)
		for row := range 21 {
			for x := range 37 {
				if got, want := f.Y[row*37+x], y.Y[row*y.YStride+x]; got != uint16(want) {
					t.Fatalf("luma %d, %d is %d, want %d", x, row, got, want)
				}
			}
		}
		for row := range 11 {
			for x := range 19 {
				if f.Cb[row*19+x] != uint16(y.Cb[row*y.CStride+x]) || f.Cr[row*19+x] != uint16(y.Cr[row*y.CStride+x]) {
					t.Fatalf("chroma %d, %d differs", x, row)
				}
			}
		}
		if got := s.Image.At(5, 5); got != f.Image(picture.SpaceDisplay, func(e [3]float64) [3]float64 { return e }).At(5, 5) {
			t.Errorf("image and frame differ: %v", got)
		}
	}
	// 4:2:2 and 4:4:4 as ffmpeg writes them, judged by ffmpeg's own frame hash.
	needFFmpeg(t)
	dir := t.TempDir()
	for _, pixels := range []string{"yuvj422p", "yuvj444p", "yuvj420p"} {
		path := filepath.Join(dir, pixels+".jpg")
		ffmpeg(t, "-f", "lavfi", "-i", "testsrc2=s=98x66:d=0.04:r=25", "-pix_fmt", pixels, "-q:v", "2", "-frames:v", "1", path)
		s, err := ReadStill(context.Background(), path)
		if err != nil {
			t.Fatal(err)
		}
		raw := filepath.Join(dir, pixels+".raw")
		ffmpeg(t, "-i", path, "-f", "rawvideo", raw)
		b, err := os.ReadFile(raw)
		if err != nil {
			t.Fatal(err)
		}
		i, worst := 0, 0
		for _, p := range [][]uint16{s.Frame.Y, s.Frame.Cb, s.Frame.Cr} {
			for _, v := range p {
				worst = max(worst, int(math.Abs(float64(int(v)-int(b[i])))))
				i++
			}
		}
		// Two decoders' inverse transforms may each be off by one (ISO/IEC 10918-2).
		if i != len(b) || worst > 2 {
			t.Errorf("%s: %d codes against %d, largest difference %d", pixels, i, len(b), worst)
		}
	}
}

// withOrientation puts an EXIF header with the orientation tag behind a JPEG's first marker.
func withOrientation(b []byte, value byte) []byte {
	tiff := []byte{'M', 'M', 0, 42, 0, 0, 0, 8, 0, 1, 0x01, 0x12, 0, 3, 0, 0, 0, 1, 0, value, 0, 0, 0, 0, 0, 0}
	segment := append([]byte("Exif\x00\x00"), tiff...)
	app1 := append([]byte{0xff, 0xe1, 0, byte(len(segment) + 2)}, segment...)
	return slices.Concat(b[:2], app1, b[2:])
}

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

func TestRefusedStills(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	good := filepath.Join(dir, "good.png")
	if err := WritePNG(good, ramp(), 8); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(good)
	if err != nil {
		t.Fatal(err)
	}
	huge := bytes.Clone(b)
	binary.BigEndian.PutUint32(huge[16:], 60000)
	binary.BigEndian.PutUint32(huge[20:], 60000)
	binary.BigEndian.PutUint32(huge[29:], pngCRC(huge[12:29]))
	for name, c := range map[string]struct {
		data []byte
		code string
	}{
		"cut.png":   {b[:len(b)/2], "still-cut-off"},
		"bad.png":   {slices.Concat(b[:200], bytes.Repeat([]byte{7}, 50), b[250:]), "still-unreadable"},
		"huge.png":  {huge, "still-too-large"},
		"text.png":  {[]byte("not a picture at all"), "still-kind"},
		"short.jpg": {[]byte("\xff\xd8\xff\xe0\x00\x10JFIF"), "still-cut-off"},
		"cut.tif":   {[]byte("II*\x00\x08\x00\x00\x00"), ""},
		"empty.png": {nil, "file-empty"},
		"bad.exr":   {append([]byte("\x76\x2f\x31\x01"), bytes.Repeat([]byte{1}, 100)...), "still-unreadable"},
	} {
		t.Run(name, func(t *testing.T) {
			if filepath.Ext(name) == ".exr" {
				needFFmpeg(t)
			}
			path := filepath.Join(dir, name)
			if err := os.WriteFile(path, c.data, 0o644); err != nil {
				t.Fatal(err)
			}
			_, err := ReadStill(context.Background(), path)
			f, ok := fault.As(err)
			if !ok || f.Class != fault.Input || c.code != "" && f.Code != c.code {
				t.Fatalf("got %v (%+v), want %s", err, f, c.code)
			}
			t.Logf("%s · %s", f.Message, f.Hint)
		})
	}
}

func pngCRC(b []byte) uint32 { return crc32.ChecksumIEEE(b) }

// Orientation tags of any bytes do no harm.
func FuzzOrientation(f *testing.F) {
	f.Add(withOrientation([]byte{0xff, 0xd8, 0xff, 0xda, 0, 2}, 8))
	f.Add([]byte{0xff, 0xd8, 0xff, 0xe1, 0, 8, 'E', 'x', 'i', 'f', 0, 0})
	f.Fuzz(func(t *testing.T, b []byte) {
		if v := exifOrientation(b); v < 1 || v > 8 {
			t.Fatalf("orientation %d", v)
		}
	})
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
