package media

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"lampwise/internal/fault"
	"lampwise/internal/picture"
)

// corner gives a dark frame whose top left quarter is white.
func corner(f picture.Format) *picture.Frame {
	frame := picture.NewFrame(f)
	for i := range frame.Y {
		frame.Y[i] = 16
		if x, y := i%f.Width, i/f.Width; x < f.Width/2 && y < f.Height/2 {
			frame.Y[i] = 235
		}
	}
	for i := range frame.Cb {
		frame.Cb[i], frame.Cr[i] = 128, 128
	}
	return frame
}

// A turned clip is read as stored; the instruction goes into the output
// unchanged. What it means is judged by ffmpeg's player side, which turns the
// picture when nothing forbids it: the white corner must be where the turn puts it.
func TestRotationIsKept(t *testing.T) {
	t.Parallel()
	needFFmpeg(t)
	const one = 0x10000
	f := format(64, 32, 8, picture.Sub420)
	for _, c := range []struct {
		matrix     [9]int32
		degrees    int
		w, h       int
		right, low bool // where the white corner is when shown
	}{
		{[9]int32{0, one, 0, -one, 0, 0, 32 * one, 0, 1 << 30}, 90, 32, 64, true, false},
		{[9]int32{-one, 0, 0, 0, -one, 0, 64 * one, 32 * one, 1 << 30}, 180, 64, 32, true, true},
		{[9]int32{0, -one, 0, one, 0, 0, 0, 64 * one, 1 << 30}, 270, 32, 64, false, true},
		{[9]int32{-one, 0, 0, 0, one, 0, 64 * one, 0, 1 << 30}, 0, 64, 32, true, false}, // mirrored
	} {
		t.Run(fmt.Sprint(c.degrees, c.right), func(t *testing.T) {
			source := makeClip(t, "turned.mp4", WriteOptions{Format: f, Codec: CodecH264, Lossless: true, Display: &c.matrix}, 2, func(int) *picture.Frame { return corner(f) })
			in, out := rerender(t, source, "out.mov", nil)
			for _, i := range []*Info{in, out} {
				v := i.Video
				if v.Rotation != c.degrees || v.Display == nil || *v.Display != c.matrix || v.Width != 64 || v.Height != 32 {
					t.Fatalf("turned by %d, matrix %v, %d×%d stored", v.Rotation, v.Display, v.Width, v.Height)
				}
				raw := filepath.Join(t.TempDir(), "shown.raw")
				ffmpeg(t, "-i", i.Path, "-frames:v", "1", "-f", "rawvideo", "-pix_fmt", "gray", raw)
				shown, err := os.ReadFile(raw)
				if err != nil || len(shown) != c.w*c.h {
					t.Fatalf("%d bytes, %v", len(shown), err)
				}
				x, y := c.w/4, c.h/4
				if c.right {
					x = c.w * 3 / 4
				}
				if c.low {
					y = c.h * 3 / 4
				}
				if shown[y*c.w+x] < 200 {
					t.Errorf("the white corner is not at %d, %d of %d×%d", x, y, c.w, c.h)
				}
			}
			sameFrames(t, in, out)
			if !slices.ContainsFunc(in.Notes, func(n Note) bool { return n.Code == "rotated" || n.Code == "display-matrix" }) {
				t.Errorf("nothing was said: %v", in.Notes)
			}
		})
	}
}

func TestSampleAspectIsKept(t *testing.T) {
	t.Parallel()
	f := format(64, 48, 8, picture.Sub420)
	source := makeClip(t, "wide.mp4", WriteOptions{Format: f, Codec: CodecH264, Lossless: true, Aspect: Rational{4, 3}}, 2, func(i int) *picture.Frame { return drift(f, i) })
	for _, codec := range []Codec{CodecH264, CodecHEVC} {
		in, out := rerender(t, source, "out.mov", func(o *WriteOptions) { o.Codec = codec })
		if in.Video.SampleAspect != (Rational{4, 3}) || out.Video.SampleAspect != (Rational{4, 3}) {
			t.Errorf("%s: samples of %v became %v", codec, in.Video.SampleAspect, out.Video.SampleAspect)
		}
	}
}

// Odd sizes are read in every subsampling, their last column and row too, and
// written where the codec can hold them.
func TestOddSizes(t *testing.T) {
	t.Parallel()
	needFFmpeg(t)
	for _, pixels := range []string{"yuv420p", "yuv422p10le", "yuv444p", "yuv420p10le"} {
		t.Run(pixels, func(t *testing.T) {
			// Raw, because ffmpeg 5.1's own FFV1 decoder gives odd 10-bit 4:2:0
			// pictures that differ from run to run (6 of 40 framemd5 runs).
			path := filepath.Join(t.TempDir(), "odd.nut")
			ffmpeg(t, "-f", "lavfi", "-i", "testsrc2=s=644x360:d=0.12:r=25,format="+pixels+",crop=641:359:1:1:exact=1", "-c:v", "rawvideo", path)
			info := probe(t, path)
			frames := readAll(t, path, ReadOptions{Info: info})
			f := info.Format()
			cw, ch := f.ChromaSize()
			if len(frames) != 3 || f.Width != 641 || f.Height != 359 || len(frames[0].Cb) != cw*ch {
				t.Fatalf("%d frames of %d×%d, chroma %d", len(frames), f.Width, f.Height, len(frames[0].Cb))
			}
			// The raw frame's MD5 as ffmpeg counts it, over the same bytes.
			sameAsFrameHash(t, path, frames[2], 2)
			w, err := NewWriter(context.Background(), filepath.Join(t.TempDir(), "out.mov"), WriteOptions{Format: f, Rate: Rational{25, 1}, Codec: CodecH264})
			if f.Sub == picture.Sub444 {
				if err != nil {
					t.Fatal(err)
				}
				w.Abort()
				in, out := rerender(t, path, "out.mov", nil)
				sameFrames(t, in, out)
				return
			}
			wantFault(t, err, fault.Usage, "output-odd")
		})
	}
}
