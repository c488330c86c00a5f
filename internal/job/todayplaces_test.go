package job

import (
	"context"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"

	"lampwise/internal/media"
	"lampwise/internal/picture"
)

// TestRunsOfPlaces: where each tenth frame can be entered, each place is decoded
// by itself, and has the same light as in one go; where none but the first can,
// the clip is decoded once.
func TestRunsOfPlaces(t *testing.T) {
	if n := len(runsOfPlaces(&media.Info{}, placesOf(1000, 2))); n != 1 {
		t.Errorf("%d runs of a clip that can only be entered at its start", n)
	}
	ffmpeg, err := exec.LookPath("ffmpeg")
	if err != nil {
		t.Skip("ffmpeg is not installed")
	}
	clip := filepath.Join(t.TempDir(), "a.mov")
	if out, err := exec.Command(ffmpeg, "-v", "error", "-f", "lavfi", "-i", "testsrc2=s=160x96:r=25:d=8", "-pix_fmt", "yuv422p10le",
		"-c:v", "libx264", "-preset", "ultrafast", "-g", "10", "-bf", "2", "-sc_threshold", "0", clip).CombinedOutput(); err != nil {
		t.Fatalf("ffmpeg: %v: %s", err, out)
	}
	ctx := context.Background()
	info, err := media.Probe(ctx, clip)
	if err != nil {
		t.Fatal(err)
	}
	for frame := range info.Video.Frames {
		if want := frame / 10 * 10; info.Entry(frame) != want {
			t.Fatalf("frame %d is entered at %d, not %d", frame, info.Entry(frame), want)
		}
	}
	places := placesOf(info.Video.Frames, 2)
	if n := len(runsOfPlaces(info, places)); n != todayPlaces {
		t.Errorf("%d runs of a clip that can be entered each tenth frame", n)
	}
	d, err := decodingOf("log-420", media.Override{})
	if err != nil {
		t.Fatal(err)
	}
	l := lightDecoderBy(info.FormatWith(media.Override{}), d, 1, 0)
	got, err := todayRequest{path: clip, step: 2}.placeMeans(ctx, info, l, nil, &today{})
	if err != nil || len(got) != len(places) {
		t.Fatalf("%d means: %v", len(got), err)
	}
	frames, err := readFrames(ctx, clip, media.ReadOptions{Info: info})
	if err != nil {
		t.Fatal(err)
	}
	for i, p := range places {
		sum, n := l.newLight(), float32(0)
		for at := p.from; at < p.to; at += 2 {
			one := l.newLight()
			l.decode(frames[at], one)
			addLight(sum.Image, one.Image)
			n++
		}
		for k := range sum.Pix {
			sum.Pix[k] /= n
		}
		if !slices.Equal(sum.Pix, got[i].Pix) {
			t.Errorf("place %d has another light than in one go", i)
		}
	}
}

func addLight(sum, one *picture.Image) {
	for k, v := range one.Pix {
		sum.Pix[k] += v
	}
}
