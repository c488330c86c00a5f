package media

import (
	"fmt"
	"strings"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/picture"
)

// video reads the picture stream and refuses what cannot be read as Y′CbCr codes.
func (i *Info) video(p *probeReader, s *probeStream) error {
	v := &i.Video
	*v = Video{
		Index: s.Index, Codec: clip(s.CodecName), Profile: clip(strings.Trim(string(s.Profile), `"`)), PixelFormat: clip(s.PixFmt),
		Width: s.Width, Height: s.Height, CodedWidth: s.CodedWidth, CodedHeight: s.CodedHeight,
		Transfer: known(s.ColorTransfer), Primaries: known(s.ColorPrimaries), FieldOrder: clip(s.FieldOrder),
		RateNominal: p.ratio(s.RFrameRate, "/"), RateAverage: p.ratio(s.AvgFrameRate, "/"), TimeBase: p.ratio(s.TimeBase, "/"),
		SampleAspect: p.ratio(s.SampleAspect, ":"), StartTicks: s.StartPTS, Duration: p.seconds(s.Duration), BitRate: p.whole(s.BitRate),
	}
	if p.err != nil {
		return p.err
	}
	if v.Codec == "" || v.Codec == "none" {
		return fault.New(fault.Input, "clip-codec", "convert it to H.264, HEVC or an intra-frame MOV first", "%s: its codec (%s) is not known to ffmpeg", i.Path, orWord(clip(s.CodecTag), "no name"))
	}
	if s.PixFmt == "" {
		return fault.New(fault.Input, "clip-unreadable", "check that it was copied whole", "%s: no picture could be decoded from it", i.Path)
	}
	pf, ok := pixelFormats[s.PixFmt]
	if !ok {
		return pixelFault(i.Path, clip(s.PixFmt))
	}
	if v.Width < 1 || v.Height < 1 {
		return fault.New(fault.Input, "clip-unreadable", "check that it was copied whole", "%s: its picture has no size", i.Path)
	}
	if v.Width > maxSide || v.Height > maxSide {
		return fault.New(fault.Input, "clip-too-large", "scale it down first", "%s: a picture of %d × %d; at most %d × %d is read", i.Path, v.Width, v.Height, maxSide, maxSide)
	}
	switch v.FieldOrder {
	case "", "unknown", "progressive":
	default:
		return fault.New(fault.Input, "clip-interlaced", "record progressive, or de-interlace the clip first",
			"%s is interlaced (two half pictures in each frame): this cannot be graded without harm", i.Path)
	}
	if v.TimeBase.Num <= 0 || v.TimeBase.Den <= 0 {
		return fault.New(fault.Input, "clip-unreadable", "", "%s: its picture has no time base", i.Path)
	}
	if v.SampleAspect.Num <= 0 || v.SampleAspect.Den <= 0 {
		v.SampleAspect = Rational{1, 1}
	}
	v.Bits, v.Sub = pf.bits, pf.sub
	if pf.layout == planarA {
		i.note("alpha", "", "the picture has a transparency plane, which is not read")
	}
	i.range_(s, pf)
	if err := i.matrix(s); err != nil {
		return err
	}
	i.siting(s)
	switch v.Transfer {
	case "smpte2084", "arib-std-b67":
		v.HDR = true
		i.note("hdr", "state the recording curve in the grade", "the clip is tagged as high dynamic range ("+v.Transfer+"): a render is an ordinary BT.709 picture")
	}
	for _, d := range s.SideData {
		switch {
		case d.Matrix != "":
			m, err := parseDisplayMatrix(d.Matrix)
			if err != nil {
				return fmt.Errorf("%s: %w", i.Path, err)
			}
			if m != identityMatrix {
				v.Display = &m
				if v.Rotation, ok = rotationOf(m); !ok {
					i.note("display-matrix", "", "the clip is to be shown mirrored or at an odd angle: the picture is read as stored and a render keeps the instruction")
				} else if v.Rotation != 0 {
					i.note("rotated", "", fmt.Sprintf("the clip is to be shown turned by %d° clockwise: the picture is read as stored and a render keeps the instruction", v.Rotation))
				}
			}
		case strings.Contains(d.Type, "Mastering display") || strings.Contains(d.Type, "DOVI") || strings.Contains(d.Type, "Content light"):
			if !v.HDR {
				v.HDR = true
				i.note("hdr", "", "the clip carries high dynamic range data, which a render leaves out")
			}
		}
	}
	return nil
}

func (i *Info) range_(s *probeStream, pf pixelFormat) {
	v := &i.Video
	switch {
	case s.ColorRange == "pc" || s.ColorRange == "jpeg":
		v.Range, v.RangeTagged = colour.Full, true
	case s.ColorRange == "tv" || s.ColorRange == "mpeg":
		v.Range, v.RangeTagged = colour.Narrow, true
	case pf.full:
		v.Range, v.RangeTagged = colour.Full, true
	default:
		v.Range = colour.Narrow
		i.note("range-assumed", "override it if black and white land wrong", "the clip does not say its range: narrow is assumed")
	}
}

func (i *Info) matrix(s *probeStream) error {
	v := &i.Video
	v.MatrixTagged = true
	switch s.ColorSpace {
	case "bt709":
		v.Matrix = colour.MatrixBT709
	case "bt470bg", "smpte170m":
		v.Matrix = colour.MatrixBT601
	case "bt2020nc", "bt2020_ncl":
		v.Matrix = colour.MatrixBT2020
	case "", "unknown", "unspecified", "reserved":
		v.MatrixTagged = false
		v.Matrix = colour.MatrixBT709
		word := "BT.709, as for high definition"
		if v.Width < 1280 && v.Height < 720 { // common practice, no source
			v.Matrix, word = colour.MatrixBT601, "BT.601, as for standard definition"
		}
		i.note("matrix-assumed", "override it if colours come out wrong", "the clip does not say its matrix: "+word+", is assumed")
	case "gbr":
		return pixelFault(i.Path, "RGB")
	default:
		return fault.New(fault.Input, "clip-matrix", "convert it to BT.709 first", "%s: its matrix (%s) is not supported", i.Path, clip(s.ColorSpace))
	}
	return nil
}

// siting takes the tag, or the defaults of H.273 and of the codecs (design "Signals").
func (i *Info) siting(s *probeStream) {
	v := &i.Video
	v.SitingTagged = true
	switch s.ChromaLocation {
	case "left":
		v.Siting = picture.SiteLeft
	case "topleft":
		v.Siting = picture.SiteTopLeft
	case "center":
		v.Siting = picture.SiteCentre
	default:
		v.SitingTagged = false
		v.Siting = picture.SiteLeft
		switch {
		case v.Codec == "mjpeg" || strings.HasPrefix(v.PixelFormat, "yuvj") && v.Codec != "h264" && v.Codec != "hevc":
			v.Siting = picture.SiteCentre
		case v.Sub == picture.Sub420 && v.Matrix == colour.MatrixBT2020:
			v.Siting = picture.SiteTopLeft
		}
		if s.ChromaLocation != "" && s.ChromaLocation != "unspecified" && s.ChromaLocation != "unknown" {
			i.note("siting-assumed", "", fmt.Sprintf("chroma siting %q is not supported: %q is taken", clip(s.ChromaLocation), v.Siting))
		}
	}
	if v.Sub != picture.Sub420 && v.Siting == picture.SiteTopLeft {
		v.Siting = picture.SiteLeft // rows are not halved: the same thing
	}
}

func pixelFault(path, format string) error {
	hint := "convert it to 4:2:0, 4:2:2 or 4:4:4 video first"
	switch {
	case strings.HasPrefix(format, "gray") || strings.HasPrefix(format, "ya") || strings.HasPrefix(format, "mono"):
		return fault.New(fault.Input, "clip-grey", "there is no colour in it to grade", "%s: the picture has no chroma (4:0:0, %s)", path, format)
	case strings.HasPrefix(format, "bayer"):
		return fault.New(fault.Input, "clip-raw", "develop it to log video with the camera's own program first", "%s holds raw sensor data (%s), not video", path, format)
	case format == "RGB" || strings.Contains(format, "gbr") || strings.Contains(format, "rgb") || strings.Contains(format, "bgr") || format == "pal8" || strings.HasPrefix(format, "xyz"):
		return fault.New(fault.Input, "clip-rgb", hint, "%s: the picture is stored as RGB (%s), which is not supported", path, format)
	}
	return fault.New(fault.Input, "clip-pixels", hint, "%s: the picture's storage (%s) is not supported", path, format)
}
