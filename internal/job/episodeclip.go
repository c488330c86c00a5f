package job

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"time"

	"lampwise/internal/book"
	"lampwise/internal/fault"
	"lampwise/internal/gauge"
	"lampwise/internal/media"
	"lampwise/internal/region"
)

// EpisodeAnswer is what was found of a clip on the way: docs/json.md, episodes.
type EpisodeAnswer struct {
	Check    *EpisodeCheck    `json:"check,omitempty"`
	Readings []EpisodeReading `json:"readings"`
	Problems []gauge.Problem  `json:"problems"`
	Grade    string           `json:"grade,omitempty"`    // the matched grade's file
	Exposure float64          `json:"exposure_stops"`     // matched, against the reference grade
	Mired    *float64         `json:"mired"`              //
	Before   *MatchLeft       `json:"before,omitempty"`   // from the reference
	After    *MatchLeft       `json:"after,omitempty"`    //
	Regions  []MatchedRegion  `json:"regions"`            //
	Frames   int              `json:"frames,omitempty"`   // verified
	MeanDE00 float64          `json:"verified_mean_de00"` //
	MaxDE00  float64          `json:"verified_max_de00"`  //
	Seconds  float64          `json:"seconds"`            // the work took
	Notes    []string         `json:"notes"`              //
}

// EpisodeCheck is what the set check said.
type EpisodeCheck struct {
	Verdict string              `json:"verdict"`
	Lamps   map[string]*float64 `json:"lamps_stops"`
	Gain    *float64            `json:"gain_stops"`
	Balance *float64            `json:"white_balance_mired"`
	Ambient *float64            `json:"ambient_stops"`
	Moved   bool                `json:"moved"`
	Advice  []string            `json:"advice"`
}

// EpisodeReading is a region's reading.
type EpisodeReading struct {
	Region string   `json:"region"`
	Stops  *float64 `json:"stops"`
	CCT    *float64 `json:"cct"`
	Duv    *float64 `json:"duv"`
}

// mostTries is how often a clip is begun before it is left to a person, so
// that one that brings the work down cannot do so for ever.
const mostTries = 5

// aside is the reason for which a clip is left to a person.
type aside struct{ reason string }

func (a aside) Error() string { return a.reason }

// WorkEpisodeClip does what is left of one clip: check, measure, match, render,
// verify. It may be called again after anything that stopped it. The finished
// file is made in a folder of its own and has its final name only once it was
// verified; the clip is done only once the file has its name on the disk.
//
// A clip that needs a person is set aside, which is no error. An error is
// something that stands in the way of every clip: the disk, the database, a
// missing program, a cancel. Then the clip waits.
func WorkEpisodeClip(ctx context.Context, store Episodes, set, episode string, number int, report Progress) (book.EpisodeClip, error) {
	e, err := store.Episode(ctx, set, episode)
	if err != nil {
		return book.EpisodeClip{}, err
	}
	if number < 1 || number > len(e.Clips) {
		return book.EpisodeClip{}, fault.New(fault.Usage, "episode-clip", "lampwise episodes show lists them.", "episode %s has no clip %d", episode, number)
	}
	w := &clipWork{store: store, episode: e, clip: e.Clips[number-1], report: report}
	if s := w.clip.State; s == book.ClipDone || s == book.ClipAside {
		return w.clip, nil
	}
	release, err := w.claim(ctx)
	if err != nil {
		return w.clip, err
	}
	defer release()
	w.clip.Tries++
	if w.clip.Tries > mostTries {
		return w.clip, w.keep(ctx, book.ClipAside, "", fmt.Sprintf("work on it was begun %d times and never came to an end, the last time at %q: try it by hand", mostTries, w.clip.Step))
	}
	if err := w.undoNaming(); err != nil {
		return w.clip, err
	}
	w.answer = EpisodeAnswer{Readings: []EpisodeReading{}, Problems: []gauge.Problem{}, Regions: []MatchedRegion{}, Notes: []string{}}
	err = w.all(ctx)
	w.cleanUp()
	var a aside
	switch {
	case err == nil:
		if err := w.keep(ctx, book.ClipDone, "", ""); err != nil {
			return w.clip, err
		}
		// Once, of a clip that came through: what is tried again is no other day.
		return w.clip, w.store.KeepSetCheck(ctx, w.episode.Set, w.checked)
	case ctx.Err() != nil:
		// Cancelled: the clip waits. The state is kept although the context is over.
		w.clip.Tries--
		return w.clip, errors.Join(err, w.keep(context.WithoutCancel(ctx), book.ClipWaiting, "", ""))
	case errors.As(err, &a):
		return w.clip, w.keep(ctx, book.ClipAside, "", a.reason)
	}
	if f, ok := fault.As(err); ok {
		switch f.Class {
		case fault.Storage, fault.Missing:
			// A full disk is not the clip's fault.
			w.clip.Tries--
		default:
			reason := f.Message
			if f.Hint != "" {
				reason += " (" + f.Hint + ")"
			}
			return w.clip, w.keep(ctx, book.ClipAside, "", reason)
		}
	}
	return w.clip, errors.Join(err, w.keep(ctx, book.ClipWaiting, "", ""))
}

type clipWork struct {
	store   Episodes
	episode book.Episode
	clip    book.EpisodeClip
	answer  EpisodeAnswer
	checked book.SetCheck
	report  Progress
}

// keep writes down how far the clip is.
func (w *clipWork) keep(ctx context.Context, state book.ClipState, step, reason string) error {
	w.clip.State, w.clip.Reason, w.clip.Changed = state, reason, time.Now()
	if step != "" {
		w.clip.Step = step
	}
	if state == book.ClipDone || state == book.ClipAside {
		if err := w.takeDown(); err != nil {
			return err
		}
	}
	return w.store.KeepEpisodeClip(ctx, w.episode.Set, w.episode.Name, w.clip)
}

// takeDown makes what was found so far what is kept of the clip.
func (w *clipWork) takeDown() error {
	data, err := json.Marshal(w.answer)
	if err != nil {
		return fmt.Errorf("keep clip: %w", err)
	}
	w.clip.Answer = data
	return nil
}

func (w *clipWork) all(ctx context.Context) error {
	began := time.Now()
	for _, s := range []struct {
		name string
		do   func(context.Context) error
	}{{"check", w.check}, {"measure", w.measure}, {"match", w.match}, {"render", w.render}, {"verify", w.verify}, {stepName, w.name}} {
		if err := w.keep(ctx, book.ClipWorking, s.name, ""); err != nil {
			return err
		}
		if err := s.do(ctx); err != nil {
			return err
		}
	}
	w.answer.Seconds = time.Since(began).Seconds()
	return nil
}

// How far the camera may have moved for the set's regions to hold: a region is
// some tenths of the picture across, so a fiftieth moves little of it out (ours).
const (
	movedShift    = 0.02 // of the picture's width
	movedScale    = 0.02
	movedRotation = 1.0 // degrees
)

func (w *clipWork) check(ctx context.Context) error {
	c, err := Check(ctx, w.store, CheckRequest{File: w.clip.File, Set: w.episode.Set, Forget: true})
	if err != nil {
		return err
	}
	found := &EpisodeCheck{Verdict: c.Verdict, Lamps: map[string]*float64{}, Gain: c.Camera.Gain, Balance: c.Camera.Balance, Ambient: c.Ambient.Stops, Moved: c.Camera.Moved, Advice: append([]string{}, c.Advice...)}
	for _, l := range c.Lamps {
		found.Lamps[l.Name] = l.Stops
	}
	w.answer.Check, w.checked = found, c.record
	w.answer.Notes = append(w.answer.Notes, c.Notes...)
	if !c.Camera.Moved {
		return nil
	}
	info, err := media.Probe(ctx, w.clip.File)
	if err != nil {
		return err
	}
	shift := math.Hypot(c.Camera.DX, c.Camera.DY) / float64(info.Video.Width)
	if shift <= movedShift && math.Abs(c.Camera.Scale-1) <= movedScale && math.Abs(c.Camera.Rotation) <= movedRotation {
		w.answer.Notes = append(w.answer.Notes, fmt.Sprintf("the camera moved a little: %+.1f, %+.1f pixels; the set's regions still hold", c.Camera.DX, c.Camera.DY))
		return nil
	}
	return aside{fmt.Sprintf("the camera moved: %+.0f, %+.0f pixels, %+.1f %% in size, %+.1f°; the set's regions lie elsewhere (match it by hand with regions drawn anew, or learn the set again)",
		c.Camera.DX, c.Camera.DY, 100*(c.Camera.Scale-1), c.Camera.Rotation)}
}

func (w *clipWork) measure(ctx context.Context) error {
	m, err := Measure(ctx, w.store, MeasureRequest{Clip: w.clip.File, Set: w.episode.Set, Grade: w.episode.Settings.Grade}, w.report)
	if err != nil {
		return err
	}
	for _, r := range m.Found.Readings {
		w.answer.Readings = append(w.answer.Readings, episodeReading(r))
	}
	w.answer.Problems = append(w.answer.Problems, m.Problems...)
	return nil
}

func episodeReading(r gauge.Reading) EpisodeReading {
	out := EpisodeReading{Region: r.Region}
	if r.Stops != nil {
		out.Stops = finite(float64(*r.Stops))
	}
	if r.CCT != nil {
		out.CCT = finite(float64(*r.CCT))
	}
	out.Duv = r.Duv
	return out
}

// decisive are the regions that must match; the others are told.
var decisive = []string{region.FaceLit, region.FaceShade, region.Background}

func (w *clipWork) match(ctx context.Context) error {
	s := w.episode.Settings
	out, err := w.gradeFile(ctx)
	if err != nil {
		return err
	}
	m, err := Match(ctx, w.store, MatchRequest{Clip: w.clip.File, Grade: s.Grade, To: w.episode.Set, Set: w.episode.Set, Out: out, Overwrite: true}, w.report)
	if err != nil {
		return err
	}
	a := &w.answer
	a.Grade, a.Exposure, a.Mired, a.Before, a.After, a.Regions = out, m.Exposure, m.Mired, &m.Before, &m.After, m.Regions
	a.Notes = append(a.Notes, m.Notes...)
	var left []string
	seen := false
	for _, r := range m.Regions {
		for _, name := range decisive {
			if r.Region != name {
				continue
			}
			seen = true
			if math.Abs(r.Left) > s.Stops || r.Left00 > s.DE00 {
				left = append(left, fmt.Sprintf("%s %+.2f stop, ΔE00 %.1f", r.Region, r.Left, r.Left00))
			}
		}
	}
	if !seen {
		return aside{"neither a face nor a background could be read in it, so nothing says whether it matches (draw regions in the set, or grade it by hand)"}
	}
	if len(left) > 0 && w.clip.Accepted {
		a.Notes = append(a.Notes, "taken as near as it comes: "+strings.Join(left, "; ")+" left")
		return nil
	}
	if len(left) > 0 {
		return aside{fmt.Sprintf("exposure, balance and curve do not bring it to the reference: %s left, where %g stop and ΔE00 %g may be (a lamp drifted by itself: see the set check; the nearest grade is %s; episodes retry --accept takes it so)",
			strings.Join(left, "; "), s.Stops, s.DE00, filepath.Base(out))}
	}
	return nil
}

func (w *clipWork) render(ctx context.Context) error {
	w.cleanUp()
	if err := os.MkdirAll(w.room(), 0o755); err != nil {
		return storageFault(w.room(), err)
	}
	d, err := PresetDelivery(w.episode.Settings.Preset, w.unfinished())
	if err != nil {
		return err
	}
	_, err = Deliver(ctx, DeliverRequest{Clip: w.clip.File, Grade: w.answer.Grade, Outputs: []Delivery{d}}, w.report)
	return err
}

func (w *clipWork) verify(ctx context.Context) error {
	v, err := Verify(ctx, VerifyRequest{File: w.unfinished(), Source: w.clip.File, Grade: w.answer.Grade}, w.report)
	if err != nil {
		return err
	}
	w.answer.Frames, w.answer.MeanDE00, w.answer.MaxDE00 = v.Frames, v.MeanDE00, v.MaxDE00
	if !v.OK {
		var all []string
		for _, p := range v.Problems {
			all = append(all, p.What)
		}
		return aside{"the finished file did not pass verify: " + strings.Join(all, "; ")}
	}
	return nil
}
