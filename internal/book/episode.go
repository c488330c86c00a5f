package book

import "time"

// Episode is a day's clips of one set, brought to the set's picture.
type Episode struct {
	Set, Name string
	Made      time.Time
	Settings  EpisodeSettings
	Clips     []EpisodeClip // in their order
}

// EpisodeSettings is how an episode is made.
type EpisodeSettings struct {
	Schema int    `json:"schema"`
	Grade  string `json:"grade"`  // the reference grade's file
	Out    string `json:"out"`    // folder of the finished files
	Preset string `json:"preset"` // by which they are written
	// What may be left of a difference from the reference on face and background.
	Stops float64 `json:"stops"`
	DE00  float64 `json:"de00"`
}

// ClipState is how far a clip of an episode is.
type ClipState string

// The states. A clip that is done has its finished file, verified, under its
// final name; one set aside needs a person, and says why.
const (
	ClipWaiting ClipState = "waiting"
	ClipWorking ClipState = "working"
	ClipDone    ClipState = "done"
	ClipAside   ClipState = "aside"
)

// EpisodeClip is one clip of an episode.
type EpisodeClip struct {
	Number  int // from 1
	File    string
	Out     string // the finished file
	State   ClipState
	Step    string    // the last step begun: check, measure, match, render, verify, name
	Reason  string    // why it was set aside
	Tries   int       // how often work on it began
	Owner   string    // who works on it; empty: nobody
	Beat    time.Time // when the owner last said that it is at work
	Changed time.Time
	Answer  []byte // JSON of what was found; empty until then
	// Accepted: a person takes it as near as it comes to the reference.
	Accepted bool
}
