package job

import (
	"bytes"
	"context"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"lampwise/internal/media"
	"lampwise/internal/picture"
)

// oneGroup is a generated clip that can be entered at its first frame alone.
func oneGroup(t *testing.T) string {
	t.Helper()
	ffmpeg, err := exec.LookPath("ffmpeg")
	if err != nil {
		t.Skip("ffmpeg is not installed")
	}
	clip := filepath.Join(t.TempDir(), "clip.mov")
	if text, err := exec.Command(ffmpeg, "-v", "error", "-f", "lavfi", "-i", "testsrc2=size=640x360:rate=25:duration=2.4", "-pix_fmt", "yuv420p", "-c:v", "libx264", "-preset", "veryfast", "-g", "250", clip).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, text)
	}
	return clip
}

// Whatever stands ready, frame n is frame n: each is compared with the clip
// read from its beginning.
func TestFramesHadReadyAreTheSame(t *testing.T) {
	ctx := context.Background()
	clip := oneGroup(t)
	reader, err := media.OpenReader(ctx, clip, media.ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	defer reader.Close()
	want := map[int][]*ProxyFrame{}
	widths := []int{ShownWidth, ScrubWidth}
	frame := picture.NewFrame(reader.Format())
	for n := 0; reader.Next(frame) == nil; n++ {
		for _, w := range widths {
			want[n] = append(want[n], proxyOf(frame, n, w))
		}
	}
	l := NewLive()
	l.Ahead()
	defer l.Close()
	var asking sync.WaitGroup
	// Forward by little and by much, back, the same again, two at once.
	for _, n := range []int{30, 31, 34, 58, 3, 30, 59, 0, 12, 13} {
		for i, width := range widths {
			asking.Go(func() {
				got, err := l.Frame(ctx, clip, n, width, OverrideOf("auto", "auto"))
				if err != nil {
					t.Error(err)
					return
				}
				if w := want[n][i]; got.Number != n || got.W != w.W || !bytes.Equal(got.Data, w.Data) {
					t.Errorf("frame %d, %d wide, is another one", n, width)
				}
			})
		}
		if n%2 == 0 {
			asking.Wait()
		}
	}
	asking.Wait()
}

// A short clip comes to stand ready as a whole.
func TestAShortClipIsReadAhead(t *testing.T) {
	ctx := context.Background()
	clip := oneGroup(t)
	l := NewLive()
	l.Ahead()
	if _, err := l.Frame(ctx, clip, 0, ShownWidth, OverrideOf("auto", "auto")); err != nil {
		t.Fatal(err)
	}
	ready := func() int {
		l.scrubs.mu.Lock()
		defer l.scrubs.mu.Unlock()
		return l.scrubs.order.Len()
	}
	for began := time.Now(); ready() < 60; time.Sleep(5 * time.Millisecond) {
		if time.Since(began) > 30*time.Second {
			t.Fatalf("%d of 60 frames stand ready", ready())
		}
	}
	l.Close()
	if l.warm.reader != nil {
		t.Error("a decoder is left after closing")
	}
	if _, err := l.Frame(ctx, clip, 40, ShownWidth, OverrideOf("auto", "auto")); err == nil {
		t.Error("a decoder was started after closing")
	}
}
