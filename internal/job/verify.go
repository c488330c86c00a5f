package job

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"

	"lampwise/internal/colour"
	"lampwise/internal/media"
	"lampwise/internal/picture"
)

// VerifyRequest is a finished file, and what it should have been made from.
// With Source empty only the checks that need none are done.
type VerifyRequest struct {
	File, Source, Grade string
}

// Problem is something found: what, how much, when, what to do.
type Problem struct {
	What   string  `json:"what"`
	Size   float64 `json:"size"`
	Unit   string  `json:"unit"`
	From   float64 `json:"from"` // s
	To     float64 `json:"to"`   // s
	Advice string  `json:"advice"`
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
	Notes    []string  `json:"notes"`
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
	times, err := v.readThrough(ctx, info, newPace(report, "decode again", "frames", int64(info.Video.Frames)))
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
func (v *Verified) readThrough(ctx context.Context, info *media.Info, p *pace) ([]float64, error) {
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
	if v.Levels.Reserved > 0 && format.Range == colour.Narrow {
		v.problem("codes kept for synchronisation are used", 100*v.Levels.Reserved, "% of samples", 0, info.Duration, "Render with the limiter at rgb.")
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
	if a, b := w.Info.Video, info.Video; a.Width != b.Width || a.Height != b.Height {
		v.problem(fmt.Sprintf("picture is %d×%d, the source %d×%d", b.Width, b.Height, a.Width, a.Height), 1, "", 0, info.Duration, "Is this the right source?")
		return nil
	}
	if n := w.Info.Video.Frames; n != v.Frames {
		v.problem("number of frames differs from the source's", float64(v.Frames-n), "frames", 0, info.Duration, "Render again; or is this the right source?")
	}
	v.compareTimes(w.Info, times)
	if err := v.compareSound(ctx, r); err != nil {
		return err
	}
	if n := min(v.Frames, w.Info.Video.Frames); n > 0 {
		return v.comparePicture(ctx, w, info, n, report)
	}
	return nil
}

// timeTolerance is half a millisecond: containers count time in ticks of about that.
const timeTolerance = 0.0006

func (v *Verified) compareTimes(source *media.Info, times []float64) {
	worst, at := 0.0, 0.0
	for i := range min(len(times), source.Video.Frames) {
		if d := math.Abs((times[i] - times[0]) - (source.FrameTime(i) - source.FrameTime(0))); d > worst {
			worst, at = d, times[i]
		}
	}
	if worst > timeTolerance {
		v.problem("frames are shown at other times than in the source", 1000*worst, "ms", at, at, "Render again.")
	}
}

func (v *Verified) compareSound(ctx context.Context, r VerifyRequest) error {
	a, err := media.AudioHash(ctx, r.Source)
	if err != nil {
		return err
	}
	b, err := media.AudioHash(ctx, r.File)
	if err != nil {
		return err
	}
	same := len(a) == len(b)
	for i := range min(len(a), len(b)) {
		same = same && a[i] == b[i]
	}
	v.AudioSame = &same
	if !same {
		v.problem(fmt.Sprintf("sound is not the source's, bit for bit (%d tracks, source %d)", len(b), len(a)), 1, "", 0, 0, "Render again; or was the sound changed since?")
	}
	return nil
}

// Where the sampled stretches begin, as parts of the clip, and their length.
const (
	stretchCount  = 3
	stretchFrames = 4
)

// codecAllowance is by how much the file may be further from the exact path
// than its twin is, which was encoded from the exact picture with the same
// settings: the two are coded in other groups of pictures, so their noise is
// not the same.
const (
	codecAllowanceMean = 0.15
	codecAllowanceMax  = 1.5
)

func (v *Verified) comparePicture(ctx context.Context, w *Work, info *media.Info, frames int, report Progress) error {
	kernel, err := w.Kernel(0)
	if err != nil {
		return err
	}
	settings, known := parseSettings(info.Tags["comment"])
	c := &Compared{SameCodec: known}
	v.Compared = c
	if !known {
		v.Notes = append(v.Notes, "the file does not say how it was encoded: its twin is encoded with the usual settings")
	}
	var file, twin, arithmetic difference
	n := min(stretchFrames, frames)
	p := newPace(report, "compare with the exact path", "frames", int64(stretchCount*n))
	for k := range min(stretchCount, frames/n) {
		start := (frames - n) * k / max(1, stretchCount-1)
		c.Stretches = append(c.Stretches, [2]float64{w.Info.FrameTime(start), w.Info.FrameTime(start + n - 1)})
		s := stretch{w: w, kernel: kernel, start: start, count: n}
		if err := s.read(ctx, info, settings); err != nil {
			return err
		}
		for i := range s.source {
			exact := squares(w.Format.Width, w.Format.Height, exactFrame(w.Path, w.Program, s.source[i]))
			file.merge(compare(exact, squares(w.Format.Width, w.Format.Height, s.file[i].RGB)))
			twin.merge(compare(exact, squares(w.Format.Width, w.Format.Height, s.twin[i].RGB)))
			arithmetic.merge(compare(squares(w.Format.Width, w.Format.Height, s.plain[i].RGB), squares(w.Format.Width, w.Format.Height, s.fast[i].RGB)))
			c.ArithCodes = math.Max(c.ArithCodes, codeDifference(s.fast[i], s.plain[i]))
			c.Frames++
			p.at(int64(c.Frames))
		}
	}
	v.MaxDE00, v.MeanDE00 = file.max, file.mean()
	c.CodecMax, c.CodecMean = twin.max, twin.mean()
	c.ArithMax, c.ArithMean = arithmetic.max, arithmetic.mean()
	switch {
	case file.mean() > twin.mean()+codecAllowanceMean || file.max > twin.max+codecAllowanceMax:
		v.problem(fmt.Sprintf("picture is not what the grade makes of the source (the codec alone explains ΔE00 %.2f in the mean, %.2f at most)", twin.mean(), twin.max),
			file.max, "ΔE00 at most", c.Stretches[0][0], c.Stretches[len(c.Stretches)-1][1], "Was it rendered with this grade? Render again.")
	case arithmetic.max > arithmeticLimit:
		v.problem("the fast arithmetic is off the exact path", arithmetic.max, "ΔE00 at most", 0, info.Duration, "Please report it with the grade.")
	}
	return nil
}

// arithmeticLimit is what a program promises of its fast form, in ΔE00.
const arithmeticLimit = 0.5

// stretch is a run of frames: the source's, what the kernel and the plain
// executor make of them, the finished file's, and the twin's.
type stretch struct {
	w            *Work
	kernel       executor
	start, count int

	source, fast, plain, file, twin []*picture.Frame
}

func (s *stretch) read(ctx context.Context, info *media.Info, o media.WriteOptions) error {
	var err error
	s.source, err = readFrames(ctx, s.w.Info.Path, media.ReadOptions{Info: s.w.Info, Override: Override(s.w.Grade), Start: s.start, Count: s.count})
	if err != nil {
		return err
	}
	if s.file, err = readFrames(ctx, info.Path, media.ReadOptions{Info: info, Start: s.start, Count: s.count}); err != nil {
		return err
	}
	s.source = s.source[:min(len(s.source), len(s.file))]
	s.fast, s.plain = make([]*picture.Frame, len(s.source)), make([]*picture.Frame, len(s.source))
	format := s.w.Program.OutputFormat(s.w.Format)
	for i, f := range s.source {
		// The dither is a function of the frame's number in the whole clip.
		f.Index = s.start + i
		s.fast[i] = picture.NewFrame(format)
		s.fast[i].Index, s.fast[i].Time = f.Index, f.Time
		if err := s.kernel.Run(f, s.fast[i]); err != nil {
			return err
		}
	}
	errs := make([]error, len(s.source))
	parallel(len(s.source), func(i int) {
		s.plain[i] = picture.NewFrame(format)
		s.plain[i].Index, s.plain[i].Time = s.source[i].Index, s.source[i].Time
		errs[i] = s.w.Program.RunWith(s.w.Path.Exact, s.source[i], s.plain[i])
	})
	if err := errors.Join(errs...); err != nil {
		return err
	}
	s.twin, err = s.encodeTwin(ctx, o, format, info)
	return err
}

// encodeTwin encodes the exact stretch as the file was and decodes it again.
func (s *stretch) encodeTwin(ctx context.Context, o media.WriteOptions, format picture.Format, info *media.Info) ([]*picture.Frame, error) {
	folder, err := os.MkdirTemp("", "lampwise-twin-")
	if err != nil {
		return nil, storageFault(os.TempDir(), err)
	}
	defer os.RemoveAll(folder)
	path := filepath.Join(folder, "twin"+filepath.Ext(info.Path))
	o.Format, o.Rate = format, s.w.Info.Video.Rate
	writer, err := media.NewWriter(ctx, path, o)
	if err != nil {
		return nil, err
	}
	defer writer.Abort()
	for _, f := range s.plain {
		if err := writer.Write(f); err != nil {
			return nil, err
		}
	}
	if err := writer.Close(); err != nil {
		return nil, err
	}
	return readFrames(ctx, path, media.ReadOptions{})
}

func readFrames(ctx context.Context, path string, o media.ReadOptions) ([]*picture.Frame, error) {
	r, err := media.OpenReader(ctx, path, o)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	var frames []*picture.Frame
	for {
		f := picture.NewFrame(r.Format())
		err := r.Next(f)
		if errors.Is(err, io.EOF) {
			return frames, nil
		}
		if err != nil {
			return nil, err
		}
		frames = append(frames, f)
	}
}

// parseSettings reads back what settingsNote wrote.
func parseSettings(comment string) (media.WriteOptions, bool) {
	o := media.WriteOptions{Codec: media.CodecH264, Speed: media.SpeedFast}
	var sum string
	n, err := fmt.Sscanf(comment, "lampwise codec=%s quality=%g bitrate=%d speed=%s grade=%s", &o.Codec, &o.Quality, &o.BitRate, &o.Speed, &sum)
	if err != nil || n != 5 {
		return media.WriteOptions{Codec: media.CodecH264, Speed: media.SpeedFast}, false
	}
	return o, true
}

// codeDifference is the largest difference of two frames of one format, in codes.
func codeDifference(a, b *picture.Frame) float64 {
	worst := 0
	for _, p := range [][2][]uint16{{a.Y, b.Y}, {a.Cb, b.Cb}, {a.Cr, b.Cr}} {
		for i, c := range p[0] {
			d := int(c) - int(p[1][i])
			worst = max(worst, d, -d)
		}
	}
	return float64(worst)
}
