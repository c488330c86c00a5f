package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"lampwise/internal/job"
)

func (a *app) gradeMatchCommand() *cobra.Command {
	var r job.MatchRequest
	var regions []string
	cmd := &cobra.Command{
		Use:   "match CLIP --to CLIP|SET --grade FILE",
		Short: "exposure, balance and curve that bring a clip to another under one grade",
		Long: `Reads the regions that both clips show (or the clip and a set's reference mix) and
finds the exposure and balance, and the curve where they don't do, that bring their
readings together under the grade. What then still differs is told for each region.

One change cannot put one lamp right against another; lampwise check says which
lamp drifted. With -o the grade for the clip is written under a new name.`,
		Example: "  lampwise grade match lesson-13.mov --to lesson-12.mov --grade lesson.toml --set garage -o lesson-13.toml",
		Args:    exactly(1, "one clip"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Clip = args[0]
			if r.Grade == "" {
				return missingFlag(cmd, "grade", "FILE")
			}
			if r.To == "" {
				return missingFlag(cmd, "to", "CLIP|SET")
			}
			var err error
			if r.Regions, err = job.ParseRegions(regions); err != nil {
				return err
			}
			s, err := a.openStore(cmd.Context())
			if err != nil {
				return err
			}
			defer s.Close()
			report, end := a.progress()
			m, err := job.Match(cmd.Context(), s, r, report)
			end()
			if err != nil {
				return err
			}
			return a.answer(m, func(w io.Writer) { matchText(w, m) })
		},
	}
	f := cmd.Flags()
	f.StringVarP(&r.Grade, "grade", "g", "", "the grade of the clip that it is matched to")
	f.StringVar(&r.To, "to", "", "another clip, or a set's name")
	f.StringVar(&r.Set, "set", "", "the set both were filmed on: its regions")
	f.StringVarP(&r.Out, "out", "o", "", "write the grade for this clip")
	f.BoolVar(&r.Overwrite, "overwrite", false, "replace a file that stands there")
	f.StringArrayVar(&regions, "region", nil, "name=x,y,w,h in per cent of both pictures; may be repeated")
	f.IntVar(&r.Threads, "threads", 0, "decoder threads (0: the decoder's choice)")
	return cmd
}

func matchText(w io.Writer, m *job.Matched) {
	fmt.Fprintf(w, "%s to %s with %s\n\n", m.File, m.To, m.Grade)
	fmt.Fprintf(w, "exposure %s stop", signed(m.Exposure, 2))
	if m.Mired != nil {
		fmt.Fprintf(w, "; balance takes %s mired and Duv %s out of the clip on top of the grade's own", signed(*m.Mired, 0), signed(*m.Duv, 4))
	}
	if m.Curve {
		fmt.Fprint(w, "; a curve for what is left along the ladder")
	}
	fmt.Fprintln(w, ".")
	for _, t := range m.Settings {
		fmt.Fprintf(w, "  %s\n", t)
	}
	fmt.Fprintln(w, "\nWhat differs on the screen")
	table(w, func(line func(...string)) {
		line("  region", "stops before", "after", "ΔE00 before", "after")
		for _, r := range m.Regions {
			line("  "+r.Region, signed(r.Stops, 2), signed(r.Left, 2), fmt.Sprintf("%.1f", r.DE00), fmt.Sprintf("%.1f", r.Left00))
		}
		line("  all, weighted", fmt.Sprintf("%.2f", m.Before.Stops), fmt.Sprintf("%.2f", m.After.Stops), fmt.Sprintf("%.1f", m.Before.DE00), fmt.Sprintf("%.1f", m.After.DE00))
	})
	if m.Out != "" {
		fmt.Fprintf(w, "\n%s: written\n", m.Out)
	} else {
		fmt.Fprintln(w, "\nNothing was written; -o FILE writes the grade for this clip.")
	}
	for _, n := range m.Notes {
		fmt.Fprintf(w, "note: %s\n", n)
	}
}
