package job

import (
	"context"
	"encoding/json"
	"math"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"lampwise/internal/fault"
	"lampwise/internal/grade"
	"lampwise/internal/media"
	"lampwise/internal/picture"
)

// lessonClip is a short log clip with sound and timecode, and a grade.
func lessonClip(t *testing.T, size, rate, timecode, seconds string) (clip, gradeFile string) {
	t.Helper()
	if _, err := exec.LookPath("ffmpeg"); err != nil {
		t.Skip("ffmpeg is not installed")
	}
	dir := t.TempDir()
	clip, gradeFile = filepath.Join(dir, "clip.mov"), filepath.Join(dir, "g.toml")
	args := []string{
		"-v", "error", "-f", "lavfi", "-i", "testsrc2=s=" + size + ":r=" + rate + ":d=" + seconds, "-f", "lavfi", "-i", "anoisesrc=r=48000:seed=1:d=" + seconds,
		"-vf", "lutyuv=y=val*0.5+60,noise=alls=4:allf=t,format=yuv422p10le", "-c:v", "libx264", "-preset", "ultrafast", "-crf", "10", "-g", "30",
		"-color_range", "tv", "-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709", "-c:a", "pcm_s16le",
	}
	if timecode != "" {
		args = append(args, "-timecode", timecode)
	}
	if out, err := exec.Command("ffmpeg", append(args, clip)...).CombinedOutput(); err != nil {
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

func TestDeliverMakesSeveralFilesFromOneDecoding(t *testing.T) {
	clip, g := lessonClip(t, "240x136", "30000/1001", "01:00:58;20", "3")
	folder := t.TempDir()
	in := func(name string) string { return filepath.Join(folder, name) }
	var outputs []Delivery
	for _, p := range Presets {
		d, err := PresetDelivery(p.Name, in(p.Name+p.Kind))
		if err != nil {
			t.Fatal(err)
		}
		d.Speed = media.SpeedFastest
		if p.Name == "web-1080p" {
			d.Width, d.Height = 160, 90 // the example is small: so is what it must fit within
		}
		outputs = append(outputs, d)
	}
	var told *Estimate
	done, err := Deliver(context.Background(), DeliverRequest{
		Clip: clip, Grade: g, Outputs: outputs, From: "01:00:59;10", To: "01:01:00;22", Told: func(e Estimate) { told = &e },
	}, nil)
	if err != nil {
		t.Fatal(err)
	}
	// From 59;10 to 00;22, two numbers dropped at the minute: 20 + 20 frames.
	if done.First != 20 || done.Frames != 40 || done.Timecode != "01:00:59;10" {
		t.Errorf("frames from %d, %d of them, at %s", done.First, done.Frames, done.Timecode)
	}
	if told == nil || told.Bytes <= 0 || told.Seconds <= 0 {
		t.Errorf("estimate %+v", told)
	}
	for i, want := range []struct {
		pixels        string
		width, height int
		codec, tag    string
		// In mediainfo's words.
		format, depth, chroma, sound string
	}{
		{"yuv420p", 158, 90, "h264", "aac", "AVC", "8", "4:2:0", "AAC"},
		{"yuv420p", 240, 136, "h264", "aac", "AVC", "8", "4:2:0", "AAC"},
		{"yuv420p10le", 240, 136, "hevc", "aac", "HEVC", "10", "4:2:0", "AAC"},
		{"yuv422p10le", 240, 136, "h264", "pcm_s16le", "AVC", "10", "4:2:2", "PCM"},
	} {
		f := done.Files[i]
		info, err := media.Probe(context.Background(), f.File)
		if err != nil {
			t.Fatal(err)
		}
		v := info.Video
		if v.PixelFormat != want.pixels || v.Width != want.width || v.Height != want.height || v.Codec != want.codec || info.Audio[0].Codec != want.tag {
			t.Errorf("%s: %s %d×%d %s, sound %s", f.Preset, v.PixelFormat, v.Width, v.Height, v.Codec, info.Audio[0].Codec)
		}
		if v.Frames != 40 || info.Timecode != "01:00:59;10" {
			t.Errorf("%s: %d frames, timecode %q", f.Preset, v.Frames, info.Timecode)
		}
		byMediainfo(t, f.File, map[string]map[string]string{
			"Video": {
				"Format": want.format, "BitDepth": want.depth, "ChromaSubsampling": want.chroma, "Width": strconv.Itoa(want.width), "Height": strconv.Itoa(want.height), "FrameCount": "40", "FrameRate": "29.970",
				"colour_range": "Limited", "colour_primaries": "BT.709", "transfer_characteristics": "BT.709", "matrix_coefficients": "BT.709",
			},
			"Audio": {"Format": want.sound, "SamplingRate": "48000", "Channels": "1"},
			"Other": {"TimeCode_FirstFrame": "01:00:59;10"},
		})
		if i == 1 || i == 2 {
			continue // the first is of another size, the last of the clip's: the exact comparison takes its time
		}
		// Verify knows which part and size it is, and finds the exact picture there.
		checked, err := Verify(context.Background(), VerifyRequest{File: f.File, Source: clip, Grade: g}, nil)
		if err != nil {
			t.Fatal(err)
		}
		if !checked.OK || checked.Compared == nil || !checked.Compared.SameCodec {
			t.Errorf("%s: %+v", f.Preset, checked.Problems)
		} else {
			t.Logf("%s: ΔE00 %.2f in the mean (codec alone %.2f), arithmetic %.3f at most, sound %.2f ms after the picture", f.Preset, checked.MeanDE00, checked.Compared.CodecMean, checked.Compared.ArithMax, 1000*f.SoundStart)
		}
	}
	if left := leftoversOf(t, folder); len(left) != len(outputs) {
		t.Errorf("left: %v", left)
	}

	// Another stretch, or another size, does not pass as this one.
	moved := outputs[1]
	moved.Out, moved.Preset = in("moved.mp4"), ""
	if _, err := Deliver(context.Background(), DeliverRequest{Clip: clip, Grade: g, Outputs: []Delivery{moved}, From: "01:00:59;11", To: "01:01:00;23"}, nil); err != nil {
		t.Fatal(err)
	}
	wrong := in("wrong.mp4")
	if out, err := exec.Command("ffmpeg", "-v", "error", "-i", moved.Out, "-c", "copy", "-metadata", "comment="+commentOf(t, done.Files[1].File), wrong).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	checked, err := Verify(context.Background(), VerifyRequest{File: wrong, Source: clip, Grade: g}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if checked.OK {
		t.Error("a stretch one frame off passed")
	}
}

func commentOf(t *testing.T, file string) string {
	t.Helper()
	info, err := media.Probe(context.Background(), file)
	if err != nil {
		t.Fatal(err)
	}
	return info.Tags["comment"]
}

// byMediainfo asks another program than ffprobe, where it is installed (make test
// sees to that), for facts by kind of track, in its own words.
func byMediainfo(t *testing.T, file string, want map[string]map[string]string) {
	t.Helper()
	if _, err := exec.LookPath("mediainfo"); err != nil {
		t.Log("mediainfo is not installed: the container was checked by ffprobe alone")
		return
	}
	out, err := exec.Command("mediainfo", "--Output=JSON", file).Output()
	if err != nil {
		t.Fatal(err)
	}
	var a struct {
		Media struct {
			Track []map[string]any `json:"track"`
		} `json:"media"`
	}
	if err := json.Unmarshal(out, &a); err != nil {
		t.Fatal(err)
	}
	found := map[string]bool{}
	for _, track := range a.Media.Track {
		kind, _ := track["@type"].(string)
		for key, want := range want[kind] {
			if track[key] != want {
				t.Errorf("mediainfo says %s %v of %s's %s, not %s", key, track[key], file, kind, want)
			}
		}
		found[kind] = true
	}
	for kind := range want {
		if !found[kind] {
			t.Errorf("mediainfo finds no %s in %s", kind, file)
		}
	}
}

func leftoversOf(t *testing.T, folder string) []string {
	t.Helper()
	names, err := filepath.Glob(filepath.Join(folder, "*"))
	if err != nil {
		t.Fatal(err)
	}
	hidden, err := filepath.Glob(filepath.Join(folder, ".*"))
	if err != nil {
		t.Fatal(err)
	}
	return append(names, hidden...)
}

func TestStretchOf(t *testing.T) {
	clip, _ := lessonClip(t, "64x36", "25", "23:59:59:00", "3")
	info, err := media.Probe(context.Background(), clip)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		from, to     string
		first, count int
		timecode     string
	}{
		{"", "", 0, 75, "23:59:59:00"},
		{"00:00:00:00", "", 25, 50, "00:00:00:00"}, // past midnight
		{"0.5", "1.0", 13, 12, "23:59:59:13"},      // 12.5 frames: half way goes on
		{"0:00.52", "", 13, 62, "23:59:59:13"},
		{"23:59:59:24", "00:00:00:01", 24, 2, "23:59:59:24"},
		{"", "3", 0, 75, "23:59:59:00"},
	} {
		s, err := stretchOf(info, c.from, c.to)
		if err != nil || s.first != c.first || s.count != c.count || s.timecode != c.timecode {
			t.Errorf("%q to %q: %+v, %v", c.from, c.to, s, err)
		}
		if want := float64(c.count) / 25; math.Abs(s.length(info)-want) > 1e-6 {
			t.Errorf("%q to %q lasts %g s, not %g", c.from, c.to, s.length(info), want)
		}
	}
	for _, c := range [][2]string{{"1", "1"}, {"2", "1"}, {"9", ""}, {"", "9"}, {"12:00:00:00", ""}, {"00:00:00;00", ""}, {"x", ""}, {"00:00:02:00", ""}} {
		_, err := stretchOf(info, c[0], c[1])
		if f, ok := fault.As(err); !ok || f.Class != fault.Usage || strings.Contains(f.Message, "\n") {
			t.Errorf("%v: %v", c, err)
		}
	}
}

func TestDeliverMistakes(t *testing.T) {
	if _, err := PresetDelivery("web-1080", "x.mp4"); err == nil || !strings.Contains(err.Error(), "web-1080") {
		t.Errorf("%v", err)
	}
	clip, g := lessonClip(t, "64x36", "25", "", "1")
	folder := t.TempDir()
	out := filepath.Join(folder, "a.mp4")
	for name, outputs := range map[string][]Delivery{
		"none":       {},
		"twice":      {{Out: out}, {Out: out}},
		"pcm":        {{Out: out, Sound: media.SoundCopy}},
		"kind":       {{Out: filepath.Join(folder, "a.webm")}},
		"odd filter": {{Out: out, Sound: media.SoundNone, Width: 32, Height: 18, Filter: "box"}},
	} {
		_, err := Deliver(context.Background(), DeliverRequest{Clip: clip, Grade: g, Outputs: outputs}, nil)
		if f, ok := fault.As(err); !ok || f.Class != fault.Usage {
			t.Errorf("%s: %v", name, err)
		}
	}
	if left := leftoversOf(t, folder); len(left) > 0 {
		t.Errorf("left: %v", left)
	}
}

func TestMadeNote(t *testing.T) {
	n := madeNote{first: 12, count: 40, width: 1920, height: 1080, filter: picture.FilterCubic}
	if got, ok := parseMade("lampwise codec=h264 grade=ab" + n.String()); !ok || got != n {
		t.Errorf("%+v, %v", got, ok)
	}
	for _, s := range []string{"", " first=1", " first=-1 count=2 size=2x2 filter=cubic", " first=1 count=0 size=2x2 filter=cubic", " first=x count=2 size=2x2 filter=cubic"} {
		if _, ok := parseMade(s); ok {
			t.Errorf("%q was read", s)
		}
	}
}
