package job

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"lampwise/internal/fault"
	"lampwise/internal/media"
	"lampwise/internal/picture"
)

// deliverrun.go runs a delivery's outlets, for trial and in earnest.

// tryOutlets renders a short stretch from the middle for trial.
func (w *Work) tryOutlets(ctx context.Context, r DeliverRequest, s clipStretch, outlets []*outlet) (Estimate, error) {
	n := min(trialFrames, max(1, s.count/4))
	e := Estimate{Frames: n}
	folder, err := os.MkdirTemp(filepath.Dir(r.Outputs[0].Out), ".lampwise-trial-")
	if err != nil {
		return e, storageFault(r.Outputs[0].Out, err)
	}
	defer os.RemoveAll(folder)
	var trial []*outlet
	for i, o := range outlets {
		t := *o
		t.delivery.Out = filepath.Join(folder, fmt.Sprintf("trial-%d%s", i, filepath.Ext(o.delivery.Out)))
		t.options.Source, t.options.Timecode, t.options.Cut = nil, "", nil
		trial = append(trial, &t)
	}
	if w.Info.Video.VariableRate {
		for _, t := range trial {
			t.options.Variable = false
		}
	}
	from := media.ReadOptions{Info: w.Info, Override: Override(w.Grade), Threads: r.Threads, Start: s.first + (s.count-n)/2, Count: n}
	run, err := w.fan(ctx, from, trial, newPace(nil, "", "", 0))
	if err != nil {
		for i, t := range trial {
			err = underName(err, t.delivery.Out, outlets[i].delivery.Out)
		}
		return e, err
	}
	scale := float64(s.count) / float64(max(1, run.frames))
	e.Seconds = run.wall.Seconds() * scale
	for _, t := range trial {
		if st, err := os.Stat(t.delivery.Out); err == nil {
			e.Bytes += int64(float64(st.Size()) * scale)
		}
	}
	return e, nil
}

// fan decodes once and gives each frame to every outlet, whose encoders run
// beside each other; the slowest holds the rest back, so that memory stays flat.
func (w *Work) fan(ctx context.Context, from media.ReadOptions, outlets []*outlet, p *pace) (figures runFigures, err error) {
	reader, err := media.OpenReader(ctx, w.Info.Path, from)
	if err != nil {
		return figures, err
	}
	defer reader.Close()
	for _, o := range outlets {
		if o.writer, err = media.NewWriter(ctx, o.delivery.Out, o.options); err != nil {
			return figures, err
		}
		defer o.writer.Abort()
		o.ready, o.free = make(chan *picture.Frame, queueDepth), make(chan *picture.Frame, queueDepth+1)
		for range queueDepth + 1 {
			o.free <- picture.NewFrame(o.format)
		}
	}
	began := time.Now()
	inner, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	ended := make(chan struct{}, len(outlets))
	for _, o := range outlets {
		go func() {
			defer func() { ended <- struct{}{} }()
			for f := range o.ready {
				if err := o.writer.Write(f); err != nil {
					cancel(err)
					return
				}
				o.free <- f
			}
		}()
	}
	// What pump writes to stands for all outlets: the frame itself goes unused.
	var written int64
	tick := sinkFunc(func(*picture.Frame) error { written++; return nil })
	_, err = pump(inner, reader, w.Format, picture.Format{Width: 1, Height: 1, Bits: 8, Sub: picture.Sub444}, func(in, _ *picture.Frame) error {
		t := time.Now()
		defer func() { figures.busy += time.Since(t) }()
		return gradeAll(inner, in, outlets)
	}, tick, p.at)
	for _, o := range outlets {
		close(o.ready)
	}
	for range outlets {
		<-ended
	}
	if cause := context.Cause(inner); cause != nil {
		err = cause
	}
	if err != nil {
		return figures, err
	}
	var whole []string
	for _, o := range outlets {
		if err := o.writer.Close(); err != nil {
			return figures, partly(err, whole)
		}
		whole = append(whole, o.delivery.Out)
	}
	figures.frames, figures.wall, figures.warnings = written, time.Since(began), reader.Warnings()
	return figures, nil
}

type sinkFunc func(*picture.Frame) error

func (f sinkFunc) Write(frame *picture.Frame) error { return f(frame) }

// gradeAll makes every outlet's frame of one frame and hands it over.
func gradeAll(ctx context.Context, in *picture.Frame, outlets []*outlet) error {
	done := map[*graded]bool{}
	for _, o := range outlets {
		f, ok := take(ctx, o.free)
		if !ok {
			return context.Cause(ctx)
		}
		if !done[o.graded] {
			if err := o.graded.kernel.Run(in, o.graded.frame); err != nil {
				return err
			}
			done[o.graded] = true
		}
		if o.resizer != nil {
			if err := o.resizer.Run(o.graded.frame, f); err != nil {
				return err
			}
		} else {
			copy(f.Y, o.graded.frame.Y)
			copy(f.Cb, o.graded.frame.Cb)
			copy(f.Cr, o.graded.frame.Cr)
		}
		f.Index, f.Time = in.Index, in.Time
		if !give(ctx, o.ready, f) {
			return context.Cause(ctx)
		}
	}
	return nil
}

// partly says of a failure which files are whole all the same.
func partly(err error, whole []string) error {
	if len(whole) == 0 {
		return err
	}
	f, ok := fault.As(err)
	if !ok {
		return errors.Join(err, fmt.Errorf("whole all the same: %s", strings.Join(whole, ", ")))
	}
	return fault.Wrap(err, f.Class, f.Code, f.Hint, "%s (whole all the same: %s)", f.Message, strings.Join(whole, ", "))
}
