package media

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"sync"

	"lampwise/internal/fault"
	"lampwise/internal/picture"
)

// Codec is a kind of finished file.
type Codec string

const (
	CodecH264         Codec = "h264"         // .mp4 or .mov
	CodecHEVC         Codec = "hevc"         // .mp4 or .mov
	CodecIntermediate Codec = "intermediate" // H.264 High 4:2:2 Intra, 10 bit, .mov: every frame stands alone
)

// Speed is how much time the encoder takes to make the file smaller.
type Speed string

const (
	SpeedFastest Speed = "fastest"
	SpeedFast    Speed = "fast" // the default
	SpeedMedium  Speed = "medium"
	SpeedSlow    Speed = "slow"
)

// Sound says what becomes of the source's sound.
type Sound string

const (
	SoundCopy Sound = "copy" // as it is, bit for bit
	SoundAAC  Sound = "aac"  // encoded anew, for an .mp4 that cannot carry uncompressed sound
	SoundNone Sound = "none" // left out
)

// WriteOptions is what a finished file is to be.
type WriteOptions struct {
	Format    picture.Format // of the frames given and of the file
	Rate      Rational       // frames/s
	Variable  bool           // every frame keeps its own Time, in ticks of TimeBase; Rate is the mean
	TimeBase  Rational       // s a tick, for Variable
	Aspect    Rational       // of one sample; 0/0: square
	Display   *[9]int32      // display matrix (rotation); nil: as stored
	Codec     Codec
	Quality   float64 // constant quality (the encoder's crf: 0 is best, 51 worst); 0: 18, and 12 for the intermediate
	BitRate   int64   // bit/s in place of a constant quality
	Speed     Speed
	Lossless  bool              // codes come back to the bit; h264 and hevc
	Primaries string            // H.273 by ffmpeg's name; empty: bt709
	Transfer  string            // likewise; empty: bt709
	Source    *Info             // clip whose sound, timecode, chapters and plain tags are copied; nil: none
	Sound     Sound             // what becomes of the source's sound; empty: SoundCopy
	Cut       *Cut              // the stretch of the source that the frames are of; nil: all of it
	Timecode  string            // of the first frame; empty: the source's
	Tags      map[string]string // further tags of the file
	Overwrite bool
	Threads   int // encoder threads; 0: its own choice
}

// Cut is a stretch of the source. Sound that is encoded anew is cut there to
// the sample. Sound that is copied can be cut only where one of its packets
// begins: it starts with the first packet after From, in step with the picture
// (SoundStart tells how long that is), and ends with the last that begins
// before the stretch is over.
type Cut struct {
	From   float64 // s from the container's start, as Frame.Time
	Length float64 // s
}

// Writer encodes frames into a file, which has its final name only once Close
// has returned nil. It must be ended by Close or Abort (Abort after Close does
// nothing, so it can be deferred). It is not safe for use by several goroutines.
type Writer struct {
	ctx      context.Context
	options  WriteOptions
	place    *place
	child    *child
	nut      *nutWriter
	timeBase Rational
	origin   int64 // ticks of the first frame, constant rate
	step     int64 // ticks a frame, constant rate
	last     int64
	written  int
	scratch  []byte
	err      error
	unwatch  func() bool
	ending   sync.Mutex
}

// NewWriter checks the options and the place, and starts the encoder. What the
// user can mend is a fault: class Usage for options that do not fit together,
// Storage for the place, Missing for ffmpeg.
func NewWriter(ctx context.Context, path string, o WriteOptions) (*Writer, error) {
	container, err := o.check(path)
	if err != nil {
		return nil, err
	}
	ffmpeg, err := findTool(ctx, "ffmpeg")
	if err != nil {
		return nil, err
	}
	source := ""
	if o.Source != nil {
		source = o.Source.Path
	}
	p, err := newPlace(path, o.Overwrite, source)
	if err != nil {
		return nil, err
	}
	w := &Writer{ctx: ctx, options: o, place: p, last: -1}
	w.clock()
	args := o.arguments(container, p.temp, w.timeBase, ffmpeg.version)
	if w.child, err = startChild(ctx, ffmpeg.path, args, true, false); err != nil {
		p.abandon()
		return nil, err
	}
	// A cancelled render leaves nothing behind even when nobody calls Abort.
	w.unwatch = context.AfterFunc(ctx, func() { w.cleanUp() })
	if w.nut, err = newNUTWriter(w.child.stdin, o.Format, w.timeBase, o.Aspect, o.Rate); err != nil {
		return nil, w.fail(err)
	}
	return w, nil
}

// clock chooses the time base. At a constant rate it is one tick a frame,
// unless the source's picture starts between two: then ticks are finer.
func (w *Writer) clock() {
	o := &w.options
	if o.Variable {
		w.timeBase = o.TimeBase
		return
	}
	rate := reduce(o.Rate)
	offset := 0.0
	if o.Cut == nil && o.Source != nil && o.Source.Video.Frames > 0 {
		offset = max(0, o.Source.FrameTime(0))
	}
	w.step = 1
	if frames := offset * rate.Float(); math.Abs(frames-math.Round(frames)) > 1e-3 {
		w.step = 1 + 90_000*rate.Den/rate.Num // about the 90 kHz of MPEG systems
	}
	w.timeBase = Rational{rate.Den, rate.Num * w.step}
	w.origin = int64(math.Round(offset / w.timeBase.Float()))
}

// Write gives the encoder a frame. With a variable rate its Time counts, and
// must grow; otherwise only the order.
func (w *Writer) Write(f *picture.Frame) error {
	if w.err != nil {
		return w.err
	}
	want := w.options.Format
	if f.Width != want.Width || f.Height != want.Height || f.Bits != want.Bits || f.Sub != want.Sub {
		return w.fail(fmt.Errorf("media: frame %d is %d×%d %s %d bit, the file is %d×%d %s %d bit",
			w.written, f.Width, f.Height, f.Sub, f.Bits, want.Width, want.Height, want.Sub, want.Bits))
	}
	pts := w.origin + int64(w.written)*w.step
	if w.options.Variable {
		at := f.Time
		if want := w.options.Cut; want != nil {
			at -= want.From
		}
		pts = int64(math.Round(at / w.timeBase.Float()))
		if pts <= w.last || pts < 0 {
			return w.fail(fmt.Errorf("media: frame %d at %g s does not come after the one before", w.written, f.Time))
		}
	}
	size := pixelFormat{bits: want.Bits, sub: want.Sub}.frameBytes(want)
	if err := w.nut.begin(pts, int(size)); err != nil {
		return w.fail(err)
	}
	var err error
	if w.scratch, err = writePlanes(w.child.stdin, f, w.scratch); err != nil {
		return w.fail(err)
	}
	w.last = pts
	w.written++
	return nil
}

// Written is the number of frames given so far.
func (w *Writer) Written() int { return w.written }

// Bytes is the size of the unfinished file so far.
func (w *Writer) Bytes() int64 {
	if s, err := os.Stat(w.place.temp); err == nil {
		return s.Size()
	}
	return 0
}

// Close lets the encoder finish, checks that the file holds every frame, syncs
// it and gives it its final name. On an error nothing is left behind.
func (w *Writer) Close() error {
	if w.err != nil {
		return w.err
	}
	if err := w.child.wait(); err != nil {
		return w.fail(err)
	}
	if lines := w.child.stderr.lines(); complainsOf(lines, "No space left", "Error writing trailer", "Error muxing") {
		return w.fail(&failedError{name: "ffmpeg", complaints: lines})
	}
	if w.written == 0 {
		return w.fail(errors.New("media: no frame was written"))
	}
	if err := w.readable(); err != nil {
		return w.fail(err)
	}
	if m := w.options.Display; m != nil && *m != identityMatrix {
		if err := setDisplayMatrix(w.place.temp, *m); err != nil {
			return w.fail(err)
		}
	}
	// From here on a cancel comes too late to undo.
	if !w.unwatch() {
		return w.fail(stopped(w.ctx))
	}
	if err := w.place.finish(); err != nil {
		return w.fail(err)
	}
	w.err = errors.New("media: the writer is closed")
	return nil
}

// Abort ends the encoder and removes what it has written. After Close it does nothing.
func (w *Writer) Abort() {
	if w.err == nil {
		w.err = errors.New("media: the writer was stopped")
	}
	w.unwatch()
	w.cleanUp()
}

// cleanUp ends the child, then removes the file (in this order: some systems
// do not remove a file that a program has open).
func (w *Writer) cleanUp() {
	w.ending.Lock()
	defer w.ending.Unlock()
	w.child.stop()
	w.place.abandon()
}

// fail ends the writer and makes of err what the user should read.
func (w *Writer) fail(err error) error {
	w.err = w.because(err)
	if w.unwatch != nil {
		w.unwatch()
	}
	w.cleanUp()
	return w.err
}

func (w *Writer) because(err error) error {
	if w.ctx.Err() != nil {
		return stopped(w.ctx)
	}
	if _, ok := fault.As(err); ok {
		return err
	}
	var failed *failedError
	if !errors.As(err, &failed) {
		if !isBrokenPipe(err) {
			return err
		}
		// The encoder went away: its own reason counts.
		ended := w.child.wait()
		if f, ok := fault.As(ended); ok {
			return f
		}
		if !errors.As(ended, &failed) {
			return fmt.Errorf("%s: the encoder ended early: %w", w.place.final, err)
		}
	}
	path := w.place.final
	switch l := failed.complaints; {
	case complainsOf(l, "No space left", "Disk quota exceeded"):
		return diskFull(failed, path)
	case complainsOf(l, "Input/output error"):
		return fault.Wrap(failed, fault.Storage, "not-written", "check the disk", "%s: the disk failed while writing", path)
	case complainsOf(l, "codec not currently supported in container", "Could not find tag for codec", "Tag ", "incompatible with output codec",
		"only supported in MP4", "support is experimental"):
		return fault.Wrap(failed, fault.Usage, "sound-container", soundHint,
			"%s: this kind of file cannot carry the clip's sound as it is", path)
	case w.options.Source != nil && complainsOf(l, "corrupt input packet", "Invalid data found when processing input", "Packet corrupt"):
		return brokenFault(w.options.Source.Path, "the clip is damaged: "+strings.ReplaceAll(failed.reason(), fileURL(w.options.Source.Path)+": ", ""))
	case complainsOf(l, "Unknown encoder"):
		return fault.Wrap(failed, fault.Missing, "encoder-missing", "run `lampwise doctor`: this ffmpeg was built without it", "ffmpeg has no encoder for %q", string(w.options.Codec))
	case complainsOf(l, "Cannot allocate memory", "Out of memory", "malloc"):
		return fault.Wrap(failed, fault.Missing, "no-memory", "close other programs, or render a smaller picture", "%s: the encoder ran out of memory", path)
	}
	return fmt.Errorf("%s: the encoder stopped: %w", path, failed)
}

// readable asks ffprobe whether the file is what it should be: that it can be
// decoded is not certain only because the encoder was content, and a disk that
// ran full at the very end is not always told.
func (w *Writer) readable() error {
	probe, err := findTool(w.ctx, "ffprobe")
	if err != nil {
		return err
	}
	out, err := runTool(w.ctx, probe.path, append(probeArgs(), "-select_streams", "v:0", "-show_streams", "-of", "json", "-i", fileURL(w.place.temp)), maxProbeJSON)
	if err != nil {
		return err
	}
	var a struct {
		Streams []struct {
			Frames string `json:"nb_frames"`
			PixFmt string `json:"pix_fmt"`
			Width  int    `json:"width"`
			Height int    `json:"height"`
		} `json:"streams"`
	}
	if err := json.Unmarshal(out, &a); err != nil {
		return fmt.Errorf("%s: ffprobe's answer cannot be read: %w", w.place.final, err)
	}
	if len(a.Streams) != 1 {
		return fmt.Errorf("%s: the finished file has no picture track", w.place.final)
	}
	s, f := a.Streams[0], w.options.Format
	if pf := pixelFormats[s.PixFmt]; pf.bits != f.Bits || pf.sub != f.Sub || s.Width != f.Width || s.Height != f.Height {
		return fmt.Errorf("%s: the finished file is %d×%d %q, not %d×%d %d bit %s", w.place.final, s.Width, s.Height, s.PixFmt, f.Width, f.Height, f.Bits, f.Sub)
	}
	if n, _ := strconv.Atoi(s.Frames); n != w.written {
		return fault.New(fault.Storage, "not-written", "check the disk and try again", "%s: only %s of %d frames reached the file", w.place.final, s.Frames, w.written)
	}
	return nil
}
