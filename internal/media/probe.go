package media

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"

	"lampwise/internal/fault"
)

// maxProbeJSON bounds ffprobe's answer.
const maxProbeJSON = 16 << 20

// Probe asks ffprobe what a clip is, and scans the timestamps of all its
// packets (the file is read once from end to end; nothing is decoded), so that
// frame count and rate are counted and not believed. What cannot be read as
// video of Y′CbCr codes is refused with a fault of class Input; what had to be
// assumed is told in Info.Notes.
func Probe(ctx context.Context, path string) (*Info, error) {
	info, probe, err := glance(ctx, path)
	if err != nil {
		return nil, err
	}
	if info.times, err = scanTimes(ctx, probe, path, info.Video.Index); err != nil {
		return nil, probeFault(err, path)
	}
	if err := info.count(); err != nil {
		return nil, err
	}
	return info, nil
}

// Glance is Probe without the scan, for lists of many or large clips: frame
// count and rate are what the headers promise (Counted is false), and whether
// the rate varies is not known. OpenReader makes up for it.
func Glance(ctx context.Context, path string) (*Info, error) {
	info, _, err := glance(ctx, path)
	if err != nil {
		return nil, err
	}
	v := &info.Video
	v.Rate = firstRate([]Rational{v.RateAverage, v.RateNominal})
	v.Frames = info.promised
	if v.Frames == 0 {
		v.Frames = int(math.Round(or0(v.Duration, info.Duration) * v.Rate.Float()))
	}
	return info, nil
}

func or0(a, b float64) float64 {
	if a > 0 {
		return a
	}
	return b
}

// glance asks for all that stands in the headers.
func glance(ctx context.Context, path string) (*Info, tool, error) {
	size, err := openable(path)
	if err != nil {
		return nil, tool{}, err
	}
	probe, err := findTool(ctx, "ffprobe")
	if err != nil {
		return nil, tool{}, err
	}
	args := append(probeArgs(), "-show_format", "-show_streams", "-show_chapters", "-of", "json=compact=1", "-i", fileURL(path))
	out, err := runTool(ctx, probe.path, args, maxProbeJSON)
	if err != nil {
		return nil, tool{}, probeFault(err, path)
	}
	info, err := parseProbe(out, path, size)
	if err != nil || !mayLackChroma(&info.Video) {
		return info, probe, err
	}
	grey, err := h264Grey(ctx, probe, path, info.Video.Index)
	if err != nil {
		return nil, probe, probeFault(err, path)
	}
	if grey {
		return nil, probe, pixelFault(path, "gray")
	}
	return info, probe, nil
}

// count takes frame count and rate from the scanned packets.
func (i *Info) count() error {
	v, t := &i.Video, i.times
	if t.Packets == 0 {
		return fault.New(fault.Input, "clip-empty", "copy the clip again from the camera's card",
			"%s: the file has a picture track but no picture in it", i.Path)
	}
	v.Frames, v.Counted, i.hidden = t.Packets, true, t.Hidden
	defer i.missing()
	if t.Ticks == nil {
		v.Rate = firstRate([]Rational{v.RateAverage, v.RateNominal})
		i.times = nil
		i.note("no-times", "", "the clip's frames carry no timestamps of their own: an even rate of "+rateText(v.Rate)+" frames/s is assumed")
		return nil
	}
	v.StartTicks = t.Ticks[0]
	rate, steady := steadyRate(t.Ticks, v.TimeBase, v.RateNominal, v.RateAverage)
	v.Rate, v.VariableRate = rate, !steady
	if v.VariableRate {
		i.note("variable-rate", "", "the frame rate varies ("+rateText(rate)+" frames/s in the mean): every frame keeps its own time")
	}
	return nil
}

// missing compares what the file promises with what it holds.
func (i *Info) missing() {
	v := &i.Video
	if n := i.promised - i.hidden - v.Frames; n > 0 {
		v.Missing = n
	} else if last := i.FrameTime(v.Frames-1) + i.Start; i.lasts > 0 && i.lasts-last > max(0.5, 3/v.Rate.Float()) {
		v.Missing = int((i.lasts - last) * v.Rate.Float())
	}
	if v.Missing > 0 {
		i.note("shorter-than-said", "copy the clip again from the camera's card",
			fmt.Sprintf("the clip breaks off: it holds %d of the %d frames it should", v.Frames, v.Frames+v.Missing))
	}
}

// openable checks what needs no ffprobe.
func openable(path string) (int64, error) {
	if path == "" {
		return 0, fault.New(fault.Usage, "no-file", "name a clip", "no file was named")
	}
	s, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return 0, fault.Wrap(err, fault.Input, "file-missing", "check the name and the folder", "%s: there is no such file", path)
	case errors.Is(err, fs.ErrPermission):
		return 0, fault.Wrap(err, fault.Input, "file-denied", "check the file's permissions", "%s: you may not read this file", path)
	case err != nil:
		return 0, fault.Wrap(err, fault.Input, "file-unreadable", "check the name and the disk", "%s: %v", path, errors.Unwrap(err))
	case s.IsDir():
		return 0, fault.New(fault.Input, "file-is-folder", "name one clip inside it", "%s is a folder, not a clip", path)
	case !s.Mode().IsRegular():
		return 0, fault.New(fault.Input, "file-special", "name an ordinary file", "%s is not an ordinary file", path)
	case s.Size() == 0:
		return 0, fault.New(fault.Input, "file-empty", "copy the clip again from the camera's card", "%s is empty (0 bytes)", path)
	}
	f, err := os.Open(path)
	if err != nil {
		return 0, fault.Wrap(err, fault.Input, "file-denied", "check the file's permissions", "%s: you may not read this file", path)
	}
	f.Close()
	return s.Size(), nil
}

// probeArgs are what every call of ffprobe begins with.
func probeArgs() []string {
	return append([]string{"-hide_banner", "-v", "error"}, inputGuards()...)
}

// inputGuards keep a hostile "clip" from leading to other files or the network.
func inputGuards() []string {
	return []string{"-protocol_whitelist", "file,pipe", "-format_whitelist", formatWhitelist}
}

// Containers that are read: those that hold their own media. Play lists,
// scripts and devices are not among them. Stills and pure sound are, so that
// they can be refused by name.
const formatWhitelist = "mov,mp4,m4a,3gp,3g2,mj2,matroska,webm,mxf,avi,mpegts,mpeg,mpegvideo,nut,yuv4mpegpipe,h264,hevc,ivf,flv,asf,ogg,dv," +
	"mov\\,mp4\\,m4a\\,3gp\\,3g2\\,mj2,matroska\\,webm,wav,mp3,aac,flac,aiff,ac3,caf,w64," +
	"image2,png_pipe,jpeg_pipe,tiff_pipe,exr_pipe,dpx_pipe,bmp_pipe,gif,webp_pipe"

// fileURL names a file so that nothing in its name is taken for anything else.
func fileURL(path string) string {
	if abs, err := filepath.Abs(path); err == nil {
		path = abs
	}
	return "file:" + path
}

// probeFault turns ffprobe's refusal into a line for the user.
func probeFault(err error, path string) error {
	var failed *failedError
	if !errors.As(err, &failed) {
		return err
	}
	l := failed.complaints
	switch {
	case complainsOf(l, "moov atom not found") && startsWithBox(path):
		return fault.Wrap(err, fault.Input, "clip-cut-off",
			"the recording was not closed: copy it again from the card, or let the camera repair it",
			"%s: the clip is cut off: its table of contents is missing", path)
	case complainsOf(l, "not on whitelist", "whitelist"):
		return fault.Wrap(err, fault.Input, "clip-kind", "give a clip as the camera records it (.mov, .mp4, .mxf, .mkv)",
			"%s: this kind of file is not read", path)
	case complainsOf(l, "Invalid data found", "could not find codec parameters", "Error opening input", "misdetection possible", "End of file", "moov atom not found"):
		return fault.Wrap(err, fault.Input, "clip-unreadable", "check that it is a video file and that it was copied whole",
			"%s is not a video file that can be read", path)
	}
	return fault.Wrap(err, fault.Input, "clip-unreadable", "check that it is a video file and that it was copied whole",
		"%s cannot be read as video: %s", path, strings.ReplaceAll(failed.reason(), fileURL(path)+": ", ""))
}

// startsWithBox is true for a file that begins as MOV and MP4 files do, and
// not for one that is merely called so.
func startsWithBox(path string) bool {
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	var b [8]byte
	if _, err := io.ReadFull(f, b[:]); err != nil {
		return false
	}
	switch string(b[4:]) {
	case "ftyp", "moov", "mdat", "wide", "free", "skip", "pnot", "moof":
		return true
	}
	return false
}
