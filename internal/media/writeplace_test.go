package media

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"lampwise/internal/fault"
	"lampwise/internal/picture"
)

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
