package media

import (
	"path/filepath"
	"sort"
	"strconv"
	"strings"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/picture"
)

// Constant qualities taken when none is given. Common practice, no source: 18
// is held to be hard to tell from the original; the intermediate is to be
// worked on further.
const (
	usualQuality        = 18
	intermediateQuality = 12
)

// CheckWrite says what a writer of these options would refuse, before anything is done.
func CheckWrite(path string, o WriteOptions) error {
	_, err := o.check(path)
	return err
}

// check finds out whether the options fit together, and the container ("mov" or "mp4").
func (o *WriteOptions) check(path string) (string, error) {
	f := o.Format
	container := ""
	switch ext := strings.ToLower(filepath.Ext(path)); ext {
	case ".mov":
		container = "mov"
	case ".mp4", ".m4v":
		container = "mp4"
	default:
		return "", fault.New(fault.Usage, "output-kind", "name it .mp4 or .mov", "%s: a film is written as .mp4 or .mov, not %q", path, ext)
	}
	usage := func(code, hint, format string, args ...any) (string, error) {
		return "", fault.New(fault.Usage, code, hint, path+": "+format, args...)
	}
	if f.Width < 1 || f.Height < 1 || f.Width > maxSide || f.Height > maxSide {
		return usage("output-size", "", "a picture of %d × %d cannot be written", f.Width, f.Height)
	}
	if f.Bits != 8 && f.Bits != 10 {
		return usage("output-bits", "choose 8 or 10 bits", "%d bits cannot be written", f.Bits)
	}
	switch f.Sub {
	case picture.Sub420, picture.Sub422, picture.Sub444:
	default:
		return usage("output-chroma", "choose 4:2:0, 4:2:2 or 4:4:4", "chroma %q cannot be written", f.Sub)
	}
	if f.Sub != picture.Sub444 && f.Width%2 != 0 || f.Sub == picture.Sub420 && f.Height%2 != 0 {
		return usage("output-odd", "write it as 4:4:4, or give the clip an even width and height",
			"an odd picture (%d × %d) cannot be stored as %s", f.Width, f.Height, f.Sub)
	}
	switch o.Codec {
	case CodecH264, CodecHEVC:
	case CodecIntermediate:
		if f.Sub != picture.Sub422 || f.Bits != 10 {
			return usage("output-intermediate", "choose 4:2:2 and 10 bits", "the intermediate holds 10-bit 4:2:2 only")
		}
		if container != "mov" {
			return usage("output-kind", "name it .mov", "the intermediate is a .mov file")
		}
		if o.Lossless {
			return usage("output-lossless", "choose h264 or hevc", "the intermediate is not lossless")
		}
	default:
		return usage("output-codec", "choose h264, hevc or intermediate", "codec %q is not known", o.Codec)
	}
	if _, ok := presets[o.Speed]; !ok {
		return usage("output-speed", "choose fastest, fast, medium or slow", "speed %q is not known", o.Speed)
	}
	if !(o.Quality >= 0 && o.Quality <= 51) {
		return usage("output-quality", "choose a number from 0 (best) to 51", "quality %g is not possible", o.Quality)
	}
	if o.BitRate < 0 || o.BitRate > 2_000_000_000 {
		return usage("output-bitrate", "give bits per second, at most 2 000 000 000", "bit rate %d is not possible", o.BitRate)
	}
	if o.Rate.Num <= 0 || o.Rate.Den <= 0 || o.Rate.Num > 1<<31-1 || o.Rate.Den > 1<<31-1 || o.Rate.Float() > 1000 {
		return usage("output-rate", "", "a frame rate of %s is not possible", o.Rate)
	}
	if o.Variable && (o.TimeBase.Num <= 0 || o.TimeBase.Den <= 0) {
		return usage("output-rate", "", "a variable rate needs a time base")
	}
	if _, ok := matrixNames[f.Matrix]; !ok {
		return usage("output-matrix", "choose bt709, bt601 or bt2020ncl", "matrix %q is not known", f.Matrix)
	}
	if _, ok := rangeNames[f.Range]; !ok {
		return usage("output-range", "choose narrow or full", "range %q is not known", f.Range)
	}
	if _, ok := sitingNames[f.Siting]; !ok {
		return usage("output-siting", "choose left, topleft or centre", "chroma siting %q is not known", f.Siting)
	}
	for k := range o.Tags {
		if k == "" || strings.ContainsAny(k, "=\x00") {
			return usage("output-tag", "", "%q cannot be a tag's name", k)
		}
	}
	switch o.Sound {
	case "", SoundCopy, SoundAAC, SoundNone:
	default:
		return usage("output-sound", "choose copy, aac or none", "sound %q is not known", o.Sound)
	}
	if c := o.Cut; c != nil && !(c.From >= 0 && c.Length > 0 && c.From < 1e7 && c.Length < 1e7) {
		return usage("output-cut", "", "a stretch of %g s from %g s is not possible", c.Length, c.From)
	}
	if o.Threads < 0 {
		return usage("output-threads", "0 leaves the number to the encoder", "%d threads are not possible", o.Threads)
	}
	if err := o.checkSound(path, container); err != nil {
		return "", err
	}
	return container, nil
}

// ffmpeg's presets for our speeds.
var presets = map[Speed]string{"": "veryfast", SpeedFastest: "ultrafast", SpeedFast: "veryfast", SpeedMedium: "medium", SpeedSlow: "slow"}

// ffmpeg's names of the H.273 values.
var (
	matrixNames = map[colour.MatrixCoefficients]string{
		colour.MatrixBT709: "bt709", colour.MatrixBT601: "smpte170m", colour.MatrixBT2020: "bt2020nc",
	}
	rangeNames  = map[colour.Range]string{colour.Narrow: "tv", colour.Full: "pc"}
	sitingNames = map[picture.Siting]string{picture.SiteLeft: "left", picture.SiteTopLeft: "topleft", picture.SiteCentre: "center"}
)

// Tags of the source that are kept: what the film is, not how or where it was
// recorded (a recording curve's tag would be wrong for the result, a place is
// not to be published unasked).
var keptTags = []string{"title", "artist", "author", "album", "copyright", "date", "creation_time", "description", "synopsis", "genre", "keywords"}

// arguments is the encoder's whole command. The colour tags stand on both
// sides: an output tag that differs from the input's makes newer ffmpegs
// convert the picture.
func (o *WriteOptions) arguments(container, temp string, base Rational, v Version) []string {
	a := []string{"-hide_banner", "-nostdin", "-y", "-v", "error", "-xerror", "-copyts"}
	tags := []string{
		"-color_range", rangeNames[o.Format.Range], "-colorspace", matrixNames[o.Format.Matrix],
		"-color_primaries", or(o.Primaries, "bt709"), "-color_trc", or(o.Transfer, "bt709"),
		"-chroma_sample_location", sitingNames[o.Format.Siting],
	}
	a = append(a, tags...)
	// Everything there is to know of the raw stream stands in its header.
	a = append(a, "-fpsprobesize", "0", "-analyzeduration", "0", "-probesize", "32", "-f", "nut", "-i", "pipe:0")
	if s := o.Source; s != nil {
		a = append(a, inputGuards()...)
		if c := o.Cut; c != nil {
			if o.Sound != SoundAAC {
				a = append(a, "-ss", seconds(c.From))
			}
			a = append(a, "-itsoffset", seconds(-s.Start-c.From))
		} else if s.Start != 0 {
			a = append(a, "-itsoffset", seconds(-s.Start))
		}
		a = append(a, "-i", fileURL(s.Path))
	}
	a = append(a, "-map", "0:v:0")
	if o.Source != nil && o.Sound != SoundNone {
		for _, s := range o.Source.Audio {
			if s.copied() {
				a = append(a, "-map", "1:"+strconv.Itoa(s.Index))
			}
		}
	}
	// Tags of the file as a whole are chosen below; those of sound and chapters come along.
	a = append(a, "-map_metadata:g", "-1")
	if o.Source != nil && len(o.Source.Chapters) > 0 {
		a = append(a, "-map_chapters", "1")
	} else {
		a = append(a, "-map_chapters", "-1")
	}
	a = append(a, o.soundCodec()...)
	if c := o.Cut; c != nil && o.Source != nil {
		// A quarter of a frame less, so that no rounding lets another packet in; not
		// half of one, which ffmpeg rounds to whole ticks, here whole frames.
		a = append(a, "-t", seconds(c.Length-0.25/o.Rate.Float()))
		if o.Sound == "" || o.Sound == SoundCopy {
			a = append(a, "-copypriorss:a", "0") // no packet that begins before the stretch
		}
	}
	a = append(a, "-fps_mode:v", "passthrough", "-enc_time_base:v", demuxTimeBase(v), "-max_muxing_queue_size", "65536")
	a = append(a, o.encoder()...)
	a = append(a, tags...)
	if container == "mp4" && o.copies("flac") {
		a = append(a, "-strict", "experimental") // what ffmpeg before 6 holds FLAC in MP4 for
	}
	if o.Threads > 0 {
		a = append(a, "-threads:v", strconv.Itoa(o.Threads))
	}
	if o.Variable && base.Num == 1 && base.Den >= 1000 && base.Den <= 1<<31-1 {
		a = append(a, "-video_track_timescale", strconv.FormatInt(base.Den, 10))
	}
	if t := o.timecode(); t != "" {
		a = append(a, "-timecode", t, "-write_tmcd", "1")
	}
	for _, kv := range o.metadata() {
		a = append(a, "-metadata", kv)
	}
	// A picture that begins after the sound is placed in ticks of the movie's
	// own clock, which is a rough millisecond if left alone.
	a = append(a, "-movie_timescale", "90000")
	return append(a, "-movflags", "+faststart+write_colr", "-f", container, fileURL(temp))
}

// aacRate is the bit rate a channel of sound that is encoded anew. Common
// practice, no source: at it speech is held to be hard to tell from the original.
const aacRate = 128_000

func (o *WriteOptions) soundCodec() []string {
	if o.Sound != SoundAAC || o.Source == nil {
		return []string{"-c:a", "copy"}
	}
	a := []string{"-c:a", "aac"}
	if c := o.Cut; c != nil {
		// Decoded from the beginning and cut by its time, not by a jump in the file.
		a = append(a, "-filter:a", "atrim=start=0:end="+seconds(c.Length))
	}
	for i, s := range o.Source.Audio {
		a = append(a, "-b:a:"+strconv.Itoa(i), strconv.Itoa(aacRate*max(1, min(s.Channels, 8))))
	}
	return a
}

func (o *WriteOptions) encoder() []string {
	pixels := map[picture.Subsampling]string{picture.Sub420: "yuv420p", picture.Sub422: "yuv422p", picture.Sub444: "yuv444p"}[o.Format.Sub]
	if o.Format.Bits == 10 {
		pixels += "10le"
	}
	a := []string{"-pix_fmt", pixels}
	quality := o.Quality
	switch o.Codec {
	case CodecHEVC:
		params := "log-level=error"
		if o.Lossless {
			params += ":lossless=1"
		}
		a = append(a, "-c:v", "libx265", "-tag:v", "hvc1", "-x265-params", params)
	case CodecIntermediate:
		if quality == 0 {
			quality = intermediateQuality
		}
		// Key frames only: any frame can be reached and decoded by itself.
		a = append(a, "-c:v", "libx264", "-profile:v", "high422", "-g", "1", "-bf", "0")
	default:
		a = append(a, "-c:v", "libx264")
	}
	if o.Codec != CodecHEVC {
		// Left alone, ffmpeg's MOV writer takes 10-bit 4:2:2 H.264 of some sizes
		// (1920 × 1080 at 25, all of UHD) for a camera's own kind, leaves its
		// parameter sets out, and nobody can decode the file.
		a = append(a, "-tag:v", "avc1", "-strict", "unofficial")
	}
	a = append(a, "-preset", presets[o.Speed])
	switch {
	case o.Lossless && o.Codec == CodecH264:
		return append(a, "-qp", "0")
	case o.Lossless:
		return a
	case o.BitRate > 0:
		rate := strconv.FormatInt(o.BitRate, 10)
		return append(a, "-b:v", rate, "-maxrate", strconv.FormatInt(o.BitRate*3/2, 10), "-bufsize", strconv.FormatInt(o.BitRate*2, 10))
	}
	if quality == 0 {
		quality = usualQuality
	}
	return append(a, "-crf", strconv.FormatFloat(quality, 'f', -1, 64))
}

func seconds(s float64) string { return strconv.FormatFloat(s, 'f', 6, 64) }

func (o *WriteOptions) timecode() string {
	if o.Timecode != "" || o.Source == nil {
		return o.Timecode
	}
	return o.Source.Timecode
}

// metadata lists the file's tags in a fixed order.
func (o *WriteOptions) metadata() []string {
	tags := map[string]string{}
	if o.Source != nil {
		for _, k := range keptTags {
			if v := o.Source.Tags[k]; v != "" {
				tags[k] = v
			}
		}
	}
	for k, v := range o.Tags {
		tags[k] = v
	}
	var out []string
	for k, v := range tags {
		out = append(out, k+"="+v)
	}
	sort.Strings(out)
	return out
}

func or(s, usual string) string {
	if s == "" {
		return usual
	}
	return s
}
