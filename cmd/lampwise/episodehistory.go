package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"lampwise/internal/fault"
	"lampwise/internal/job"
)

func (a *app) episodesHistory() *cobra.Command {
	var set string
	cmd := &cobra.Command{
		Use: "history --set NAME", Short: "what changed from episode to episode: lamps that age, days that stray",
		Example: "  lampwise episodes history --set garage", Args: exactly(0, "no arguments"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if set == "" {
				return fault.New(fault.Usage, "arguments", cmd.CommandPath()+" --help shows an example.", "name the set with --set")
			}
			s, err := a.openStore(cmd.Context())
			if err != nil {
				return err
			}
			defer s.Close()
			h, err := job.History(cmd.Context(), s, set)
			if err != nil {
				return err
			}
			return a.answer(h, func(w io.Writer) { writeHistory(w, h) })
		},
	}
	cmd.Flags().StringVar(&set, "set", "", "the set")
	return cmd
}

func writeHistory(w io.Writer, h *job.EpisodeHistory) {
	table(w, func(line func(...string)) {
		line("", "", "first", "last", "an episode")
		for _, s := range h.Series {
			var known []float64
			for _, p := range s.Points {
				if p.Value != nil {
					known = append(known, *p.Value)
				}
			}
			if len(known) == 0 {
				continue
			}
			trend := ""
			switch t := s.Trend; {
			case t == nil:
				trend = "too few episodes for a trend"
			case t.Sure:
				trend = fmt.Sprintf("%+.3f, %+.2f over %d episodes", t.PerEpisode, t.Total, t.Episodes)
			default:
				trend = "no sure trend"
			}
			line(s.Group+": "+s.What, s.Unit, fmt.Sprintf("%+.2f", known[0]), fmt.Sprintf("%+.2f", known[len(known)-1]), trend)
		}
	})
	for _, s := range h.Strays {
		fmt.Fprintf(w, "%s, clip %d: %s is %+.2f %s, where %+.2f is usual\n", s.Episode, s.Clip, s.What, s.Value, s.Unit, s.Usual)
	}
}
