package server

import (
	"context"
	"path/filepath"

	"lampwise/internal/fault"
	"lampwise/internal/job"
)

// RoomAsked is a plan as it stands on the page, with changes of it.
type RoomAsked struct {
	ID      string           `json:"id"`   // of the plan's file
	Text    string           `json:"text"` // empty: as it is in the file
	Changes []job.PlanChange `json:"changes"`
	Isolux  bool             `json:"isolux"`
}

func (s *Server) room(_ context.Context, a RoomAsked) (*job.LivePlan, error) {
	path, err := s.path(a.ID)
	if err != nil {
		return nil, err
	}
	return s.plans.Look(job.LivePlanRequest{File: path, Text: a.Text, Changes: a.Changes, Isolux: a.Isolux})
}

// RoomWanted asks for a new plan file.
type RoomWanted struct {
	ID      string `json:"id"`
	Example bool   `json:"example"` // the commented example; else a plain room
}

func (s *Server) newRoom(_ context.Context, a RoomWanted) (*job.LivePlan, error) {
	path, err := s.planPath(a.ID)
	if err != nil {
		return nil, err
	}
	if _, err := job.NewPlan(job.NewPlanRequest{File: path, Example: a.Example}); err != nil {
		return nil, err
	}
	return s.plans.Look(job.LivePlanRequest{File: path, Isolux: true})
}

// RoomKept is a plan to be written.
type RoomKept struct {
	ID   string `json:"id"`
	Text string `json:"text"`
	Was  string `json:"was"` // the text it was opened with; empty: the file may not stand there yet
}

func (s *Server) saveRoom(_ context.Context, a RoomKept) (Nothing, error) {
	path, err := s.planPath(a.ID)
	if err != nil {
		return Nothing{}, err
	}
	return Nothing{}, job.SavePlan(path, a.Text, a.Was)
}

func (s *Server) planPath(id string) (string, error) {
	path, err := s.path(id)
	if err == nil && filepath.Ext(path) != ".toml" {
		err = fault.New(fault.Usage, "plan-name", "Name it with .toml at the end.", "%s: a plan is a .toml file", id)
	}
	return path, err
}

// RoomSolve asks for levels that make a plan read what is wanted.
type RoomSolve struct {
	ID      string   `json:"id"`
	Text    string   `json:"text"`
	Targets []string `json:"targets"` // as lampwise plan takes them
}

func (s *Server) solveRoom(_ context.Context, a RoomSolve) (*job.PlanSolved, error) {
	path, err := s.path(a.ID)
	if err != nil {
		return nil, err
	}
	return s.plans.Solve(job.LivePlanRequest{File: path, Text: a.Text}, a.Targets)
}

// LampKinds are the generic lamps that a plan may name.
type LampKinds struct {
	Kinds []job.PlanKind `json:"kinds"`
}

func (s *Server) lampKinds(context.Context, Nothing) (*LampKinds, error) {
	return &LampKinds{job.PlanKinds()}, nil
}
