package media

import (
	"context"
	"errors"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/picture"
)

// needFFmpeg skips a test by name where the programs are absent.
func needFFmpeg(t testing.TB) {
	t.Helper()
	for _, name := range []string{"ffmpeg", "ffprobe"} {
		if _, err := exec.LookPath(name); err != nil {
			t.Skipf("%s is not installed", name)
		}
	}
}

// ffmpeg runs ffmpeg directly, so that clips are made by other means than the ones tested.
func ffmpeg(t testing.TB, args ...string) {
	t.Helper()
	needFFmpeg(t)
	out, err := exec.Command("ffmpeg", append([]string{"-hide_banner", "-v", "error", "-y", "-nostdin"}, args...)...).CombinedOutput()
	if err != nil {
		t.Fatalf("ffmpeg %q: %v\n%s", args, err, out)
	}
}

func format(w, h, bits int, sub picture.Subsampling) picture.Format {
	return picture.Format{Width: w, Height: h, Bits: bits, Sub: sub, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft}
}

// noise fills a frame with every code there is, from a seed.
func noise(f picture.Format, seed uint64) *picture.Frame {
	frame := picture.NewFrame(f)
	r := rand.New(rand.NewPCG(seed, 1))
	top := uint32(1) << f.Bits
	for _, p := range [][]uint16{frame.Y, frame.Cb, frame.Cr} {
		for i := range p {
			p[i] = uint16(r.Uint32N(top))
		}
	}
	return frame
}

// drift is a picture that compresses like film: smooth with a little movement.
func drift(f picture.Format, n int) *picture.Frame {
	frame := picture.NewFrame(f)
	top := 1<<f.Bits - 1
	for y := range f.Height {
		for x := range f.Width {
			frame.Y[y*f.Width+x] = uint16((x*3 + y*2 + n*5) * top / (f.Width*3 + f.Height*2 + 500))
		}
	}
	for i := range frame.Cb {
		frame.Cb[i], frame.Cr[i] = uint16(top/2+n%7), uint16(top/2-n%5)
	}
	return frame
}

// makeClip writes n frames with the Writer.
func makeClip(t testing.TB, name string, o WriteOptions, n int, frame func(int) *picture.Frame) string {
	t.Helper()
	needFFmpeg(t)
	path := filepath.Join(t.TempDir(), name)
	if o.Rate.Num == 0 {
		o.Rate = Rational{25, 1}
	}
	w, err := NewWriter(context.Background(), path, o)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	for i := range n {
		if err := w.Write(frame(i)); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

// readAll decodes a whole clip.
func readAll(t testing.TB, path string, o ReadOptions) []*picture.Frame {
	t.Helper()
	r, err := OpenReader(context.Background(), path, o)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	var out []*picture.Frame
	for {
		f := &picture.Frame{}
		err := r.Next(f)
		if errors.Is(err, io.EOF) {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, f)
	}
}

func probe(t testing.TB, path string) *Info {
	t.Helper()
	needFFmpeg(t)
	info, err := Probe(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	return info
}

// sameCodes fails at the first code that differs.
func sameCodes(t testing.TB, what string, got, want *picture.Frame) {
	t.Helper()
	for p, planes := range [][2][]uint16{{got.Y, want.Y}, {got.Cb, want.Cb}, {got.Cr, want.Cr}} {
		if len(planes[0]) != len(planes[1]) {
			t.Fatalf("%s: plane %d has %d codes, want %d", what, p, len(planes[0]), len(planes[1]))
		}
		for i := range planes[0] {
			if planes[0][i] != planes[1][i] {
				t.Fatalf("%s: plane %d, code %d is %d, want %d", what, p, i, planes[0][i], planes[1][i])
			}
		}
	}
}

// wantFault checks class and code, and that there is one line and no memory address in it.
func wantFault(t testing.TB, err error, class fault.Class, code string) *fault.Fault {
	t.Helper()
	f, ok := fault.As(err)
	if !ok {
		t.Fatalf("got %v, want a fault %q", err, code)
	}
	if f.Class != class || f.Code != code {
		t.Fatalf("got fault %d %q (%s), want %d %q", f.Class, f.Code, f.Message, class, code)
	}
	for _, r := range f.Message {
		if r < ' ' {
			t.Fatalf("message is not one line: %q", f.Message)
		}
	}
	return f
}

// onlyFiles fails when anything but the named files is left.
func onlyFiles(t testing.TB, dir string, want ...string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	allowed := map[string]bool{}
	for _, w := range want {
		allowed[w] = true
	}
	for _, e := range entries {
		if !allowed[e.Name()] {
			t.Errorf("left behind: %s", e.Name())
		}
	}
}

func mustTool(t testing.TB, name string) string {
	t.Helper()
	needFFmpeg(t)
	tool, err := findTool(context.Background(), name)
	if err != nil {
		t.Fatal(err)
	}
	return tool.path
}

// splitLines gives the non-empty lines.
func splitLines(b []byte) []string {
	return strings.FieldsFunc(string(b), func(r rune) bool { return r == '\n' || r == '\r' })
}
