package media

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"lampwise/internal/picture"
)

// What decoding and encoding hold does not grow with the clip: a long clip
// costs this program no more than a short one, and ffmpeg's own resident
// memory after 1500 frames is what it was after 300.
func TestMemoryDoesNotGrow(t *testing.T) {
	needFFmpeg(t)
	f := format(128, 96, 8, picture.Sub420)
	path := filepath.Join(t.TempDir(), "out.mp4")
	ctx := context.Background()
	w, err := NewWriter(ctx, path, WriteOptions{Format: f, Rate: Rational{25, 1}, Codec: CodecH264, Speed: SpeedFastest})
	if err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	frame := drift(f, 0)
	// The allowance covers what queues up in a busy machine, and is far below
	// one frame of growth each time (1200 frames of 18 kB are 22 MB).
	const allow = 6 << 20
	work := func(n int, step func() error) (heap uint64) {
		t.Helper()
		for range n {
			if err := step(); err != nil {
				t.Fatal(err)
			}
		}
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return m.HeapAlloc
	}
	compare := func(what string, c *child, step func() error) {
		t.Helper()
		before := work(300, step)
		resident := residentOf(c)
		after := work(1200, step)
		if after > before+allow {
			t.Errorf("%s: this program's heap grew from %d to %d bytes", what, before, after)
		}
		if now := residentOf(c); resident > 0 && now > resident+allow {
			t.Errorf("%s: ffmpeg's memory grew from %d to %d bytes", what, resident, now)
		}
	}
	compare("encoding", w.child, func() error { return w.Write(frame) })
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	r, err := OpenReader(ctx, path, ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	compare("decoding", r.child, func() error { return r.Next(frame) })
	if err := r.Next(frame); !errors.Is(err, io.EOF) {
		t.Errorf("after the last frame: %v", err)
	}
}

// residentOf is a running program's resident memory in bytes; 0 where that is not told.
func residentOf(c *child) int64 {
	b, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", c.cmd.Process.Pid))
	if err != nil {
		return 0
	}
	var kB int64
	if _, after, ok := bytes.Cut(b, []byte("VmRSS:")); ok {
		fmt.Sscan(string(after), &kB)
	}
	return kB << 10
}

// The two ways through the pipes, at a size where they count. The decoder's
// and encoder's own work is left out as far as it can be: raw video in, no
// compression to speak of.
func BenchmarkDecodeUHD(b *testing.B) {
	f := format(3840, 2160, 10, picture.Sub422)
	path := makeClip(b, "uhd.mov", WriteOptions{Format: f, Codec: CodecIntermediate, Speed: SpeedFastest}, 12, func(i int) *picture.Frame { return drift(f, i) })
	info := probe(b, path)
	frame := picture.NewFrame(f)
	b.SetBytes(12 * pixelFormats["yuv422p10le"].frameBytes(f))
	for b.Loop() {
		r, err := OpenReader(context.Background(), path, ReadOptions{Info: info})
		if err != nil {
			b.Fatal(err)
		}
		for err == nil {
			err = r.Next(frame)
		}
		if !errors.Is(err, io.EOF) {
			b.Fatal(err)
		}
		r.Close()
	}
	b.ReportMetric(12*float64(b.N)/b.Elapsed().Seconds(), "frames/s")
}

func BenchmarkEncodeUHD(b *testing.B) {
	f := format(3840, 2160, 8, picture.Sub420)
	frame := drift(f, 1)
	for b.Loop() {
		makeClip(b, "uhd.mp4", WriteOptions{Format: f, Codec: CodecH264, Speed: SpeedFastest}, 12, func(int) *picture.Frame { return frame })
	}
	b.ReportMetric(12*float64(b.N)/b.Elapsed().Seconds(), "frames/s")
}
