package media

import (
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// Colour tags written are the ones read back, in every codec and container.
func TestTagsComeBack(t *testing.T) {
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
			if len(info.Notes) != 0 {
				t.Errorf("notes on a file with all its tags: %+v", info.Notes)
			}
		})
	}
}
