package media

import (
	"fmt"
	"path/filepath"
	"testing"

	"lampwise/internal/picture"
)

// Codes written lossless come back to the bit: no scaler stands in the way of
// either pipe. The noise holds every code, also those that narrow range does
// not use.
func TestCodesComeBackToTheBit(t *testing.T) {
	t.Parallel()
	needFFmpeg(t)
	for _, c := range []struct {
		codec Codec
		f     picture.Format
	}{
		{CodecH264, format(64, 48, 8, picture.Sub420)},
		{CodecH264, format(64, 48, 8, picture.Sub422)},
		{CodecH264, format(64, 48, 8, picture.Sub444)},
		{CodecH264, format(64, 48, 10, picture.Sub420)},
		{CodecH264, format(64, 48, 10, picture.Sub422)},
		{CodecH264, format(64, 48, 10, picture.Sub444)},
		{CodecH264, format(61, 35, 8, picture.Sub444)},
		{CodecHEVC, format(64, 48, 8, picture.Sub420)},
		{CodecHEVC, format(64, 48, 10, picture.Sub420)},
		{CodecHEVC, format(64, 48, 10, picture.Sub422)},
	} {
		t.Run(fmt.Sprintf("%s %d bit %s %d", c.codec, c.f.Bits, c.f.Sub, c.f.Width), func(t *testing.T) {
			frame := func(i int) *picture.Frame { return noise(c.f, uint64(i)) }
			path := makeClip(t, "noise.mov", WriteOptions{Format: c.f, Codec: c.codec, Lossless: true}, 7, frame)
			got := readAll(t, path, ReadOptions{})
			if len(got) != 7 {
				t.Fatalf("%d frames, want 7", len(got))
			}
			for i, f := range got {
				sameCodes(t, fmt.Sprintf("frame %d", i), f, frame(i))
				if f.Index != i || f.Time != float64(i)/25 {
					t.Errorf("frame %d: index %d, time %g", i, f.Index, f.Time)
				}
			}
			if got[0].Format != c.f {
				t.Errorf("format %+v, want %+v", got[0].Format, c.f)
			}
		})
	}
}

// Every storage that is read gives the codes that ffmpeg's own raw output
// gives in planes: rearranged, not computed.
func TestStoragesReadAlike(t *testing.T) {
	t.Parallel()
	needFFmpeg(t)
	dir := t.TempDir()
	for _, c := range []struct {
		stored string // pixel format in the file
		planar string // the planar format of the same codes
		pf     pixelFormat
	}{
		{"yuv420p", "yuv420p", pixelFormats["yuv420p"]},
		{"nv12", "yuv420p", pixelFormats["nv12"]},
		{"uyvy422", "yuv422p", pixelFormats["uyvy422"]},
		{"yuyv422", "yuv422p", pixelFormats["yuyv422"]},
		{"yuv422p12le", "yuv422p12le", pixelFormats["yuv422p12le"]},
		{"yuv444p16le", "yuv444p16le", pixelFormats["yuv444p16le"]},
		{"yuva444p10le", "yuv444p10le", pixelFormats["yuva444p10le"]},
	} {
		t.Run(c.stored, func(t *testing.T) {
			clip, raw := filepath.Join(dir, c.stored+".nut"), filepath.Join(dir, c.stored+".raw.nut")
			source := "testsrc2=s=66x38:r=25:d=0.2,noise=alls=20:allf=t:all_seed=7,format=" + c.planar
			// The step from planar to stored is a rearrangement in swscale as well.
			ffmpeg(t, "-f", "lavfi", "-i", source, "-pix_fmt", c.stored, "-c:v", "rawvideo", clip)
			ffmpeg(t, "-f", "lavfi", "-i", source, "-c:v", "rawvideo", raw)
			got, want := readAll(t, clip, ReadOptions{}), readAll(t, raw, ReadOptions{})
			if len(got) != 5 || len(want) != 5 {
				t.Fatalf("%d and %d frames, want 5", len(got), len(want))
			}
			for i := range got {
				sameCodes(t, fmt.Sprintf("frame %d", i), got[i], want[i])
			}
		})
	}
}
