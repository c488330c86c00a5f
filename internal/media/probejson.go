package media

import (
	"encoding/json"
	"fmt"
	"strings"

	"lampwise/internal/fault"
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
		Start: p.seconds(a.Format.Start), Duration: p.seconds(a.Format.Duration), BitRate: p.whole(a.Format.BitRate),
		Tags: p.tags(a.Format.Tags), Audio: []Audio{}, Chapters: []Chapter{}, Other: []Stream{}, Hints: []Hint{}, Notes: []Note{},
	}
	i.Container, i.ContainerName = containerOf(clip(a.Format.FormatName), i.Tags)
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
