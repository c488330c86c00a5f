package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"lampwise/internal/book"
	"lampwise/internal/fault"
	"lampwise/internal/job"
	"lampwise/internal/store"
)

func (a *app) episodesCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:     "episodes",
		Short:   "bring a day's clips to the set's picture; list, show and compare days",
		Example: "  lampwise episodes add monday --set garage --grade lesson.toml\n  lampwise episodes list\n  lampwise episodes compare monday friday --set garage",
		Args:    cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return cmd.Help()
			}
			return fault.New(fault.Usage, "command", "lampwise episodes --help lists what can be done.", "episodes can't %q", args[0])
		},
	}
	cmd.AddCommand(a.episodesAdd(), a.episodesList(), a.episodesShow(), a.episodesCompare(), a.episodesHistory(), a.episodesRetry(), a.episodesForget())
	return cmd
}

func (a *app) episodesAdd() *cobra.Command {
	var r job.EpisodeRequest
	var yes bool
	var address string
	var workers int
	cmd := &cobra.Command{
		Use:   "add DIR|CLIP… --set NAME",
		Short: "check, measure, match, render and verify all clips of a day",
		Long: `Makes an episode of a folder's clips (or of the clips named) and does the whole
work on each: it is checked against the set, measured, matched to the set's
reference under its grade, rendered and verified. What will be done is told
first; one confirmation, or --yes, starts it.

A finished file has its name only once it was verified. After a crash or Ctrl-C
the same command goes on with the clips that are left. A clip that needs a person
(damaged, camera moved, not to be matched) is set aside with the reason, and the
others go on.`,
		Example: "  lampwise episodes add monday --set garage --grade lesson.toml\n  lampwise episodes add tuesday --set garage --yes --out finished --as web-10bit",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 || r.Set == "" {
				return fault.New(fault.Usage, "arguments", cmd.CommandPath()+" --help shows an example.", "name a folder or clips, and the set with --set")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			r.Clips = args
			s, err := a.openStore(ctx)
			if err != nil {
				return err
			}
			defer s.Close()
			if err := a.tryQueue(ctx, s, address, workers); err != nil {
				return err
			}
			e, err := a.plannedEpisode(ctx, s, r, yes)
			if err != nil {
				return err
			}
			return a.finish(ctx, s, e, address, workers)
		},
	}
	f := cmd.Flags()
	f.StringVar(&r.Set, "set", "", "the set")
	f.StringVar(&r.Name, "name", "", "the episode's name (default: the folder's)")
	f.StringVarP(&r.Grade, "grade", "g", "", "the set's reference grade (default: that of its last episode)")
	f.StringVar(&r.Out, "out", "", "folder for the finished files (default: finished, in the clips' folder)")
	f.StringVar(&r.Preset, "as", "", "how they are written: "+presetNames()+" (default web-1080p)")
	f.Float64Var(&r.Stops, "within", 0, "stops that may be left on face and background after matching (default 0.1)")
	f.Float64Var(&r.DE00, "within-de00", 0, "likewise, in ΔE00 (default 1.5)")
	f.BoolVar(&yes, "yes", false, "begin without asking")
	queueFlags(f, &address, &workers)
	return cmd
}

// plannedEpisode finds the episode that is there already, or makes and keeps a
// new one after it was confirmed.
func (a *app) plannedEpisode(ctx context.Context, s *store.Store, r job.EpisodeRequest, yes bool) (book.Episode, error) {
	if old, found, err := job.SameEpisode(ctx, s, r); err != nil || found {
		if found {
			waiting, done, aside := job.Left(old)
			a.note("Episode %s of set %s is there: %d done, %d set aside, going on with %d.", old.Name, old.Set, done, aside, waiting)
		}
		return old, err
	}
	e, err := job.PlanEpisode(ctx, s, r)
	if err != nil {
		return e, err
	}
	a.note("Episode %s of set %s: %s, by the grade %s, as %s, into %s.", e.Name, e.Set, count(len(e.Clips), "clip"), e.Settings.Grade, e.Settings.Preset, e.Settings.Out)
	for _, c := range e.Clips {
		a.note("  %3d  %s → %s", c.Number, filepath.Base(c.File), filepath.Base(c.Out))
	}
	if !yes {
		if err := a.confirm("Check, match, render and verify them?"); err != nil {
			return e, err
		}
	}
	return e, s.KeepEpisode(ctx, e)
}

// confirm asks on a terminal; elsewhere it says what to add.
func (a *app) confirm(question string) error {
	if a.json || !term.IsTerminal(int(os.Stdin.Fd())) {
		return fault.New(fault.Usage, "confirm", "Add --yes to begin.", "nobody is there to be asked")
	}
	fmt.Fprintf(a.err, "%s [y/N] ", question)
	line, err := bufio.NewReader(os.Stdin).ReadString('\n')
	if err == nil && len(line) > 0 && (line[0] == 'y' || line[0] == 'Y') {
		return nil
	}
	return fault.New(fault.Cancelled, "cancelled", "Nothing was begun.", "stopped")
}

func (a *app) episodesList() *cobra.Command {
	var set string
	cmd := &cobra.Command{
		Use: "list", Short: "list the episodes", Example: "  lampwise episodes list --set garage", Args: exactly(0, "no arguments"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			s, err := a.openStore(cmd.Context())
			if err != nil {
				return err
			}
			defer s.Close()
			list, err := job.ListEpisodes(cmd.Context(), s, set)
			if err != nil {
				return err
			}
			return a.answer(map[string]any{"episodes": list}, func(w io.Writer) {
				if len(list) == 0 {
					fmt.Fprintln(w, "There is no episode yet: lampwise episodes add DIR --set NAME")
				}
				table(w, func(line func(...string)) {
					for _, e := range list {
						line(e.Set, e.Name, e.Made.Local().Format("2006-01-02 15:04"), fmt.Sprintf("%d done", e.Done), fmt.Sprintf("%d set aside", e.Aside), fmt.Sprintf("%d waiting", e.Waiting))
					}
				})
			})
		},
	}
	cmd.Flags().StringVar(&set, "set", "", "of this set alone")
	return cmd
}

func (a *app) episodesShow() *cobra.Command {
	var set string
	cmd := &cobra.Command{
		Use: "show NAME --set NAME", Short: "what was found and done of each clip", Example: "  lampwise episodes show monday --set garage", Args: exactly(1, "one episode"),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := a.openStore(cmd.Context())
			if err != nil {
				return err
			}
			defer s.Close()
			return a.showEpisode(cmd.Context(), s, set, args[0])
		},
	}
	cmd.Flags().StringVar(&set, "set", "", "the set (may be left out where only one has an episode of this name)")
	return cmd
}

func (a *app) showEpisode(ctx context.Context, s *store.Store, set, name string) error {
	e, err := job.ShowEpisode(ctx, s, set, name)
	if err != nil {
		return err
	}
	err = a.answer(e, func(w io.Writer) {
		fmt.Fprintf(w, "Episode %s of set %s: %d done, %d set aside, %d waiting\n", e.Name, e.Set, e.Done, e.Aside, e.Waiting)
		table(w, func(line func(...string)) {
			for _, c := range e.Clips {
				what := c.Out
				if c.State != string(book.ClipDone) {
					what = c.Reason
				}
				left := ""
				if c.Found != nil && c.Found.After != nil {
					left = fmt.Sprintf("%+.2f stop by match, %.3f stop and ΔE00 %.2f left", c.Found.Exposure, c.Found.After.Stops, c.Found.After.DE00)
				}
				line(fmt.Sprint(c.Number), filepath.Base(c.File), c.State, left, what)
			}
		})
	})
	if err == nil && e.Aside > 0 {
		return errProblems
	}
	return err
}

func (a *app) episodesCompare() *cobra.Command {
	var set, pictures string
	cmd := &cobra.Command{
		Use: "compare NAME NAME --set NAME", Short: "two episodes beside each other: readings, lamps, what the match did",
		Example: "  lampwise episodes compare monday friday --set garage --pictures compared", Args: exactly(2, "two episodes"),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := a.openStore(cmd.Context())
			if err != nil {
				return err
			}
			defer s.Close()
			c, err := job.CompareEpisodes(cmd.Context(), s, set, args[0], args[1])
			if err != nil {
				return err
			}
			if pictures != "" {
				if err := job.ComparePictures(cmd.Context(), s, c, pictures); err != nil {
					return err
				}
			}
			return a.answer(c, func(w io.Writer) {
				table(w, func(line func(...string)) {
					line("", args[0], args[1], "difference")
					for _, r := range c.Rows {
						line(r.What+", "+r.Unit, number(r.A, r.Unit), number(r.B, r.Unit), number(r.Difference, r.Unit))
					}
				})
				for _, n := range c.Notes {
					fmt.Fprintf(w, "note: %s\n", n)
				}
				fileText(w, c.Files)
			})
		},
	}
	cmd.Flags().StringVar(&set, "set", "", "the set")
	cmd.Flags().StringVar(&pictures, "pictures", "", "folder for the pictures: both under a wipe, both on one ladder")
	return cmd
}

func number(v *float64, unit string) string {
	switch {
	case v == nil:
		return "–"
	case unit == "K":
		return fmt.Sprintf("%.0f", *v)
	}
	return fmt.Sprintf("%+.2f", *v)
}

func (a *app) episodesRetry() *cobra.Command {
	var set, address string
	var workers int
	var accept bool
	cmd := &cobra.Command{
		Use: "retry NAME [NUMBER…] --set NAME", Short: "work again on clips that were set aside",
		Long: `Works anew on clips of an episode that were set aside, once what the reason said
is put right: the numbers named, as episodes show lists them, or all of them. With --accept what the
match leaves of a difference is taken as it is.`,
		Example: "  lampwise episodes retry monday --set garage\n  lampwise episodes retry monday 3 --set garage --accept",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return fault.New(fault.Usage, "arguments", cmd.CommandPath()+" --help shows an example.", "name an episode")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			var numbers []int
			for _, text := range args[1:] {
				n, err := strconv.Atoi(text)
				if err != nil {
					return fault.New(fault.Usage, "arguments", "lampwise episodes show lists the clips with their numbers.", "%q is no clip's number", text)
				}
				numbers = append(numbers, n)
			}
			s, err := a.openStore(ctx)
			if err != nil {
				return err
			}
			defer s.Close()
			if err := a.tryQueue(ctx, s, address, workers); err != nil {
				return err
			}
			if _, err := job.RetryEpisodeClips(ctx, s, set, args[0], numbers, accept); err != nil {
				return err
			}
			e, err := job.FindEpisode(ctx, s, set, args[0])
			if err != nil {
				return err
			}
			return a.finish(ctx, s, e, address, workers)
		},
	}
	cmd.Flags().StringVar(&set, "set", "", "the set (may be left out where only one has an episode of this name)")
	cmd.Flags().BoolVar(&accept, "accept", false, "take them as near as they come to the reference")
	queueFlags(cmd.Flags(), &address, &workers)
	return cmd
}

func (a *app) episodesForget() *cobra.Command {
	var set string
	cmd := &cobra.Command{
		Use: "forget NAME --set NAME", Short: "forget an episode; its finished files stay", Example: "  lampwise episodes forget monday --set garage", Args: exactly(1, "one episode"),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := a.openStore(cmd.Context())
			if err != nil {
				return err
			}
			defer s.Close()
			e, err := job.FindEpisode(cmd.Context(), s, set, args[0])
			if err != nil {
				return err
			}
			if err := s.ForgetEpisode(cmd.Context(), e.Set, e.Name); err != nil {
				return err
			}
			return a.answer(map[string]any{"set": e.Set, "episode": e.Name}, func(w io.Writer) {
				fmt.Fprintf(w, "Episode %s of set %s is forgotten; its files stay.\n", e.Name, e.Set)
			})
		},
	}
	cmd.Flags().StringVar(&set, "set", "", "the set")
	return cmd
}
