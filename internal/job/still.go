package job

import (
	"context"
	"math"
	"path/filepath"
	"strconv"
	"strings"

	"lampwise/internal/fault"
	"lampwise/internal/media"
	"lampwise/internal/picture"
)

// StillRequest is one frame of a clip through a grade, as a still.
type StillRequest struct {
	Clip, Grade, Out string
	At               string // timecode, or a time from the clip's start; empty: the first frame
	Bits             int    // 8 or 16
	Overwrite        bool
}

// MadeStill is what was written.
type MadeStill struct {
	File  string   `json:"file"`
	Frame int      `json:"frame"`
	Time  float64  `json:"time"` // s, of the frame taken
	Bits  int      `json:"bits"`
	Notes []string `json:"notes"`
}

// Still writes the frame nearest to a time, by the exact path, as PNG or TIFF:
// R′G′B′ of BT.709 at full range, without dither and without a codec.
func Still(ctx context.Context, r StillRequest) (*MadeStill, error) {
	write := media.WritePNG
	switch kind := strings.ToLower(filepath.Ext(r.Out)); kind {
	case ".png":
	case ".tif", ".tiff":
		write = media.WriteTIFF
	default:
		return nil, fault.New(fault.Usage, "still-kind", "Name it .png or .tif.", "%s: a still is written as .png or .tif, not %q", r.Out, kind)
	}
	if !r.Overwrite {
		if err := absent(r.Out); err != nil {
			return nil, err
		}
	}
	w, err := Open(ctx, r.Clip, r.Grade)
	if err != nil {
		return nil, err
	}
	n, notes, err := w.nearest(r.At)
	if err != nil {
		return nil, err
	}
	frame, err := w.frame(ctx, n)
	if err != nil {
		return nil, err
	}
	at := exactFrame(w.Path, w.Program, frame)
	im := picture.NewImage(frame.Width, frame.Height, picture.SpaceDisplay)
	parallel(frame.Height, func(y int) {
		for x := range frame.Width {
			im.Set(x, y, at(x, y))
		}
	})
	if err := write(r.Out, im, r.Bits); err != nil {
		return nil, err
	}
	return &MadeStill{File: r.Out, Frame: n, Time: w.Info.FrameTime(n), Bits: r.Bits, Notes: append(append([]string{}, w.Notes...), notes...)}, nil
}

// nearest is the frame of a timecode, or the one shown nearest to a time of the
// clip, and what a person should know of how it was found.
func (w *Work) nearest(at string) (frame int, notes []string, err error) {
	if at == "" {
		return 0, nil, nil
	}
	if isTimecode(at) {
		s, err := stretchOf(w.Info, at, "")
		return s.first, s.notes, err
	}
	t, err := ParseTime(at)
	if err != nil {
		return 0, nil, err
	}
	frames, first := w.Info.Video.Frames, w.Info.FrameTime(0)
	last := w.Info.FrameTime(frames - 1)
	if !(t >= 0 && t <= last-first+1) {
		return 0, nil, fault.New(fault.Usage, "still-time", "Give a time from the clip's start: 12.5 or 1:02.5, or a timecode.", "%s: there is no picture at %.3f s; the clip is %.3f s long", w.Info.Path, t, w.Info.Duration)
	}
	distance := math.Inf(1)
	for i := range frames {
		if d := math.Abs(w.Info.FrameTime(i) - first - t); d < distance {
			frame, distance = i, d
		}
	}
	return frame, nil, nil
}

// ParseTime reads a time as a person writes it: 12.5, 1:02.5 or 1:00:02.5.
func ParseTime(s string) (float64, error) {
	total := 0.0
	parts := strings.Split(s, ":")
	for i, p := range parts {
		v, err := strconv.ParseFloat(p, 64)
		if err != nil || !(v >= 0) || v > 1e6 || i > 0 && v >= 60 || len(parts) > 3 {
			return 0, fault.New(fault.Usage, "time", "For example 12.5, 1:02.5 or 1:00:02.5.", "%q is no time", s)
		}
		total = 60*total + v
	}
	return total, nil
}
