package job

import (
	"context"
	"errors"
	"fmt"
	"io"

	"lampwise/internal/fault"
	"lampwise/internal/gauge"
	"lampwise/internal/media"
	"lampwise/internal/picture"
)

// MeasurePlan says which frames were looked at, and what that can miss.
type MeasurePlan struct {
	Frames    int          `json:"frames"` // of the clip
	Decoded   int          `json:"decoded"`
	Thin      int          `json:"thin"`  // levels, noise, codes and focus were read in one frame of so many
	Share     float64      `json:"share"` // of the clip's frames that were decoded
	Every     bool         `json:"every_frame"`
	Stretches [][2]float64 `json:"stretches_s"`
	Longest   float64      `json:"longest_unseen_s"` // longest time of which nothing was looked at
	Words     string       `json:"words"`
}

const (
	// onePass is the number of frames up to which a clip is decoded in one go.
	onePass = 250
	// measureRun is the frames of a stretch: one window of the search for
	// flicker, and one to begin with.
	measureRun = 66
	// measureRuns is the stretches of a clip up to a minute; each further
	// minute adds one, up to measureRunsMost.
	measureRuns     = 5
	measureRunsMost = 30
	// measureThin leaves the own cost of reading under a quarter of decoding's
	// (docs/accuracy-measures.md says what it is).
	measureThin = 12
	// measureLooks is the frames that are looked at beforehand, for faces.
	measureLooks = 3
)

// planOf chooses stretches of frames, from..to.
func planOf(count int, seconds float64, every bool) []place {
	runs := min(measureRuns+int(seconds/60), measureRunsMost)
	if every || count <= max(onePass, runs*measureRun) {
		return []place{{0, count}}
	}
	out := make([]place, runs)
	for i := range out {
		// The first begins at the clip's start, the last ends at its end.
		from := i * (count - measureRun) / (runs - 1)
		out[i] = place{from, from + measureRun}
	}
	return out
}

// look reads single frames spread over the clip.
func (j *measuring) look(ctx context.Context) ([]*picture.Frame, error) {
	count := j.info.Video.Frames
	n := min(measureLooks, count)
	var out []*picture.Frame
	for i := range n {
		frames, err := readFrames(ctx, j.info.Path, media.ReadOptions{
			Info: j.info, Override: j.override, Start: (2*i + 1) * count / (2 * n), Count: 1, Threads: j.request.Threads,
		})
		if err != nil {
			return nil, err
		}
		out = append(out, frames...)
	}
	if len(out) == 0 {
		return nil, fault.New(fault.Input, "no-frames", "", "%s: holds no picture that can be read", j.info.Path)
	}
	return out, nil
}

// read gives the plan's frames to a meter.
func (j *measuring) read(ctx context.Context, report Progress) error {
	count, every := j.info.Video.Frames, j.request.EveryFrame
	places := planOf(count, j.info.Video.Duration, every)
	p := &j.out.Plan
	p.Frames, p.Every, p.Thin = count, every, measureThin
	const short = 2 * measureThin // frames; fewer are all looked at
	if every || count <= short {
		p.Thin = 1
	}
	meter := gauge.NewMeter(gauge.MeterOptions{Camera: j.camera, Regions: j.found, Face: j.face, Thin: p.Thin, Smooth: j.request.Smooth, Scopes: j.request.Scopes != "" || j.request.KeepScopes})
	total := 0
	for _, s := range places {
		total += s.to - s.from
	}
	pace := newPace(report, "measure", "frames", int64(total))
	frame := picture.NewFrame(j.format())
	last := j.info.FrameTime(0)
	for _, s := range places {
		from, to, err := j.stretch(ctx, s, frame, meter, pace)
		if err != nil {
			return err
		}
		p.Longest = max(p.Longest, from-last)
		last = to
		p.Stretches = append(p.Stretches, [2]float64{from, to})
	}
	p.Decoded = int(pace.step.Done)
	if count > 0 {
		p.Share = float64(p.Decoded) / float64(count)
		p.Longest = max(p.Longest, j.info.FrameTime(count-1)-last)
	}
	p.Words = p.words()
	j.out.Found = meter.Result()
	return nil
}

func (j *measuring) stretch(ctx context.Context, s place, frame *picture.Frame, meter *gauge.Meter, pace *pace) (from, to float64, err error) {
	o := media.ReadOptions{Info: j.info, Override: j.override, Start: s.from, Threads: j.request.Threads}
	if s.to < j.info.Video.Frames {
		o.Count = s.to - s.from
	}
	reader, err := media.OpenReader(ctx, j.info.Path, o)
	if err != nil {
		return 0, 0, err
	}
	defer reader.Close()
	for n := 0; ; n++ {
		err := reader.Next(frame)
		if errors.Is(err, io.EOF) {
			j.out.Notes = append(j.out.Notes, reader.Warnings()...)
			return from, to, nil
		}
		if err != nil {
			return 0, 0, err
		}
		frame.Index += s.from
		if n == 0 {
			from = frame.Time
		}
		to = frame.Time
		meter.Add(frame)
		pace.count()
	}
}

// count tells that one more is done.
func (p *pace) count() {
	p.step.Done++
	p.at(p.step.Done)
}

func (p *MeasurePlan) words() string {
	if p.Decoded >= p.Frames {
		if p.Thin > 1 {
			return fmt.Sprintf("all %d frames were decoded; levels, noise, codes and focus were read in one of %d", p.Decoded, p.Thin)
		}
		if p.Decoded == 1 {
			return "its one frame was looked at; of what changes over time nothing can be told"
		}
		return fmt.Sprintf("all %d frames were looked at", p.Decoded)
	}
	return fmt.Sprintf("%d of %d frames (%.0f %%) in %d stretches were looked at; what lasts less than %.1f s may be missed between them (--every-frame looks at all)",
		p.Decoded, p.Frames, 100*p.Share, len(p.Stretches), p.Longest)
}
