//go:build linux

package job

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"lampwise/internal/fault"
	"lampwise/internal/grade"
)

// drillClip makes a clip of many frames and a grade, so that a render takes a
// second or more and can be disturbed.
func drillClip(t *testing.T, seconds int) (clip, gradeFile string) {
	t.Helper()
	if _, err := exec.LookPath("ffmpeg"); err != nil {
		t.Skip("ffmpeg is not installed")
	}
	dir := t.TempDir()
	clip, gradeFile = filepath.Join(dir, "clip.mkv"), filepath.Join(dir, "g.toml")
	out, err := exec.Command("ffmpeg", "-v", "error", "-f", "lavfi", "-i", "gradients=s=640x360:r=25:d="+strconv.Itoa(seconds),
		"-vf", "noise=alls=20:allf=t,format=yuv422p10le", "-c:v", "libx264", "-preset", "ultrafast", clip).CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if err := writeLook(filepath.Join(dir, grade.LookFile)); err != nil {
		t.Fatal(err)
	}
	if err := grade.Starting("log-420").Save(gradeFile); err != nil {
		t.Fatal(err)
	}
	return clip, gradeFile
}

// leftovers lists what stands in a folder.
func leftovers(t *testing.T, folder string) (names []string) {
	t.Helper()
	entries, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

func wantFault(t *testing.T, err error, class fault.Class) {
	t.Helper()
	f, ok := fault.As(err)
	if !ok || f.Class != class || strings.Contains(f.Message, "\n") {
		t.Fatalf("want one line of class %d, got: %v", class, err)
	}
	t.Logf("said: %s (%s)", f.Message, f.Hint)
}

func TestACancelledRenderLeavesNothing(t *testing.T) {
	clip, g := drillClip(t, 20)
	folder := t.TempDir()
	ctx, cancel := context.WithCancel(context.Background())
	_, err := Render(ctx, RenderRequest{Clip: clip, Grade: g, Out: filepath.Join(folder, "out.mp4")}, func(s Step) {
		if s.Done > 3 {
			cancel()
		}
	})
	if err == nil {
		t.Fatal("the render was over before it could be stopped: the drill needs a longer clip")
	}
	if f, ok := fault.As(err); !errors.Is(err, context.Canceled) && (!ok || f.Class != fault.Cancelled) {
		t.Fatalf("cancelled: %v", err)
	}
	if left := leftovers(t, folder); len(left) > 0 {
		t.Fatalf("left behind: %v", left)
	}
}

func TestAKilledEncoderIsSaidAndLeavesNothing(t *testing.T) {
	clip, g := drillClip(t, 20)
	folder := t.TempDir()
	killed := false
	_, err := Render(context.Background(), RenderRequest{Clip: clip, Grade: g, Out: filepath.Join(folder, "out.mp4")}, func(s Step) {
		if s.Done > 3 && !killed {
			killed = killChild(t, folder)
		}
	})
	if !killed {
		t.Fatal("no encoder was found to kill")
	}
	wantFault(t, err, fault.Missing)
	if left := leftovers(t, folder); len(left) > 0 {
		t.Fatalf("left behind: %v", left)
	}
}

// killChild kills the ffmpeg that writes into the folder.
func killChild(t *testing.T, folder string) bool {
	t.Helper()
	pids, err := filepath.Glob("/proc/[0-9]*/cmdline")
	if err != nil || len(pids) == 0 {
		t.Skip("this system has no /proc to find the encoder in")
	}
	for _, p := range pids {
		line, err := os.ReadFile(p)
		if err == nil && strings.Contains(string(line), "ffmpeg") && strings.Contains(string(line), folder) {
			pid, err := strconv.Atoi(strings.Split(p, "/")[2])
			if err == nil && syscall.Kill(pid, syscall.SIGKILL) == nil {
				return true
			}
		}
	}
	return false
}

func TestAFullDiskIsSaidAndLeavesNothing(t *testing.T) {
	clip, g := drillClip(t, 8)
	folder := t.TempDir()
	if err := syscall.Mount("tmpfs", folder, "tmpfs", 0, "size=256k"); err != nil {
		t.Skipf("a small disk could not be mounted (needs root): %v", err)
	}
	defer func() {
		if err := syscall.Unmount(folder, 0); err != nil {
			t.Error(err)
		}
	}()
	_, err := Render(context.Background(), RenderRequest{Clip: clip, Grade: g, Out: filepath.Join(folder, "out.mp4")}, nil)
	wantFault(t, err, fault.Storage)
	if left := leftovers(t, folder); len(left) > 0 {
		t.Fatalf("left behind: %v", left)
	}
}

func TestAClipThatIsCutOffIsSaid(t *testing.T) {
	clip, g := drillClip(t, 8)
	data, err := os.ReadFile(clip)
	if err != nil {
		t.Fatal(err)
	}
	cut := filepath.Join(filepath.Dir(clip), "cut.mkv")
	if err := os.WriteFile(cut, data[:len(data)/2], 0o644); err != nil {
		t.Fatal(err)
	}
	folder := t.TempDir()
	began := time.Now()
	r, err := Render(context.Background(), RenderRequest{Clip: cut, Grade: g, Out: filepath.Join(folder, "out.mp4")}, nil)
	if err == nil {
		// A file that was cut between two frames is whole as far as anyone can
		// tell; then every frame that is there must be in the result.
		t.Logf("rendered what was there: %d frames, notes %v, %v", r.Frames, r.Notes, time.Since(began))
		if r.Frames == 0 || r.Frames >= 200 {
			t.Fatalf("%d frames from half a clip of 200", r.Frames)
		}
		return
	}
	wantFault(t, err, fault.Input)
	if left := leftovers(t, folder); len(left) > 0 {
		t.Fatalf("left behind: %v", left)
	}
}
