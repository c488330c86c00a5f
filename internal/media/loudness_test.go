package media

import (
	"context"
	"math"
	"os/exec"
	"path/filepath"
	"testing"
)

// EBU Tech 3341, case 1: a stereo sine of 1000 Hz at −23 dBFS is −23.0 ± 0.1
// LUFS; its true peak is what it was made with.
func TestLoudnessOfTheMetersOwnTestSignals(t *testing.T) {
	ffmpeg, err := exec.LookPath("ffmpeg")
	if err != nil {
		t.Skip("ffmpeg is not installed")
	}
	ctx := context.Background()
	for _, c := range []struct {
		name, sound string
		lufs, peak  float64
	}{
		{"case 1", "aevalsrc=0.0707946*sin(2*PI*1000*t)|0.0707946*sin(2*PI*1000*t):s=48000:d=20", -23, -23},
		{"case 2", "aevalsrc=0.0223872*sin(2*PI*1000*t)|0.0223872*sin(2*PI*1000*t):s=48000:d=20", -33, -33},
	} {
		path := filepath.Join(t.TempDir(), "s.mov")
		a := []string{"-v", "error", "-f", "lavfi", "-i", "color=gray:s=64x64:r=5:d=20", "-f", "lavfi", "-i", c.sound, "-c:v", "libx264", "-pix_fmt", "yuv420p", "-c:a", "pcm_s24le", path}
		if out, err := exec.Command(ffmpeg, a...).CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		info, err := Probe(ctx, path)
		if err != nil {
			t.Fatal(err)
		}
		l, err := MeasureLoudness(ctx, info, 0)
		if err != nil {
			t.Fatal(err)
		}
		if l.Integrated == nil || math.Abs(*l.Integrated-c.lufs) > 0.1001 || l.TruePeak == nil || math.Abs(*l.TruePeak-c.peak) > 0.2 {
			t.Errorf("%s: %+v", c.name, l)
		}
		if _, err := MeasureLoudness(ctx, info, 1); err == nil {
			t.Error("a sound stream that isn't there was measured")
		}
	}
	// Silence has no loudness.
	path := filepath.Join(t.TempDir(), "silent.mov")
	a := []string{"-v", "error", "-f", "lavfi", "-i", "color=gray:s=64x64:r=5:d=2", "-f", "lavfi", "-i", "anullsrc=d=2", "-c:v", "libx264", "-pix_fmt", "yuv420p", "-c:a", "pcm_s16le", "-shortest", path}
	if out, err := exec.Command(ffmpeg, a...).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	info, err := Probe(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	if l, err := MeasureLoudness(ctx, info, 0); err != nil || l.Integrated != nil || l.TruePeak != nil {
		t.Errorf("silence: %+v %v", l, err)
	}
}
