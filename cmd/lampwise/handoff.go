package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"lampwise/internal/fault"
	"lampwise/internal/job"
)

func (a *app) handoffCommand() *cobra.Command {
	var r job.HandoffRequest
	cmd := &cobra.Command{
		Use:   "handoff GRADE -o DIR",
		Short: "monitoring LUTs, CLF, CDL, stills and the set card for others",
		Long: `Writes what others need of a grade into a folder: LUTs for the camera's screen
(17, 33 and 65 points, for both levels conventions, named), the grade as Common
LUT Format, as near as an ASC CDL comes to it, and each one's measured error.
With --clip stills of a frame before and after (PNG, 16-bit TIFF, EXR); with --set
the set card, one page to print; --plan draws the room on it.`,
		Example: "  lampwise handoff lesson.toml -o handed --set garage --plan garage.toml --clip monday.mov --at 0:12",
		Args:    exactly(1, "one grade"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Grade = args[0]
			if r.Folder == "" {
				return fault.New(fault.Usage, "arguments", cmd.CommandPath()+" --help shows an example.", "name the folder to write into with -o")
			}
			s, err := a.openStore(cmd.Context())
			if err != nil {
				return err
			}
			defer s.Close()
			out, err := job.Handoff(cmd.Context(), s, r)
			if err != nil {
				return err
			}
			return a.answer(out, func(w io.Writer) {
				for _, f := range out.Files {
					fmt.Fprintf(w, "%s: %s\n", f.File, f.What)
					if e := f.Error; e != nil {
						fmt.Fprintf(w, "    against the exact path: ΔE00 %.2f in the mean, %.1f at most, neutrals within %.1f codes of 10 bits\n", e.MeanDE, e.MaxDE, e.Neutral)
					}
				}
				for _, n := range out.Notes {
					fmt.Fprintf(w, "note: %s\n", n)
				}
			})
		},
	}
	f := cmd.Flags()
	f.StringVarP(&r.Folder, "out", "o", "", "the folder to write into")
	f.StringVar(&r.Set, "set", "", "the set, for its card")
	f.StringVar(&r.Plan, "plan", "", "the room's plan, drawn on the set card, with the camera's settings")
	f.StringVar(&r.Clip, "clip", "", "a clip, for the stills")
	f.StringVar(&r.At, "at", "", "when in the clip, by timecode (01:00:12:00) or time (1:02.5)")
	f.BoolVar(&r.Overwrite, "overwrite", false, "replace files that stand there")
	return cmd
}
