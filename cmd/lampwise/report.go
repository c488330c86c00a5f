package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"lampwise/internal/job"
)

func (a *app) reportCommand() *cobra.Command {
	var r job.ReportRequest
	var regions []string
	cmd := &cobra.Command{
		Use:   "report CLIP|EPISODE -o FILE.html [--grade FILE] [--set NAME]",
		Short: "one page about a clip or an episode: before and after, what is wrong, the grade in words",
		Long: `Writes one HTML file that holds all it shows and asks nothing of any other place: the
picture before and after (by the exact path), the stop ladder, what is wrong and what
to do, the set's lamps, the grade in words and what it costs, scopes, cautions and the
formulas' sources. A browser prints it to PDF.

Of an episode (lampwise episodes list) the page tells what was done to each clip and
what is left, and reads each clip that is still there by the grade it was matched with.`,
		Example: `  lampwise report lesson-12.mov --grade lesson.toml --set garage -o lesson-12.html
  lampwise report tuesday --set garage -o tuesday.html`,
		Args: exactly(1, "one clip or one episode"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Of = args[0]
			if r.Out == "" {
				return missingFlag(cmd, "out", "FILE.html")
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
			done, err := job.Report(cmd.Context(), s, r, report)
			end()
			if err != nil {
				return err
			}
			return a.answer(done, func(w io.Writer) {
				of := ""
				if done.Episode != "" {
					of = " of " + count(done.Clips, "clip")
				}
				fmt.Fprintf(w, "%s: %.1f MB%s with %s\n", done.File, float64(done.Bytes)/1e6, of, strings.Join(done.Sections, ", "))
			})
		},
	}
	f := cmd.Flags()
	f.StringVarP(&r.Out, "out", "o", "", "the page")
	f.StringVarP(&r.Grade, "grade", "g", "", "the grade")
	f.StringVar(&r.Set, "set", "", "the set it was filmed on; of an episode only where several sets have one of that name")
	f.StringVar(&r.Curve, "curve", "", "camera curve, where no grade says it")
	f.BoolVar(&r.Overwrite, "overwrite", false, "replace a file that stands there")
	f.StringArrayVar(&regions, "region", nil, "name=x,y,w,h in per cent of the picture; may be repeated")
	f.BoolVar(&r.EveryFrame, "every-frame", false, "look at every frame")
	f.IntVar(&r.Threads, "threads", 0, "decoder threads (0: the decoder's choice)")
	return cmd
}

func (a *app) sourcesCommand() *cobra.Command {
	return &cobra.Command{
		Use:     "sources",
		Short:   "every formula shown and its published source",
		Long:    "Lists every formula, curve and set of primaries with its published source, as the code cites it.",
		Example: "  lampwise sources",
		Args:    exactly(0, "nothing"),
		RunE: func(*cobra.Command, []string) error {
			s, err := job.AllSources()
			if err != nil {
				return err
			}
			return a.answer(s, func(w io.Writer) { fmt.Fprint(w, s.Markdown()) })
		},
	}
}
