package media

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
)

type soundPacket struct {
	PTS  string `json:"pts_time"`
	Hash string `json:"data_hash"`
}

func soundPackets(t *testing.T, path string) []soundPacket {
	t.Helper()
	out, err := exec.Command("ffprobe", "-v", "error", "-select_streams", "a:0", "-show_packets", "-show_data_hash", "md5", "-show_entries", "packet=pts_time,data_hash", "-of", "json", path).Output()
	if err != nil {
		t.Fatal(err)
	}
	var a struct{ Packets []soundPacket }
	if err := json.Unmarshal(out, &a); err != nil {
		t.Fatal(err)
	}
	return a.Packets
}

func (p soundPacket) at() float64 {
	v, _ := strconv.ParseFloat(p.PTS, 64)
	return v
}

// cutRender writes frames first..first+count−1 of a clip.
func cutRender(t *testing.T, source, name string, first, count int, sound Sound) *Info {
	t.Helper()
	in := probe(t, source)
	path := filepath.Join(t.TempDir(), name)
	w, err := NewWriter(context.Background(), path, WriteOptions{
		Format: in.Format(), Rate: in.Video.Rate, Variable: in.Video.VariableRate, TimeBase: in.Video.TimeBase, Codec: CodecH264, Source: in, Lossless: true, Speed: SpeedFastest,
		Sound: sound, Cut: &Cut{From: in.FrameTime(first), Length: float64(count) / in.Video.Rate.Float()},
	})
	if err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	for _, f := range readAll(t, source, ReadOptions{Info: in, Start: first, Count: count}) {
		if err := w.Write(f); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	out := probe(t, path)
	got, want := readAll(t, path, ReadOptions{}), readAll(t, source, ReadOptions{Start: first, Count: count})
	if len(got) != count {
		t.Fatalf("%d frames, not %d", len(got), count)
	}
	for i := range got {
		sameCodes(t, fmt.Sprintf("frame %d", i), got[i], want[i])
	}
	return out
}

// Copied sound keeps its packets, in step with the picture; the offset is told.
func TestCutCopiesPacketsInStep(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, out string
		args      []string
	}{
		{"aac.mp4", "out.mp4", []string{"-c:a", "aac"}},
		{"pcm.mov", "out.mov", []string{"-c:a", "pcm_s16le"}},
		{"pcm.mkv", "out.mov", []string{"-c:a", "pcm_s24le"}},
		{"late.mkv", "out.mp4", []string{"-c:a", "aac", "-output_ts_offset", "7"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			source := filepath.Join(t.TempDir(), c.name)
			ffmpeg(t, append(append([]string{
				"-f", "lavfi", "-i", "testsrc2=s=96x64:d=4:r=25", "-f", "lavfi", "-i", "anoisesrc=d=4:r=48000:seed=1",
				"-pix_fmt", "yuv420p", "-c:v", "libx264", "-g", "30",
			}, c.args...), source)...)
			in := probe(t, source)
			const first, count = 37, 41
			out := cutRender(t, source, c.out, first, count, SoundCopy)
			from := in.FrameTime(first) + in.Start
			where := map[string]float64{}
			for _, p := range soundPackets(t, source) {
				where[p.Hash] = p.at()
			}
			got := soundPackets(t, out.Path)
			if len(got) == 0 {
				t.Fatal("no sound came along")
			}
			picture := out.Start + out.FrameTime(0)
			last, known := 0.0, 0
			for i, p := range got {
				at, ok := where[p.Hash]
				if !ok {
					// Uncompressed sound has no packets of its own; a file's writer may divide it anew.
					if c.args[1] == "aac" {
						t.Fatalf("packet %d is none of the source's", i)
					}
					continue
				}
				// MOV counts sound in samples and the movie's clock in 1/90000 s; Matroska
				// rounds every time to a millisecond, picture's and sound's.
				allowed := 0.0001
				if filepath.Ext(c.name) == ".mkv" {
					allowed = 0.0011
				}
				if off := (p.at() - picture) - (at - from); math.Abs(off) > allowed {
					t.Fatalf("packet %d is %.1f ms out of step", i, 1000*off)
				}
				last, known = p.at()-picture, known+1
			}
			if known < len(got)/2 {
				t.Fatalf("only %d of %d packets are the source's", known, len(got))
			}
			length := float64(count) / 25
			if start := SoundStart(out); math.Abs(start-(got[0].at()-picture)) > 0.0005 || start < -0.0005 || start > 0.1 {
				t.Errorf("told that sound starts %.4f s after the picture; the first packet is at %.4f", start, got[0].at()-picture)
			} else {
				t.Logf("sound starts %.2f ms after the picture, last packet at %.3f of %.3f s", 1000*start, last, length)
			}
			if last > length || last < length-0.15 {
				t.Errorf("the last packet begins at %.3f s of %.3f", last, length)
			}
		})
	}
}

// Sound that is encoded anew is cut to the sample: a click stays on its frame.
func TestCutEncodesSoundToTheSample(t *testing.T) {
	t.Parallel()
	source := filepath.Join(t.TempDir(), "click.mov")
	// A click at 2.000 s: one loud stretch of 2 ms.
	ffmpeg(t, "-f", "lavfi", "-i", "testsrc2=s=96x64:d=4:r=25", "-f", "lavfi", "-i", "aevalsrc=if(between(t\\,2\\,2.002)\\,0.9\\,0):d=4:s=48000",
		"-pix_fmt", "yuv420p", "-c:v", "libx264", "-g", "30", "-c:a", "pcm_s16le", source)
	out := cutRender(t, source, "out.mp4", 37, 41, SoundAAC) // from 1.48 s to 3.12 s
	raw, err := exec.Command("ffmpeg", "-v", "error", "-i", out.Path, "-map", "0:a:0", "-ac", "1", "-f", "f32le", "pipe:1").Output()
	if err != nil {
		t.Fatal(err)
	}
	samples := make([]float32, len(raw)/4)
	if err := binary.Read(bytes.NewReader(raw), binary.LittleEndian, samples); err != nil {
		t.Fatal(err)
	}
	loudest, centre, energy := 0.0, 0.0, 0.0
	for i, s := range samples {
		e := float64(s) * float64(s)
		centre += e * float64(i)
		energy += e
		loudest = max(loudest, math.Abs(float64(s)))
	}
	centre /= energy * 48000
	if loudest < 0.3 {
		t.Fatalf("no click: %.3f at most", loudest)
	}
	// The click's middle, 2.001 s, is 0.521 s into the stretch. A codec smears a
	// click evenly; its middle stays within a quarter of a millisecond.
	if math.Abs(centre-0.521) > 0.00025+math.Abs(SoundStart(out)) {
		t.Errorf("the click is at %.5f s, not 0.52100 (sound starts at %.5f s)", centre, SoundStart(out))
	}
	if d := float64(len(samples)) / 48000; math.Abs(d-41.0/25) > 0.025 {
		t.Errorf("%.3f s of sound for %.3f s of picture", d, 41.0/25)
	}
	t.Logf("click at %.5f s, %.3f s of sound", centre, float64(len(samples))/48000)
}

func TestCutKeepsChaptersInStep(t *testing.T) {
	t.Parallel()
	source := lesson(t, "l.mov", "25", "01:00:00:00", "-c:a", "pcm_s16le")
	out := cutRender(t, source, "out.mov", 10, 10, SoundCopy) // 0.4 s to 0.8 s: over the border at 0.6 s
	// A rate that is no whole number of ticks, an even and an odd number of frames.
	ntsc := lesson(t, "n.mov", "30000/1001", "", "-c:a", "pcm_s16le")
	for _, n := range []int{12, 13} {
		cutRender(t, ntsc, "out.mov", 7, n, SoundCopy)
		cutRender(t, ntsc, "out.mp4", 7, n, SoundAAC)
	}
	if len(out.Chapters) != 2 || math.Abs(out.Chapters[0].End-0.2) > 0.002 {
		t.Errorf("chapters: %+v", out.Chapters)
	}
}
