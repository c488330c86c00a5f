package server

import (
	"context"
	"encoding/json"
	"net/http"
	"path/filepath"
	"reflect"

	"lampwise/internal/fault"
	"lampwise/internal/job"
)

// endpoint is a call of the page: POST /api/name with a JSON object, answered
// by one. The page's typed client is generated from these (typescript_test.go).
type endpoint struct {
	name   string
	about  string
	ask    reflect.Type
	answer reflect.Type
	handle http.Handler
}

func call[Ask, Answer any](name, about string, f func(ctx context.Context, a Ask) (Answer, error)) endpoint {
	h := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		var ask Ask
		if err := read(r, &ask); err != nil {
			fail(w, 0, err)
			return
		}
		out, err := f(r.Context(), ask)
		if err != nil {
			fail(w, 0, err)
			return
		}
		answer(w, out)
	})
	return endpoint{name: name, about: about, ask: reflect.TypeFor[Ask](), answer: reflect.TypeFor[Answer](), handle: h}
}

func (s *Server) endpoints() []endpoint {
	return []endpoint{
		call("start", "what the page opens with", s.start),
		call("probe", "what a clip is", s.probe),
		call("grade/open", "reads a grade file", s.openGrade),
		call("grade/new", "writes a starting grade", s.newGrade),
		call("grade/save", "writes a grade file", s.saveGrade),
		call("light", "how a frame's light lies along the ladder, and its regions' readings", s.light),
		call("lut", "writes a grade as a LUT file", s.lut),
		call("set", "what a set says", s.set),
		call("mix", "what a set reads at other levels, through a grade", s.mix),
		call("solve", "levels for targets", s.solve),
		call("rename", "gives lamps of a set names", s.rename),
		call("render", "begins a render", s.render),
		call("verify", "begins to verify a finished file", s.verify),
		call("learn", "begins to learn a set from a switch clip", s.learn),
		call("check", "begins a set check", s.check),
		call("measure", "begins to measure a clip", s.measure),
		call("demo", "begins to make the generated example in a folder", s.demo),
		call("call", "plans the calls of a switching order", s.call),
		call("room/look", "a plan's figures as it stands on the page", s.room),
		call("room/new", "writes a plan to begin from", s.newRoom),
		call("room/save", "writes a plan's text", s.saveRoom),
		call("room/solve", "levels that make a plan read what is wanted", s.solveRoom),
		call("room/meet", "what a set measured beside what a plan predicts", s.meetRoom),
		call("room/kinds", "the generic lamps", s.lampKinds),
		call("cancel", "stops a job", s.cancel),
		call("phones/state", "which phones are paired, and how to pair one", s.phonesState),
		call("phones/code", "shows a code for one phone", s.newCode),
		call("phones/forget", "forgets a phone", s.forgetPhone),
		call("phone/start", "what a phone's page opens with", s.hereStarted),
		call("grade/suggest", "begins to work out what a grade should be for a clip", s.suggest),
		call("grade/budget", "begins to work out what a grade costs on a clip", s.budget),
		call("grade/with", "a grade with settings put into it", s.gradeWith),
		call("episodes/all", "a set's episodes with what was found of their clips", s.allEpisodes),
		call("episodes/plan", "what would be done with a folder of clips", s.planEpisode),
		call("episodes/add", "makes an episode and begins its work", s.addEpisode),
		call("episodes/work", "goes on with what waits of an episode", s.workEpisode),
		call("episodes/retry", "lets clips that were set aside wait again, and works", s.retryEpisode),
		call("episodes/compare", "two episodes beside each other", s.compareEpisodes),
		call("episodes/history", "a set's numbers over its episodes", s.history),
		call("episodes/report", "begins to write an episode's report", s.reportEpisode),
		call("episodes/handoff", "begins to write what others need of a grade", s.handoff),
	}
}

// Nothing is asked or answered.
type Nothing struct{}

// Started is what the page opens with.
type Started struct {
	Version string          `json:"version"`
	Folders []string        `json:"folders"`
	Files   []ListedFile    `json:"files"`
	Sets    []job.ListedSet `json:"sets"`
	Curves  []string        `json:"curves"`
}

func (s *Server) start(ctx context.Context, _ Nothing) (*Started, error) {
	s.live.Forget()
	s.plans.Forget()
	sets, err := job.ListSets(ctx, s.options.Store)
	if err != nil {
		return nil, err
	}
	return &Started{Version: s.options.Version, Folders: s.folders, Files: s.list(), Sets: sets, Curves: job.CurveIDs()}, nil
}

// FileAsked names one file.
type FileAsked struct {
	ID string `json:"id"`
}

// Probed is what the page needs of a clip.
type Probed struct {
	ID       string   `json:"id"`
	Width    int      `json:"width"`
	Height   int      `json:"height"`
	Frames   int      `json:"frames"`
	Rate     float64  `json:"rate"`
	Duration float64  `json:"duration_s"`
	Bits     int      `json:"bits"`
	Codec    string   `json:"codec"`
	Range    string   `json:"range"`
	Notes    []string `json:"notes"`
	Curve    string   `json:"curve"` // said before of clips like it; empty: not known
	Rotation int      `json:"rotation"`
}

func (s *Server) probe(ctx context.Context, a FileAsked) (*Probed, error) {
	path, err := s.path(a.ID)
	if err != nil {
		return nil, err
	}
	info, err := s.live.Info(ctx, path)
	if err != nil {
		return nil, err
	}
	v := info.Video
	p := &Probed{ID: a.ID, Width: v.Width, Height: v.Height, Frames: v.Frames, Rate: v.Rate.Float(), Duration: info.Duration, Bits: v.Bits, Codec: v.Codec, Range: string(v.Range), Notes: []string{}, Rotation: v.Rotation}
	for _, n := range info.Notes {
		p.Notes = append(p.Notes, n.Message)
	}
	p.Curve, err = job.SaidCurve(ctx, s.options.Store, info)
	return p, err
}

// OpenedGrade is a grade file's settings.
type OpenedGrade struct {
	ID    string          `json:"id"`
	Grade json.RawMessage `json:"grade" ts:"Grade"`
	Text  string          `json:"text"`
}

func (s *Server) openGrade(_ context.Context, a FileAsked) (*OpenedGrade, error) {
	path, err := s.path(a.ID)
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
}

func (s *Server) saveGrade(ctx context.Context, a GradeKept) (*OpenedGrade, error) {
	path, err := s.path(a.ID)
	if err != nil {
		return nil, err
	}
	if filepath.Ext(path) != ".toml" {
		return nil, fault.New(fault.Usage, "grade-name", "Name it with .toml at the end.", "%s: a grade is a .toml file", a.ID)
	}
	if err := job.SaveGrade(a.Grade, path, a.New); err != nil {
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

func (s *Server) live1(a Shown) (job.LiveRequest, error) {
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
	r, err := s.live1(a.Shown)
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
	r, err := s.live1(a.Shown)
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

// RenderAsked is one clip, one saved grade, one finished file.
type RenderAsked struct {
	Clip      string `json:"clip"`
	Grade     string `json:"grade"`
	Out       string `json:"out"`
	Overwrite bool   `json:"overwrite"`
}

func (s *Server) render(_ context.Context, a RenderAsked) (*Job, error) {
	p, err := s.paths(a.Clip, a.Grade, a.Out)
	if err != nil {
		return nil, err
	}
	return s.jobs.start("render", a.Out, func(ctx context.Context, report job.Progress) (any, error) {
		r, err := job.Render(ctx, job.RenderRequest{Clip: p[0], Grade: p[1], Out: p[2], Overwrite: a.Overwrite}, report)
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

// LearnAsked takes a switch clip apart.
type LearnAsked struct {
	Clip      string `json:"clip"`
	Set       string `json:"set"`
	Order     string `json:"order"` // empty: by the caller's beeps, or guessed
	Curve     string `json:"curve"`
	Overwrite bool   `json:"overwrite"`
}

func (s *Server) learn(_ context.Context, a LearnAsked) (*Job, error) {
	clip, err := s.path(a.Clip)
	if err != nil {
		return nil, err
	}
	return s.jobs.start("learn", a.Set, func(ctx context.Context, report job.Progress) (any, error) {
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
	file, err := s.path(a.File)
	if err != nil {
		return nil, err
	}
	return s.jobs.start("check", a.File, func(ctx context.Context, _ job.Progress) (any, error) {
		return job.Check(ctx, s.options.Store, job.CheckRequest{File: file, Set: a.Set, CameraSame: a.CameraSame})
	})
}

// MeasureAsked reads a clip and says what is wrong with it.
type MeasureAsked struct {
	Clip  string `json:"clip"`
	Set   string `json:"set"`
	Grade string `json:"grade"`
}

func (s *Server) measure(_ context.Context, a MeasureAsked) (*Job, error) {
	clip, err := s.path(a.Clip)
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

// JobAsked names a job.
type JobAsked struct {
	Job string `json:"job"`
}

func (s *Server) cancel(_ context.Context, a JobAsked) (Nothing, error) {
	s.jobs.cancelJob(a.Job)
	return Nothing{}, nil
}

func (s *Server) paths(ids ...string) ([]string, error) {
	var out []string
	for _, id := range ids {
		p, err := s.path(id)
		if err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	return out, nil
}
