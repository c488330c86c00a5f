package book

import "time"

// Set is one arrangement of room, lamps, camera and subject that is meant to
// stay the same: what a switch clip taught of it. Its lamp pictures lie in a
// file of their own, named by what is in it.
type Set struct {
	Name     string
	Learned  time.Time // when its switch clip was taken apart
	Changed  time.Time // when its settings were last changed
	Settings SetSettings
	// Pictures is the SHA-256, in hexadecimal, of the file with the lamp
	// pictures; Size its length in bytes.
	Pictures string
	Size     int64
}

// SetSettings are a set's readable numbers.
type SetSettings struct {
	Schema     int         `json:"schema"`
	Clip       SetClip     `json:"clip"`
	Order      string      `json:"order"`
	Guessed    bool        `json:"guessed,omitempty"` // the order was read from the light; lamps may still want names
	Holds      []SetHold   `json:"holds"`
	Lamps      []SetLamp   `json:"lamps"`
	Regions    []SetRegion `json:"regions"`
	Additivity *float64    `json:"additivity_stops"` // null: no hold could be left out
	Correlated float64     `json:"frames_sharing_noise"`
	Notes      []string    `json:"notes"`
	// Intended is what is so on purpose and isn't called a fault of its clips:
	// "warm", "over=1".
	Intended []string `json:"intended,omitempty"`
}

// SetClip is the recording the set was learned from.
type SetClip struct {
	File      string      `json:"file"` // its name without the folder
	Curve     string      `json:"curve"`
	Gamut     string      `json:"gamut"`
	Range     string      `json:"range,omitempty"`  // said against the clip's tag; empty: as tagged
	Matrix    string      `json:"matrix,omitempty"` // likewise
	Signal    string      `json:"signal"`           // narrow or full: the range the codes were read by
	White     *[2]float64 `json:"white_xy,omitempty"`
	ClipCode  float64     `json:"clip_code"`  // of 10 bits, where the recording clips; 0: nothing was blown
	ClipLight float64     `json:"clip_light"` // the same as scene light, 0.18 = grey
	Width     int         `json:"width"`
	Height    int         `json:"height"`
	Rate      float64     `json:"rate"`
	Duration  float64     `json:"duration_s"`
}

// SetHold is a hold of the switch clip.
type SetHold struct {
	Start float64  `json:"start"` // s
	End   float64  `json:"end"`
	On    []string `json:"on"` // as an order writes it: "key", "rim=50%"
}

// SetLamp is what is known of a lamp besides its picture.
type SetLamp struct {
	Name     string       `json:"name"`
	Level    float64      `json:"level"`            // in the reference mix, in light, 1 = full
	Dimmer   [][2]float64 `json:"dimmer,omitempty"` // reading → level; none: linear
	Errors   []float64    `json:"dimmer_se,omitempty"`
	Measured bool         `json:"dimmer_known"`         // measured or typed, so that a reading may be told
	Filament float64      `json:"filament_k,omitempty"` // colour temperature at full; 0: none
	Lowest   float64      `json:"lowest,omitempty"`
	Highest  float64      `json:"highest,omitempty"`
	Distance float64      `json:"distance_m,omitempty"`
	Step     float64      `json:"step,omitempty"`
}

// SetRegion is a named patch, as fractions of the picture.
type SetRegion struct {
	Name string  `json:"name"`
	X    float64 `json:"x"`
	Y    float64 `json:"y"`
	W    float64 `json:"w"`
	H    float64 `json:"h"`
	// Mask, when not empty, says which pixels of the working picture inside
	// belong: lengths of runs, by turns outside and inside.
	Mask []int `json:"mask,omitempty"`
	// Said: a person drew it; otherwise it was found.
	Said bool `json:"said,omitempty"`
	// Wobble is the standard deviation of a hold's light there beyond what the
	// lamps explain, in scene light.
	Wobble float64 `json:"wobble,omitempty"`
}

// SetCheck is one check of a set, as it came out.
type SetCheck struct {
	When    time.Time
	File    string // name of the clip or still, without the folder
	Verdict string // same, drift, unsure
	// Changes holds each lamp's change of level against the reference mix, in
	// stops; a lamp that could not be judged is left out.
	Changes map[string]float64
	// Answer is the whole answer as JSON.
	Answer []byte
}
