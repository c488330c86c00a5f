package media

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"lampwise/internal/fault"
	"lampwise/internal/picture"
)

// What cannot be graded is refused in one line that names the file.
func TestRefusedClips(t *testing.T) {
	t.Parallel()
	needFFmpeg(t)
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	write := func(name, text string) {
		if err := os.WriteFile(at(name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	source := []string{"-f", "lavfi", "-i", "testsrc2=s=96x64:d=0.4:r=25"}
	make := func(name string, args ...string) { ffmpeg(t, slices.Concat(source, args, []string{at(name)})...) }
	write("empty.mov", "")
	write("text.mov", strings.Repeat("this is a lesson plan, not a film\n", 50))
	write("list.m3u8", "#EXTM3U\n#EXT-X-TARGETDURATION:1\n#EXTINF:1,\nwhole.mp4\n#EXT-X-ENDLIST\n")
	write("list.txt", "ffconcat version 1.0\nfile whole.mp4\n")
	make("whole.mp4", "-pix_fmt", "yuv420p", "-c:v", "libx264")
	whole, err := os.ReadFile(at("whole.mp4"))
	if err != nil {
		t.Fatal(err)
	}
	write("cut.mp4", string(whole[:bytes.Index(whole, []byte("mdat"))+2000]))
	ffmpeg(t, "-f", "lavfi", "-i", "sine=d=0.5", at("sound.wav"))
	ffmpeg(t, "-f", "lavfi", "-i", "sine=d=0.5", "-c:a", "aac", at("sound.mp4"))
	make("grey.mkv", "-pix_fmt", "gray", "-c:v", "ffv1")
	make("grey.mp4", "-pix_fmt", "gray10le", "-c:v", "libx265", "-x265-params", "log-level=error")
	make("grey264.mp4", "-pix_fmt", "gray", "-c:v", "libx264")
	make("grey264.mkv", "-pix_fmt", "gray10le", "-c:v", "libx264")
	make("grey264.ts", "-pix_fmt", "gray", "-c:v", "libx264")
	make("rgb.mkv", "-pix_fmt", "gbrp", "-c:v", "ffv1")
	make("411.mkv", "-pix_fmt", "yuv411p", "-c:v", "ffv1")
	make("nine.mkv", "-pix_fmt", "yuv420p9le", "-c:v", "ffv1")
	make("interlaced.mov", "-vf", "interlace", "-pix_fmt", "yuv420p", "-c:v", "libx264", "-flags", "+ilme+ildct")
	make("still.png", "-frames:v", "1")
	ffmpeg(t, "-f", "lavfi", "-i", "color=s=16640x16:d=0.04:r=25", "-pix_fmt", "yuv420p", "-c:v", "ffv1", at("wide.mkv"))
	for _, c := range []struct{ name, code string }{
		{"nothing.mov", "file-missing"},
		{".", "file-is-folder"},
		{"empty.mov", "file-empty"},
		{"text.mov", "clip-unreadable"},
		{"list.m3u8", "clip-kind"},
		{"list.txt", "clip-kind"},
		{"cut.mp4", "clip-cut-off"},
		{"sound.wav", "clip-audio-only"},
		{"sound.mp4", "clip-audio-only"},
		{"grey.mkv", "clip-grey"},
		{"grey.mp4", "clip-grey"},
		{"grey264.mp4", "clip-grey"}, // decoded as 4:2:0 with neutral chroma
		{"grey264.mkv", "clip-grey"},
		{"grey264.ts", "clip-grey"},
		{"rgb.mkv", "clip-rgb"},
		{"411.mkv", "clip-pixels"},
		{"nine.mkv", "clip-pixels"},
		{"interlaced.mov", "clip-interlaced"},
		{"still.png", "clip-is-still"},
		{"wide.mkv", "clip-too-large"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Probe(context.Background(), at(c.name))
			f := wantFault(t, err, fault.Input, c.code)
			if !strings.HasPrefix(f.Message, at(c.name)) && c.name != "." {
				t.Errorf("the message does not begin with the file: %q", f.Message)
			}
			if f.Hint == "" {
				t.Errorf("no hint with %q", f.Message)
			}
			t.Logf("%s (%s)", strings.ReplaceAll(f.Message, dir+string(filepath.Separator), ""), f.Hint)
		})
	}
	if _, err := Probe(context.Background(), ""); err == nil {
		t.Error("an empty name was accepted")
	}
}

// A clip that breaks off or is damaged says after how many frames, and can be
// read on over the damage where that is wanted.
func TestDamageInTheMiddle(t *testing.T) {
	t.Parallel()
	needFFmpeg(t)
	dir := t.TempDir()
	path := filepath.Join(dir, "whole.mp4")
	ffmpeg(t, "-f", "lavfi", "-i", "testsrc2=s=320x192:d=2:r=25", "-pix_fmt", "yuv420p", "-c:v", "libx264", "-g", "10", "-movflags", "faststart", path)
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	mdat := bytes.Index(whole, []byte("mdat"))
	read := func(path string, damaged bool) (int, []string, error) {
		r, err := OpenReader(context.Background(), path, ReadOptions{Damaged: damaged})
		if err != nil {
			return 0, nil, err
		}
		defer r.Close()
		var f picture.Frame
		for n := 0; ; n++ {
			if err := r.Next(&f); errors.Is(err, io.EOF) {
				return n, r.Warnings(), nil
			} else if err != nil {
				return n, r.Warnings(), err
			}
		}
	}
	t.Run("cut off", func(t *testing.T) {
		cut := filepath.Join(dir, "cut.mp4")
		if err := os.WriteFile(cut, whole[:mdat+(len(whole)-mdat)*6/10], 0o644); err != nil {
			t.Fatal(err)
		}
		_, _, err := read(cut, false)
		t.Log(wantFault(t, err, fault.Input, "clip-damaged").Message)
		n, warnings, err := read(cut, true)
		if err != nil || n == 0 || n >= 50 || len(warnings) == 0 {
			t.Errorf("%d frames came from 60 %% of a clip, warnings %q, %v", n, warnings, err)
		}
	})
	t.Run("overwritten", func(t *testing.T) {
		bad := filepath.Join(dir, "bad.mp4")
		b := bytes.Clone(whole)
		for i := mdat + (len(whole)-mdat)/2; i < mdat+(len(whole)-mdat)/2+3000; i++ {
			b[i] = byte(i * 37)
		}
		if err := os.WriteFile(bad, b, 0o644); err != nil {
			t.Fatal(err)
		}
		_, _, err := read(bad, false)
		f := wantFault(t, err, fault.Input, "clip-damaged")
		t.Log(f.Message)
		n, warnings, err := read(bad, true)
		if err != nil || n == 0 || len(warnings) == 0 {
			t.Errorf("reading on: %d frames, warnings %q, %v", n, warnings, err)
		}
	})
	t.Run("truncated matroska", func(t *testing.T) {
		mkv := filepath.Join(dir, "whole.mkv")
		ffmpeg(t, "-i", path, "-c", "copy", mkv)
		b, err := os.ReadFile(mkv)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(mkv, b[:len(b)/2], 0o644); err != nil {
			t.Fatal(err)
		}
		info := probe(t, mkv)
		_, _, err = read(mkv, false)
		wantFault(t, err, fault.Input, "clip-damaged")
		if n, _, err := read(mkv, true); err != nil || n == 0 || n > info.Video.Frames {
			t.Errorf("%d of %d frames, %v", n, info.Video.Frames, err)
		}
		if !slices.ContainsFunc(info.Notes, func(n Note) bool { return n.Code == "shorter-than-said" }) {
			t.Errorf("nothing was said of the missing half: %v", info.Notes)
		}
	})
}

// Names that mean something to a shell, to ffmpeg or to a pattern are just names.
func TestOddNames(t *testing.T) {
	needFFmpeg(t)
	names := []string{
		"-y.mp4", "two words.mp4", "Lektion Übung – 補習.mp4", "pipe:1.mp4", "img%03d.mp4", "a'b\"c.mp4", "$(touch x);&.mp4", "file:x.mp4", "*?.mp4", "back\\slash.mp4", "a\nb.mp4",
	}
	if runtime.GOOS == "windows" {
		names = []string{"-y.mp4", "two words.mp4", "Lektion Übung – 補習.mp4", "img%03d.mp4", "$(x);&.mp4"}
	}
	dir := t.TempDir()
	t.Chdir(dir) // relative names, so that a dash stands in front
	f := format(32, 32, 8, picture.Sub420)
	for _, name := range names {
		w, err := NewWriter(context.Background(), name, WriteOptions{Format: f, Rate: Rational{25, 1}, Codec: CodecH264})
		if err != nil {
			t.Fatalf("%q: %v", name, err)
		}
		for i := range 2 {
			if err := w.Write(drift(f, i)); err != nil {
				t.Fatalf("%q: %v", name, err)
			}
		}
		if err := w.Close(); err != nil {
			t.Fatalf("%q: %v", name, err)
		}
		if got := readAll(t, name, ReadOptions{}); len(got) != 2 {
			t.Errorf("%q: %d frames", name, len(got))
		}
	}
	onlyFiles(t, dir, names...)
}

func TestVersions(t *testing.T) {
	for _, c := range []struct {
		line         string
		major, minor int
		ok           bool
	}{
		{"ffmpeg version 5.1.9-0+deb12u1 Copyright (c) 2000-2026 the FFmpeg developers", 5, 1, true},
		{"ffprobe version 4.4.2-0ubuntu0.22.04.1 Copyright", 4, 4, false},
		{"ffmpeg version 5.0 Copyright", 5, 0, false},
		{"ffmpeg version n7.1.1 Copyright", 7, 1, true},
		{"ffmpeg version 8 Copyright", 8, 0, true},
		{"ffmpeg version 6.1.1-essentials_build-www Copyright", 6, 1, true},
		{"ffmpeg version N-117000-gabcdef Copyright", 0, 0, true},
		{"ffmpeg version 2024-05-15-git-7b47099bc0-full_build Copyright", 0, 0, true},
	} {
		v := parseVersion(c.line + "\nbuilt with gcc")
		if v.Major != c.major || v.Minor != c.minor || v.atLeast(oldestMajor, oldestMinor) != c.ok || v.Text == "" {
			t.Errorf("%q: %+v", c.line, v)
		}
	}
	if v := parseVersion("something else 5.1"); v.Text != "" {
		t.Errorf("a stranger was taken for ffmpeg: %+v", v)
	}
}

// A program that complains without end stays within its bounds.
func TestComplaintsAreBounded(t *testing.T) {
	var c complaints
	for i := range 100000 {
		io.WriteString(&c, "[h264 @ 0x55d0aa] error while decoding MB ")
		if i%3 == 0 {
			io.WriteString(&c, strings.Repeat("x", 5000)+"\n")
		}
	}
	io.WriteString(&c, "\nlast words\n")
	lines := c.lines()
	if len(lines) > keepFirst+keepLast || lines[len(lines)-1] != "last words" || !strings.HasPrefix(lines[0], "error while") {
		t.Errorf("%d lines, last %q, first %q", len(lines), lines[len(lines)-1], lines[0])
	}
	for _, l := range lines {
		if len(l) > keepLine {
			t.Errorf("a line of %d bytes", len(l))
		}
	}
	if cap(c.part) > 2*keepLine {
		t.Errorf("%d bytes held", cap(c.part))
	}
}

// A clip whose picture changes its size in the middle is not scaled behind the user's back.
func TestSizeChangesInTheMiddle(t *testing.T) {
	t.Parallel()
	needFFmpeg(t)
	dir := t.TempDir()
	var both []byte
	for _, size := range []string{"96x64", "128x96"} {
		part := filepath.Join(dir, size+".ts")
		ffmpeg(t, "-f", "lavfi", "-i", "testsrc2=d=0.4:r=25:s="+size, "-pix_fmt", "yuv420p", "-c:v", "libx264", part)
		b, err := os.ReadFile(part)
		if err != nil {
			t.Fatal(err)
		}
		both = append(both, b...)
	}
	path := filepath.Join(dir, "both.ts")
	if err := os.WriteFile(path, both, 0o644); err != nil {
		t.Fatal(err)
	}
	r, err := OpenReader(context.Background(), path, ReadOptions{})
	if err == nil {
		defer r.Close()
		var f picture.Frame
		n := 0
		for ; err == nil; n++ {
			err = r.Next(&f)
		}
		if n < 2 {
			t.Errorf("it ended after %d frames", n)
		}
	}
	f, ok := fault.As(err)
	if !ok || f.Class != fault.Input {
		t.Fatalf("got %v", err)
	}
	t.Log(f.Code, f.Message)
}
