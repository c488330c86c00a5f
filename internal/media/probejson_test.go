package media

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/picture"
)

// answer is a plain clip's, for tests to change.
func answer(change func(stream map[string]any, all map[string]any)) []byte {
	stream := map[string]any{
		"index": 0, "codec_name": "h264", "codec_type": "video", "pix_fmt": "yuv420p", "width": 1920, "height": 1080,
		"time_base": "1/12800", "r_frame_rate": "25/1", "avg_frame_rate": "25/1", "field_order": "progressive",
	}
	all := map[string]any{"streams": []any{stream}, "format": map[string]any{"format_name": "mov,mp4", "duration": "2.0"}}
	if change != nil {
		change(stream, all)
	}
	b, err := json.Marshal(all)
	if err != nil {
		panic(err)
	}
	return b
}

func TestContainersBearOurNames(t *testing.T) {
	for _, c := range []struct{ format, brand, id, name string }{
		{"mov,mp4,m4a,3gp,3g2,mj2", "qt  ", "mov", "MOV"},
		{"mov,mp4,m4a,3gp,3g2,mj2", "", "mov", "MOV"},
		{"mov,mp4,m4a,3gp,3g2,mj2", "isom", "mp4", "MP4"},
		{"mov,mp4,m4a,3gp,3g2,mj2", "3gp5", "3gp", "3GP"},
		{"matroska,webm", "", "matroska", "Matroska"},
		{"mxf", "", "mxf", "MXF"},
		{"mpegts", "", "mpegts", "MPEG transport stream"},
		{"something", "", "something", "something"},
	} {
		i, err := parseProbe(answer(func(_, all map[string]any) {
			all["format"] = map[string]any{
				"format_name": c.format, "format_long_name": "a long name of somebody's",
				"tags": map[string]any{"major_brand": c.brand},
			}
		}), "clip", 1)
		if err != nil {
			t.Fatal(err)
		}
		if i.Container != c.id || i.ContainerName != c.name {
			t.Errorf("%s %q: %q, %q", c.format, c.brand, i.Container, i.ContainerName)
		}
	}
}

func TestAssumptionsAreSaid(t *testing.T) {
	for _, c := range []struct {
		what   string
		change func(s, all map[string]any)
		want   Video
		notes  string
	}{
		{
			"nothing tagged, high definition", nil,
			Video{Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft},
			"range-assumed matrix-assumed",
		},
		{
			"nothing tagged, standard definition", func(s, _ map[string]any) { s["width"], s["height"] = 720, 576 },
			Video{Range: colour.Narrow, Matrix: colour.MatrixBT601, Siting: picture.SiteLeft},
			"range-assumed matrix-assumed",
		},
		{"all tagged", func(s, _ map[string]any) {
			s["color_range"], s["color_space"], s["chroma_location"] = "pc", "smpte170m", "center"
		}, Video{Range: colour.Full, RangeTagged: true, Matrix: colour.MatrixBT601, MatrixTagged: true, Siting: picture.SiteCentre, SitingTagged: true}, ""},
		{
			"wide gamut, 4:2:0", func(s, _ map[string]any) { s["color_range"], s["color_space"] = "tv", "bt2020nc" },
			Video{Range: colour.Narrow, RangeTagged: true, Matrix: colour.MatrixBT2020, MatrixTagged: true, Siting: picture.SiteTopLeft},
			"",
		},
		{
			"range by its storage", func(s, _ map[string]any) {
				s["pix_fmt"], s["codec_name"], s["color_space"] = "yuvj420p", "mjpeg", "bt470bg"
			},
			Video{Range: colour.Full, RangeTagged: true, Matrix: colour.MatrixBT601, MatrixTagged: true, Siting: picture.SiteCentre},
			"",
		},
		{"siting of a kind not supported", func(s, _ map[string]any) {
			s["color_range"], s["color_space"], s["chroma_location"] = "tv", "bt709", "bottomleft"
		}, Video{Range: colour.Narrow, RangeTagged: true, Matrix: colour.MatrixBT709, MatrixTagged: true, Siting: picture.SiteLeft}, "siting-assumed"},
		{"high dynamic range", func(s, _ map[string]any) {
			s["color_range"], s["color_space"], s["color_transfer"] = "tv", "bt709", "arib-std-b67"
		}, Video{Range: colour.Narrow, RangeTagged: true, Matrix: colour.MatrixBT709, MatrixTagged: true, Siting: picture.SiteLeft, HDR: true}, "hdr"},
	} {
		t.Run(c.what, func(t *testing.T) {
			i, err := parseProbe(answer(c.change), "a.mov", 1)
			if err != nil {
				t.Fatal(err)
			}
			v := i.Video
			got := Video{Range: v.Range, RangeTagged: v.RangeTagged, Matrix: v.Matrix, MatrixTagged: v.MatrixTagged, Siting: v.Siting, SitingTagged: v.SitingTagged, HDR: v.HDR}
			if !reflect.DeepEqual(got, c.want) {
				t.Errorf("got %+v\nwant %+v", got, c.want)
			}
			var codes []string
			for _, n := range i.Notes {
				codes = append(codes, n.Code)
			}
			if s := strings.Join(codes, " "); s != c.notes {
				t.Errorf("notes %q, want %q", s, c.notes)
			}
		})
	}
}

func TestOverrides(t *testing.T) {
	i, err := parseProbe(answer(nil), "a.mov", 1)
	if err != nil {
		t.Fatal(err)
	}
	f := i.FormatWith(Override{Range: colour.Full, Matrix: colour.MatrixBT2020, Siting: picture.SiteCentre})
	if f.Range != colour.Full || f.Matrix != colour.MatrixBT2020 || f.Siting != picture.SiteCentre || f.Width != 1920 {
		t.Errorf("%+v", f)
	}
}

// Numbers that make no sense are refused, not carried on.
func TestProbeNumbersRefused(t *testing.T) {
	for what, change := range map[string]func(s, all map[string]any){
		"infinite duration":  func(s, all map[string]any) { all["format"].(map[string]any)["duration"] = "inf" },
		"no number":          func(s, _ map[string]any) { s["duration"] = "nan" },
		"endless":            func(s, all map[string]any) { all["format"].(map[string]any)["start_time"] = "1e300" },
		"rate":               func(s, _ map[string]any) { s["r_frame_rate"] = "25" },
		"negative rate":      func(s, _ map[string]any) { s["avg_frame_rate"] = "-25/1" },
		"time base":          func(s, _ map[string]any) { s["time_base"] = "0/0" },
		"bit rate":           func(s, _ map[string]any) { s["bit_rate"] = "-5" },
		"no size":            func(s, _ map[string]any) { s["width"] = 0 },
		"negative size":      func(s, _ map[string]any) { s["height"] = -1080 },
		"constant luminance": func(s, _ map[string]any) { s["color_space"] = "bt2020c" },
		"no picture format":  func(s, _ map[string]any) { delete(s, "pix_fmt") },
		"no codec":           func(s, _ map[string]any) { delete(s, "codec_name") },
		"many streams":       func(s, all map[string]any) { all["streams"] = make([]map[string]any, maxStreams+1) },
	} {
		t.Run(what, func(t *testing.T) {
			_, err := parseProbe(answer(change), "a.mov", 1)
			f, ok := fault.As(err)
			if !ok || f.Class != fault.Input || !strings.HasPrefix(f.Message, "a.mov") {
				t.Fatalf("got %v", err)
			}
		})
	}
	for _, text := range []string{"", "{", `{"streams": 5}`, `[]`, `{"streams":[{"width":"wide"}]}`} {
		if _, err := parseProbe([]byte(text), "a.mov", 1); err == nil {
			t.Errorf("%q was accepted", text)
		}
	}
}

func TestHints(t *testing.T) {
	for _, c := range []struct {
		key, value string
		hint       bool
	}{
		{"com.example.gamma", "Log 2", true},
		{"recording_curve", "X-Log3", true},
		{"colour-space", "wide", true},
		{"picture.profile", "4", true},
		{"comment", "shot in zlog2, key lamp left", true},
		{"note", "HLG", true},
		{"capturegammaequation", "rec709", true},
		{"comment", "from my blog", false},
		{"comment", "see the catalogue", false},
		{"title", "Log cabin", false},
		{"make", "a maker", false},
		{"creation_time", "2026-01-01T00:00:00Z", false},
		{"encoder", "Lavf59", false},
		{"comment", "the login page of the dialog", false},
	} {
		if got := len(findHints("file", map[string]string{c.key: c.value})) == 1; got != c.hint {
			t.Errorf("%s=%s: hint %t, want %t", c.key, c.value, got, c.hint)
		}
	}
	a := []Hint{{"file", "Gamma", "Log  2"}, {"stream 0", "lut", "x"}}
	b := []Hint{{"stream 0", "LUT", "X"}, {"file", "gamma", "log 2"}, {"file", "gamma", "Log 2"}}
	if hintFingerprint(a) != hintFingerprint(b) {
		t.Error("order, case, blanks or repetition change the fingerprint")
	}
	if hintFingerprint(a) == hintFingerprint(a[:1]) || hintFingerprint(nil) != "" {
		t.Error("fingerprints do not tell hints apart")
	}
	// Kept by users' stores: it must not change from one version to the next. Made by this function, 2026.
	if got := hintFingerprint(a[:1]); got != "hint-57cc6e695fd86603" {
		t.Errorf("the fingerprint of gamma=log 2 is now %s", got)
	}
}

// Answers of ffprobe 5.1 as they were printed (-show_format -show_streams -show_chapters -of json=compact=1).
func TestRecordedAnswers(t *testing.T) {
	read := func(name string) (*Info, error) {
		b, err := os.ReadFile(filepath.Join("testdata", "probe", name+".json"))
		if err != nil {
			t.Fatal(err)
		}
		return parseProbe(b, name, 1000)
	}
	i, err := read("lesson.mov")
	if err != nil {
		t.Fatal(err)
	}
	if i.Timecode != "10:00:00;02" || i.Video.Bits != 10 || i.Video.Sub != picture.Sub422 || len(i.Audio) != 1 || len(i.Other) != 1 ||
		i.HintKey == "" || i.Tags["title"] != "Lesson" || i.Video.RateNominal != (Rational{30000, 1001}) || len(i.Notes) != 0 {
		t.Errorf("%+v", i)
	}
	if i, err = read("rotated.mov"); err != nil || i.Video.Rotation != 270 {
		t.Errorf("rotated: %v", err)
	}
	if i, err = read("hdr.mp4"); err != nil || !i.Video.HDR || i.Video.Primaries != "bt2020" {
		t.Errorf("hdr: %v", err)
	}
	if i, err = read("still.mkv"); err != nil || i.Video.Range != colour.Full || i.Video.Siting != picture.SiteCentre {
		t.Errorf("motion jpeg: %v", err)
	}
	_, err = read("sound.m4a")
	wantFault(t, err, fault.Input, "clip-audio-only")
}

func FuzzProbeJSON(f *testing.F) {
	names, err := filepath.Glob(filepath.Join("testdata", "probe", "*.json"))
	if err != nil || len(names) < 5 {
		f.Fatalf("%d seeds, %v", len(names), err)
	}
	for _, n := range names {
		b, err := os.ReadFile(n)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
	f.Add(answer(nil))
	f.Fuzz(func(t *testing.T, data []byte) {
		i, err := parseProbe(data, "a.mov", 1)
		if err != nil {
			if fl, ok := fault.As(err); ok && strings.ContainsAny(fl.Message, "\n\r\x00") {
				t.Fatalf("message of several lines: %q", fl.Message)
			}
			return
		}
		v := i.Video
		if v.Width < 1 || v.Width > maxSide || v.Height < 1 || v.Height > maxSide || v.TimeBase.Den <= 0 || v.SampleAspect.Den <= 0 {
			t.Fatalf("accepted: %+v", v)
		}
		if _, ok := pixelFormats[v.PixelFormat]; !ok || v.Range == "" || v.Matrix == "" || v.Siting == "" {
			t.Fatalf("accepted: %+v", v)
		}
		for _, x := range []float64{i.Start, i.Duration, v.Duration} {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				t.Fatalf("accepted a time of %g", x)
			}
		}
		if _, err := json.Marshal(i); err != nil {
			t.Fatal(err)
		}
	})
}
