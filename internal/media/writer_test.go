package media

import (
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"lampwise/internal/fault"
	"lampwise/internal/picture"
)

// running starts a writer in a fresh folder with some frames under way.
func running(t *testing.T, ctx context.Context) (*Writer, string) {
	t.Helper()
	needFFmpeg(t)
	path := filepath.Join(t.TempDir(), "out.mp4")
	f := format(96, 64, 8, picture.Sub420)
	w, err := NewWriter(ctx, path, WriteOptions{Format: f, Rate: Rational{25, 1}, Codec: CodecH264})
	if err != nil {
		t.Fatal(err)
	}
	for i := range 10 {
		if err := w.Write(drift(f, i)); err != nil {
			t.Fatal(err)
		}
	}
	return w, path
}

// gone waits until the process is no more, not even as a zombie.
func gone(t *testing.T, c *child) {
	t.Helper()
	for range 100 {
		if c.cmd.ProcessState != nil {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	t.Error("the program was not waited for")
}

func TestAbortLeavesNothing(t *testing.T) {
	t.Parallel()
	w, path := running(t, context.Background())
	w.Abort()
	gone(t, w.child)
	onlyFiles(t, filepath.Dir(path))
	if err := w.Close(); err == nil {
		t.Error("a stopped writer could be closed")
	}
	w.Abort()
}

func TestCancelLeavesNothing(t *testing.T) {
	t.Parallel()
	for _, end := range []string{"Close", "Write", "nothing"} {
		t.Run(end, func(t *testing.T) {
			ctx, cancel := context.WithCancel(context.Background())
			w, path := running(t, ctx)
			cancel()
			switch end {
			case "Close":
				wantFault(t, w.Close(), fault.Cancelled, "cancelled")
			case "Write":
				var err error
				for i := 0; i < 10000 && err == nil; i++ {
					err = w.Write(drift(w.options.Format, i))
				}
				wantFault(t, err, fault.Cancelled, "cancelled")
			}
			gone(t, w.child)
			for range 100 { // nobody called anything: it happens in its own time
				if entries, _ := os.ReadDir(filepath.Dir(path)); len(entries) == 0 {
					return
				}
				time.Sleep(20 * time.Millisecond)
			}
			onlyFiles(t, filepath.Dir(path))
		})
	}
}

func TestCancelledReader(t *testing.T) {
	t.Parallel()
	f := format(640, 360, 8, picture.Sub420)
	path := makeClip(t, "a.mp4", WriteOptions{Format: f, Codec: CodecH264, Speed: SpeedFastest}, 60, func(i int) *picture.Frame { return drift(f, i) })
	ctx, cancel := context.WithCancel(context.Background())
	r, err := OpenReader(ctx, path, ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	var frame picture.Frame
	if err := r.Next(&frame); err != nil {
		t.Fatal(err)
	}
	cancel()
	for err == nil {
		err = r.Next(&frame)
	}
	wantFault(t, err, fault.Cancelled, "cancelled")
	r.Close()
	gone(t, r.child)
}

// Closing in the middle is quick, gives no error and leaves no process.
func TestReaderClosedEarly(t *testing.T) {
	t.Parallel()
	f := format(640, 360, 8, picture.Sub420)
	path := makeClip(t, "a.mp4", WriteOptions{Format: f, Codec: CodecH264, Speed: SpeedFastest}, 60, func(i int) *picture.Frame { return drift(f, i) })
	r, err := OpenReader(context.Background(), path, ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	frame := picture.NewFrame(r.Format())
	luma := &frame.Y[0]
	for range 3 {
		if err := r.Next(frame); err != nil {
			t.Fatal(err)
		}
	}
	if luma != &frame.Y[0] {
		t.Error("the frame's own planes were not used")
	}
	start := time.Now()
	if err := r.Close(); err != nil {
		t.Error(err)
	}
	gone(t, r.child)
	if d := time.Since(start); d > 2*time.Second {
		t.Errorf("closing took %v", d)
	}
	if err := r.Next(frame); err == nil || errors.Is(err, io.EOF) {
		t.Errorf("after Close: %v", err)
	}
}

// ffmpeg ended from outside is told from a fault of the clip or the disk.
func TestKilledChild(t *testing.T) {
	t.Parallel()
	t.Run("encoder", func(t *testing.T) {
		w, path := running(t, context.Background())
		if err := w.child.cmd.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		var err error
		for i := 0; i < 10000 && err == nil; i++ {
			err = w.Write(drift(w.options.Format, i))
		}
		if runtime.GOOS != "windows" {
			t.Log(wantFault(t, err, fault.Missing, "ffmpeg-killed").Message)
		}
		if again := w.Close(); again == nil || again.Error() != err.Error() {
			t.Errorf("Close said %v", again)
		}
		gone(t, w.child)
		onlyFiles(t, filepath.Dir(path))
	})
	t.Run("encoder at the end", func(t *testing.T) {
		w, path := running(t, context.Background())
		if err := w.child.cmd.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		if runtime.GOOS != "windows" {
			wantFault(t, w.Close(), fault.Missing, "ffmpeg-killed")
		}
		onlyFiles(t, filepath.Dir(path))
	})
	t.Run("decoder", func(t *testing.T) {
		f := format(640, 360, 8, picture.Sub420)
		path := makeClip(t, "a.mp4", WriteOptions{Format: f, Codec: CodecH264, Speed: SpeedFastest}, 100, func(i int) *picture.Frame { return drift(f, i) })
		r, err := OpenReader(context.Background(), path, ReadOptions{})
		if err != nil {
			t.Fatal(err)
		}
		defer r.Close()
		if err := r.child.cmd.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		var frame picture.Frame
		for err == nil {
			err = r.Next(&frame)
		}
		if runtime.GOOS != "windows" {
			wantFault(t, err, fault.Missing, "ffmpeg-killed")
		}
	})
}

// Missing, broken and old programs, told apart.
func TestProgramsMissing(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("the stand-in programs are shell scripts")
	}
	clip := filepath.Join(t.TempDir(), "a.mp4")
	if err := os.WriteFile(clip, []byte("x"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ name, script, code string }{
		{"absent", "", "ffmpeg-missing"},
		{"old", "#!/bin/sh\necho 'ffprobe version 4.2.7 Copyright'\n", "ffmpeg-old"},
		{"stranger", "#!/bin/sh\necho 'hello'\n", "ffmpeg-broken"},
		{"broken", "#!/bin/sh\necho 'error while loading shared libraries' >&2\nexit 127\n", "ffmpeg-broken"},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			if c.script != "" {
				if err := os.WriteFile(filepath.Join(dir, "ffprobe"), []byte(c.script), 0o755); err != nil {
					t.Fatal(err)
				}
			}
			t.Setenv("PATH", dir)
			_, err := Probe(context.Background(), clip)
			f := wantFault(t, err, fault.Missing, c.code)
			if f.Hint == "" {
				t.Error("no hint")
			}
			t.Log(f.Message, "·", f.Hint)
		})
	}
}

// Wherever a cancel falls, the folder holds the whole film or nothing.
func TestCancelAtAnyMoment(t *testing.T) {
	t.Parallel()
	needFFmpeg(t)
	f := format(96, 64, 8, picture.Sub420)
	whole := 0
	for i := range 14 {
		dir := t.TempDir()
		path := filepath.Join(dir, "out.mp4")
		ctx, cancel := context.WithCancel(context.Background())
		timer := time.AfterFunc(time.Duration(i*i)*4*time.Millisecond, cancel)
		err := func() error {
			w, err := NewWriter(ctx, path, WriteOptions{Format: f, Rate: Rational{25, 1}, Codec: CodecH264, Speed: SpeedFastest})
			if err != nil {
				return err
			}
			defer w.Abort()
			for n := range 60 {
				if err := w.Write(drift(f, n)); err != nil {
					return err
				}
			}
			return w.Close()
		}()
		timer.Stop()
		cancel()
		if err != nil {
			wantFault(t, err, fault.Cancelled, "cancelled")
			onlyFiles(t, dir)
			continue
		}
		whole++
		onlyFiles(t, dir, "out.mp4")
		if n := probe(t, path).Video.Frames; n != 60 {
			t.Errorf("%d frames under the final name", n)
		}
	}
	t.Logf("%d of 14 were finished before the cancel", whole)
}
