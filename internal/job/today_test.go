package job

import (
	"context"
	"math"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/media"
)

// TestStillsHoldTheClipsLight: a clip, and a PNG and a JPEG grabbed from it, come
// to the same light: full-range stills of a narrow-range log clip hold the
// clip's signal.
func TestStillsHoldTheClipsLight(t *testing.T) {
	ffmpeg, err := exec.LookPath("ffmpeg")
	if err != nil {
		t.Skip("ffmpeg is not installed")
	}
	dir := t.TempDir()
	clip, png, jpg := filepath.Join(dir, "a.mov"), filepath.Join(dir, "a.png"), filepath.Join(dir, "a.jpg")
	convert := "scale=in_color_matrix=bt709:flags=accurate_rnd+full_chroma_int"
	for _, args := range [][]string{
		{"-f", "lavfi", "-i", "gradients=s=640x360:c0=0x404448:c1=0xa09890:x0=0:y0=0:x1=639:y1=359:d=1:r=25:speed=0.00001", "-frames:v", "3", "-vf", "scale=out_color_matrix=bt709:out_range=tv", "-pix_fmt", "yuv422p10le", "-colorspace", "bt709", "-color_range", "tv", "-c:v", "libx264", "-qp", "0", clip},
		{"-i", clip, "-frames:v", "1", "-vf", convert, "-pix_fmt", "rgb48be", png},
		{"-i", clip, "-frames:v", "1", "-q:v", "1", jpg},
	} {
		if out, err := exec.Command(ffmpeg, append([]string{"-v", "error", "-y"}, args...)...).CombinedOutput(); err != nil {
			t.Fatalf("ffmpeg: %v: %s", err, out)
		}
	}
	d, err := decodingOf("log-420", media.Override{})
	if err != nil {
		t.Fatal(err)
	}
	read := func(path string) *today {
		got, err := readToday(context.Background(), todayRequest{path: path, decoding: d, w: 320, h: 180, signal: colour.Narrow, clipCode: 900, correlated: 1, step: 1})
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	want := read(clip).light
	for _, still := range []string{png, jpg} {
		got := read(still)
		var stops []float64
		for p := 1; p < len(want.Pix); p += 3 {
			stops = append(stops, math.Abs(math.Log2(float64(got.light.Pix[p]/want.Pix[p]))))
		}
		slices.Sort(stops)
		// ffmpeg's scaler, which made the stills, brings mid grey to 0.4981: 1.7
		// 10-bit codes of some 76 a stop. A JPEG's 8 bits are steps of four codes.
		if m, worst := stops[len(stops)/2], stops[len(stops)*99/100]; m > 0.025 || worst > 0.075 {
			t.Errorf("%s: off by %.3f stop in the median, %.3f for all but a hundredth", filepath.Base(still), m, worst)
		}
		if told := slices.ContainsFunc(got.notes, func(n string) bool { return len(n) > 7 && n[:6] == "a JPEG" }); told != (still == jpg) {
			t.Errorf("%s: notes %q", filepath.Base(still), got.notes)
		}
	}
}
