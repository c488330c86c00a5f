package job

import (
	"context"
	"errors"
	"io"

	"lampwise/internal/gauge"
	"lampwise/internal/lamps"
	"lampwise/internal/media"
	"lampwise/internal/picture"
)

// streamLight decodes a stretch of a clip once and gives its frames as working
// pictures, in order; decoding, light and take run at the same time. A picture
// is good only until take returns, so that memory does not grow with the
// clip's length. times are s from the clip's first frame.
func streamLight(ctx context.Context, r *media.Reader, l *lightDecoder, take func(light *lamps.Light, t float64) error) (int64, error) {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	type timed struct {
		light *lamps.Light
		t     float64
	}
	decoded, freeFrames := make(chan *picture.Frame, queueDepth), make(chan *picture.Frame, queueDepth+1)
	lit, freeLights := make(chan timed, queueDepth), make(chan *lamps.Light, queueDepth+1)
	for range queueDepth + 1 {
		freeFrames <- picture.NewFrame(r.Format())
		freeLights <- l.newLight()
	}
	first := r.Info().FrameTime(0)
	go func() {
		defer close(decoded)
		for {
			f, ok := takeFrom(ctx, freeFrames)
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
	go func() {
		defer close(lit)
		for f := range decoded {
			out, ok := takeFrom(ctx, freeLights)
			if !ok {
				return
			}
			l.decode(f, out)
			t := f.Time - first
			freeFrames <- f
			select {
			case lit <- timed{out, t}:
			case <-ctx.Done():
				return
			}
		}
	}()
	var n int64
	for x := range lit {
		if err := take(x.light, x.t); err != nil {
			cancel(err)
			break
		}
		freeLights <- x.light
		n++
	}
	for range lit {
	}
	for range decoded {
	}
	if err := context.Cause(ctx); err != nil {
		return n, err
	}
	return n, nil
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

// recordingClip looks for the code at which the recording clips.
func recordingClip(ctx context.Context, info *media.Info, o media.Override) (gauge.RecordingClip, error) {
	var finder gauge.ClipFinder
	n := min(clipLooks, info.Video.Frames)
	for i := range n {
		// The middle of each part: a clip's ends are where hands are still busy.
		frames, err := readFrames(ctx, info.Path, media.ReadOptions{Info: info, Override: o, Start: (2*i + 1) * info.Video.Frames / (2 * n), Count: 1})
		if err != nil {
			return gauge.RecordingClip{}, err
		}
		for _, f := range frames {
			finder.Add(f)
		}
	}
	return finder.Find(), nil
}
