package job

import (
	"lampwise/internal/book"
)

// LearnedSet is what came of it: docs/json.md, learn.
type LearnedSet struct {
	Set        string            `json:"set"`
	Curve      string            `json:"curve"`
	Order      string            `json:"order"`
	Guess      *GuessedOrder     `json:"guess"`
	Beeps      *HeardBeeps       `json:"beeps"` // null: the holds weren't named by sound
	Holds      []book.SetHold    `json:"holds"`
	Dropped    []DroppedStretch  `json:"dropped"`
	Lamps      []LampReport      `json:"lamps"`
	Readings   []RegionReading   `json:"readings"`
	Ratios     RatioReport       `json:"ratios"`
	Additivity *float64          `json:"additivity"` // stops
	Clip       RecordingReport   `json:"recording"`
	Regions    []book.SetRegion  `json:"regions"`
	Files      map[string]string `json:"files"`
	Notes      []string          `json:"notes"`
	Timing     LearnTiming       `json:"timing"`
}

// GuessedOrder is an order that was read from the light alone.
type GuessedOrder struct {
	Pattern    string  `json:"pattern"`
	Confidence float64 `json:"confidence"`
}

// DroppedStretch is a stretch of the clip that is no hold.
type DroppedStretch struct {
	Start float64 `json:"start"`
	End   float64 `json:"end"`
	Why   string  `json:"why"`
}

// RecordingReport is what was found of the recording.
type RecordingReport struct {
	ClipCode   *float64 `json:"clip_code"` // of 10 bits; null: nothing was blown
	NoiseStops *float64 `json:"noise_stops"`
	Correlated float64  `json:"frames_sharing_noise"`
	Flicker    float64  `json:"flicker"`
}

// LearnTiming is how long it took.
type LearnTiming struct {
	Frames  int64   `json:"frames"`
	Decode  float64 `json:"decode_s"` // decoding, light and holds, at the same time
	Numbers float64 `json:"numbers_s"`
}
