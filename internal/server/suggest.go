package server

import (
	"context"
	"encoding/json"

	"lampwise/internal/job"
)

// AdviceAsked is a clip and its saved grade, read with a set's regions and lamps.
type AdviceAsked struct {
	Clip  string `json:"clip"`
	Grade string `json:"grade"`
	Set   string `json:"set"` // empty: none
}

func (s *Server) suggest(_ context.Context, a AdviceAsked) (*Job, error) {
	p, err := s.paths(a.Clip, a.Grade)
	if err != nil {
		return nil, err
	}
	return s.jobs.start("suggest", a.Grade, func(ctx context.Context, report job.Progress) (any, error) {
		return job.Suggest(ctx, s.options.Store, job.SuggestRequest{
			Clip: p[0], Grade: p[1], Set: a.Set, Face: job.SuggestFace, Strength: job.SuggestStrength, Skin: job.SuggestSkin,
		}, report)
	})
}

func (s *Server) budget(_ context.Context, a AdviceAsked) (*Job, error) {
	p, err := s.paths(a.Clip, a.Grade)
	if err != nil {
		return nil, err
	}
	return s.jobs.start("budget", a.Grade, func(ctx context.Context, report job.Progress) (any, error) {
		return job.BudgetOf(ctx, s.options.Store, job.BudgetRequest{Clip: p[0], Grade: p[1], Set: a.Set}, report)
	})
}

// GradeSet is a grade with settings to be put into it, as lampwise grade set
// takes them.
type GradeSet struct {
	Grade    json.RawMessage `json:"grade" ts:"Grade"`
	Settings []string        `json:"settings"`
}

// GradeGot is a grade.
type GradeGot struct {
	Grade json.RawMessage `json:"grade" ts:"Grade"`
}

func (s *Server) gradeWith(_ context.Context, a GradeSet) (*GradeGot, error) {
	g, err := job.GradeOf(a.Grade, "")
	if err != nil {
		return nil, err
	}
	for _, x := range a.Settings {
		if err := g.Set(x); err != nil {
			return nil, err
		}
	}
	data, err := json.Marshal(g)
	return &GradeGot{data}, err
}
