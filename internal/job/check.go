package job

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"path/filepath"
	"time"

	"lampwise/internal/book"
	"lampwise/internal/colour"
	"lampwise/internal/lamps"
	"lampwise/internal/media"
)

// CheckRequest holds today's clip or still against a set.
type CheckRequest struct {
	File, Set string
	Curve     string // empty: the set's
	Override  media.Override
	// CameraSame: the camera's settings were looked at, and are as they were
	// when the set was learned.
	CameraSame bool
	Forget     bool // keep nothing of it in the set's history
	Threads    int
}

// Checked is the answer: docs/json.md, check.
type Checked struct {
	Verdict    string         `json:"verdict"` // same, drift, unsure
	File       string         `json:"file"`
	Set        string         `json:"set"`
	Lamps      []CheckedLamp  `json:"lamps"`
	Ambient    CheckedAmbient `json:"ambient"`
	Camera     CheckedCamera  `json:"camera"`
	Unknown    []CheckedLight `json:"unknown"`
	Advice     []string       `json:"advice"`
	Reasons    []string       `json:"reasons"` // why unsure
	Correction *Correction    `json:"correction"`
	Explained  float64        `json:"explained"` // share of the picture
	Thresholds CheckedHabit   `json:"thresholds"`
	Frames     int            `json:"frames"`
	Notes      []string       `json:"notes"`
	Seconds    float64        `json:"seconds"` // the fit alone

	record book.SetCheck // as the set's history keeps it
}

// CheckedLamp is one lamp against the reference mix.
type CheckedLamp struct {
	Name    string   `json:"name"`
	Stops   *float64 `json:"stops"`
	SE      *float64 `json:"se"`
	Mired   *float64 `json:"mired"` // redder is positive; null for a coloured lamp
	MiredSE *float64 `json:"mired_se"`
	Verdict string   `json:"verdict"` // same, brighter, darker, off, colour, different, unsure
	Act     bool     `json:"act"`
	Share   float64  `json:"share"`
	Reason  string   `json:"reason,omitempty"`
}

// CheckedAmbient is the light no switch turns off.
type CheckedAmbient struct {
	Stops   *float64 `json:"stops"`
	SE      *float64 `json:"se"`
	Changed bool     `json:"changed"`
}

// CheckedCamera is what the camera does otherwise than when the set was learned.
type CheckedCamera struct {
	Gain     *float64 `json:"gain_stops"`
	GainSE   *float64 `json:"gain_se"`
	Balance  *float64 `json:"white_balance_mired"`
	DX       float64  `json:"dx"` // pixels of the clip
	DY       float64  `json:"dy"`
	Scale    float64  `json:"scale"`
	Rotation float64  `json:"rotation"` // degrees, clockwise
	Moved    bool     `json:"moved"`
	Changed  bool     `json:"changed"`
	// Inseparable: to know that its settings are as they were would tell more.
	Inseparable bool `json:"inseparable"`
}

// CheckedLight is light no lamp of the set explains.
type CheckedLight struct {
	X     float64 `json:"x"` // fractions of the picture
	Y     float64 `json:"y"`
	W     float64 `json:"w"`
	H     float64 `json:"h"`
	Stops float64 `json:"stops"`
}

// CheckedHabit are the thresholds this check went by.
type CheckedHabit struct {
	Mention float64 `json:"mention_stops"`
	Act     float64 `json:"act_stops"`
	Checks  int     `json:"from_checks"`
}

// Correction would bring a clip already shot nearest to the reference.
type Correction struct {
	Exposure float64            `json:"exposure_stops"`
	Balance  [2]float64         `json:"balance_stops"` // of red and blue against green, on top
	Left     map[string]float64 `json:"left_stops"`    // what each region then still differs by
}

// Check explains a clip or still as a mix of the set's lamps. The set is opened
// while the clip is decoded.
func Check(ctx context.Context, store Sets, r CheckRequest) (*Checked, error) {
	kept, err := store.Set(ctx, r.Set)
	if err != nil {
		return nil, err
	}
	type opened struct {
		set *lamps.Set
		err error
	}
	open := make(chan opened, 1)
	go func() {
		set, _, err := OpenSet(ctx, store, r.Set)
		open <- opened{set, err}
	}()
	c := kept.Settings.Clip
	n := squareFor(c.Width, workingWidth)
	w, h := c.Width/n, c.Height/n
	var t *today
	var failed error
	if w > 0 && h > 0 {
		t, failed = readFor(ctx, r, kept, w, h)
	}
	o := <-open
	if o.err != nil {
		return nil, o.err
	}
	if failed != nil {
		return nil, failed
	}
	if t == nil || o.set.W != w || o.set.H != h {
		return checkSet(ctx, store, r, o.set, kept) // learned at another size
	}
	return judgeToday(ctx, store, r, o.set, t)
}

func checkSet(ctx context.Context, store Sets, r CheckRequest, set *lamps.Set, kept book.Set) (*Checked, error) {
	t, err := readFor(ctx, r, kept, set.W, set.H)
	if err != nil {
		return nil, err
	}
	return judgeToday(ctx, store, r, set, t)
}

// readFor reads a clip or still for a set whose pictures are w×h.
func readFor(ctx context.Context, r CheckRequest, kept book.Set, w, h int) (*today, error) {
	c := kept.Settings.Clip
	curve := r.Curve
	if curve == "" {
		curve = c.Curve
	}
	// What was said against the switch clip's tags goes for clips of the same camera.
	o := r.Override
	if o.Range == "" {
		o.Range = colour.Range(c.Range)
	}
	if o.Matrix == "" {
		o.Matrix = colour.MatrixCoefficients(c.Matrix)
	}
	decoding, err := decodingOf(curve, o)
	if err != nil {
		return nil, err
	}
	return readToday(ctx, todayRequest{
		path: r.File, decoding: decoding, w: w, h: h, clipCode: c.ClipCode, signal: colour.Range(c.Signal), correlated: kept.Settings.Correlated, step: lamps.FrameStep(c.Rate), threads: r.Threads,
	})
}

// judgeToday says what differs, and keeps the answer.
func judgeToday(ctx context.Context, store Sets, r CheckRequest, set *lamps.Set, t *today) (*Checked, error) {
	began := time.Now()
	report, err := set.CheckWith(t.light, lamps.CheckOptions{CameraSame: r.CameraSame})
	if err != nil {
		return nil, inClip(err, r.File)
	}
	out := answerCheck(r, set, report, t)
	out.Seconds = time.Since(began).Seconds()
	checks, err := store.SetChecks(ctx, r.Set, historyRead)
	if err != nil {
		return nil, err
	}
	out.Thresholds = CheckedHabit{float64(set.Habit.Mention), float64(set.Habit.Act), len(checks)}
	if out.record, err = recordOf(out, report); err != nil || r.Forget {
		return out, err
	}
	return out, store.KeepSetCheck(ctx, out.Set, out.record)
}

// recordOf is a check as the set's history keeps it.
func recordOf(out *Checked, report *lamps.CheckReport) (book.SetCheck, error) {
	answer, err := json.Marshal(out)
	if err != nil {
		return book.SetCheck{}, fmt.Errorf("keep check: %w", err)
	}
	c := book.SetCheck{When: time.Now(), File: filepath.Base(out.File), Verdict: out.Verdict, Changes: map[string]float64{}, Answer: answer}
	for _, l := range report.Lamps {
		if v := float64(l.Stops); l.Finding != lamps.Unsure && !math.IsNaN(v) && !math.IsInf(v, 0) {
			c.Changes[l.Name] = v
		}
	}
	return c, nil
}

func answerCheck(r CheckRequest, set *lamps.Set, report *lamps.CheckReport, t *today) *Checked {
	out := &Checked{
		Verdict: string(report.Outcome), File: r.File, Set: r.Set, Lamps: []CheckedLamp{}, Unknown: []CheckedLight{}, Advice: []string{},
		Reasons: append([]string{}, report.Reasons...), Explained: report.Explained, Frames: t.frames, Notes: append([]string{}, t.notes...),
	}
	for _, l := range report.Lamps {
		c := CheckedLamp{
			Name: l.Name, Stops: finite(float64(l.Stops)), SE: finite(float64(l.Error)), Mired: finite(float64(l.Mired)), MiredSE: finite(float64(l.MiredError)),
			Verdict: string(l.Finding), Act: l.Act, Share: l.Share, Reason: l.Reason,
		}
		if c.Mired == nil {
			c.MiredSE = nil
		}
		out.Lamps = append(out.Lamps, c)
	}
	if a := report.Ambient; a.Known {
		out.Ambient = CheckedAmbient{finite(float64(a.Stops)), finite(float64(a.Error)), a.Changed}
	}
	m := report.Camera
	out.Camera = CheckedCamera{
		Gain: finite(float64(m.Gain)), GainSE: finite(float64(m.GainError)), Balance: finite(float64(m.BalanceMired)),
		DX: m.Registration.DX * t.scale, DY: m.Registration.DY * t.scale, Scale: m.Registration.Scale, Rotation: m.Registration.Rotation * 180 / math.Pi,
		Moved: m.Moved, Changed: m.Changed || m.BalanceChanged, Inseparable: m.Inseparable && report.Model != nil,
	}
	if report.Model == nil {
		out.Camera.Gain, out.Camera.GainSE, out.Camera.Balance = nil, nil, nil
	}
	for _, u := range report.Unknown {
		out.Unknown = append(out.Unknown, CheckedLight{u.X, u.Y, u.W, u.H, float64(u.Stops)})
	}
	out.Advice = adviseOn(set, report, out)
	out.Correction = correctionFor(set, report)
	return out
}
