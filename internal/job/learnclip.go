package job

import (
	"context"
	"strings"
	"time"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/lamps"
	"lampwise/internal/media"
)

// film is a switch clip once decoded.
type film struct {
	info      *media.Info
	decoding  Decoding
	gamut     *colour.Gamut
	recording *lamps.Recording
	clipCode  float64
	clipLight float64
	notes     []string
	timing    LearnTiming
}

// readSwitchClip decodes the clip once and finds its holds.
func readSwitchClip(ctx context.Context, store Sets, r LearnRequest, info *media.Info, report Progress) (*film, error) {
	curve, err := knownCurve(ctx, store, info, r.Curve)
	if err != nil {
		return nil, err
	}
	if curve == "" {
		return nil, curveUnknown(r.Clip)
	}
	f := &film{info: info}
	if f.decoding, err = decodingOf(curve, r.Override); err != nil {
		return nil, err
	}
	if f.gamut, err = gamutOf(f.decoding.Curve, r.Gamut); err != nil {
		return nil, err
	}
	began := time.Now()
	found, err := recordingClip(ctx, info, r.Override)
	if err != nil {
		return nil, err
	}
	format := info.FormatWith(r.Override)
	if found.Found {
		f.clipCode, f.clipLight = found.Code, f.decoding.clipLight(found.Code, format)
	}
	reader, err := media.OpenReader(ctx, r.Clip, media.ReadOptions{Info: info, Override: r.Override, Threads: r.Threads})
	if err != nil {
		return nil, err
	}
	defer reader.Close()
	l := newLightDecoder(reader.Format(), f.decoding, workingWidth, f.clipCode)
	rate := info.Video.Rate.Float()
	rec, err := lamps.NewRecorder(l.w, l.h, rate)
	if err != nil {
		return nil, inClip(err, r.Clip)
	}
	p := newPace(report, "learn", "frames", int64(info.Video.Frames))
	f.timing.Frames, err = recordLight(ctx, reader, l, rec, p.at)
	if err != nil {
		return nil, inClip(err, r.Clip)
	}
	if f.recording, err = rec.Finish(); err != nil {
		return nil, inClip(err, r.Clip)
	}
	f.timing.Decode = time.Since(began).Seconds()
	if info.Video.VariableRate {
		f.notes = append(f.notes, "the clip's frame rate varies; times are the frames' own")
	}
	return f, nil
}

// inClip names the clip in a fault that doesn't.
func inClip(err error, clip string) error {
	f, ok := fault.As(err)
	if !ok || strings.HasPrefix(f.Message, clip) {
		return err
	}
	g := *f
	g.Message = clip + ": " + g.Message
	return &g
}

func curveUnknown(clip string) error {
	return fault.New(fault.Usage, "no-curve", "Add --curve ID. lampwise curves lists them; lampwise curves find looks one up by the figures in the camera's manual.",
		"%s: which curve was it recorded with?", clip)
}

// gamutOf is the camera's primaries: the named ones, or the curve's first.
func gamutOf(c *colour.Curve, id string) (*colour.Gamut, error) {
	if id == "" && len(c.Gamuts) > 0 {
		id = c.Gamuts[0]
	}
	if id == "" {
		id = "bt709"
	}
	return colour.GamutByID(id)
}
