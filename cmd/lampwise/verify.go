package main

import (
	"context"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"lampwise/internal/fault"
	"lampwise/internal/job"
)

func (a *app) verifyCommand() *cobra.Command {
	var r job.VerifyRequest
	var face string
	cmd := &cobra.Command{
		Use:   "verify FILE [--source CLIP --grade GRADE]",
		Short: "check a finished file",
		Long: `Decodes a finished file again and checks it. Alone: it can be read to its end,
its tags are those of BT.709, its levels lie within EBU R 103, nothing flashes more
than ITU-R BT.1702 allows, no stretch is black or stands still, skin lies near the
skin line; its loudness is told. With the source and the grade also: number and times of frames, the sound bit for bit, and sampled stretches
against the exact path. The codec's own loss is told apart by encoding the same
stretch from the exact picture with the same settings.

Exit code 0: as it should be; 3: problems were found.`,
		Example: "  lampwise verify lesson-12.mp4\n  lampwise verify lesson-12.mp4 --source lesson-12.mov --grade lesson.toml",
		Args:    exactly(1, "one finished file"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.File = args[0]
			if (r.Source == "") != (r.Grade == "") {
				return fault.New(fault.Usage, "arguments", "Give both, or neither.", "--source and --grade go together")
			}
			if face != "" {
				g, err := job.ParseRegion(face)
				if err != nil {
					return err
				}
				r.Face = g
			}
			return a.verify(cmd.Context(), r)
		},
	}
	cmd.Flags().StringVar(&r.Source, "source", "", "the clip it was rendered from")
	cmd.Flags().StringVarP(&r.Grade, "grade", "g", "", "the grade it was rendered with")
	cmd.Flags().StringVar(&face, "region", "", "face=x,y,w,h in per cent of the picture: where skin is read (default: it is looked for)")
	return cmd
}

func (a *app) verify(ctx context.Context, r job.VerifyRequest) error {
	report, end := a.progress()
	v, err := job.Verify(ctx, r, report)
	end()
	if err != nil {
		return err
	}
	if err := a.answer(v, func(w io.Writer) { verifyText(w, v) }); err != nil {
		return err
	}
	if !v.OK {
		return errProblems
	}
	return nil
}

func verifyText(w io.Writer, v *job.Verified) {
	if v.OK {
		fmt.Fprintf(w, "%s: as it should be\n", v.File)
	} else {
		fmt.Fprintf(w, "%s: %s found\n", v.File, count(len(v.Problems), "problem"))
	}
	table(w, func(line func(...string)) {
		line("  frames", fmt.Sprint(v.Frames))
		line("  luma", fmt.Sprintf("codes %d to %d; %.3f %% under black, %.3f %% over white", v.Levels.LumaMin, v.Levels.LumaMax, 100*v.Levels.BelowBlack, 100*v.Levels.AboveWhite))
		checksLines(line, v.Checks)
		if v.AudioSame != nil {
			line("  sound", map[bool]string{true: "the source's, bit for bit", false: "not the source's"}[*v.AudioSame])
		}
		if c := v.Compared; c != nil {
			line("  picture", fmt.Sprintf("against the exact path ΔE00 %.2f in the mean, %.2f at most (%d frames, means of 16×16 pixels)", v.MeanDE00, v.MaxDE00, c.Frames))
			line("  of it the codec", fmt.Sprintf("%.2f in the mean, %.2f at most (its twin, encoded from the exact picture)", c.CodecMean, c.CodecMax))
			line("  the arithmetic", fmt.Sprintf("%.3f in the mean, %.2f at most; single samples within %.0f of a code", c.ArithMean, c.ArithMax, c.ArithCodes))
		}
	})
	for _, p := range v.Problems {
		fmt.Fprintf(w, "problem: %s", p.What)
		if p.Unit != "" && p.Unit != "tag" {
			fmt.Fprintf(w, ": %.3g %s", p.Size, p.Unit)
		}
		fmt.Fprintf(w, ". %s\n", p.Advice)
	}
	for _, n := range v.Notes {
		fmt.Fprintf(w, "note: %s\n", n)
	}
}

// checksLines tells what the checks without a source found.
func checksLines(line func(...string), c *job.OutputChecks) {
	if c == nil {
		return
	}
	l := c.Levels
	line("  levels", fmt.Sprintf("R, G, B %.1f to %.1f %%, luma %.1f to %.1f %%; at most %.2f %% of a picture outside −5 to 105 %%",
		min(l.R.Least, l.G.Least, l.B.Least), max(l.R.Most, l.G.Most, l.B.Most), l.Y.Least, l.Y.Most, 100*l.Worst))
	line("  flashes", fmt.Sprintf("%.0f in a second at most, %.0f of saturated red (a display of %.0f cd/m² assumed)", c.Flashes.General, c.Flashes.Red, float64(c.Flashes.Peak)))
	if s := c.Skin; s != nil && s.Off != nil {
		line("  skin", fmt.Sprintf("hue %.0f°, %+.0f° from the skin line; %.0f %% of the face within 10° of it", float64(*s.Hue), float64(*s.Off), 100*s.Share))
	}
	for _, x := range c.Loudness {
		if x.Integrated == nil {
			line("  loudness", fmt.Sprintf("sound %d: silent, or too short to tell", x.Number+1))
			continue
		}
		text := fmt.Sprintf("sound %d: %.1f LUFS", x.Number+1, *x.Integrated)
		if x.Range != nil {
			text += fmt.Sprintf(", range %.1f LU", *x.Range)
		}
		if x.TruePeak != nil {
			text += fmt.Sprintf(", true peak %.1f dBTP", *x.TruePeak)
		}
		line("  loudness", text+" (EBU R 128 meter; told only)")
	}
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
