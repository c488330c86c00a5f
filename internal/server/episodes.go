package server

import (
	"context"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"lampwise/internal/book"
	"lampwise/internal/fault"
	"lampwise/internal/job"
)

func (s *Server) allEpisodes(ctx context.Context, a SetAsked) (*job.EpisodeBook, error) {
	return job.ShowEpisodes(ctx, s.options.Store, a.Set)
}

// EpisodeWanted is a day's clips to be brought to a set's picture.
type EpisodeWanted struct {
	Set    string   `json:"set"`
	Name   string   `json:"name"`
	Clips  []string `json:"clips"` // files
	Grade  string   `json:"grade"` // file; empty: that of the set's last episode
	Preset string   `json:"preset"`
	Stops  float64  `json:"stops"` // what may be left on face and background; 0: the usual
	DE00   float64  `json:"de00"`
}

// EpisodePlanned is what would be done.
type EpisodePlanned struct {
	Episode job.ShownEpisode `json:"episode"`
	Presets []string         `json:"presets"`
}

func (s *Server) episodeOf(ctx context.Context, a EpisodeWanted) (book.Episode, error) {
	r := job.EpisodeRequest{Set: a.Set, Name: a.Name, Preset: a.Preset, Stops: a.Stops, DE00: a.DE00}
	var err error
	if r.Clips, err = s.paths(a.Clips...); err != nil {
		return book.Episode{}, err
	}
	if r.Grade, err = s.optional(a.Grade); err != nil {
		return book.Episode{}, err
	}
	if len(r.Clips) == 0 {
		return book.Episode{}, fault.New(fault.Usage, "episode-clips", "Tick the clips that belong to it.", "an episode of no clips")
	}
	e, err := job.PlanEpisode(ctx, s.options.Store, r)
	if err != nil {
		return e, err
	}
	return e, s.allInside(e)
}

func (s *Server) planEpisode(ctx context.Context, a EpisodeWanted) (*EpisodePlanned, error) {
	e, err := s.episodeOf(ctx, a)
	if err != nil {
		return nil, err
	}
	shown, err := job.ShownOf(e)
	if err != nil {
		return nil, err
	}
	out := &EpisodePlanned{Episode: *shown}
	for _, p := range job.Presets {
		out.Presets = append(out.Presets, p.Name)
	}
	return out, nil
}

func (s *Server) addEpisode(ctx context.Context, a EpisodeWanted) (*Job, error) {
	e, err := s.episodeOf(ctx, a)
	if err != nil {
		return nil, err
	}
	if err := s.options.Store.KeepEpisode(ctx, e); err != nil {
		return nil, err
	}
	return s.begin(e)
}

// EpisodeAsked names an episode.
type EpisodeAsked struct {
	Set  string `json:"set"`
	Name string `json:"name"`
}

// episode finds an episode whose files lie in opened folders.
func (s *Server) episode(ctx context.Context, a EpisodeAsked) (book.Episode, error) {
	e, err := job.FindEpisode(ctx, s.options.Store, a.Set, a.Name)
	if err != nil {
		return e, err
	}
	return e, s.allInside(e)
}

func (s *Server) workEpisode(ctx context.Context, a EpisodeAsked) (*Job, error) {
	e, err := s.episode(ctx, a)
	if err != nil {
		return nil, err
	}
	return s.begin(e)
}

// begin works an episode off as a job.
func (s *Server) begin(e book.Episode) (*Job, error) {
	if s.options.Work == nil {
		return nil, fault.New(fault.Usage, "no-work", "Start it with lampwise serve.", "this server doesn't work on episodes")
	}
	return s.jobs.start("episode", e.Name, func(ctx context.Context, report job.Progress) (any, error) {
		if err := s.options.Work(ctx, e, report); err != nil {
			return nil, err
		}
		return job.ShowEpisode(ctx, s.options.Store, e.Set, e.Name)
	})
}

// EpisodeRetry names clips that were set aside.
type EpisodeRetry struct {
	EpisodeAsked
	Numbers []int `json:"numbers"` // empty: all
	Accept  bool  `json:"accept"`  // as near as they come to the reference
}

func (s *Server) retryEpisode(ctx context.Context, a EpisodeRetry) (*Job, error) {
	e, err := s.episode(ctx, a.EpisodeAsked)
	if err != nil {
		return nil, err
	}
	if _, err := job.RetryEpisodeClips(ctx, s.options.Store, a.Set, a.Name, a.Numbers, a.Accept); err != nil {
		return nil, err
	}
	return s.begin(e)
}

// EpisodesCompared names two episodes of a set.
type EpisodesCompared struct {
	Set string `json:"set"`
	A   string `json:"a"`
	B   string `json:"b"`
}

func (s *Server) compareEpisodes(ctx context.Context, a EpisodesCompared) (*job.ComparedEpisodes, error) {
	return job.CompareEpisodes(ctx, s.options.Store, a.Set, a.A, a.B)
}

func (s *Server) history(ctx context.Context, a SetAsked) (*job.EpisodeHistory, error) {
	return job.History(ctx, s.options.Store, a.Set)
}

func (s *Server) reportEpisode(ctx context.Context, a EpisodeAsked) (*Job, error) {
	e, err := s.episode(ctx, a)
	if err != nil {
		return nil, err
	}
	out := filepath.Join(e.Settings.Out, e.Name+"-report.html")
	id, err := s.idOf(out)
	if err != nil {
		return nil, err
	}
	return s.jobs.start("report", id, func(ctx context.Context, report job.Progress) (any, error) {
		if err := os.MkdirAll(e.Settings.Out, 0o755); err != nil {
			return nil, fault.Wrap(err, fault.Storage, "write", "Check the folder's rights and the room on the disk.", "%s can't be made: %v", filepath.Base(e.Settings.Out), err)
		}
		return job.Report(ctx, s.options.Store, job.ReportRequest{Of: e.Name, Set: e.Set, Out: out, Overwrite: true}, report)
	})
}

// HandoffAsked asks for what others need of a grade: LUTs for the camera's
// screen, stills, the set card.
type HandoffAsked struct {
	Set    string `json:"set"`
	Grade  string `json:"grade"`
	Clip   string `json:"clip"`   // for stills; empty: none
	Folder string `json:"folder"` // e.g. "0/handoff"
}

func (s *Server) handoff(_ context.Context, a HandoffAsked) (*Job, error) {
	grade, err := s.there(a.Grade)
	if err != nil {
		return nil, err
	}
	folder, err := s.path(a.Folder) // it is made
	if err != nil {
		return nil, err
	}
	clip, err := s.optional(a.Clip)
	if err != nil {
		return nil, err
	}
	return s.jobs.start("handoff", a.Folder, func(ctx context.Context, _ job.Progress) (any, error) {
		return job.Handoff(ctx, s.options.Store, job.HandoffRequest{Grade: grade, Folder: folder, Set: a.Set, Clip: clip, Overwrite: true})
	})
}

// finished answers the middle frame of a clip's finished file as PNG.
func (s *Server) finished(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	data, err := func() ([]byte, error) {
		n, err := number(q.Get("number"), "number")
		if err != nil {
			return nil, err
		}
		c, err := job.EpisodeClip(r.Context(), s.options.Store, q.Get("set"), q.Get("episode"), n)
		if err != nil {
			return nil, err
		}
		if c.State != book.ClipDone {
			return nil, fault.New(fault.Input, "not-finished", "It is shown once it is done.", "clip %d has no finished file", n)
		}
		if _, err := s.idOf(c.Out); err != nil {
			return nil, err
		}
		return s.live.FinishedStill(r.Context(), c.Out, 960)
	}()
	if err != nil {
		fail(w, 0, err)
		return
	}
	w.Header().Set("Content-Type", "image/png")
	_, _ = w.Write(data)
}

// documentPolicy is for pages to print: they bring their own style and
// pictures, run nothing, and ask for nothing.
const documentPolicy = "sandbox allow-modals; default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'none'"

func (s *Server) setCard(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	path, err := s.path(q.Get("grade"))
	plan := q.Get("plan")
	if err == nil && plan != "" {
		plan, err = s.path(plan)
	}
	var page []byte
	if err == nil {
		page, err = job.SetCard(r.Context(), s.options.Store, q.Get("set"), path, plan)
	}
	printed(w, page, err)
}

// document answers a report that lies in an opened folder.
func (s *Server) document(w http.ResponseWriter, r *http.Request) {
	path, err := s.path(r.URL.Query().Get("file"))
	if err == nil && !strings.EqualFold(filepath.Ext(path), ".html") {
		err = fault.New(fault.Usage, "document", "Reports and set cards end in .html.", "%s is no page to print", filepath.Base(path))
	}
	var page []byte
	if err == nil {
		if page, err = os.ReadFile(path); err != nil {
			err = fault.Wrap(err, fault.Input, "document", "Was it moved or renamed? Write it again.", "%s can't be read", filepath.Base(path))
		}
	}
	printed(w, page, err)
}

func printed(w http.ResponseWriter, page []byte, err error) {
	if err != nil {
		fail(w, 0, err)
		return
	}
	w.Header().Set("Content-Security-Policy", documentPolicy)
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	_, _ = w.Write(page)
}

// idOf is the page's name of a path, which must lie in an opened folder.
func (s *Server) idOf(path string) (string, error) {
	name := filepath.Base(path)
	if real, err := filepath.EvalSymlinks(filepath.Dir(path)); err == nil { // the folders opened are real ones
		path = filepath.Join(real, name)
	}
	for i, root := range s.folders {
		if rel, err := filepath.Rel(root, path); err == nil && filepath.IsLocal(rel) {
			return strconv.Itoa(i) + "/" + filepath.ToSlash(rel), nil
		}
	}
	return "", fault.New(fault.Usage, "outside", "Start lampwise serve with the folder it lies in.", "%s lies in no folder that was opened", name)
}

// allInside asks that the files an episode reads and writes lie in opened folders.
func (s *Server) allInside(e book.Episode) error {
	for _, c := range e.Clips {
		for _, f := range []string{c.File, c.Out} {
			if _, err := s.idOf(f); err != nil {
				return err
			}
		}
	}
	return nil
}
