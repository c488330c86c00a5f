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
	cmd := &cobra.Command{
		Use:   "verify FILE [--source CLIP --grade GRADE]",
		Short: "check a finished file",
		Long: `Decodes a finished file again and checks it. Alone: it can be read to its end,
its tags are those of BT.709, its levels are legal. With the source and the grade
also: number and times of frames, the sound bit for bit, and sampled stretches
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
			return a.verify(cmd.Context(), r)
		},
	}
	cmd.Flags().StringVar(&r.Source, "source", "", "the clip it was rendered from")
	cmd.Flags().StringVarP(&r.Grade, "grade", "g", "", "the grade it was rendered with")
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

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
