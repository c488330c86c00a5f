package server

import (
	"context"
	"net/http"
	"reflect"

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
	// Kinds says by its ending what a file is taken for: ".mov" a clip.
	Kinds map[string]string `json:"kinds"`
}

func (s *Server) start(ctx context.Context, _ Nothing) (*Started, error) {
	s.live.Forget()
	s.plans.Forget()
	sets, err := job.ListSets(ctx, s.options.Store)
	if err != nil {
		return nil, err
	}
	return &Started{Version: s.options.Version, Folders: s.folders, Files: s.list(), Sets: sets, Curves: job.CurveIDs(), Kinds: kinds}, nil
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
	Opening  int      `json:"opening"` // frame to open it at: near the middle where that is quick
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
	path, err := s.there(a.ID)
	if err != nil {
		return nil, err
	}
	info, err := s.live.Info(ctx, path)
	if err != nil {
		return nil, err
	}
	v := info.Video
	p := &Probed{Opening: info.Entry(v.Frames / 2), ID: a.ID, Width: v.Width, Height: v.Height, Frames: v.Frames, Rate: v.Rate.Float(), Duration: info.Duration, Bits: v.Bits, Codec: v.Codec, Range: string(v.Range), Notes: []string{}, Rotation: v.Rotation}
	for _, n := range info.Notes {
		p.Notes = append(p.Notes, n.Message)
	}
	p.Curve, err = job.SaidCurve(ctx, s.options.Store, info)
	return p, err
}

// paths are the files that are to be read.
func (s *Server) paths(ids ...string) ([]string, error) {
	var out []string
	for _, id := range ids {
		p, err := s.there(id)
		if err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	return out, nil
}
