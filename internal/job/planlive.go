package job

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"sync"

	"lampwise/internal/fault"
	"lampwise/internal/light"
	"lampwise/internal/unit"
)

// PlanChange is one change of a plan's text.
type PlanChange = light.PlanChange

// LivePlans are the plans that a page looks at, each kept ready, so that
// dragging a lamp computes that lamp alone. It is safe for concurrent use.
type LivePlans struct {
	mu     sync.Mutex
	scenes map[string]*light.Scene
}

// NewLivePlans makes an empty one.
func NewLivePlans() *LivePlans { return &LivePlans{scenes: map[string]*light.Scene{}} }

// LivePlanRequest is a plan as it stands on the page.
type LivePlanRequest struct {
	File    string
	Text    string // as it stands; empty: as it is in the file
	Changes []PlanChange
	Isolux  bool // lines of equal light, too: they take longest
}

// LivePlan is a plan with its figures and what a drawing of it needs.
type LivePlan struct {
	Text    string       `json:"text"`
	Saved   bool         `json:"saved"` // the text is what the file says
	Plan    *light.Plan  `json:"plan"`
	Figures *Planned     `json:"figures"`
	Lamps   []LiveLamp   `json:"lamps"`
	Head    [3]float64   `json:"head"`
	Facing  [3]float64   `json:"facing"` // the way the face looks
	Isolux  []LiveIsolux `json:"isolux"` // empty when not asked for
}

// LiveLamp is how a lamp stands in the room.
type LiveLamp struct {
	At     [3]float64   `json:"at"`
	Facing [3]float64   `json:"facing"`
	Across [3]float64   `json:"across"` // its width's direction
	Up     [3]float64   `json:"up"`     // its height's
	Cable  [][2]float64 `json:"cable"`  // along the floor to its socket; empty: no socket is said
}

// LiveIsolux is a line of equal light at the eyes' height, on upright planes
// that face the camera.
type LiveIsolux struct {
	Stop   int          `json:"stop"` // from the lux that the exposure calls grey
	Points [][2]float64 `json:"points"`
}

// Look computes a plan as it stands on the page.
func (l *LivePlans) Look(r LivePlanRequest) (*LivePlan, error) {
	kept, err := light.ReadFile(r.File)
	if err != nil && (r.Text == "" || !errors.Is(err, os.ErrNotExist)) {
		return nil, err
	}
	text := []byte(r.Text)
	if r.Text == "" {
		text = kept
	}
	if len(r.Changes) > 0 {
		if text, err = light.Edit(text, r.Changes, filepath.Base(r.File)); err != nil {
			return nil, err
		}
	}
	out, err := l.planned(text, r.File)
	if err != nil {
		return nil, err
	}
	return livePlan(out, text, bytes.Equal(text, kept), r.Isolux), nil
}

// planned computes a plan's text, from the last one of its file where it can.
func (l *LivePlans) planned(text []byte, file string) (*Planned, error) {
	p, err := light.Parse(text, filepath.Base(file))
	if err != nil {
		return nil, err
	}
	l.mu.Lock()
	old := l.scenes[file]
	l.mu.Unlock()
	var s *light.Scene
	if old != nil && slices.Equal(photometryOf(p), photometryOf(old.Plan)) {
		s, err = old.Again(p)
	} else {
		var webs map[string]light.Distribution
		if webs, err = loadWebs(p, filepath.Dir(file)); err == nil {
			s, err = light.NewScene(p, webs)
		}
	}
	if err != nil {
		return nil, err
	}
	l.mu.Lock()
	l.scenes[file] = s
	l.mu.Unlock()
	return planScene(s, file)
}

// Forget drops what is kept of plans, so that their photometric files are read
// anew.
func (l *LivePlans) Forget() {
	l.mu.Lock()
	defer l.mu.Unlock()
	clear(l.scenes)
}

func photometryOf(p *light.Plan) []string {
	var out []string
	for i := range p.Lamps {
		if n := p.Lamps[i].Photometry; n != "" && !slices.Contains(out, n) {
			out = append(out, n)
		}
	}
	slices.Sort(out)
	return out
}

func livePlan(out *Planned, text []byte, saved, isolux bool) *LivePlan {
	s := out.scene
	three := func(v light.Vec) [3]float64 { return [3]float64{v.X, v.Y, v.Z} }
	live := &LivePlan{Text: string(text), Saved: saved, Plan: s.Plan, Figures: out, Head: three(s.Head()), Facing: three(s.Places[0].Normal.Add(s.Places[1].Normal).Unit()), Lamps: []LiveLamp{}, Isolux: []LiveIsolux{}}
	for i := range s.Plan.Lamps {
		at, z, x, y := s.Axis(i)
		lamp := LiveLamp{At: three(at), Facing: three(z), Across: three(x), Up: three(y), Cable: [][2]float64{}}
		if socket, foot, _, ok := out.socketOf(i); ok {
			lamp.Cable, _ = cableRun(float64(s.Plan.Room.Width), float64(s.Plan.Room.Depth), foot, socket, cableGap+cableNext*float64(i))
		}
		live.Lamps = append(live.Lamps, lamp)
	}
	if isolux {
		live.Isolux = out.isoluxLines(liveStep)
	}
	return live
}

// liveStep is how fine the light is mapped for lines on a screen, in metres: a
// page shows a room at about a pixel a centimetre.
const liveStep = 0.05

// isoluxLines are the lines a stop apart, specks left out.
func (out *Planned) isoluxLines(step float64) []LiveIsolux {
	m := out.isolux(step)
	lines := []LiveIsolux{}
	for stop := -contourReach; stop <= contourReach; stop++ {
		for _, c := range m.Contours(out.Exposure.GreyLux * unit.Stop(stop).Factor()) {
			if float64(len(c.Points))*step < 1 {
				continue
			}
			lines = append(lines, LiveIsolux{stop, c.Points})
		}
	}
	return lines
}

// Solve finds levels for a plan as it stands on the page.
func (l *LivePlans) Solve(r LivePlanRequest, targets []string) (*PlanSolved, error) {
	out, err := l.asItStands(r)
	if err != nil {
		return nil, err
	}
	return SolvePlan(out, targets)
}

// Meet puts a learned set beside a plan as it stands on the page.
func (l *LivePlans) Meet(ctx context.Context, store Sets, r LivePlanRequest, set string) (*PlanMet, error) {
	out, err := l.asItStands(r)
	if err != nil {
		return nil, err
	}
	return MeetSet(ctx, store, out, set)
}

func (l *LivePlans) asItStands(r LivePlanRequest) (*Planned, error) {
	text := []byte(r.Text)
	if r.Text == "" {
		var err error
		if text, err = light.ReadFile(r.File); err != nil {
			return nil, err
		}
	}
	return l.planned(text, r.File)
}

// SavePlan writes a plan's text. was is the text that the page began from: when
// the file says something else by now, nothing is written.
func SavePlan(file, text, was string) error {
	if _, err := light.Parse([]byte(text), filepath.Base(file)); err != nil {
		return err
	}
	now, err := light.ReadFile(file)
	switch {
	case errors.Is(err, os.ErrNotExist) && was == "":
	case err != nil:
		return err
	case was == "":
		return absent(file)
	case string(now) != was && string(now) != text:
		return fault.New(fault.Usage, "plan-changed", "Open it again to see the other change, or save yours under another name.", "%s was changed by something else since it was opened", filepath.Base(file))
	}
	return writeFile(file, true, []byte(text))
}

// IsPlan says whether a .toml file is a plan of a room, by its tables.
func IsPlan(file string) bool {
	f, err := os.Open(file)
	if err != nil {
		return false
	}
	defer f.Close()
	head := make([]byte, 16<<10)
	n, _ := f.Read(head)
	for line := range bytes.Lines(head[:n]) {
		if t := bytes.TrimSpace(line); bytes.HasPrefix(t, []byte("[room]")) {
			return true
		}
	}
	return false
}
