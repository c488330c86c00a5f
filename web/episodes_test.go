package web_test

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"lampwise/internal/book"
	"lampwise/internal/gauge"
	"lampwise/internal/job"
	"lampwise/internal/server"
	"lampwise/internal/store"
)

// TestRecordPages goes through the phone's page (test/phone.mjs), what the Picture
// page says of a clip (test/advice.mjs), and the Episodes page (test/episodes.mjs), in a real
// browser: a day is added by clicking and worked off, in a set that has a made-up
// record of four days before it.
func TestRecordPages(t *testing.T) {
	ctx := inBrowser(t, 6*time.Minute)
	folder, data := example(ctx, t)
	lone, err := store.Open(ctx, data)
	if err != nil {
		t.Fatal(err)
	}
	browseStore(ctx, t, "test/phone.mjs", folder, server.Options{Folders: []string{folder}, Store: lone})
	browseStore(ctx, t, "test/advice.mjs", folder, server.Options{Folders: []string{folder}, Store: lone})
	if err := lone.Close(); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(folder, "damaged.mov"), []byte("no film"), 0o644); err != nil {
		t.Fatal(err)
	}
	s := storeIn(ctx, t, data)
	madeUpDays(ctx, t, s, folder)
	if _, err := job.NewPlan(job.NewPlanRequest{File: filepath.Join(folder, "room.toml"), Example: true, Overwrite: true}); err != nil {
		t.Fatal(err)
	}
	browseStore(ctx, t, "test/episodes.mjs", folder, server.Options{Folders: []string{folder}, Store: s, Work: func(ctx context.Context, e book.Episode, report job.Progress) error {
		for _, c := range e.Clips {
			if _, err := job.WorkEpisodeClip(ctx, s, e.Set, e.Name, c.Number, report); err != nil {
				return err
			}
		}
		return nil
	}})
}

// madeUpDays keeps four days of invented answers: a tube that loses a twentieth
// of a stop each day, a camera that was half a stop off on one.
func madeUpDays(ctx context.Context, t *testing.T, s *store.Store, folder string) {
	num := func(v float64) *float64 { return &v }
	for d := range 4 {
		e := book.Episode{
			Set: "garage", Name: fmt.Sprintf("day-%d", d+1), Made: time.Date(2026, 3, 2+d, 10, 0, 0, 0, time.UTC),
			Settings: book.EpisodeSettings{Schema: 1, Grade: filepath.Join(folder, "lesson.toml"), Out: filepath.Join(folder, "before"), Preset: "web-1080p", Stops: 0.1, DE00: 1.5},
		}
		for k := range 2 {
			wobble := 0.01 * float64((3*d+2*k)%5-2)
			gain := wobble
			if d == 2 {
				gain += 0.5
			}
			a := job.EpisodeAnswer{
				Check: &job.EpisodeCheck{
					Verdict: "same", Lamps: map[string]*float64{"key": num(wobble), "fill": num(-wobble), "tube": num(-0.05*float64(d) + wobble/4), "rim": nil},
					Gain: num(gain), Balance: num(3 * wobble), Ambient: num(0.2 * float64(d%3)), Advice: []string{},
				},
				Readings: []job.EpisodeReading{{Region: "face-lit", Stops: num(0.87 + gain)}, {Region: "face-shade", Stops: num(-1.1 + gain)}, {Region: "background", Stops: num(-0.83 + gain)}},
				Problems: []gauge.Problem{}, Exposure: -gain, Mired: num(0), Before: &job.MatchLeft{Stops: gain, DE00: 4 * gain}, After: &job.MatchLeft{Stops: 0.02, DE00: 0.4},
				Regions: []job.MatchedRegion{}, Frames: 160, MeanDE00: 0.5, MaxDE00: 2.1, Notes: []string{"made up for a test of the page"},
			}
			data, err := json.Marshal(a)
			if err != nil {
				t.Fatal(err)
			}
			state, reason := book.ClipDone, ""
			if d == 1 && k == 1 {
				state, reason = book.ClipAside, "the camera moved too far to be matched (made up)"
			}
			e.Clips = append(e.Clips, book.EpisodeClip{Number: k + 1, File: filepath.Join(folder, fmt.Sprintf("%s-%d.mov", e.Name, k+1)), Out: filepath.Join(folder, "before", fmt.Sprintf("%s-%d.mp4", e.Name, k+1)), State: state, Reason: reason, Answer: data})
		}
		if err := s.KeepEpisode(ctx, e); err != nil {
			t.Fatal(err)
		}
	}
}
