package job

import (
	"context"
	"errors"
	"io"

	"lampwise/internal/picture"
)

// frameSource gives frames one after the other, io.EOF at the end.
type frameSource interface {
	Next(f *picture.Frame) error
}

// frameSink takes frames one after the other.
type frameSink interface {
	Write(f *picture.Frame) error
}

// queueDepth is how many frames may wait between two stages: enough that
// decode, kernel and encode all stay busy, few enough that memory stays flat.
const queueDepth = 2

// pump moves frames from source through work to sink with the three running
// at the same time. Frames are reused, so that memory does not grow with the
// clip's length; a full queue holds the stage before it back. It returns the
// number of frames written and the first error of any stage.
func pump(ctx context.Context, source frameSource, in, out picture.Format, work func(in, out *picture.Frame) error, sink frameSink, done func(frames int64)) (int64, error) {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)

	decoded, freeIn := make(chan *picture.Frame, queueDepth), make(chan *picture.Frame, queueDepth+1)
	graded, freeOut := make(chan *picture.Frame, queueDepth), make(chan *picture.Frame, queueDepth+1)
	for range queueDepth + 1 {
		freeIn <- picture.NewFrame(in)
		freeOut <- picture.NewFrame(out)
	}

	go func() {
		defer close(decoded)
		for {
			f, ok := take(ctx, freeIn)
			if !ok {
				return
			}
			if err := source.Next(f); err != nil {
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
		defer close(graded)
		for f := range decoded {
			o, ok := take(ctx, freeOut)
			if !ok {
				return
			}
			o.Index, o.Time = f.Index, f.Time
			if err := work(f, o); err != nil {
				cancel(err)
				return
			}
			freeIn <- f
			if !give(ctx, graded, o) {
				return
			}
		}
	}()
	var written int64
	for o := range graded {
		if err := sink.Write(o); err != nil {
			cancel(err)
			break
		}
		freeOut <- o
		written++
		done(written)
	}
	// Wait for the stages before to let go of their frames.
	for range graded {
	}
	for range decoded {
	}
	if err := context.Cause(ctx); err != nil {
		return written, err
	}
	return written, nil
}

func take(ctx context.Context, from <-chan *picture.Frame) (*picture.Frame, bool) {
	select {
	case f := <-from:
		return f, true
	case <-ctx.Done():
		return nil, false
	}
}

func give(ctx context.Context, to chan<- *picture.Frame, f *picture.Frame) bool {
	select {
	case to <- f:
		return true
	case <-ctx.Done():
		return false
	}
}
