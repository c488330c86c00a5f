package job

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"lampwise/internal/fault"
	"lampwise/internal/media"
	"lampwise/internal/picture"
)

// RenderRequest is one clip, one grade, one finished file.
type RenderRequest struct {
	Clip, Grade, Out string
	Codec            media.Codec // empty: h264
	Quality          float64     // constant quality; 0: the codec's usual
	BitRate          int64       // bit/s in place of a constant quality; 0: none
	Speed            media.Speed // empty: fast
	Sound            media.Sound // empty: copy
	Overwrite        bool
	Threads          int // for each of decoder, kernel and encoder; 0: all cores
	// Told is called with the estimate before the render begins; nil: no estimate is made.
	Told func(Estimate)
}

// Estimate is what a render will take, from a short stretch rendered for trial.
type Estimate struct {
	Seconds float64 `json:"seconds"`
	Bytes   int64   `json:"bytes"`
	Frames  int     `json:"trial_frames"` // how many frames it rests on
	// Doubts say that the clip's tags or curve don't fit what is in it.
	Doubts []string `json:"doubts,omitempty"`
}

// Rendered is what came of a render.
type Rendered struct {
	File        string            `json:"file"`
	Frames      int64             `json:"frames"`
	Seconds     float64           `json:"seconds"`         // all in all
	Prepare     float64           `json:"prepare_seconds"` // of them, before the first frame: compiling, trial, opening
	Rate        float64           `json:"frames_per_second"`
	Bytes       int64             `json:"bytes"`
	KernelShare float64           `json:"kernel_share"` // part of the time in which the kernel was at work
	ExactShare  float64           `json:"exact_share"`  // part of the pixels that were evaluated exactly, off the tables
	Error       *picture.Measured `json:"error"`        // the fast arithmetic against the exact path
	Kernel      string            `json:"kernel"`       // which one ran: portable, avx2, …
	Estimate    *Estimate         `json:"estimate,omitempty"`
	Notes       []string          `json:"notes"`
}

// Render makes the finished file. The clip is only read; the file has its
// final name once it is whole.
func Render(ctx context.Context, r RenderRequest, report Progress) (*Rendered, error) {
	began := time.Now()
	if !r.Overwrite {
		if err := absent(r.Out); err != nil {
			return nil, err
		}
	}
	w, err := Open(ctx, r.Clip, r.Grade)
	if err != nil {
		return nil, err
	}
	options, err := r.options(w)
	if err != nil {
		return nil, err
	}
	// What can't be written is told before the time that the rest takes.
	if err := options.Check(r.Out); err != nil {
		return nil, err
	}
	kernel, err := w.Kernel(r.Threads)
	if err != nil {
		return nil, err
	}
	done := &Rendered{File: r.Out, Notes: w.Notes, Error: w.Program.Error, Kernel: kernelName(kernel)}
	if done.Notes == nil {
		done.Notes = []string{}
	}
	doubts, err := w.doubtNotes(ctx)
	if err != nil {
		return nil, err
	}
	done.Notes = append(done.Notes, doubts...)
	if r.Told != nil {
		e, err := w.estimate(ctx, kernel, options, r)
		if err != nil {
			return nil, err
		}
		e.Doubts = doubts
		done.Estimate = &e
		r.Told(e)
	}
	run, err := w.run(ctx, kernel, media.ReadOptions{Info: w.Info, Override: Override(w.Grade), Threads: r.Threads}, r.Out, options,
		newPace(report, "render", "frames", int64(w.Info.Video.Frames)))
	if err != nil {
		return nil, err
	}
	done.Frames, done.KernelShare = run.frames, run.busy.Seconds()/run.wall.Seconds()
	if pixels, exact := kernel.Evaluated(); pixels > 0 {
		done.ExactShare = float64(exact) / float64(pixels)
	}
	done.Notes = append(done.Notes, run.warnings...)
	done.Seconds = time.Since(began).Seconds()
	done.Prepare = done.Seconds - run.wall.Seconds()
	done.Rate = float64(run.frames) / run.wall.Seconds()
	if s, err := os.Stat(r.Out); err == nil {
		done.Bytes = s.Size()
	}
	return done, nil
}

// options turns the request into the writer's; what was chosen is written into
// the file's comment, so that verify can encode a twin with the same settings.
func (r *RenderRequest) options(w *Work) (media.WriteOptions, error) {
	o := media.WriteOptions{
		Format: w.Program.OutputFormat(w.Format), Source: w.Info,
		Rate: w.Info.Video.Rate, Variable: w.Info.Video.VariableRate, TimeBase: w.Info.Video.TimeBase,
		Aspect: w.Info.Video.SampleAspect, Display: w.Info.Video.Display,
		Codec: r.Codec, Quality: r.Quality, BitRate: r.BitRate, Speed: r.Speed, Sound: r.Sound,
		Overwrite: r.Overwrite, Threads: r.Threads,
	}
	if o.Codec == "" {
		o.Codec = media.CodecH264
	}
	if o.Speed == "" {
		o.Speed = media.SpeedFast
	}
	data, err := readFile(r.Grade, 1<<20)
	if err != nil {
		return o, err
	}
	sum := sha256.Sum256(data)
	o.Tags = map[string]string{"comment": settingsNote(o, hex.EncodeToString(sum[:8]))}
	return o, nil
}

// settingsNote is the line a finished file carries of how it was encoded.
func settingsNote(o media.WriteOptions, gradeSum string) string {
	sound := o.Sound
	if sound == "" {
		sound = media.SoundCopy
	}
	return fmt.Sprintf("lampwise codec=%s quality=%g bitrate=%d speed=%s sound=%s grade=%s", o.Codec, o.Quality, o.BitRate, o.Speed, sound, gradeSum)
}

// runFigures says how one run through the pipeline went.
type runFigures struct {
	frames   int64
	wall     time.Duration // from the first frame to the closed file
	busy     time.Duration // of it, in the kernel
	warnings []string
}

// run reads, grades and writes a stretch of the clip.
func (w *Work) run(ctx context.Context, kernel executor, from media.ReadOptions, out string, to media.WriteOptions, p *pace) (runFigures, error) {
	var figures runFigures
	reader, err := media.OpenReader(ctx, w.Info.Path, from)
	if err != nil {
		return figures, err
	}
	defer reader.Close()
	writer, err := media.NewWriter(ctx, out, to)
	if err != nil {
		return figures, err
	}
	defer writer.Abort()
	began := time.Now()
	work := func(in, out *picture.Frame) error {
		t := time.Now()
		defer func() { figures.busy += time.Since(t) }()
		return kernel.Run(in, out)
	}
	figures.frames, err = pump(ctx, reader, w.Format, to.Format, work, writer, p.at)
	if err != nil {
		return figures, err
	}
	if err := writer.Close(); err != nil {
		return figures, err
	}
	figures.wall = time.Since(began)
	figures.warnings = reader.Warnings()
	return figures, nil
}

// trialFrames is how many frames an estimate rests on at most; a quarter of
// the clip where that is less.
const trialFrames = 24

// estimate renders a short stretch from the clip's middle into a file that is
// thrown away, and scales time and size up.
func (w *Work) estimate(ctx context.Context, kernel executor, o media.WriteOptions, r RenderRequest) (Estimate, error) {
	total := w.Info.Video.Frames
	n := min(trialFrames, max(1, total/4))
	e := Estimate{Frames: n}
	folder, err := os.MkdirTemp(filepath.Dir(r.Out), ".lampwise-trial-")
	if err != nil {
		return e, storageFault(r.Out, err)
	}
	defer os.RemoveAll(folder)
	file := filepath.Join(folder, "trial"+filepath.Ext(r.Out))
	if o.Source != nil { // picture alone
		o.Source, o.Timecode = nil, ""
	}
	from := media.ReadOptions{Info: w.Info, Override: Override(w.Grade), Threads: r.Threads, Start: (total - n) / 2, Count: n}
	run, err := w.run(ctx, kernel, from, file, o, newPace(nil, "", "", 0))
	if err != nil {
		return e, underName(err, file, r.Out)
	}
	if run.frames == 0 {
		return e, fault.New(fault.Input, "no-frames", "The file may be damaged: lampwise probe tells more.", "%s: holds no picture that can be read", w.Info.Path)
	}
	scale := float64(total) / float64(run.frames)
	e.Seconds = run.wall.Seconds() * scale
	if s, err := os.Stat(file); err == nil {
		e.Bytes = int64(float64(s.Size()) * scale)
	}
	return e, nil
}

// underName says of the finished file what went wrong with the one made for trial.
func underName(err error, trial, out string) error {
	f, ok := fault.As(err)
	if !ok || !strings.Contains(f.Message, trial) {
		return err
	}
	named := *f
	named.Message = strings.ReplaceAll(f.Message, trial, out)
	return &named
}
