package media

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strconv"

	"lampwise/internal/fault"
	"lampwise/internal/picture"
)

// ReadOptions chooses what is read of a clip.
type ReadOptions struct {
	Start    int      // first frame, from 0
	Count    int      // number of frames; 0: to the end
	Override Override // takes the place of the clip's tags
	Info     *Info    // from Probe, where the caller has it already; else the clip is probed
	Threads  int      // decoder threads; 0: ffmpeg's choice
	Damaged  bool     // read on over damage: what is wrong is then told by Warnings alone
}

// Reader gives a clip's frames in the order of presentation, as the codes the
// file stores. It must be closed. It is not safe for use by several goroutines.
type Reader struct {
	ctx      context.Context
	info     *Info
	options  ReadOptions
	format   picture.Format
	pixel    pixelFormat
	bytes    int64
	expected int // frames that should come
	count    int // frames that came
	skip     int // frames to be thrown away before the first
	shift    int64
	sought   bool // the child was started in the middle
	child    *child
	nut      *nutReader
	scratch  []byte
	ready    bool // the first frame's header was read while opening
	pts      int64
	size     int64
	warnings []string
	done     error
}

// OpenReader starts decoding. Frame Start is found to the frame: the first
// timestamp is compared with the packet scan's, and where the file cannot be
// entered there, it is decoded from its beginning.
func OpenReader(ctx context.Context, path string, o ReadOptions) (*Reader, error) {
	info := o.Info
	if info == nil || !info.Video.Counted {
		var err error
		if info, err = Probe(ctx, path); err != nil {
			return nil, err
		}
	} else if _, err := openable(path); err != nil {
		return nil, err
	}
	pf, ok := pixelFormats[info.Video.PixelFormat]
	if !ok {
		return nil, pixelFault(path, info.Video.PixelFormat)
	}
	if o.Start < 0 || o.Count < 0 || o.Start >= info.Video.Frames {
		return nil, fault.New(fault.Usage, "frame-range", fmt.Sprintf("the clip has frames 0 to %d", info.Video.Frames-1),
			"%s: there is no frame %d in it", path, o.Start)
	}
	if m := info.Video.Missing; m > 0 && !o.Damaged && (o.Count == 0 || o.Start+o.Count > info.Video.Frames) {
		return nil, brokenFault(path, fmt.Sprintf("the clip breaks off: it holds %d of the %d frames it should", info.Video.Frames, info.Video.Frames+m))
	}
	r := &Reader{ctx: ctx, info: info, options: o, format: info.FormatWith(o.Override), pixel: pf}
	r.bytes = pf.frameBytes(r.format)
	r.expected = info.Video.Frames - o.Start
	if o.Count > 0 && o.Count < r.expected {
		r.expected = o.Count
	}
	if info.times != nil && info.times.Ticks[0] < 0 {
		r.shift = -info.times.Ticks[0] // NUT has no negative timestamps
	}
	r.sought = o.Start > 0 && info.times != nil
	if err := r.start(path); err != nil {
		return nil, err
	}
	if r.sought && (!r.ready || r.pts != info.times.Ticks[o.Start]) {
		r.child.stop()
		r.sought, r.warnings = false, nil
		if err := r.start(path); err != nil {
			return nil, err
		}
	}
	return r, nil
}

// start runs ffmpeg and reads up to the first frame's header.
func (r *Reader) start(path string) error {
	ffmpeg, err := findTool(r.ctx, "ffmpeg")
	if err != nil {
		return err
	}
	r.skip = 0
	if !r.sought {
		r.skip = r.options.Start
	}
	r.child, err = startChild(r.ctx, ffmpeg.path, r.arguments(path, ffmpeg.version), false, true)
	if err != nil {
		return err
	}
	r.nut, err = newNUTReader(r.child.stdout)
	if err == nil {
		err = r.header()
	}
	if errors.Is(err, io.EOF) && r.sought {
		return nil // not one frame came: it could not be entered there
	}
	if errors.Is(err, io.EOF) {
		if err = r.ended(); errors.Is(err, io.EOF) {
			r.done = io.EOF
			return nil
		}
	}
	if err != nil {
		err = r.because(err)
		r.child.stop()
		return err
	}
	r.ready = true
	return nil
}

// arguments is the whole command. There is no -pix_fmt and no filter that
// touches pictures in it, so that no scaler can come in between; -autoscale 0
// keeps ffmpeg from putting one in when the size changes in the middle.
func (r *Reader) arguments(path string, v Version) []string {
	a := append([]string{"-hide_banner", "-nostdin", "-v", "error", "-copyts"}, inputGuards()...)
	a = append(a, "-noautorotate")
	if r.options.Threads > 0 {
		a = append(a, "-threads", strconv.Itoa(r.options.Threads))
	}
	if r.sought {
		// Half way between the frame before and the one wanted, from the container's start.
		t := r.info.times.Ticks
		at := (float64(t[r.options.Start-1])+float64(t[r.options.Start]))/2*r.info.Video.TimeBase.Float() - r.info.Start
		a = append(a, "-ss", strconv.FormatFloat(max(at, 0), 'f', 6, 64))
	}
	a = append(a, "-i", fileURL(path), "-map", "0:"+strconv.Itoa(r.info.Video.Index), "-an", "-sn", "-dn", "-autoscale", "0")
	if r.shift != 0 {
		a = append(a, "-vf", "setpts=PTS+"+strconv.FormatInt(r.shift, 10))
	}
	a = append(a, "-fps_mode", "passthrough", "-enc_time_base", demuxTimeBase(v), "-c:v", "rawvideo")
	a = append(a, "-frames:v", strconv.Itoa(r.skip+r.expected))
	return append(a, "-f", "nut", "-write_index", "0", "pipe:1")
}

// demuxTimeBase asks the encoder to keep the input's time base; its old spelling is -1.
func demuxTimeBase(v Version) string {
	if v.Major != 0 && !v.atLeast(6, 1) {
		return "-1"
	}
	return "demux"
}

// Info is what the clip is.
func (r *Reader) Info() *Info { return r.info }

// Format is the frames' format.
func (r *Reader) Format() picture.Format { return r.format }

// Frames is how many frames are to come in all.
func (r *Reader) Frames() int { return r.expected }

// Warnings are what was wrong on the way and did not stop it; complete after the last frame.
func (r *Reader) Warnings() []string { return r.warnings }

// Next fills f with the next frame, using its planes where they fit. Index
// counts from the first frame read; Time is the presentation time in s from
// the container's start. It gives io.EOF after the last frame, and a fault
// when the clip ends early, is damaged or ffmpeg ends before its work is done.
func (r *Reader) Next(f *picture.Frame) error {
	if r.done != nil {
		return r.done
	}
	if err := r.next(f); err != nil {
		r.done = err
		return err
	}
	return nil
}

func (r *Reader) next(f *picture.Frame) error {
	fit(f, r.format)
	for {
		if !r.ready {
			if err := r.header(); errors.Is(err, io.EOF) {
				return r.ended()
			} else if err != nil {
				return r.because(err)
			}
		}
		r.ready = false
		if r.size != r.bytes || r.nut.width != r.format.Width || r.nut.height != r.format.Height {
			return fault.New(fault.Input, "clip-changes", "cut the clip there and grade the parts one by one",
				"%s: the picture's size or storage changes at frame %d", r.info.Path, r.options.Start+r.count)
		}
		var err error
		if r.scratch, err = readPlanes(r.nut, r.pixel, f, r.scratch); err != nil {
			return r.because(noEOF(err))
		}
		if r.skip == 0 {
			break
		}
		r.skip--
	}
	f.Index = r.count
	n := r.options.Start + r.count
	if r.info.times != nil && n < len(r.info.times.Ticks) && r.pts != r.info.times.Ticks[n] {
		if err := r.misplaced(n); err != nil {
			return err
		}
	}
	f.Time = r.info.FrameTime(n)
	r.count++
	return nil
}

// misplaced deals with a frame that does not have the timestamp its packet
// promised: frames before it could not be decoded.
func (r *Reader) misplaced(n int) error {
	message := fmt.Sprintf("frame %d is missing or damaged: the next picture belongs to %.3f s, not %.3f s", n,
		float64(r.pts)*r.info.Video.TimeBase.Float()-r.info.Start, r.info.FrameTime(n))
	if r.options.Damaged {
		if len(r.warnings) < keepFirst {
			r.warnings = append(r.warnings, message)
		}
		return nil
	}
	return r.broken(message)
}

// header reads the next frame's header.
func (r *Reader) header() error {
	var err error
	r.pts, r.size, err = r.nut.next()
	// NUT's time base is the clip's or a whole fraction of it: nothing is lost on the way back.
	r.pts = rescale(r.pts, r.nut.timeBase, r.info.Video.TimeBase) - r.shift
	return err
}

// ended judges the end of the stream: io.EOF when all is well.
func (r *Reader) ended() error {
	err := r.child.wait()
	lines := r.child.stderr.lines()
	if err != nil {
		return r.because(err)
	}
	for _, l := range lines {
		if len(r.warnings) < keepFirst+keepLast {
			r.warnings = append(r.warnings, l)
		}
	}
	switch {
	case r.count < r.expected:
		message := fmt.Sprintf("only %d of %d frames could be decoded", r.count, r.expected)
		if len(lines) > 0 {
			message += " (" + reasonOf(lines) + ")"
		}
		if r.options.Damaged {
			r.warnings = append(r.warnings, message)
			return io.EOF
		}
		return r.broken(message)
	case !r.options.Damaged && !r.sought && complainsOf(lines, damageWords...):
		return r.broken(fmt.Sprintf("all %d frames came, but some are damaged (%s)", r.count, reasonOf(lines)))
	}
	return io.EOF
}

// damageWords are in what ffmpeg's decoders say of frames they had to make up.
// After a seek they may speak of frames before the wanted ones.
var damageWords = []string{
	"error while decoding", "concealing", "Invalid data found", "corrupt", "Error submitting", "Error splitting",
	"Invalid NAL unit size", "missing picture", "slice header", "cabac decode", "damaged", "overread", "bytestream",
}

func (r *Reader) broken(message string) error { return brokenFault(r.info.Path, message) }

func brokenFault(path, message string) error {
	return fault.New(fault.Input, "clip-damaged", "copy the clip again from the camera's card; if it stays damaged, cut the good part out first",
		"%s: %s", path, message)
}

// because puts the child's own reason in the place of a broken pipe's.
func (r *Reader) because(err error) error {
	if f, ok := fault.As(err); ok && f.Class != fault.Cancelled {
		return err
	}
	if r.ctx.Err() != nil {
		r.child.stop()
		return stopped(r.ctx)
	}
	var failed *failedError
	if !errors.As(err, &failed) {
		if !errors.Is(err, io.ErrUnexpectedEOF) {
			return fmt.Errorf("%s: decoded frames from ffmpeg: %w", r.info.Path, err)
		}
		ended := r.child.wait()
		if f, ok := fault.As(ended); ok {
			return f
		}
		if !errors.As(ended, &failed) {
			return fmt.Errorf("%s: decoded frames from ffmpeg: %w", r.info.Path, err)
		}
	}
	return fault.Wrap(failed, fault.Input, "clip-unreadable", "check that the clip was copied whole",
		"%s: ffmpeg gave up after %d frames: %s", r.info.Path, r.count, failed.reason())
}

// Close ends ffmpeg if it still runs. It is not an error to close before the end.
func (r *Reader) Close() error {
	if r.done == nil {
		r.done = errors.New("media: the reader is closed")
	}
	r.child.stop()
	r.scratch = nil
	return nil
}
