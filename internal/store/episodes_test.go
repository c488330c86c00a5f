package store

import (
	"context"
	"reflect"
	"testing"
	"time"

	"lampwise/internal/book"
	"lampwise/internal/fault"
)

func TestEpisodes(t *testing.T) {
	ctx, folder := context.Background(), t.TempDir()
	s, err := Open(ctx, folder)
	if err != nil {
		t.Fatal(err)
	}
	isFault := func(what string, err error, class fault.Class) {
		t.Helper()
		if f, ok := fault.As(err); !ok || f.Class != class || f.Hint == "" {
			t.Errorf("%s: %v", what, err)
		}
	}
	day := time.Date(2026, 3, 3, 12, 0, 0, 5, time.UTC)
	e := book.Episode{Set: "garage", Name: "monday", Made: day, Settings: book.EpisodeSettings{Schema: 1, Grade: "/g/lesson.toml", Out: "/out", Preset: "web-1080p"}}
	for i := range 3 {
		e.Clips = append(e.Clips, book.EpisodeClip{Number: i + 1, File: "/day/a.mov", Out: "/out/a.mp4", State: book.ClipWaiting, Changed: day})
	}
	isFault("an episode of no set", s.KeepEpisode(ctx, e), fault.Usage)
	if _, err := s.KeepSet(ctx, someSet("garage", 0.5), []byte("light"), false); err != nil {
		t.Fatal(err)
	}
	if err := s.KeepEpisode(ctx, e); err != nil {
		t.Fatal(err)
	}
	isFault("the same name again", s.KeepEpisode(ctx, e), fault.Storage)
	_, err = s.Episode(ctx, "garage", "munday")
	isFault("an unknown one", err, fault.Usage)
	isFault("a clip of an unknown one", s.KeepEpisodeClip(ctx, "garage", "x", e.Clips[0]), fault.Usage)
	// One owner at a time; only the owner keeps; what is no longer worked on has none.
	for _, claim := range []struct {
		before, owner string
		want          bool
	}{{"", "a", true}, {"", "b", false}, {"b", "c", false}, {"a", "b", true}} {
		if got, err := s.ClaimEpisodeClip(ctx, "garage", "monday", 2, claim.before, claim.owner, day); err != nil || got != claim.want {
			t.Errorf("claim %+v: %v, %v", claim, got, err)
		}
	}
	if err := s.BeatEpisodeClip(ctx, "garage", "monday", 2, "b", day.Add(time.Minute)); err != nil {
		t.Fatal(err)
	}
	if got, err := s.Episode(ctx, "garage", "monday"); err != nil || got.Clips[1].Owner != "b" || !got.Clips[1].Beat.Equal(day.Add(time.Minute)) {
		t.Errorf("owned: %+v, %v", got.Clips, err)
	}
	c := e.Clips[1]
	c.Owner, c.State = "a", book.ClipWorking
	isFault("keeping what another works on", s.KeepEpisodeClip(ctx, "garage", "monday", c), fault.Storage)
	c.Owner = "b"
	c.State, c.Step, c.Reason, c.Tries, c.Answer, c.Changed = book.ClipAside, "match", "the card is gone", 2, []byte(`{"stops":0.25}`), day.Add(time.Hour)
	if err := s.KeepEpisodeClip(ctx, "garage", "monday", c); err != nil {
		t.Fatal(err)
	}
	if got, err := s.ClaimEpisodeClip(ctx, "garage", "monday", 2, "", "z", day); err != nil || got {
		t.Errorf("a clip set aside was claimed: %v, %v", got, err)
	}
	c.Owner, c.Beat = "", day.Add(time.Minute)
	e.Clips[1] = c
	older := e
	older.Name, older.Made, older.Clips = "sunday", day.Add(-24*time.Hour), nil
	if err := s.KeepEpisode(ctx, older); err != nil {
		t.Fatal(err)
	}
	s.Close()
	if s, err = Open(ctx, folder); err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	got, err := s.Episode(ctx, "garage", "monday")
	if err != nil || !reflect.DeepEqual(got, e) {
		t.Errorf("kept\n%+v\nread\n%+v, %v", e, got, err)
	}
	list, err := s.Episodes(ctx, "garage")
	if err != nil || len(list) != 2 || list[0].Name != "sunday" || len(list[0].Clips) != 0 || len(list[1].Clips) != 3 {
		t.Errorf("list: %+v, %v", list, err)
	}
	if err := s.ForgetEpisode(ctx, "garage", "sunday"); err != nil {
		t.Fatal(err)
	}
	isFault("forgetting it again", s.ForgetEpisode(ctx, "garage", "sunday"), fault.Usage)
	if err := s.ForgetSet(ctx, "garage"); err != nil {
		t.Fatal(err)
	}
	if list, err = s.Episodes(ctx, ""); err != nil || len(list) != 0 {
		t.Errorf("after the set was forgotten: %+v, %v", list, err)
	}
}
