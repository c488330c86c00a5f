package job

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"os"
	"sync"
	"time"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/grade"
	"lampwise/internal/lamps"
	"lampwise/internal/media"
	"lampwise/internal/picture"
)

// Live is what a page needs to show a grade while it is being made: clips that
// were looked at, their frames, LUT files and sets, each read once. It is safe
// for concurrent use.
type Live struct {
	mu      sync.Mutex
	infos   map[string]seen[*media.Info]
	probing map[string]chan struct{} // closed when it is done
	luts    map[string]grade.LUTs
	cubes   map[string][]byte
	frames  *frameShelf
	scrubs  *frameShelf
	sets    map[string]*liveSet

	ahead context.Context // of what is begun before it is asked for; nil: nothing is
	stop  context.CancelFunc
	warm  warm
	river river
}

type seen[T any] struct {
	value T
	size  int64
	at    time.Time
}

// NewLive makes an empty one.
func NewLive() *Live {
	return &Live{infos: map[string]seen[*media.Info]{}, probing: map[string]chan struct{}{}, luts: map[string]grade.LUTs{}, cubes: map[string][]byte{}, frames: newShelf(shelfBytes), scrubs: newShelf(scrubBytes), sets: map[string]*liveSet{}}
}

// Forget drops the LUT files read, so that they are read anew.
func (l *Live) Forget() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.luts = map[string]grade.LUTs{}
}

// OverrideOf is what is said against a clip's tags, in a grade's words; auto or
// empty means as tagged.
func OverrideOf(rng, matrix string) media.Override {
	g := grade.Starting("")
	g.Decode.Range, g.Decode.Matrix = rng, matrix
	if rng == "" {
		g.Decode.Range = "auto"
	}
	if matrix == "" {
		g.Decode.Matrix = "auto"
	}
	return Override(g)
}

// CurveIDs are the camera curves' names.
func CurveIDs() []string {
	var out []string
	for _, c := range colour.Curves() {
		out = append(out, c.ID)
	}
	return out
}

// Info probes a clip, once for each state of its file, however many ask.
func (l *Live) Info(ctx context.Context, clip string) (*media.Info, error) {
	st, err := os.Stat(clip)
	if err != nil {
		return nil, inputFault(clip, err)
	}
	for {
		l.mu.Lock()
		if old, ok := l.infos[clip]; ok && old.size == st.Size() && old.at.Equal(st.ModTime()) {
			l.mu.Unlock()
			return old.value, nil
		}
		other := l.probing[clip]
		if other == nil {
			break
		}
		l.mu.Unlock()
		select {
		case <-other:
		case <-ctx.Done():
			return nil, stopped(ctx)
		}
	}
	done := make(chan struct{})
	l.probing[clip] = done
	l.mu.Unlock()
	info, err := media.Probe(ctx, clip)
	l.mu.Lock()
	defer l.mu.Unlock()
	delete(l.probing, clip)
	close(done)
	if err != nil {
		return nil, err
	}
	l.infos[clip] = seen[*media.Info]{info, st.Size(), st.ModTime()}
	return info, nil
}

// GradeOf reads a grade written as JSON, strictly: the same checks as for a
// grade's file. With file not empty the comments of that file are kept.
func GradeOf(data []byte, file string) (*grade.Grade, error) {
	bad := func(err error) error {
		return fault.Wrap(err, fault.Input, "grade-json", "Load the page again.", "the settings sent can't be read: %v", err)
	}
	g := grade.Starting("")
	if file != "" {
		if old, err := grade.Load(file); err == nil {
			g = old
		}
	}
	// Lists and optional parts are taken as sent, not added to what stood there.
	g.Curve.Master, g.Curve.Red, g.Curve.Green, g.Curve.Blue, g.Curve.Foot = nil, nil, nil, nil, nil
	g.Balance.White, g.Balance.Target = grade.White{}, grade.White{}
	g.Saturation.CDL, g.Decode.Params = nil, nil
	if err := json.Unmarshal(data, g); err != nil {
		return nil, bad(err)
	}
	return grade.Parse(g.Bytes(), "grade")
}

// LiveRequest asks for a grade as a program for a page.
type LiveRequest struct {
	Clip   string       // empty: none
	Grade  *grade.Grade // settings
	Folder string       // from which its LUT files are named
	After  string       // show the picture as it is after this stage; empty: the finished one
	Set    string       // a set whose lamp pictures are what goes in, in place of the clip; empty: none
}

// LiveProgram is a program ready for a graphics processor, and what the stop
// ladder shows of it.
type LiveProgram struct {
	Packed
	Domain string     `json:"domain"` // what is seen: screen, log, scene light shown in log
	Ladder []LiveRung `json:"ladder"` // neutrals through the whole path
	Plain  []LiveRung `json:"plain"`  // the same with the curve off: where a rung's end lies
	// Clip is where the recording clips, in stops from grey, and whether that
	// was measured; else it is the curve's end, an upper bound.
	Clip     float64    `json:"clip_stops"`
	Measured bool       `json:"clip_measured"`
	Split    *LiveSplit `json:"split"` // null: that stage doesn't run
	Notes    []string   `json:"notes"`
	Millis   float64    `json:"milliseconds"`
}

// LiveSplit is what the split stage comes to.
type LiveSplit struct {
	Pushes      [3]grade.Push `json:"pushes"`  // shadow, middle, high, the counter-push filled in
	CardDE      float64       `json:"card_de"` // how far a grey card moves on the screen, CIEDE2000
	CardNeutral bool          `json:"card_neutral"`
}

// LiveRung is a scene light and where it comes to on the screen.
type LiveRung struct {
	Scene  float64 `json:"scene"`
	Screen float64 `json:"screen"` // stops from displayed grey
	Signal float64 `json:"signal"` // 0..1
}

// ladderStops are the scene lights at which the ladder is told: every quarter stop.
var ladderStops = func() (s []float64) {
	for x := -10.0; x <= 8; x += 0.25 {
		s = append(s, x)
	}
	return s
}()

// Program compiles settings for the page.
func (l *Live) Program(ctx context.Context, r LiveRequest) (*LiveProgram, error) {
	began := time.Now()
	path, err := l.path(ctx, r)
	if err != nil {
		return nil, err
	}
	out := &LiveProgram{Domain: string(grade.DomainScreen), Notes: append([]string{}, path.Notes...), Ladder: rungs(path)}
	g := path.Grade
	if !g.Curve.Off {
		g.Curve.Off = true
		without, err := grade.Build(&g, path.Clip, l.lutsIn(r.Folder))
		if err != nil {
			return nil, err
		}
		out.Plain = rungs(without)
	} else {
		out.Plain = out.Ladder
	}
	out.Clip, out.Measured = clipStops(path)
	if r := path.Split(); r != nil {
		out.Split = &LiveSplit{Pushes: r.Pushes, CardDE: r.CardDeltaE, CardNeutral: r.CardNeutral}
	}
	shown := path
	if r.After != "" {
		if shown, err = l.upTo(path, r); err != nil {
			return nil, err
		}
		switch path.DomainAfter(grade.Stage(r.After)) {
		case grade.DomainLog:
			out.Domain = "log"
		case grade.DomainScene:
			out.Domain = "scene light, shown in log"
		}
	}
	program, err := shown.Program()
	if err != nil {
		return nil, err
	}
	packed, cubes, err := pack(program)
	if err != nil {
		return nil, err
	}
	l.mu.Lock()
	for id, data := range cubes {
		l.cubes[id] = data
	}
	l.mu.Unlock()
	out.Packed = *packed
	if r.Set != "" {
		if err := out.encodeFirst(path.Curve); err != nil {
			return nil, err
		}
	}
	out.Millis = float64(time.Since(began).Microseconds()) / 1000
	return out, nil
}

// Cube is the data of a 3-D LUT that a packed program names.
func (l *Live) Cube(id string) ([]byte, bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	data, ok := l.cubes[id]
	return data, ok
}

func (l *Live) path(ctx context.Context, r LiveRequest) (*grade.Path, error) {
	c := grade.Clip{Format: picture.Format{Width: 64, Height: 64, Bits: 10, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft}}
	if r.Clip != "" {
		info, err := l.Info(ctx, r.Clip)
		if err != nil {
			return nil, err
		}
		c.Format, c.CurveHint = info.FormatWith(Override(r.Grade)), info.HintKey
	}
	return grade.Build(r.Grade, c, l.lutsIn(r.Folder))
}

// upTo is the path with all stages behind one turned off; before convert the
// picture is then seen as the camera records it, in log.
func (l *Live) upTo(p *grade.Path, r LiveRequest) (*grade.Path, error) {
	g := p.Grade
	behind := false
	for _, s := range grade.Stages() {
		if behind && s != grade.StageEncode {
			g.SetOff(s, true)
		}
		behind = behind || s == grade.Stage(r.After)
	}
	return grade.Build(&g, p.Clip, l.lutsIn(r.Folder))
}

func (l *Live) lutsIn(folder string) grade.LUTs {
	l.mu.Lock()
	defer l.mu.Unlock()
	luts := l.luts[folder]
	if luts == nil {
		luts = LUTsIn(folder)
		l.luts[folder] = luts
	}
	return luts
}

func rungs(p *grade.Path) []LiveRung {
	out := make([]LiveRung, 0, len(ladderStops))
	for _, r := range p.Ladder(ladderStops) {
		out = append(out, LiveRung{r.SceneStops, r.ScreenStops, r.Signal})
	}
	return out
}

// clipStops is where the recording clips, in stops from grey.
func clipStops(p *grade.Path) (float64, bool) {
	if p.Curve == nil {
		return math.Log2(1 / colour.Grey), false
	}
	y, measured := 1.0, p.Grade.Decode.Clip > 0
	if measured {
		y = p.Grade.Decode.Clip / 1023
		if p.Curve.Levels == colour.LevelsVideo {
			y = (p.Grade.Decode.Clip - 64) / 876 // narrow range, ITU-R BT.709-6, item 4.6
		}
	}
	return math.Log2(math.Max(p.Curve.Decode(y), 1e-6) / colour.Grey), measured
}

// liveSet is a set held open.
type liveSet struct {
	set     *lamps.Set
	changed time.Time
}

// LoadGrade reads a grade file.
func LoadGrade(file string) (*grade.Grade, error) { return grade.Load(file) }

// SaveGrade writes settings given as JSON into a grade file; comments that
// stand in it are kept. With fresh set, nothing may stand there yet. With was
// neither empty nor null, the file must still hold those settings.
func SaveGrade(data []byte, file string, fresh bool, was []byte) error {
	if fresh {
		if err := absent(file); err != nil {
			return err
		}
	}
	if len(was) > 0 && string(was) != "null" {
		if err := holds(file, was); err != nil {
			return err
		}
	}
	g, err := GradeOf(data, file)
	if err != nil {
		return err
	}
	return g.Save(file)
}

// holds is a fault when a grade file was changed since it held these settings.
// One that is gone or can't be read any more holds nothing that could be lost.
func holds(file string, was []byte) error {
	now, err := grade.Load(file)
	if err != nil {
		return nil //nolint:nilerr // see above
	}
	then, err := GradeOf(was, file)
	if err != nil {
		return err
	}
	if !bytes.Equal(now.Bytes(), then.Bytes()) {
		return fault.New(fault.Storage, "grade-changed", "Take what the file holds now, or write over it.", "%s was changed elsewhere since it was opened here", file)
	}
	return nil
}
