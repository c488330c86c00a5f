package server

import (
	"context"

	"lampwise/internal/fault"
	"lampwise/internal/job"
)

// RenderAsked is one clip, one saved grade, one finished file.
type RenderAsked struct {
	Clip      string `json:"clip"`
	Grade     string `json:"grade"`
	Out       string `json:"out"`
	Overwrite bool   `json:"overwrite"`
}

func (s *Server) render(_ context.Context, a RenderAsked) (*Job, error) {
	p, err := s.paths(a.Clip, a.Grade)
	if err != nil {
		return nil, err
	}
	out, err := s.path(a.Out)
	if err != nil {
		return nil, err
	}
	return s.jobs.start("render", a.Out, func(ctx context.Context, report job.Progress) (any, error) {
		r, err := job.Render(ctx, job.RenderRequest{Clip: p[0], Grade: p[1], Out: out, Overwrite: a.Overwrite}, report)
		return r, err
	})
}

// VerifyAsked is a finished file and what it was made from.
type VerifyAsked struct {
	File  string `json:"file"`
	Clip  string `json:"clip"`
	Grade string `json:"grade"`
}

func (s *Server) verify(_ context.Context, a VerifyAsked) (*Job, error) {
	p, err := s.paths(a.File, a.Clip, a.Grade)
	if err != nil {
		return nil, err
	}
	return s.jobs.start("verify", a.File, func(ctx context.Context, report job.Progress) (any, error) {
		return job.Verify(ctx, job.VerifyRequest{File: p[0], Source: p[1], Grade: p[2]}, report)
	})
}

// MeasureAsked reads a clip and says what is wrong with it.
type MeasureAsked struct {
	Clip  string `json:"clip"`
	Set   string `json:"set"`
	Grade string `json:"grade"`
}

func (s *Server) measure(_ context.Context, a MeasureAsked) (*Job, error) {
	clip, err := s.there(a.Clip)
	if err != nil {
		return nil, err
	}
	g, err := s.optional(a.Grade)
	if err != nil {
		return nil, err
	}
	return s.jobs.start("measure", a.Clip, func(ctx context.Context, report job.Progress) (any, error) {
		return job.Measure(ctx, s.options.Store, job.MeasureRequest{Clip: clip, Set: a.Set, Grade: g}, report)
	})
}

// DemoAsked asks for the generated example.
type DemoAsked struct {
	Folder string `json:"folder"` // where; e.g. "0/example"
	Size   int    `json:"size"`   // height of the frames
}

func (s *Server) demo(_ context.Context, a DemoAsked) (*Job, error) {
	folder, err := s.path(a.Folder)
	if err != nil {
		return nil, err
	}
	if a.Size < 90 || a.Size > 2160 {
		return nil, fault.New(fault.Usage, "size", "90 to 2160.", "frames %d high can't be made", a.Size)
	}
	return s.jobs.start("demo", "the example", func(ctx context.Context, report job.Progress) (any, error) {
		return job.Demo(ctx, s.options.Store, job.DemoRequest{Dir: folder, Size: a.Size}, func(line string) { report(job.Step{What: line}) }, report)
	})
}

// JobAsked names a job.
type JobAsked struct {
	Job string `json:"job"`
}

func (s *Server) cancel(_ context.Context, a JobAsked) (Nothing, error) {
	s.jobs.cancelJob(a.Job)
	return Nothing{}, nil
}
