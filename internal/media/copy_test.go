package media

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"lampwise/internal/fault"
	"lampwise/internal/picture"
)

const lessonChapters = `;FFMETADATA1
title=Lesson one: brake pads
comment=recorded in log
location=+10.0000+010.0000/
[CHAPTER]
TIMEBASE=1/1000
START=0
END=600
title=Old pads out
[CHAPTER]
TIMEBASE=1/1000
START=600
END=1000
title=Kette \= öl \; #2
`

// lesson makes a source clip with ffmpeg alone: picture, two sound tracks, timecode, chapters.
func lesson(t *testing.T, name string, rate string, timecode string, extra ...string) string {
	t.Helper()
	dir := t.TempDir()
	chapters := filepath.Join(dir, "chapters.txt")
	if err := os.WriteFile(chapters, []byte(lessonChapters), 0o644); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, name)
	args := []string{
		"-f", "lavfi", "-i", "testsrc2=s=96x64:d=1:r=" + rate,
		"-f", "lavfi", "-i", "sine=f=440:d=1:r=48000", "-f", "lavfi", "-i", "sine=f=880:d=1:r=48000", "-i", chapters,
		"-map", "0", "-map", "1", "-map", "2", "-map_metadata", "3", "-map_chapters", "3",
		"-pix_fmt", "yuv422p10le", "-c:v", "libx264", "-g", "12", "-color_range", "tv", "-colorspace", "bt709",
	}
	if timecode != "" {
		args = append(args, "-timecode", timecode)
	}
	ffmpeg(t, append(append(args, extra...), path)...)
	return path
}

// rerender decodes a clip and encodes it again with everything copied from it.
func rerender(t *testing.T, source, name string, change func(*WriteOptions)) (*Info, *Info) {
	t.Helper()
	ctx := context.Background()
	in := probe(t, source)
	o := WriteOptions{
		Format: in.Format(), Rate: in.Video.Rate, Variable: in.Video.VariableRate, TimeBase: in.Video.TimeBase,
		Aspect: in.Video.SampleAspect, Display: in.Video.Display, Codec: CodecH264, Source: in, Lossless: true, Speed: SpeedFastest,
	}
	if change != nil {
		change(&o)
	}
	path := filepath.Join(t.TempDir(), name)
	w, err := NewWriter(ctx, path, o)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	for _, f := range readAll(t, source, ReadOptions{Info: in}) {
		if err := w.Write(f); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	onlyFiles(t, filepath.Dir(path), name)
	return in, probe(t, path)
}

// sameSound compares hashes, and the sound's place against the picture to a tenth of a millisecond.
func sameSound(t *testing.T, in, out *Info) {
	t.Helper()
	a, err := AudioHashOf(context.Background(), in)
	if err != nil {
		t.Fatal(err)
	}
	b, err := AudioHashOf(context.Background(), out)
	if err != nil {
		t.Fatal(err)
	}
	if len(a) == 0 || len(a) != len(b) {
		t.Fatalf("%d sound streams, then %d", len(a), len(b))
	}
	for i := range a {
		if a[i] != b[i] {
			t.Errorf("sound %d: %v became %v", i, a[i], b[i])
		}
		before := in.Audio[i].Start - in.Start - in.FrameTime(0)
		after := out.Audio[i].Start - out.Start - out.FrameTime(0)
		if math.Abs(before-after) > 1e-4 {
			t.Errorf("sound %d lay %.6f s after the picture, now %.6f s", i, before, after)
		}
	}
}

func sameFrames(t *testing.T, in, out *Info) {
	t.Helper()
	a, b := readAll(t, in.Path, ReadOptions{Info: in}), readAll(t, out.Path, ReadOptions{Info: out})
	if len(a) != len(b) {
		t.Fatalf("%d frames became %d", len(a), len(b))
	}
	for i := range a {
		sameCodes(t, fmt.Sprintf("frame %d", i), b[i], a[i])
		// Within a tick of either time base.
		if d := math.Abs((a[i].Time - a[0].Time) - (b[i].Time - b[0].Time)); d > max(in.Video.TimeBase.Float(), out.Video.TimeBase.Float()) {
			t.Errorf("frame %d: %.6f s became %.6f s", i, a[i].Time, b[i].Time)
		}
	}
}

func TestEverythingElseIsCopied(t *testing.T) {
	t.Parallel()
	needFFmpeg(t)
	for _, c := range []struct{ rate, timecode, codec string }{
		{"25", "01:02:03:04", "pcm_s16le"},
		{"30000/1001", "10:00:00;02", "pcm_s24le"},
		{"60000/1001", "00:59:59:58", "aac"},
		{"50", "", "aac"},
	} {
		t.Run(c.rate, func(t *testing.T) {
			source := lesson(t, "lesson.mov", c.rate, c.timecode, "-c:a", c.codec, "-metadata:s:a:0", "language=ger")
			in, out := rerender(t, source, "out.mov", nil)
			if in.Timecode != c.timecode || out.Timecode != c.timecode {
				t.Errorf("timecode %q in the source, %q in the output, want %q", in.Timecode, out.Timecode, c.timecode)
			}
			sameSound(t, in, out)
			sameFrames(t, in, out)
			if out.Video.Rate != in.Video.Rate || out.Video.VariableRate {
				t.Errorf("rate %v became %v (variable %t)", in.Video.Rate, out.Video.Rate, out.Video.VariableRate)
			}
			if !slices.Equal(in.Chapters, out.Chapters) || len(in.Chapters) != 2 {
				t.Errorf("chapters %v became %v", in.Chapters, out.Chapters)
			}
			if out.Tags["title"] != "Lesson one: brake pads" {
				t.Errorf("title %q", out.Tags["title"])
			}
			for _, k := range []string{"comment", "location"} {
				if v := out.Tags[k]; v != "" {
					t.Errorf("tag %s=%q was carried over", k, v)
				}
			}
			if got := out.Audio[0].Tags["language"]; got != "ger" {
				t.Errorf("language of the first sound is %q", got)
			}
		})
	}
}

func TestSoundInMP4(t *testing.T) {
	t.Parallel()
	source := lesson(t, "lesson.mov", "25", "01:00:00:00", "-c:a", "aac")
	in, out := rerender(t, source, "out.mp4", nil)
	sameSound(t, in, out)
	if out.Timecode != "01:00:00:00" {
		t.Errorf("timecode %q", out.Timecode)
	}
	flac := lesson(t, "flac.mkv", "25", "", "-c:a", "flac")
	in, out = rerender(t, flac, "flac.mp4", nil)
	sameSound(t, in, out)
	_, err := NewWriter(context.Background(), filepath.Join(t.TempDir(), "out.mov"), WriteOptions{
		Format: format(64, 48, 8, picture.Sub420), Rate: Rational{25, 1}, Codec: CodecH264, Source: in,
	})
	wantFault(t, err, fault.Usage, "sound-container")
	pcm := probe(t, lesson(t, "pcm.mov", "25", "", "-c:a", "pcm_s16le"))
	_, err = NewWriter(context.Background(), filepath.Join(t.TempDir(), "out.mp4"), WriteOptions{
		Format: format(64, 48, 8, picture.Sub420), Rate: Rational{25, 1}, Codec: CodecH264, Source: pcm,
	})
	wantFault(t, err, fault.Usage, "sound-container")
}

// Sound that breaks off in the middle of a packet is the clip's fault, not the encoder's.
func TestDamagedSoundIsTheClipsFault(t *testing.T) {
	source := filepath.Join(t.TempDir(), "clip.ts")
	w := &Writer{ctx: context.Background(), options: WriteOptions{Source: &Info{Path: source}}, place: &place{final: "out.mov"}}
	for _, line := range []string{
		fileURL(source) + ": corrupt input packet in stream 1", // ffmpeg 5.1
		fileURL(source) + ": Invalid data found when processing input",
	} {
		err := w.because(&failedError{name: "ffmpeg", code: 1, complaints: []string{line}})
		f, ok := fault.As(err)
		if !ok || f.Class != fault.Input || f.Code != "clip-damaged" || f.Hint == "" || strings.Contains(f.Message, "file:") || !strings.HasPrefix(f.Message, source+": ") {
			t.Errorf("%q: %v", line, err)
		}
	}
}

// Sound that begins before or after the picture keeps its place, in containers
// whose clock starts anywhere.
func TestSoundKeepsItsPlace(t *testing.T) {
	t.Parallel()
	needFFmpeg(t)
	dir := t.TempDir()
	picture := []string{"-f", "lavfi", "-i", "testsrc2=s=96x64:d=2:r=25"}
	sound := []string{"-f", "lavfi", "-i", "sine=f=440:d=2:r=48000"}
	for _, c := range []struct {
		name string
		args []string
	}{
		{"sound later.mov", slices.Concat(picture, []string{"-itsoffset", "0.52"}, sound, []string{"-c:a", "pcm_s16le"})},
		{"picture later.mov", slices.Concat([]string{"-itsoffset", "0.4"}, picture, sound, []string{"-c:a", "pcm_s16le", "-map", "0", "-map", "1"})},
		{"picture between.mov", slices.Concat([]string{"-itsoffset", "0.413"}, picture, sound, []string{"-c:a", "pcm_s16le", "-map", "0", "-map", "1"})},
		{"broadcast.ts", slices.Concat(picture, sound, []string{"-c:a", "aac", "-output_ts_offset", "100"})},
		{"matroska.mkv", slices.Concat(picture, sound, []string{"-c:a", "aac"})},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(dir, c.name)
			ffmpeg(t, append(c.args, "-pix_fmt", "yuv420p", "-c:v", "libx264", path)...)
			in, out := rerender(t, path, "out.mov", nil)
			sameSound(t, in, out)
			sameFrames(t, in, out)
			if out.Video.VariableRate {
				t.Error("the output's rate varies")
			}
		})
	}
}

// What cannot be carried on is said beforehand, and does not stop a render.
func TestFurtherStreamsAreNamed(t *testing.T) {
	t.Parallel()
	needFFmpeg(t)
	dir := t.TempDir()
	words, path := filepath.Join(dir, "words.srt"), filepath.Join(dir, "lesson.mov")
	if err := os.WriteFile(words, []byte("1\n00:00:00,000 --> 00:00:00,500\nBrake pads\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	ffmpeg(t, "-f", "lavfi", "-i", "testsrc2=s=96x64:d=0.6:r=25", "-f", "lavfi", "-i", "sine=d=0.6", "-i", words,
		"-map", "0", "-map", "1", "-map", "2", "-pix_fmt", "yuv420p", "-c:v", "libx264", "-c:a", "aac", "-c:s", "mov_text", "-timecode", "01:00:00:00", path)
	in, out := rerender(t, path, "out.mov", nil)
	if !slices.ContainsFunc(in.Notes, func(n Note) bool { return n.Code == "streams-left-out" && n.Message[0] == '1' }) {
		t.Errorf("notes %v", in.Notes)
	}
	sameSound(t, in, out)
	for _, s := range out.Other {
		if s.Tag != "tmcd" {
			t.Errorf("the output has a stream %+v", s)
		}
	}
}
