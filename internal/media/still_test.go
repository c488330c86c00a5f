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
