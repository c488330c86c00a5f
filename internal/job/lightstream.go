package job

import (
	"context"
	"errors"
	"io"

	"lampwise/internal/gauge"
	"lampwise/internal/lamps"
	"lampwise/internal/media"
	"lampwise/internal/picture"
	"lampwise/internal/unit"
)

// streamLight decodes a stretch of a clip once and gives its frames as working
// pictures, in order, each with the step of its rows that step asks for; decoding runs beside light and take. A picture is good
// only until take returns, so that memory does not grow with the clip's length.
// times are s from the clip's first frame.
//
// Two frames and one picture go round: where the decoder keeps every processor
// busy, more of them only push each other out of the processor's cache.
func streamLight(ctx context.Context, r *media.Reader, l *lightDecoder, step func() int, take func(light *lamps.Light, t float64) error) (int64, error) {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	decoded, free := make(chan *picture.Frame), make(chan *picture.Frame, 2)
	for range 2 {
		free <- picture.NewFrame(r.Format())
	}
	go func() {
		defer close(decoded)
		for {
			f, ok := takeFrom(ctx, free)
			if !ok {
				return
			}
			if err := r.Next(f); err != nil {
				if !errors.Is(err, io.EOF) {
					cancel(err)
				}
				return
			}
			if !give(ctx, decoded, f) {
				return
			}
		}
	}()
	first, light := r.Info().FrameTime(0), l.newLight()
	var n int64
	for f := range decoded {
		l.decodeRows(f, light, step())
		t := f.Time - first
		free <- f
		if err := take(light, t); err != nil {
			cancel(err)
			break
		}
		n++
	}
	for range decoded {
	}
	if err := context.Cause(ctx); err != nil {
		return n, err
	}
	return n, nil
}

// recordLight shows a clip's frames to a recorder; at is told how many were shown.
func recordLight(ctx context.Context, r *media.Reader, l *lightDecoder, rec *lamps.Recorder, at func(int64)) (int64, error) {
	var n int64
	whole := true
	step := func() int {
		if whole = rec.Whole(); whole {
			return 1
		}
		return lamps.SignatureStep(l.h)
	}
	return streamLight(ctx, r, l, step, func(light *lamps.Light, t float64) error {
		n++
		at(n)
		if whole {
			return rec.Keep(light, unit.Second(t))
		}
		return rec.Skim(light, unit.Second(t))
	})
}

func takeFrom[T any](ctx context.Context, from <-chan T) (T, bool) {
	select {
	case v := <-from:
		return v, true
	case <-ctx.Done():
		var none T
		return none, false
	}
}

// clipLooks is how many frames, spread over a clip, are looked at for the code
// at which its recording clips.
const clipLooks = 4

// recordingClip looks for the code at which the recording clips. Each frame has
// a decoder on one thread: on more, each would decode frames ahead that nobody
// wants.
func recordingClip(ctx context.Context, info *media.Info, o media.Override) (gauge.RecordingClip, error) {
	n := min(clipLooks, info.Video.Frames)
	looks, failed := make([][]*picture.Frame, n), make([]error, n)
	parallel(n, func(i int) {
		// The middle of each part: a clip's ends are where hands are still busy.
		looks[i], failed[i] = readFrames(ctx, info.Path, media.ReadOptions{Info: info, Override: o, Start: (2*i + 1) * info.Video.Frames / (2 * n), Count: 1, Threads: 1})
	})
	var finder gauge.ClipFinder
	for i, frames := range looks {
		if failed[i] != nil {
			return gauge.RecordingClip{}, failed[i]
		}
		for _, f := range frames {
			finder.Add(f)
		}
	}
	return finder.Find(), nil
}
