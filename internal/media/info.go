package media

import (
	"slices"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// Info is what a clip is, as its file says it; what the file does not say and
// was assumed is told in Notes.
type Info struct {
	Path          string            `json:"path"`
	SizeBytes     int64             `json:"size_bytes"`
	Container     string            `json:"container"`      // one word: mov, mp4, matroska, mxf, …
	ContainerName string            `json:"container_name"` // as a person knows it: MOV, Matroska, …
	Start         float64           `json:"start_s"`        // time of the container's first sample, s
	Duration      float64           `json:"duration_s"`
	BitRate       int64             `json:"bit_rate"` // of the whole file, bit/s
	Timecode      string            `json:"timecode,omitempty"`
	Video         Video             `json:"video"`
	Audio         []Audio           `json:"audio"`
	Chapters      []Chapter         `json:"chapters"`
	Other         []Stream          `json:"other_streams"` // further video, subtitles, data
	Tags          map[string]string `json:"tags,omitempty"`
	Hints         []Hint            `json:"curve_hints"`              // tags that look as if they name the recording curve
	HintKey       string            `json:"curve_hint_key,omitempty"` // the same for every clip with the same hints
	Notes         []Note            `json:"notes"`

	hidden   int     // packets an edit list cuts away
	promised int     // frames by the container's own table; 0: it has none
	lasts    float64 // s by the picture track's own tag; 0: it has none
	times    *Times  // presentation times of all frames, from the packet scan
}

// Video is the picture stream that is read.
type Video struct {
	Index        int                       `json:"index"`
	Codec        string                    `json:"codec"` // "h264", "hevc", …
	Profile      string                    `json:"profile,omitempty"`
	PixelFormat  string                    `json:"pixel_format"` // ffmpeg's name
	Bits         int                       `json:"bits"`
	Sub          picture.Subsampling       `json:"subsampling"`
	Range        colour.Range              `json:"range"`
	RangeTagged  bool                      `json:"range_tagged"`
	Matrix       colour.MatrixCoefficients `json:"matrix"`
	MatrixTagged bool                      `json:"matrix_tagged"`
	Transfer     string                    `json:"transfer,omitempty"`  // ffmpeg's name of the H.273 value; empty: not said
	Primaries    string                    `json:"primaries,omitempty"` // likewise
	Siting       picture.Siting            `json:"chroma_siting"`
	SitingTagged bool                      `json:"chroma_siting_tagged"`
	Width        int                       `json:"width"`
	Height       int                       `json:"height"`
	CodedWidth   int                       `json:"coded_width"`
	CodedHeight  int                       `json:"coded_height"`
	SampleAspect Rational                  `json:"sample_aspect"`
	Rotation     int                       `json:"rotation"` // degrees clockwise by which the picture is turned for display
	Display      *[9]int32                 `json:"display_matrix,omitempty"`
	FieldOrder   string                    `json:"field_order"`
	Rate         Rational                  `json:"rate"`                     // frames/s; the mean one where it varies
	RateNominal  Rational                  `json:"rate_nominal"`             // ffprobe's r_frame_rate
	RateAverage  Rational                  `json:"rate_average"`             // ffprobe's avg_frame_rate
	VariableRate bool                      `json:"variable_rate"`            // from the timestamps of all packets
	Frames       int                       `json:"frames"`                   // from the packets
	Counted      bool                      `json:"frames_counted"`           // false: the packets were not scanned, the headers are believed
	Missing      int                       `json:"frames_missing,omitempty"` // frames the file promises and does not hold: it was cut off
	TimeBase     Rational                  `json:"time_base"`                // s a tick
	StartTicks   int64                     `json:"start_ticks"`              // first frame's timestamp
	Duration     float64                   `json:"duration_s"`
	BitRate      int64                     `json:"bit_rate,omitempty"`
	HDR          bool                      `json:"hdr"` // transfer or side data of high dynamic range
}

// Audio is one sound stream.
type Audio struct {
	Index    int               `json:"index"`
	Codec    string            `json:"codec"`
	Rate     int               `json:"sample_rate"`
	Channels int               `json:"channels"`
	Layout   string            `json:"layout,omitempty"`
	Bits     int               `json:"bits,omitempty"`
	Start    float64           `json:"start_s"`
	Duration float64           `json:"duration_s,omitempty"`
	BitRate  int64             `json:"bit_rate,omitempty"`
	Tags     map[string]string `json:"tags,omitempty"`
}

// Chapter is a titled stretch of the clip, in s.
type Chapter struct {
	Start float64 `json:"start_s"`
	End   float64 `json:"end_s"`
	Title string  `json:"title"`
}

// Stream is any other stream.
type Stream struct {
	Index int               `json:"index"`
	Kind  string            `json:"kind"` // "video", "subtitle", "data", "attachment"
	Codec string            `json:"codec,omitempty"`
	Tag   string            `json:"tag,omitempty"`
	Tags  map[string]string `json:"tags,omitempty"`
}

// Note is something the user should know of a clip: an assumption, or what
// will not be carried into a render.
type Note struct {
	Code    string `json:"code"`
	Message string `json:"message"`
	Hint    string `json:"hint,omitempty"`
}

// Override takes the place of what a clip's tags say; zero values keep the tags.
type Override struct {
	Range  colour.Range
	Matrix colour.MatrixCoefficients
	Siting picture.Siting
}

// Format is how the clip's frames are to be read.
func (i *Info) Format() picture.Format { return i.FormatWith(Override{}) }

// FormatWith is Format with some of it overridden.
func (i *Info) FormatWith(o Override) picture.Format {
	f := picture.Format{
		Width: i.Video.Width, Height: i.Video.Height, Bits: i.Video.Bits, Sub: i.Video.Sub,
		Range: i.Video.Range, Matrix: i.Video.Matrix, Siting: i.Video.Siting,
	}
	if o.Range != "" {
		f.Range = o.Range
	}
	if o.Matrix != "" {
		f.Matrix = o.Matrix
	}
	if o.Siting != "" {
		f.Siting = o.Siting
	}
	return f
}

// Entry is the last frame up to n at which decoding can begin: what lies
// between is decoded to reach n. It is 0 where the file doesn't say.
func (i *Info) Entry(n int) int {
	if i.times == nil || n < 0 || n >= len(i.times.Ticks) {
		return 0
	}
	k, at := slices.BinarySearch(i.times.Keys, i.times.Ticks[n])
	if !at {
		k--
	}
	if k < 0 {
		return 0
	}
	frame, _ := slices.BinarySearch(i.times.Ticks, i.times.Keys[k])
	return frame
}

// Times are the presentation times of all frames, in ticks of the video's time
// base, in the order of presentation. Nil when the file has none.
func (i *Info) Times() []int64 {
	if i.times == nil {
		return nil
	}
	return i.times.Ticks
}

// FrameTime is the presentation time of frame n (0 ≤ n < Frames) in s from the
// start of the container, as Frame.Time gives it.
func (i *Info) FrameTime(n int) float64 {
	v := &i.Video
	if i.times != nil && v.VariableRate && n < len(i.times.Ticks) {
		return float64(i.times.Ticks[n])*v.TimeBase.Float() - i.Start
	}
	first := float64(v.StartTicks)*v.TimeBase.Float() - i.Start
	if v.Rate.Num == 0 {
		return first
	}
	return first + float64(n)*float64(v.Rate.Den)/float64(v.Rate.Num)
}

func (i *Info) note(code, hint, message string) {
	i.Notes = append(i.Notes, Note{Code: code, Message: message, Hint: hint})
}
