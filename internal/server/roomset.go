package server

import (
	"context"

	"lampwise/internal/job"
)

// RoomMeet asks what a set measured beside what a plan predicts.
type RoomMeet struct {
	ID   string `json:"id"`
	Text string `json:"text"`
	Set  string `json:"set"`
}

func (s *Server) meetRoom(ctx context.Context, a RoomMeet) (*job.PlanMet, error) {
	path, err := s.path(a.ID)
	if err != nil {
		return nil, err
	}
	return s.plans.Meet(ctx, s.options.Store, job.LivePlanRequest{File: path, Text: a.Text}, a.Set)
}
