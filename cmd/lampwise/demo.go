package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"lampwise/internal/job"
)

func (a *app) demoCommand() *cobra.Command {
	var r job.DemoRequest
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "make the example and do the whole job on it",
		Long: `Makes the generated example (a bicycle mechanic who films repair lessons in a
one-car garage: a switch clip and two episode clips as real 10-bit log video)
and does the job on it: probe, grade, learn the lamps, solve for a picture, check
both episodes against the set, render, verify, before and after. The truth stands
beside what was measured.`,
		Example: "  lampwise demo --out out\n  lampwise demo --out quick --size 270",
		Args:    exactly(0, "no arguments"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			s, err := a.openStore(cmd.Context())
			if err != nil {
				return err
			}
			defer s.Close()
			report, end := a.progress()
			res, err := job.Demo(cmd.Context(), s, r, func(line string) { a.note("%s", line) }, report)
			end()
			if err != nil {
				return err
			}
			failed := false
			for _, e := range res.Episodes {
				failed = failed || !e.Verified.OK
			}
			if err := a.answer(res, func(w io.Writer) {
				fmt.Fprintln(w, "\nThe results (all generated):")
				table(w, func(line func(...string)) {
					line("  before and after", res.Sheet)
					for _, e := range res.Episodes {
						line("  finished", e.File)
					}
					line("  recorded", res.Episodes[0].Clip)
					line("", res.Episodes[1].Clip)
					line("  switch clip", res.Switch)
					line("  each lamp alone", res.Lamps.Learned.Files["each lamp alone"])
					line("  who lights what", res.Lamps.Learned.Files["who lights what"])
					line("  stop ladder", res.Lamps.Learned.Files["stop ladder"])
					line("  plan of the room", res.Plan.File)
					line("  drawn to scale", res.Plan.Files["plan"])
					line("  grade", res.Grade)
					line("  ground truth", res.Truth)
				})
			}); err != nil {
				return err
			}
			if failed {
				return errProblems
			}
			return nil
		},
	}
	f := cmd.Flags()
	f.StringVar(&r.Dir, "out", "out", "folder for the example and its results")
	f.IntVar(&r.Size, "size", 1080, "height of the frames: 1080, 2160, or smaller for a quick look")
	f.Float64Var(&r.Seconds, "length", 1, "scales the clips' lengths")
	f.IntVar(&r.Threads, "threads", 0, "threads for each of decoder, arithmetic and encoder (0: all)")
	return cmd
}
