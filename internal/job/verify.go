package job

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/gauge"
	"lampwise/internal/media"
	"lampwise/internal/picture"
	"lampwise/internal/region"
)

// VerifyRequest is a finished file, and what it should have been made from.
// With Source empty only the checks that need none are done.
type VerifyRequest struct {
	File, Source, Grade string
	// Face is where skin is read; nil: it is looked for.
	Face *region.Region
}

// Problem is something found: what, how much, when, what to do.
type Problem struct {
	Kind     string  `json:"kind,omitempty"` // of the checks that want no source
	What     string  `json:"what"`
	Size     float64 `json:"size"`
	Unit     string  `json:"unit"`
	From     float64 `json:"from"` // s
	To       float64 `json:"to"`   // s
	Severity string  `json:"severity,omitempty"`
	Advice   string  `json:"advice"`
}

// Verified is what the finished file was found to be.
type Verified struct {
	OK     bool   `json:"ok"`
	File   string `json:"file"`
	Frames int    `json:"frames"`
	// MaxDE00 and MeanDE00 are the file's picture against the exact path, over
	// the means of 16×16 pixel squares of the sampled stretches.
	MaxDE00   float64   `json:"max_de00"`
	MeanDE00  float64   `json:"mean_de00"`
	AudioSame *bool     `json:"audio_same"` // null without a source
	Problems  []Problem `json:"problems"`

	Compared *Compared `json:"compared,omitempty"` // with a source
	Levels   Levels    `json:"levels"`
	// Checks are those that need no source: levels, flashes, black, skin, loudness.
	Checks *OutputChecks `json:"checks,omitempty"`
	Notes  []string      `json:"notes"`
}

// Compared tells apart where a difference comes from.
type Compared struct {
	Stretches  [][2]float64 `json:"stretches_s"` // from, to
	Frames     int          `json:"frames"`
	CodecMax   float64      `json:"codec_max_de00"`      // the exact picture, encoded alike, against itself
	CodecMean  float64      `json:"codec_mean_de00"`     //
	ArithMax   float64      `json:"arithmetic_max_de00"` // the fast arithmetic against the exact, before the codec
	ArithMean  float64      `json:"arithmetic_mean_de00"`
	ArithCodes float64      `json:"arithmetic_max_codes"` // in codes of the file's depth, dither alike
	SameCodec  bool         `json:"codec_settings_known"` // the file says how it was encoded
}

// Levels are the codes found in the whole file.
type Levels struct {
	LumaMin    int     `json:"luma_min"`
	LumaMax    int     `json:"luma_max"`
	BelowBlack float64 `json:"luma_below_black"` // share of samples under code 16·2^(n−8)
	AboveWhite float64 `json:"luma_above_white"` // share over 235·2^(n−8)
	Reserved   float64 `json:"reserved"`         // share of samples at codes kept for synchronisation (BT.709-6, item 5.6 … 0 and 255 of 8 bits)
}

// Verify decodes the finished file again and compares.
func Verify(ctx context.Context, r VerifyRequest, report Progress) (*Verified, error) {
	info, err := media.Probe(ctx, r.File)
	if err != nil {
		return nil, err
	}
	v := &Verified{File: r.File, Problems: []Problem{}, Notes: []string{}}
	v.checkTags(info)
	times, err := v.readThrough(ctx, info, r.Face, newPace(report, "decode again", "frames", int64(info.Video.Frames)))
	if err != nil {
		return nil, err
	}
	if r.Source != "" {
		if err := v.against(ctx, r, info, times, report); err != nil {
			return nil, err
		}
	}
	v.OK = len(v.Problems) == 0
	return v, nil
}

func (v *Verified) problem(what string, size float64, unit string, from, to float64, advice string) {
	v.Problems = append(v.Problems, Problem{What: what, Size: size, Unit: unit, From: from, To: to, Advice: advice})
}

// ringing is the share of samples at reserved codes up to which they count as
// a codec's ringing, which reaches past the limiter in single samples beside
// hard edges and which players hold to the range (common practice, no source).
const ringing = 1e-4

// checkReserved judges the share of samples at codes kept for synchronisation.
func (v *Verified) checkReserved(duration float64) {
	switch share := v.Levels.Reserved; {
	case share > ringing:
		v.problem("codes kept for synchronisation are used", 100*share, "% of samples", 0, duration,
			"Render with the limiter at rgb; if it is, at a better quality.")
	case share > 0:
		v.Notes = append(v.Notes, fmt.Sprintf("of a million samples %.2g lie at codes kept for synchronisation: the codec's ringing at hard edges, too little to matter", 1e6*share))
	}
}

// checkTags looks for what a BT.709 file for the web must say of itself (ITU-T
// H.273; code points 1, 1, 1 and narrow range).
func (v *Verified) checkTags(info *media.Info) {
	t := info.Video
	missing := func(what, is string) {
		if is == "" {
			is = "not said"
		}
		v.problem(fmt.Sprintf("tag %s is %s", what, is), 1, "tag", 0, info.Duration,
			"Render again; a player that has to guess may show other colours.")
	}
	if t.Primaries != "bt709" {
		missing("primaries", t.Primaries)
	}
	if t.Transfer != "bt709" {
		missing("transfer", t.Transfer)
	}
	if !t.MatrixTagged || t.Matrix != colour.MatrixBT709 {
		is := string(t.Matrix)
		if !t.MatrixTagged {
			is = ""
		}
		missing("matrix", is)
	}
	if !t.RangeTagged || t.Range != colour.Narrow {
		is := string(t.Range)
		if !t.RangeTagged {
			is = ""
		}
		missing("range", is)
	}
}

// readThrough decodes the whole file: it counts frames, gathers their times
// and the codes' extremes.
func (v *Verified) readThrough(ctx context.Context, info *media.Info, face *region.Region, p *pace) ([]float64, error) {
	checks, err := newOutputChecks(ctx, info, face)
	if err != nil {
		return nil, err
	}
	reader, err := media.OpenReader(ctx, info.Path, media.ReadOptions{Info: info})
	if err != nil {
		return nil, err
	}
	defer reader.Close()
	format := reader.Format()
	frame := picture.NewFrame(format)
	v.Levels.LumaMin = math.MaxInt
	var times []float64
	var below, above, reserved, samples int64
	unit := 1 << (format.Bits - 8)
	black, white, last := 16*unit, 235*unit, 255*unit
	for {
		err := reader.Next(frame)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		times = append(times, frame.Time)
		checks.add(frame)
		var hist [1 << 16]int32
		for _, c := range frame.Y {
			hist[c]++
		}
		for c, n := range hist {
			if n == 0 {
				continue
			}
			v.Levels.LumaMin, v.Levels.LumaMax = min(v.Levels.LumaMin, c), max(v.Levels.LumaMax, c)
			switch {
			case c < unit || c >= last:
				reserved += int64(n)
				fallthrough
			case c < black || c > white:
				if c < black {
					below += int64(n)
				} else {
					above += int64(n)
				}
			}
		}
		samples += int64(len(frame.Y))
		p.at(int64(len(times)))
	}
	v.Frames = len(times)
	if samples > 0 {
		v.Levels.BelowBlack, v.Levels.AboveWhite, v.Levels.Reserved = float64(below)/float64(samples), float64(above)/float64(samples), float64(reserved)/float64(samples)
	} else {
		v.Levels.LumaMin = 0
	}
	if v.Frames == 0 {
		v.problem("no picture", 0, "frames", 0, 0, "The file cannot be played; render it again.")
		return times, nil
	}
	found, err := checks.result(ctx, info)
	if err != nil {
		return nil, err
	}
	v.takeChecks(found)
	if format.Range == colour.Narrow {
		v.checkReserved(info.Duration)
	}
	for i := 1; i < len(times); i++ {
		if times[i] <= times[i-1] {
			v.problem("time does not go forward", times[i-1]-times[i], "s", times[i], times[i], "Render again.")
			break
		}
	}
	for _, w := range reader.Warnings() {
		v.problem(w, 1, "", 0, info.Duration, "Render again.")
	}
	return times, nil
}

// against compares the file with its source under its grade.
func (v *Verified) against(ctx context.Context, r VerifyRequest, info *media.Info, times []float64, report Progress) error {
	w, err := Open(ctx, r.Source, r.Grade)
	if err != nil {
		return err
	}
	doubts, err := w.doubts(ctx)
	if err != nil {
		return err
	}
	for _, d := range doubts {
		if d.Severity == gauge.Note {
			v.Notes = append(v.Notes, "the source: "+d.What+": "+d.Advice)
			continue
		}
		v.problem("the source may be read wrongly: "+d.What, d.Size, d.Unit, 0, info.Duration, d.Advice)
	}
	part := w.partIn(info)
	if n := part.note; v.Notes != nil && n != "" {
		v.Notes = append(v.Notes, n)
	}
	if a, b := part, info.Video; a.width != b.Width || a.height != b.Height {
		a, b := w.Info.Video, info.Video
		v.problem(fmt.Sprintf("picture is %d×%d, the source %d×%d", b.Width, b.Height, a.Width, a.Height), 1, "", 0, info.Duration, "Is this the right source?")
		return nil
	}
	if n := part.count; n != v.Frames {
		v.problem("number of frames differs from the source's", float64(v.Frames-n), "frames", 0, info.Duration, "Render again; or is this the right source?")
	}
	v.compareTimes(w.Info, part.first, times)
	if err := v.compareSound(ctx, r, info, part); err != nil {
		return err
	}
	if n := min(v.Frames, part.count); n > 0 {
		return v.comparePicture(ctx, w, info, part, n, report)
	}
	return nil
}

// timeTolerance is half a millisecond: containers count time in ticks of about that.
const timeTolerance = 0.0006

func (v *Verified) compareTimes(source *media.Info, first int, times []float64) {
	worst, at := 0.0, 0.0
	for i := range min(len(times), source.Video.Frames-first) {
		if d := math.Abs((times[i] - times[0]) - (source.FrameTime(first+i) - source.FrameTime(first))); d > worst {
			worst, at = d, times[i]
		}
	}
	if worst > timeTolerance {
		v.problem("frames are shown at other times than in the source", 1000*worst, "ms", at, at, "Render again.")
	}
}

func (v *Verified) compareSound(ctx context.Context, r VerifyRequest, info *media.Info, part madePart) error {
	a, err := media.AudioHash(ctx, r.Source)
	if err != nil {
		return err
	}
	b, err := media.AudioHash(ctx, r.File)
	if err != nil {
		return err
	}
	if len(a) == 0 && len(b) == 0 {
		v.Notes = append(v.Notes, "neither the file nor the source has sound")
		return nil
	}
	same := len(a) == len(b)
	for i := range min(len(a), len(b)) {
		same = same && a[i] == b[i]
	}
	v.AudioSame = &same
	settings, _ := parseSettings(info.Tags["comment"])
	switch {
	case same:
	case part.cut && len(a) == len(b) && settings.Sound != media.SoundNone:
		v.Notes = append(v.Notes, "the sound is a part of the source's; only its tracks were counted")
	case settings.Sound == media.SoundAAC && len(a) == len(b):
		v.Notes = append(v.Notes, "the sound was encoded anew, as asked: it is not the source's bit for bit")
	case settings.Sound == media.SoundNone && len(b) == 0:
		v.Notes = append(v.Notes, "the sound was left out, as asked")
	default:
		v.problem(fmt.Sprintf("sound is not the source's, bit for bit (%d tracks, source %d)", len(b), len(a)), 1, "", 0, 0, "Render again; or was the sound changed since?")
	}
	return nil
}
