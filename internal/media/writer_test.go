package media

import (
	"context"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
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

func TestPlacesRefused(t *testing.T) {
	t.Parallel()
	needFFmpeg(t)
	dir := t.TempDir()
	f := format(32, 32, 8, picture.Sub420)
	o := WriteOptions{Format: f, Rate: Rational{25, 1}, Codec: CodecH264}
	source := filepath.Join(dir, "lesson.mp4")
	ffmpeg(t, "-f", "lavfi", "-i", "testsrc2=s=32x32:d=0.2:r=25", "-pix_fmt", "yuv420p", "-c:v", "libx264", source)
	before, err := os.ReadFile(source)
	if err != nil {
		t.Fatal(err)
	}
	info := probe(t, source)
	try := func(path string, change func(*WriteOptions), class fault.Class, code string) {
		t.Helper()
		o := o
		if change != nil {
			change(&o)
		}
		w, err := NewWriter(context.Background(), path, o)
		if err == nil {
			w.Abort()
		}
		t.Log(strings.ReplaceAll(wantFault(t, err, class, code).Message, dir, ""))
	}
	try(source, nil, fault.Storage, "output-exists")
	over := func(o *WriteOptions) { o.Overwrite, o.Source = true, info }
	try(source, over, fault.Usage, "output-is-source")
	for name, link := range map[string]func(string, string) error{"hard.mp4": os.Link, "soft.mp4": os.Symlink} {
		other := filepath.Join(dir, name)
		if err := link(source, other); err != nil {
			t.Logf("no %s here: %v", name, err)
			continue
		}
		try(other, over, fault.Usage, "output-is-source")
	}
	try(filepath.Join(dir, "no", "out.mp4"), nil, fault.Storage, "folder-missing")
	try(filepath.Join(source, "out.mp4"), nil, fault.Storage, "folder-missing")
	if err := os.Mkdir(filepath.Join(dir, "folder.mp4"), 0o755); err != nil {
		t.Fatal(err)
	}
	try(filepath.Join(dir, "folder.mp4"), over, fault.Storage, "output-is-folder")
	try("", nil, fault.Usage, "output-kind")
	try(filepath.Join(dir, "out.avi"), nil, fault.Usage, "output-kind")
	for code, change := range map[string]func(*WriteOptions){
		"output-codec":   func(o *WriteOptions) { o.Codec = "av1" },
		"output-speed":   func(o *WriteOptions) { o.Speed = "ludicrous" },
		"output-quality": func(o *WriteOptions) { o.Quality = 52 },
		"output-bitrate": func(o *WriteOptions) { o.BitRate = -1 },
		"output-rate":    func(o *WriteOptions) { o.Rate = Rational{} },
		"output-odd":     func(o *WriteOptions) { o.Format.Width = 641; o.Format.Height = 359 },
		"output-bits":    func(o *WriteOptions) { o.Format.Bits = 12 },
		"output-matrix":  func(o *WriteOptions) { o.Format.Matrix = "" },
		"output-size":    func(o *WriteOptions) { o.Format.Width = 0 },
		"output-tag":     func(o *WriteOptions) { o.Tags = map[string]string{"a=b": "c"} },
	} {
		try(filepath.Join(dir, "out.mp4"), change, fault.Usage, code)
	}
	after, err := os.ReadFile(source)
	if err != nil || string(before) != string(after) {
		t.Error("the original clip was changed")
	}
	onlyFiles(t, dir, "lesson.mp4", "hard.mp4", "soft.mp4", "folder.mp4")
}

// An old file stays whole until the new one is finished, and is replaced then.
func TestOverwriting(t *testing.T) {
	t.Parallel()
	needFFmpeg(t)
	path := filepath.Join(t.TempDir(), "out.mp4")
	if err := os.WriteFile(path, []byte("old"), 0o644); err != nil {
		t.Fatal(err)
	}
	f := format(32, 32, 8, picture.Sub420)
	for _, finish := range []bool{false, true} {
		w, err := NewWriter(context.Background(), path, WriteOptions{Format: f, Rate: Rational{25, 1}, Codec: CodecH264, Overwrite: true})
		if err != nil {
			t.Fatal(err)
		}
		if err := w.Write(drift(f, 0)); err != nil {
			t.Fatal(err)
		}
		if b, _ := os.ReadFile(path); string(b) != "old" {
			t.Fatal("the old file was touched while the new one was being made")
		}
		if !finish {
			w.Abort()
			continue
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if n := len(readAll(t, path, ReadOptions{})); n != 1 {
		t.Errorf("%d frames", n)
	}
	onlyFiles(t, filepath.Dir(path), "out.mp4")
}

// A file that appeared under the final name meanwhile is not overwritten.
func TestFileInTheWayAtTheEnd(t *testing.T) {
	t.Parallel()
	w, path := running(t, context.Background())
	if err := os.WriteFile(path, []byte("somebody else's"), 0o644); err != nil {
		t.Fatal(err)
	}
	wantFault(t, w.Close(), fault.Storage, "output-exists")
	if b, _ := os.ReadFile(path); string(b) != "somebody else's" {
		t.Error("the other file was overwritten")
	}
	onlyFiles(t, filepath.Dir(path), "out.mp4")
}

func TestUnwritableFolder(t *testing.T) {
	t.Parallel()
	needFFmpeg(t)
	dir := filepath.Join(t.TempDir(), "locked")
	if err := os.Mkdir(dir, 0o555); err != nil {
		t.Fatal(err)
	}
	if f, err := os.Create(filepath.Join(dir, "x")); err == nil {
		f.Close()
		// The superuser may write anywhere: a folder on a read-only mount does it.
		dir = mount(t, "ro,size=1m")
	}
	_, err := NewWriter(context.Background(), filepath.Join(dir, "out.mp4"),
		WriteOptions{Format: format(32, 32, 8, picture.Sub420), Rate: Rational{25, 1}, Codec: CodecH264})
	t.Log(wantFault(t, err, fault.Storage, "folder-denied").Message)
}

func TestDiskFull(t *testing.T) {
	t.Parallel()
	needFFmpeg(t)
	dir := mount(t, "size=300k")
	f := format(320, 192, 8, picture.Sub420)
	w, err := NewWriter(context.Background(), filepath.Join(dir, "out.mp4"), WriteOptions{Format: f, Rate: Rational{25, 1}, Codec: CodecH264, Lossless: true, Speed: SpeedFastest})
	if err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	for i := 0; i < 100 && err == nil; i++ {
		err = w.Write(noise(f, uint64(i)))
	}
	if err == nil {
		err = w.Close()
	}
	t.Log(wantFault(t, err, fault.Storage, "disk-full").Message)
	onlyFiles(t, dir)
}

// The disk runs full only while the table of contents is being written.
func TestDiskFullAtTheVeryEnd(t *testing.T) {
	t.Parallel()
	needFFmpeg(t)
	f := format(320, 192, 8, picture.Sub420)
	o := WriteOptions{Format: f, Rate: Rational{25, 1}, Codec: CodecH264, Lossless: true, Speed: SpeedFastest}
	whole := makeClip(t, "a.mp4", o, 4, func(i int) *picture.Frame { return noise(f, uint64(i)) })
	s, err := os.Stat(whole)
	if err != nil {
		t.Fatal(err)
	}
	page := int64(os.Getpagesize())
	dir := mount(t, "size="+itoa(s.Size()/page*page)) // the last page does not fit
	w, err := NewWriter(context.Background(), filepath.Join(dir, "out.mp4"), o)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	for i := range 4 {
		if err := w.Write(noise(f, uint64(i))); err != nil {
			t.Fatal(err)
		}
	}
	wantFault(t, w.Close(), fault.Storage, "disk-full")
	onlyFiles(t, dir)
}

// mount gives a small file system in memory, or skips.
func mount(t *testing.T, options string) string {
	t.Helper()
	if runtime.GOOS != "linux" || os.Getuid() != 0 {
		t.Skip("needs a Linux superuser, to mount a small file system")
	}
	dir := t.TempDir()
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", options, "tmpfs", dir).CombinedOutput(); err != nil {
		t.Skipf("no file system can be mounted here: %s", out)
	}
	t.Cleanup(func() { exec.Command("umount", dir).Run() })
	return dir
}

func itoa(n int64) string { return Rational{n, 1}.String()[:len(Rational{n, 1}.String())-2] }

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
