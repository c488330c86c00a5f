package media

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/picture"
)

// Colour tags written are the ones read back, in every codec and container.
func TestTagsComeBack(t *testing.T) {
	t.Parallel()
	needFFmpeg(t)
	for _, c := range []struct {
		name      string
		codec     Codec
		f         picture.Format
		primaries string
		transfer  string
	}{
		{"a.mp4", CodecH264, format(64, 48, 8, picture.Sub420), "", ""},
		{"b.mov", CodecIntermediate, format(64, 48, 10, picture.Sub422), "", ""},
		{"c.mp4", CodecHEVC, format(64, 48, 10, picture.Sub420), "", ""},
		{"full.mp4", CodecH264, picture.Format{Width: 64, Height: 48, Bits: 8, Sub: picture.Sub420, Range: colour.Full, Matrix: colour.MatrixBT601, Siting: picture.SiteCentre}, "smpte170m", "smpte170m"},
		{"wide.mov", CodecHEVC, picture.Format{Width: 64, Height: 48, Bits: 10, Sub: picture.Sub420, Range: colour.Narrow, Matrix: colour.MatrixBT2020, Siting: picture.SiteTopLeft}, "bt2020", "bt2020-10"},
		{"full10.mov", CodecH264, picture.Format{Width: 64, Height: 48, Bits: 10, Sub: picture.Sub422, Range: colour.Full, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft}, "", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := makeClip(t, c.name, WriteOptions{Format: c.f, Codec: c.codec, Primaries: c.primaries, Transfer: c.transfer}, 5,
				func(i int) *picture.Frame { return drift(c.f, i) })
			info := probe(t, path)
			v := info.Video
			if got := info.Format(); got != c.f {
				t.Errorf("format %+v, want %+v", got, c.f)
			}
			if !v.RangeTagged || !v.MatrixTagged || c.f.Sub == picture.Sub420 && !v.SitingTagged {
				t.Errorf("tagged: range %t, matrix %t, siting %t", v.RangeTagged, v.MatrixTagged, v.SitingTagged)
			}
			if v.Primaries != or(c.primaries, "bt709") || v.Transfer != or(c.transfer, "bt709") {
				t.Errorf("primaries %q, transfer %q", v.Primaries, v.Transfer)
			}
			if v.Frames != 5 || v.Rate != (Rational{25, 1}) || v.VariableRate {
				t.Errorf("%d frames at %v, variable %t", v.Frames, v.Rate, v.VariableRate)
			}
			// The container says the same (ISO/IEC 14496-12, 12.1.5 "colr"), and its
			// table of contents stands in front, so that a film starts while it loads.
			b, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			kind := "nclx"
			if filepath.Ext(path) == ".mov" {
				kind = "nclc"
			}
			code := map[string]byte{"bt709": 1, "smpte170m": 6, "bt2020": 9, "bt2020-10": 14}
			matrix := map[colour.MatrixCoefficients]byte{colour.MatrixBT709: 1, colour.MatrixBT601: 6, colour.MatrixBT2020: 9}[c.f.Matrix]
			want := []byte{'c', 'o', 'l', 'r', kind[0], kind[1], kind[2], kind[3], 0, code[v.Primaries], 0, code[v.Transfer], 0, matrix}
			if !bytes.Contains(b, want) {
				t.Errorf("no colr of %q in the file", want)
			}
			if moov, mdat := bytes.Index(b, []byte("moov")), bytes.Index(b, []byte("mdat")); moov < 0 || moov > mdat {
				t.Errorf("moov at %d, mdat at %d", moov, mdat)
			}
			if len(info.Notes) != 0 {
				t.Errorf("notes on a file with all its tags: %+v", info.Notes)
			}
		})
	}
}

// 10-bit 4:2:2 in MOV can be decoded at the sizes where ffmpeg's writer would
// take it for a camera's own kind and leave the parameter sets out.
func TestTenBit422OfCommonSizes(t *testing.T) {
	t.Parallel()
	needFFmpeg(t)
	for _, c := range []struct {
		w, h  int
		codec Codec
	}{{1280, 720, CodecH264}, {1920, 1080, CodecIntermediate}, {3840, 2160, CodecIntermediate}} {
		f := format(c.w, c.h, 10, picture.Sub422)
		path := makeClip(t, "wide.mov", WriteOptions{Format: f, Codec: c.codec, Speed: SpeedFastest}, 2, func(i int) *picture.Frame { return drift(f, i) })
		got := readAll(t, path, ReadOptions{})
		if len(got) != 2 || got[0].Format != f {
			t.Errorf("%d×%d: %d frames of %+v", c.w, c.h, len(got), got[0].Format)
		}
	}
}

// The intermediate is made of frames that stand alone: each one can be read by itself.
func TestIntermediateStandsAlone(t *testing.T) {
	t.Parallel()
	f := format(96, 64, 10, picture.Sub422)
	path := makeClip(t, "edit.mov", WriteOptions{Format: f, Codec: CodecIntermediate}, 6, func(i int) *picture.Frame { return drift(f, i) })
	out, err := runTool(context.Background(), mustTool(t, "ffprobe"), []string{"-v", "error", "-show_entries", "packet=flags", "-of", "csv=p=0", path}, 1<<16)
	if err != nil {
		t.Fatal(err)
	}
	for i, line := range splitLines(out) {
		if line[0] != 'K' {
			t.Errorf("frame %d is no key frame (%s)", i, line)
		}
	}
	if p := probe(t, path).Video.Profile; p != "High 4:2:2 Intra" {
		t.Errorf("profile %q", p)
	}
	_, err = NewWriter(context.Background(), filepath.Join(t.TempDir(), "a.mov"), WriteOptions{Format: format(96, 64, 8, picture.Sub420), Rate: Rational{25, 1}, Codec: CodecIntermediate})
	wantFault(t, err, fault.Usage, "output-intermediate")
}
