package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"lampwise/internal/colour"
	"lampwise/internal/job"
)

func (a *app) lutInspectCommand() *cobra.Command {
	var curve string
	cmd := &cobra.Command{
		Use:   "inspect FILE",
		Short: "what a LUT does, and which levels its input takes",
		Long: `Tells what a LUT file is and does: size, whether greys stay grey and rise, what
range comes out. With --curve also where black, grey and 90 % white of a recording
land when the LUT's input is taken as data levels and as video levels, and which of
the two is plausible. Grey can't tell the two apart; black and white can.`,
		Example: "  lampwise lut inspect found.cube\n  lampwise lut inspect found.cube --curve log-420",
		Args:    exactly(1, "one LUT file"),
		RunE: func(_ *cobra.Command, args []string) error {
			r, err := job.InspectLUT(args[0], curve)
			if err != nil {
				return err
			}
			return a.answer(r, func(w io.Writer) { inspectText(w, r) })
		},
	}
	cmd.Flags().StringVar(&curve, "curve", "", "the curve of the recordings it is for")
	return cmd
}

func inspectText(w io.Writer, r *job.LUTReport) {
	fmt.Fprintf(w, "%s: %s", r.File, r.Kind)
	if r.Title != "" {
		fmt.Fprintf(w, ", “%s”", r.Title)
	}
	fmt.Fprintln(w)
	table(w, func(line func(...string)) {
		for _, p := range r.Parts {
			what := []string{p.Kind}
			if p.Size > 0 {
				what = append(what, fmt.Sprint(p.Size), "points a side")
			}
			if p.Interp != "" {
				what = append(what, string(p.Interp))
			}
			if p.Style != "" {
				what = append(what, p.Style)
			}
			line("  part", strings.Join(what, " "))
		}
		line("  input", fmt.Sprintf("%g to %g", r.Lo[0], r.Hi[0]))
		if r.Identity {
			line("  does", "nothing (changes less than half a code of 10 bits)")
		} else {
			line("  does", fmt.Sprintf("change colours by up to %.0f codes of 10 bits", r.LargestChange))
		}
		n := r.Neutral
		rises := "rise everywhere"
		if !n.Rises[0] || !n.Rises[1] || !n.Rises[2] {
			rises = fmt.Sprintf("FALL by %.4f at input %.3f: light and dark change places there", n.LargestFall, n.FallAt)
		}
		line("  greys", rises)
		line("  grey shift", fmt.Sprintf("ΔE00 %.2f at most (input %.3f); channels apart by %.4f", n.Shift, n.ShiftAt, n.Spread))
		o := r.Outputs
		line("  output", fmt.Sprintf("%.3f to %.3f; %.1f %% of colours have a channel below 0, %.1f %% above 1",
			min(o.Lowest[0], o.Lowest[1], o.Lowest[2]), max(o.Highest[0], o.Highest[1], o.Highest[2]), 100*o.Below, 100*o.Above))
	})
	l := r.Levels
	if l == nil {
		fmt.Fprintln(w, "Add --curve ID to see where a recording's black, grey and white land.")
		return
	}
	fmt.Fprintf(w, "\n%s through it, output in per cent of signal:\n", l.Curve)
	table(w, func(line func(...string)) {
		line("  input taken as", "black", "grey 18 %", "white 90 %", "")
		for _, read := range []struct {
			levels colour.Levels
			name   string
		}{{colour.LevelsData, "data levels"}, {colour.LevelsVideo, "video levels"}} {
			x := l.Data
			if read.levels == colour.LevelsVideo {
				x = l.Video
			}
			verdict := "plausible"
			if !x.Plausible {
				verdict = "not plausible: " + strings.Join(x.Against, "; ")
			}
			line("  "+read.name, fmt.Sprintf("%.1f", 100*x.Black.Luma), fmt.Sprintf("%.1f", 100*x.Grey.Luma), fmt.Sprintf("%.1f", 100*x.White.Luma), verdict)
		}
	})
	fmt.Fprintln(w, l.Explain)
}
