package main

import (
	"context"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"lampwise/internal/fault"
	"lampwise/internal/job"
	"lampwise/internal/media"
)

func (a *app) renderCommand() *cobra.Command {
	var r job.RenderRequest
	var codec, speed, sound, still string
	var plain bool
	var bits int
	var d deliverFlags
	cmd := &cobra.Command{
		Use:   "render CLIP --grade GRADE -o OUT",
		Short: "clip + grade → finished file",
		Long: `Renders a clip, or a film edited already, through a grade into a finished BT.709
file. Time and size are estimated from a short trial and told first. Sound,
timecode and chapters are copied as they are. The file has its final name only
once it is whole; Ctrl-C leaves nothing behind.

With --still one frame, named by timecode or time, is written as a PNG or TIFF by the exact path.

With --as PRESET:FILE, several times, one decoding makes several files. --from and
--to take a stretch of the clip, to the frame; copied sound is cut where its
packets begin, and how long after the picture that is is told.`,
		Example: "  lampwise render lesson-12.mov --grade lesson.toml -o lesson-12.mp4\n  lampwise render lesson-12.mov --grade lesson.toml -o master.mov --codec intermediate\n  lampwise render lesson-12.mov --grade lesson.toml -o cover.png --still 1:02.5\n  lampwise render lesson-12.mov --grade lesson.toml --as web-1080p:lesson-12.mp4 --as master:lesson-12-master.mov --from 01:00:10:00",
		Args:    exactly(1, "one clip"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Clip, r.Codec, r.Speed, r.Sound = args[0], media.Codec(codec), media.Speed(speed), media.Sound(sound)
			if r.Grade == "" || r.Out == "" && len(d.as) == 0 {
				return fault.New(fault.Usage, "arguments", cmd.CommandPath()+" --help shows an example.", "a render needs --grade and -o")
			}
			if err := oneOf("--codec", codec, "h264", "hevc", "intermediate"); err != nil {
				return err
			}
			if err := oneOf("--speed", speed, "fastest", "fast", "medium", "slow"); err != nil {
				return err
			}
			if err := oneOf("--sound", sound, "copy", "aac", "none"); err != nil {
				return err
			}
			if still != "" {
				if bits != 8 && bits != 16 {
					return fault.New(fault.Usage, "flag", "Choose 8 or 16.", "--bits: a still has 8 or 16 bits, not %d", bits)
				}
				return a.still(cmd.Context(), job.StillRequest{Clip: r.Clip, Grade: r.Grade, Out: r.Out, At: still, Bits: bits, Overwrite: r.Overwrite})
			}
			if d.used() {
				many, err := d.request(r, cmd.Flags().Changed("sound"))
				if err != nil {
					return err
				}
				return a.deliver(cmd.Context(), many, !plain)
			}
			return a.render(cmd.Context(), r, !plain)
		},
	}
	f := cmd.Flags()
	f.StringVarP(&r.Grade, "grade", "g", "", "the grade file")
	f.StringVarP(&r.Out, "out", "o", "", "the finished file, .mp4 or .mov")
	f.StringVar(&codec, "codec", "h264", "h264, hevc, or intermediate (10-bit 4:2:2, every frame alone, for further work)")
	f.Float64Var(&r.Quality, "quality", 0, "constant quality, 1 best to 51 worst (0: the codec's usual)")
	f.Int64Var(&r.BitRate, "bit-rate", 0, "bit/s, in place of a constant quality")
	f.StringVar(&speed, "speed", "fast", "fastest, fast, medium or slow: slower files are smaller")
	f.StringVar(&sound, "sound", "copy", "copy (bit for bit), aac (encoded anew, for .mp4) or none")
	f.BoolVar(&r.Overwrite, "overwrite", false, "replace a file that stands there")
	f.IntVar(&r.Threads, "threads", 0, "threads for each of decoder, arithmetic and encoder (0: all)")
	f.StringVar(&still, "still", "", "write one frame as a still, by timecode (01:00:12:00) or time (1:02.5)")
	f.IntVar(&bits, "bits", 16, "bits of a still: 8 or 16")
	f.BoolVar(&plain, "no-estimate", false, "begin at once, without the trial")
	d.add(f)
	return cmd
}

func (a *app) still(ctx context.Context, r job.StillRequest) error {
	made, err := job.Still(ctx, r)
	if err != nil {
		return err
	}
	return a.answer(made, func(w io.Writer) {
		fmt.Fprintf(w, "%s: frame %d, at %.3f s, %d bits\n", made.File, made.Frame, made.Time, made.Bits)
		for _, n := range made.Notes {
			fmt.Fprintf(w, "note: %s\n", n)
		}
	})
}

func oneOf(flag, value string, words ...string) error {
	for _, w := range words {
		if value == w {
			return nil
		}
	}
	hint := "Choose " + strings.Join(words, ", ") + "."
	if near, ok := fault.Nearest(value, words); ok {
		hint = "Did you mean “" + near + "”? " + hint
	}
	return fault.New(fault.Usage, "flag", hint, "%s: %q is not known", flag, value)
}

// took says how long the pictures took, at which rate, and what came before them.
func took(all, before, rate float64) string {
	text := fmt.Sprintf("%s (%.1f frames/s)", job.Span(seconds(all-before)), rate)
	if before >= 1 {
		text += " after " + job.Span(seconds(before)) + " of preparation"
	}
	return text
}

func (a *app) render(ctx context.Context, r job.RenderRequest, estimate bool) error {
	if estimate {
		r.Told = func(e job.Estimate) {
			a.note("This will take about %s and make a file of about %s (from %d frames rendered for trial).",
				job.Span(seconds(e.Seconds)), job.Size(e.Bytes), e.Frames)
			for _, d := range e.Doubts {
				a.note("Is the clip read rightly? %s", d)
			}
		}
	}
	report, end := a.progress()
	done, err := job.Render(ctx, r, report)
	end()
	if err != nil {
		return err
	}
	return a.answer(done, func(w io.Writer) {
		fmt.Fprintf(w, "%s: %d frames in %s, %s\n", done.File, done.Frames, took(done.Seconds, done.Prepare, done.Rate), job.Size(done.Bytes))
		if e := done.Error; e != nil {
			fmt.Fprintf(w, "arithmetic against the exact path: ΔE00 %.3f at most, %.4f in the mean, neutrals within %.2f of a 10-bit code (%s; it was at work %.0f %% of the time)\n",
				e.MaxDE, e.MeanDE, e.Neutral, done.Kernel, 100*done.KernelShare)
		}
		for _, n := range done.Notes {
			fmt.Fprintf(w, "note: %s\n", n)
		}
	})
}
