package server

import (
	"context"
	"encoding/json"
	"path/filepath"

	"lampwise/internal/fault"
	"lampwise/internal/job"
)

// OpenedGrade is a grade file's settings.
type OpenedGrade struct {
	ID    string          `json:"id"`
	Grade json.RawMessage `json:"grade" ts:"Grade"`
	Text  string          `json:"text"`
}

func (s *Server) openGrade(_ context.Context, a FileAsked) (*OpenedGrade, error) {
	path, err := s.there(a.ID)
	if err != nil {
		return nil, err
	}
	g, err := job.LoadGrade(path)
	if err != nil {
		return nil, err
	}
	data, err := json.Marshal(g)
	if err != nil {
		return nil, err
	}
	return &OpenedGrade{ID: a.ID, Grade: data, Text: string(g.Bytes())}, nil
}

// GradeWanted asks for a starting grade in a file.
type GradeWanted struct {
	ID    string `json:"id"` // of the file to be written
	Clip  string `json:"clip"`
	Curve string `json:"curve"` // empty: as said before
}

func (s *Server) newGrade(ctx context.Context, a GradeWanted) (*OpenedGrade, error) {
	path, err := s.path(a.ID)
	if err != nil {
		return nil, err
	}
	clip, err := s.optional(a.Clip)
	if err != nil {
		return nil, err
	}
	if _, err := job.MakeGrade(ctx, s.options.Store, job.NewGrade{File: path, Curve: a.Curve, Clip: clip}); err != nil {
		return nil, err
	}
	return s.openGrade(ctx, FileAsked{a.ID})
}

// GradeKept is a grade to be written.
type GradeKept struct {
	ID    string          `json:"id"`
	Grade json.RawMessage `json:"grade" ts:"Grade"`
	New   bool            `json:"new"` // the file may not stand there yet
	// Was is the grade that the file held when it was opened; when it holds
	// another one by now nothing is written. Null: whatever it holds.
	Was json.RawMessage `json:"was" ts:"Grade | null"`
}

func (s *Server) saveGrade(ctx context.Context, a GradeKept) (*OpenedGrade, error) {
	path, err := s.path(a.ID)
	if err != nil {
		return nil, err
	}
	if filepath.Ext(path) != ".toml" {
		return nil, fault.New(fault.Usage, "grade-name", "Name it with .toml at the end.", "%s: a grade is a .toml file", a.ID)
	}
	if err := job.SaveGrade(a.Grade, path, a.New, a.Was); err != nil {
		return nil, err
	}
	return s.openGrade(ctx, FileAsked{a.ID})
}

// Shown is a grade as it stands on the page and what it is shown on.
type Shown struct {
	Clip  string          `json:"clip"` // empty: none
	Set   string          `json:"set"`  // a set's lamps in place of the clip; empty: none
	Grade json.RawMessage `json:"grade" ts:"Grade"`
	File  string          `json:"file"`  // of the grade; its LUTs are named from there
	After string          `json:"after"` // show the picture as it is after this stage; empty: the finished one
}

func (s *Server) liveRequest(a Shown) (job.LiveRequest, error) {
	r := job.LiveRequest{After: a.After, Set: a.Set}
	file, err := s.path(a.File)
	if err != nil {
		return r, err
	}
	r.Folder = filepath.Dir(file)
	if r.Clip, err = s.optional(a.Clip); err != nil {
		return r, err
	}
	r.Grade, err = job.GradeOf(a.Grade, "")
	return r, err
}

// LightAsked is a frame to be read.
type LightAsked struct {
	Shown
	Frame   int              `json:"frame"`
	Width   int              `json:"width"` // of the frame as shown
	Regions []job.LiveRegion `json:"regions"`
}

func (s *Server) light(ctx context.Context, a LightAsked) (*job.LiveLight, error) {
	r, err := s.liveRequest(a.Shown)
	if err != nil {
		return nil, err
	}
	return s.live.Light(ctx, r, a.Frame, a.Width, a.Regions)
}

// LUTWanted asks for a LUT file of a saved grade.
type LUTWanted struct {
	Grade     string `json:"grade"` // file
	Out       string `json:"out"`
	Size      int    `json:"size"`
	Overwrite bool   `json:"overwrite"`
}

func (s *Server) lut(_ context.Context, a LUTWanted) (*job.Baked, error) {
	g, err := s.path(a.Grade)
	if err != nil {
		return nil, err
	}
	out, err := s.path(a.Out)
	if err != nil {
		return nil, err
	}
	return job.BakeLUT(job.BakeRequest{Grade: g, Out: out, Size: a.Size, Levels: "data", Interp: "tetrahedral", Overwrite: a.Overwrite})
}
