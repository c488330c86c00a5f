package media

import (
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/picture"
)

// Maxima of what is taken from ffprobe.
const (
	maxStreams  = 256
	maxChapters = 10_000
	maxTags     = 256
	maxTagText  = 1000 // bytes; longer values are cut
	maxSeconds  = 1e8  // three years
)

// The shape of ffprobe's answer, as far as it is used (ffprobe 5.1, -of json).
type probeAnswer struct {
	Streams []probeStream `json:"streams"`
	Format  struct {
		FormatName string    `json:"format_name"`
		LongName   string    `json:"format_long_name"`
		Start      string    `json:"start_time"`
		Duration   string    `json:"duration"`
		BitRate    string    `json:"bit_rate"`
		Tags       probeTags `json:"tags"`
	} `json:"format"`
	Chapters []struct {
		Start string    `json:"start_time"`
		End   string    `json:"end_time"`
		Tags  probeTags `json:"tags"`
	} `json:"chapters"`
}

type probeStream struct {
	Index          int             `json:"index"`
	CodecName      string          `json:"codec_name"`
	CodecType      string          `json:"codec_type"`
	CodecTag       string          `json:"codec_tag_string"`
	Profile        json.RawMessage `json:"profile"`
	PixFmt         string          `json:"pix_fmt"`
	Width          int             `json:"width"`
	Height         int             `json:"height"`
	CodedWidth     int             `json:"coded_width"`
	CodedHeight    int             `json:"coded_height"`
	SampleAspect   string          `json:"sample_aspect_ratio"`
	FieldOrder     string          `json:"field_order"`
	ColorRange     string          `json:"color_range"`
	ColorSpace     string          `json:"color_space"`
	ColorTransfer  string          `json:"color_transfer"`
	ColorPrimaries string          `json:"color_primaries"`
	ChromaLocation string          `json:"chroma_location"`
	RFrameRate     string          `json:"r_frame_rate"`
	AvgFrameRate   string          `json:"avg_frame_rate"`
	TimeBase       string          `json:"time_base"`
	StartPTS       int64           `json:"start_pts"`
	StartTime      string          `json:"start_time"`
	Duration       string          `json:"duration"`
	BitRate        string          `json:"bit_rate"`
	SampleRate     string          `json:"sample_rate"`
	Channels       int             `json:"channels"`
	ChannelLayout  string          `json:"channel_layout"`
	BitsPerSample  int             `json:"bits_per_sample"`
	Frames         string          `json:"nb_frames"`
	Disposition    map[string]int  `json:"disposition"`
	Tags           probeTags       `json:"tags"`
	SideData       []struct {
		Type   string `json:"side_data_type"`
		Matrix string `json:"displaymatrix"`
	} `json:"side_data_list"`
}

type probeTags map[string]string

// parseProbe reads ffprobe's answer for the file at path of size bytes. Every
// refusal is a fault of class Input that begins with the path.
func parseProbe(data []byte, path string, size int64) (*Info, error) {
	var a probeAnswer
	if err := json.Unmarshal(data, &a); err != nil {
		return nil, fmt.Errorf("%s: ffprobe's answer cannot be read: %w", path, err)
	}
	if len(a.Streams) > maxStreams {
		return nil, fault.New(fault.Input, "clip-too-large", "", "%s: %d streams, at most %d are read", path, len(a.Streams), maxStreams)
	}
	if len(a.Chapters) > maxChapters {
		return nil, fault.New(fault.Input, "clip-too-large", "", "%s: %d chapters, at most %d are read", path, len(a.Chapters), maxChapters)
	}
	p := probeReader{path: path}
	i := &Info{
		Path: path, SizeBytes: size,
		Container: clip(a.Format.FormatName), ContainerName: clip(a.Format.LongName),
		Start: p.seconds(a.Format.Start), Duration: p.seconds(a.Format.Duration), BitRate: p.whole(a.Format.BitRate),
		Tags: p.tags(a.Format.Tags), Audio: []Audio{}, Chapters: []Chapter{}, Other: []Stream{}, Hints: []Hint{}, Notes: []Note{},
	}
	chosen := chooseVideo(a.Streams)
	for n := range a.Streams {
		s := &a.Streams[n]
		tags := p.tags(s.Tags)
		switch {
		case n == chosen:
			if isStill(a.Format.FormatName) {
				return nil, fault.New(fault.Input, "clip-is-still", "give a clip; a still is read by `lampwise check`", "%s is a still picture, not a clip", path)
			}
			if err := i.video(&p, s); err != nil {
				return nil, err
			}
			i.Hints = append(i.Hints, findHints(fmt.Sprintf("stream %d", s.Index), tags)...)
			i.timecode(tags)
			i.promised = int(min(p.whole(s.Frames), maxPackets))
			i.lasts = clock(tags["duration"])
		case s.CodecType == "audio":
			i.Audio = append(i.Audio, Audio{
				Index: s.Index, Codec: clip(s.CodecName), Rate: int(p.whole(s.SampleRate)), Channels: s.Channels, Layout: clip(s.ChannelLayout),
				Bits: s.BitsPerSample, Start: p.seconds(s.StartTime), Duration: p.seconds(s.Duration), BitRate: p.whole(s.BitRate), Tags: tags,
			})
			i.timecode(tags)
		default:
			i.Other = append(i.Other, Stream{Index: s.Index, Kind: clip(s.CodecType), Codec: clip(s.CodecName), Tag: clip(s.CodecTag), Tags: tags})
			i.timecode(tags)
		}
	}
	if p.err != nil {
		return nil, p.err
	}
	if chosen < 0 {
		if len(i.Audio) > 0 {
			return nil, fault.New(fault.Input, "clip-audio-only", "give the clip with the picture", "%s has sound but no picture", path)
		}
		return nil, fault.New(fault.Input, "clip-no-video", "check that it is a video file", "%s has no picture in it", path)
	}
	i.timecode(i.Tags)
	i.Hints = append(findHints("file", i.Tags), i.Hints...)
	i.HintKey = hintFingerprint(i.Hints)
	for _, c := range a.Chapters {
		i.Chapters = append(i.Chapters, Chapter{Start: p.seconds(c.Start), End: p.seconds(c.End), Title: clip(c.Tags["title"])})
	}
	for _, s := range i.Other {
		if s.Kind == "video" && s.Codec != "mjpeg" && s.Codec != "png" {
			i.note("more-video", "", fmt.Sprintf("the file has a further picture track (stream %d): only stream %d is read", s.Index, i.Video.Index))
		}
	}
	for _, a := range i.Audio {
		if !a.copied() {
			i.note("sound-left-out", "", fmt.Sprintf("the sound in stream %d is of a kind ffmpeg does not know: a render leaves it out", a.Index))
		}
	}
	if n := i.leftOut(); n > 0 {
		i.note("streams-left-out", "", fmt.Sprintf("%d further stream(s) (subtitles, the camera's own data) are not carried into a render", n))
	}
	return i, p.err
}

// copied is true for sound that ffmpeg can copy.
func (a Audio) copied() bool { return a.Codec != "" && a.Codec != "unknown" && a.Codec != "none" }

// leftOut counts the streams a render does not carry on in any form: timecode
// and chapters are written anew, cover pictures are not part of the film.
func (i *Info) leftOut() int {
	n := 0
	for _, s := range i.Other {
		switch {
		case s.Kind == "video", s.Tag == "tmcd":
		case s.Codec == "bin_data" && s.Tag == "text" && len(i.Chapters) > 0:
		default:
			n++
		}
	}
	return n
}

// timecode keeps the first one found.
func (i *Info) timecode(tags map[string]string) {
	if t := tags["timecode"]; i.Timecode == "" && t != "" {
		i.Timecode = t
	}
}

// chooseVideo picks the picture: the first video stream that is no cover picture, a default one before others.
func chooseVideo(streams []probeStream) int {
	chosen := -1
	for n, s := range streams {
		if s.CodecType != "video" || s.Disposition["attached_pic"] != 0 || s.Disposition["timed_thumbnails"] != 0 {
			continue
		}
		if chosen < 0 || s.Disposition["default"] != 0 && streams[chosen].Disposition["default"] == 0 {
			chosen = n
		}
	}
	return chosen
}

func isStill(format string) bool {
	return format == "image2" || strings.HasSuffix(format, "_pipe") && format != "yuv4mpegpipe" || format == "gif"
}

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

// probeReader reads the numbers of an answer; the first error stays.
type probeReader struct {
	path string
	err  error
}

func (p *probeReader) fail(what, got string) {
	if p.err == nil {
		p.err = fault.New(fault.Input, "clip-unreadable", "check that it was copied whole", "%s: %s %q makes no sense", p.path, what, clip(got))
	}
}

// seconds reads a time; absent ones are 0.
func (p *probeReader) seconds(s string) float64 {
	if s == "" || s == "N/A" {
		return 0
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsNaN(v) || math.Abs(v) > maxSeconds {
		p.fail("time", s)
		return 0
	}
	return v
}

// clock reads a Matroska duration tag, "00:00:02.040000000"; 0 for anything else.
func clock(s string) float64 {
	var h, m int
	var sec float64
	if n, err := fmt.Sscanf(s, "%d:%d:%f", &h, &m, &sec); n != 3 || err != nil || h < 0 || h > 10_000 || m < 0 || m > 59 || !(sec >= 0 && sec < 60) {
		return 0
	}
	return float64(h)*3600 + float64(m)*60 + sec
}

// whole reads a count; absent ones are 0.
func (p *probeReader) whole(s string) int64 {
	if s == "" || s == "N/A" {
		return 0
	}
	v, err := strconv.ParseInt(s, 10, 64)
	if err != nil || v < 0 || v > 1<<50 {
		p.fail("number", s)
		return 0
	}
	return v
}

// ratio reads "30000/1001"; absent ones and 0/0 are zero.
func (p *probeReader) ratio(s, by string) Rational {
	if s == "" || s == "N/A" {
		return Rational{}
	}
	a, b, ok := strings.Cut(s, by)
	num, err1 := strconv.ParseInt(a, 10, 64)
	den, err2 := strconv.ParseInt(b, 10, 64)
	if !ok || err1 != nil || err2 != nil || num < 0 || den < 0 || num > math.MaxInt32 || den > math.MaxInt32 {
		p.fail("fraction", s)
		return Rational{}
	}
	return Rational{num, den}
}

func (p *probeReader) tags(in probeTags) map[string]string {
	if len(in) == 0 {
		return nil
	}
	if len(in) > maxTags {
		p.fail("number of tags", strconv.Itoa(len(in)))
		return nil
	}
	out := make(map[string]string, len(in))
	for k, v := range in {
		out[strings.ToLower(clip(k))] = clip(v)
	}
	return out
}

// clip cuts a text to what is kept and takes control characters out.
func clip(s string) string {
	if len(s) > maxTagText {
		s = strings.ToValidUTF8(s[:maxTagText], "") + "…"
	}
	return strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f {
			return ' '
		}
		return r
	}, s)
}

func known(s string) string {
	switch s {
	case "unknown", "unspecified", "reserved":
		return ""
	}
	return clip(s)
}

func orWord(s, word string) string {
	if s == "" {
		return word
	}
	return s
}

// rateText is a rate to three figures: "25", "29.970".
func rateText(r Rational) string {
	if r.Den == 1 {
		return strconv.FormatInt(r.Num, 10)
	}
	return strconv.FormatFloat(r.Float(), 'f', 3, 64)
}
