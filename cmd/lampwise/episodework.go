package main

import (
	"context"
	"crypto/rand"
	"errors"
	"path/filepath"
	"sync"

	"lampwise/internal/book"
	"lampwise/internal/fault"
	"lampwise/internal/job"
	"lampwise/internal/queue"
	"lampwise/internal/store"
)

// finish works off what waits of an episode and tells what became of it.
func (a *app) finish(ctx context.Context, s *store.Store, e book.Episode, address string, workers int) error {
	if waiting, _, _ := job.Left(e); waiting > 0 {
		if err := a.workOff(ctx, s, address, workers, []book.Episode{e}); err != nil {
			return err
		}
	}
	return a.showEpisode(ctx, s, e.Set, e.Name)
}

// queued opens the queue with what waits of the episodes in it.
func (a *app) queued(ctx context.Context, s *store.Store, address string, episodes []book.Episode) (*queue.Queue, error) {
	q, err := a.openQueue(ctx, s, address)
	if err != nil {
		return nil, err
	}
	if err := addWaiting(ctx, q, episodes); err != nil {
		q.Close()
		return nil, err
	}
	return q, nil
}

// workOff puts what is left of the episodes into the queue and works until
// nothing of them waits, or something stands in the way of all.
func (a *app) workOff(ctx context.Context, s *store.Store, address string, workers int, episodes []book.Episode) error {
	report, end := a.progress()
	defer end()
	return a.workThrough(ctx, s, address, workers, episodes, report)
}

// workThrough is workOff with its progress told to report.
func (a *app) workThrough(ctx context.Context, s *store.Store, address string, workers int, episodes []book.Episode, report job.Progress) error {
	q, err := a.queued(ctx, s, address, episodes)
	if err != nil {
		return err
	}
	defer q.Close()
	inner, stop := context.WithCancel(ctx)
	defer stop()
	var mu sync.Mutex
	var first error
	err = q.Run(inner, workers, func(ctx context.Context, c queue.Clip) error {
		err := a.workClip(ctx, s, c, report)
		if f, ok := fault.As(err); ok && (f.Class == fault.Storage || f.Class == fault.Missing) {
			mu.Lock()
			defer mu.Unlock()
			if first == nil {
				first = err
				stop()
			}
		}
		return err
	}, func() bool { return inner.Err() != nil || nothingWaits(inner, s, episodes) })
	switch {
	case first != nil:
		return first
	case ctx.Err() != nil:
		return fault.New(fault.Cancelled, "cancelled", "The same command goes on where it stopped.", "stopped")
	}
	return err
}

// workClip does one entry of the queue.
func (a *app) workClip(ctx context.Context, s *store.Store, c queue.Clip, report job.Progress) error {
	clip, err := job.WorkEpisodeClip(ctx, s, c.Set, c.Episode, c.Number, report)
	switch {
	case errors.Is(err, job.ErrBusy):
		return queue.ErrLater
	case err != nil:
		if f, ok := fault.As(err); ok && f.Code == "episode-unknown" {
			return nil // forgotten since
		}
		return err
	}
	switch clip.State {
	case book.ClipDone:
		a.note("%s, %d: %s is done and verified", c.Episode, c.Number, filepath.Base(clip.Out))
	case book.ClipAside:
		a.note("%s, %d: %s is set aside: %s", c.Episode, c.Number, filepath.Base(clip.File), clip.Reason)
	}
	return nil
}

// thisRun is this process's word in the queue.
var thisRun = rand.Text()

func addWaiting(ctx context.Context, q *queue.Queue, episodes []book.Episode) error {
	var clips []queue.Clip
	for _, e := range episodes {
		for _, c := range e.Clips {
			if c.State == book.ClipWaiting || c.State == book.ClipWorking {
				clips = append(clips, queue.Clip{Set: e.Set, Episode: e.Name, Number: c.Number, Run: thisRun})
			}
		}
	}
	return q.Add(ctx, clips)
}

func nothingWaits(ctx context.Context, s *store.Store, episodes []book.Episode) bool {
	for _, e := range episodes {
		now, err := s.Episode(ctx, e.Set, e.Name)
		if f, ok := fault.As(err); ok && f.Code == "episode-unknown" {
			continue
		}
		if err != nil {
			return false // locked, or going: ask again
		}
		if waiting, _, _ := job.Left(now); waiting > 0 {
			return false
		}
	}
	return true
}
