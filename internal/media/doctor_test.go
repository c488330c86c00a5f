package media

import (
	"context"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

func TestDoctorOnAMachineThatHasAll(t *testing.T) {
	needFFmpeg(t)
	found := map[string]Finding{}
	for _, f := range Doctor(context.Background(), t.TempDir()) {
		found[f.Name] = f
		t.Logf("%+v", f)
		if !f.OK && (f.Problem == "" || f.Hint == "") {
			t.Errorf("%s is missing without a word or a hint", f.Name)
		}
	}
	// The tests of this package write with these, so they are there.
	for _, name := range []string{"ffmpeg", "ffprobe", "libx264", "libx265"} {
		if !found[name].OK || found[name].Found == "" {
			t.Errorf("%s: %+v", name, found[name])
		}
	}
}

func TestDoctorWithoutPrograms(t *testing.T) {
	t.Setenv("PATH", t.TempDir())
	for _, system := range []string{"linux", "darwin", "windows"} {
		for _, f := range doctorTools(context.Background(), system) {
			if f.OK {
				t.Errorf("%s was found on an empty PATH", f.Name)
			}
			if f.Name == "ffmpeg" {
				if !f.Required || f.Hint == "" {
					t.Errorf("%s: %+v", system, f)
				}
				if strings.Contains(f.Hint, "apt-get") != (system == "linux") {
					t.Errorf("%s is told %q", system, f.Hint)
				}
			}
		}
	}
}

// An ffmpeg that was built without the encoders, or with 8 bits only.
func TestDoctorMissingEncoders(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("the stand-in program is a shell script")
	}
	dir := t.TempDir()
	script := `#!/bin/sh
case "$*" in
*-version*) echo "ffmpeg version 7.0 Copyright"; exit 0;;
*libx264*) printf 'Encoder libx264 [x]:\n    Supported pixel formats: yuv420p yuvj420p nv12\n'; exit 0;;
esac
printf "Codec 'libx265' is not recognized by FFmpeg.\n" >&2
`
	for _, name := range []string{"ffmpeg", "ffprobe"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(script), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	t.Setenv("PATH", dir)
	problems := map[string]string{}
	for _, f := range doctorTools(context.Background(), "linux") {
		problems[f.Name] = f.Problem
	}
	if problems["ffmpeg"] != "" || problems["libx264"] != "it does not write yuv420p10le, yuv422p10le" || problems["libx265"] != "this ffmpeg was built without it" {
		t.Errorf("%q", problems)
	}
}

func TestFreeSpace(t *testing.T) {
	if n, err := FreeSpace(t.TempDir()); err != nil || n <= 0 {
		t.Errorf("%d bytes, %v", n, err)
	}
	if _, err := FreeSpace(filepath.Join(t.TempDir(), "no")); err == nil {
		t.Error("a folder that does not exist has room")
	}
	for n, want := range map[int64]string{5e6: "5 MB", 12_340_000_000: "12.3 GB", 2_500_000_000_000: "2.5 TB"} {
		if got := bytesText(n); got != want {
			t.Errorf("%d: %q, want %q", n, got, want)
		}
	}
}
