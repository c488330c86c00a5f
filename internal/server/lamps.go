package server

import (
	"context"

	"lampwise/internal/job"
)

// SetAsked names a set.
type SetAsked struct {
	Set string `json:"set"`
}

func (s *Server) set(ctx context.Context, a SetAsked) (*job.ShownSet, error) {
	return job.ShowSet(ctx, s.options.Store, a.Set, "", "")
}

// MixAsked is a set at other levels under a grade.
type MixAsked struct {
	Shown
	Levels []float64 `json:"levels"` // in light, in the lamps' order; null: the reference mix
}

func (s *Server) mix(ctx context.Context, a MixAsked) (*job.LiveMix, error) {
	r, err := s.liveRequest(a.Shown)
	if err != nil {
		return nil, err
	}
	return s.live.Mix(ctx, s.options.Store, a.Set, a.Levels, r)
}

// SolveAsked asks for levels.
type SolveAsked struct {
	Set     string   `json:"set"`
	Targets []string `json:"targets"` // as lampwise solve takes them
}

func (s *Server) solve(ctx context.Context, a SolveAsked) (*job.Solved, error) {
	targets, err := job.ParseTargets(a.Targets)
	if err != nil {
		return nil, err
	}
	return job.Solve(ctx, s.options.Store, job.SolveRequest{Set: a.Set, Targets: targets})
}

// RenameAsked gives lamps names: "lamp-1=key".
type RenameAsked struct {
	Set   string   `json:"set"`
	Pairs []string `json:"pairs"`
}

func (s *Server) rename(ctx context.Context, a RenameAsked) (Nothing, error) {
	_, err := job.RenameLamps(ctx, s.options.Store, a.Set, a.Pairs)
	return Nothing{}, err
}

// LearnAsked takes a switch clip apart.
type LearnAsked struct {
	Clip      string `json:"clip"`
	Set       string `json:"set"`
	Order     string `json:"order"` // empty: by the caller's beeps, or guessed
	Curve     string `json:"curve"`
	Overwrite bool   `json:"overwrite"`
}

func (s *Server) learn(_ context.Context, a LearnAsked) (*Job, error) {
	clip, err := s.there(a.Clip)
	if err != nil {
		return nil, err
	}
	return s.jobs.start("learn", a.Clip, func(ctx context.Context, report job.Progress) (any, error) {
		return job.Learn(ctx, s.options.Store, job.LearnRequest{Clip: clip, Set: a.Set, Order: a.Order, Curve: a.Curve, Overwrite: a.Overwrite}, report)
	})
}

// CheckAsked holds a clip or still against a set.
type CheckAsked struct {
	File string `json:"file"`
	Set  string `json:"set"`
	// CameraSame: somebody has looked, and the camera is set as it was.
	CameraSame bool `json:"camera_same"`
}

func (s *Server) check(_ context.Context, a CheckAsked) (*Job, error) {
	file, err := s.there(a.File)
	if err != nil {
		return nil, err
	}
	return s.jobs.start("check", a.File, func(ctx context.Context, _ job.Progress) (any, error) {
		return job.Check(ctx, s.options.Store, job.CheckRequest{File: file, Set: a.Set, CameraSame: a.CameraSame})
	})
}

// CallAsked is a switching order to be called.
type CallAsked struct {
	Set   string  `json:"set"`   // whose order is called, where none is said
	Order string  `json:"order"` // empty: the set's
	Hold  float64 `json:"hold"`  // s from beep to beep
}

func (s *Server) call(ctx context.Context, a CallAsked) (*job.Called, error) {
	c, _, err := job.LiveCall(ctx, s.options.Store, a.Set, a.Order, a.Hold)
	return c, err
}
