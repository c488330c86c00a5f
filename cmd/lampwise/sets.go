package main

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"lampwise/internal/fault"
	"lampwise/internal/job"
)

func (a *app) setsCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:     "sets",
		Short:   "list, show, name, export and forget learned sets",
		Example: "  lampwise sets list\n  lampwise sets show garage --pictures garage-pictures\n  lampwise sets export garage -o garage.lampset",
		Args:    cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return cmd.Help()
			}
			return fault.New(fault.Usage, "command", "lampwise sets --help lists what can be done.", "sets can't %q", args[0])
		},
	}
	cmd.AddCommand(a.setsList(), a.setsShow(), a.setsRename(), a.setsDimmer(), a.setsExport(), a.setsImport(), a.setsForget())
	return cmd
}

func (a *app) setsList() *cobra.Command {
	return &cobra.Command{
		Use: "list", Short: "list the sets", Example: "  lampwise sets list", Args: exactly(0, "no arguments"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			s, err := a.openStore(cmd.Context())
			if err != nil {
				return err
			}
			defer s.Close()
			sets, err := job.ListSets(cmd.Context(), s)
			if err != nil {
				return err
			}
			return a.answer(map[string]any{"sets": sets}, func(w io.Writer) {
				if len(sets) == 0 {
					fmt.Fprintln(w, "No set was learned yet: lampwise learn CLIP --set NAME")
				}
				table(w, func(line func(...string)) {
					for _, x := range sets {
						line(x.Name, "learned "+x.Learned.Local().Format(time.DateOnly)+" from "+x.Clip, strings.Join(x.Lamps, ", "), count(x.Checks, "check"), job.Size(x.Size))
					}
				})
			})
		},
	}
}

func (a *app) setsShow() *cobra.Command {
	var pictures, graded string
	cmd := &cobra.Command{
		Use: "show NAME", Short: "show what each lamp of a set does, and the set's history", Example: "  lampwise sets show garage --pictures garage-pictures", Args: exactly(1, "the name of a set"),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := a.openStore(cmd.Context())
			if err != nil {
				return err
			}
			defer s.Close()
			x, err := job.ShowSet(cmd.Context(), s, args[0], pictures, graded)
			if err != nil {
				return err
			}
			return a.answer(x, func(w io.Writer) {
				fmt.Fprintf(w, "Set %s, learned %s from %s (%s)\norder: %s\n", x.Set, x.Learned.Local().Format("2006-01-02 15:04"), x.File, x.Curve, x.Order)
				lampText(w, x.Lamps, x.Regions)
				readingText(w, x.LearnedSet)
				for _, n := range x.Notes {
					fmt.Fprintf(w, "note: %s\n", n)
				}
				if len(x.Checks) > 0 {
					fmt.Fprintf(w, "\nChecks (told from %.2f stop, to act on from %.2f stop)\n", x.Habit.Mention, x.Habit.Act)
					table(w, func(line func(...string)) {
						for _, c := range x.Checks {
							line("  "+c.When.Local().Format("2006-01-02 15:04"), c.File, c.Verdict, changesText(x.Lamps, c.Changes))
						}
					})
				}
				fileText(w, x.Files)
			})
		},
	}
	cmd.Flags().StringVar(&pictures, "pictures", "", "folder for the pictures: each lamp alone, the share picture, the stop ladder")
	cmd.Flags().StringVar(&graded, "grade", "", "grade file to show the lamps through")
	return cmd
}

// changesText lists lamps' changes in the set's order.
func changesText(lamps []job.LampReport, changes map[string]float64) string {
	var parts []string
	for _, l := range lamps {
		if v, ok := changes[l.Name]; ok {
			parts = append(parts, fmt.Sprintf("%s %+.2f", l.Name, v))
		}
	}
	return strings.Join(parts, ", ")
}

func (a *app) setsRename() *cobra.Command {
	return &cobra.Command{
		Use: "rename NAME OLD=NEW …", Short: "give lamps names", Example: "  lampwise sets rename garage lamp-1=key lamp-2=fill",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) < 2 {
				return fault.New(fault.Usage, "arguments", cmd.CommandPath()+" --help shows an example.", "%s takes the name of a set and pairs of names", cmd.CommandPath())
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := a.openStore(cmd.Context())
			if err != nil {
				return err
			}
			defer s.Close()
			kept, err := job.RenameLamps(cmd.Context(), s, args[0], args[1:])
			if err != nil {
				return err
			}
			var names []string
			for _, l := range kept.Settings.Lamps {
				names = append(names, l.Name)
			}
			return a.answer(map[string]any{"set": kept.Name, "lamps": names}, func(w io.Writer) {
				fmt.Fprintf(w, "%s: %s\n", kept.Name, strings.Join(names, ", "))
			})
		},
	}
}

func (a *app) setsDimmer() *cobra.Command {
	return &cobra.Command{
		Use:   "dimmer NAME LAMP FILE",
		Short: "keep a dimmer's typed curve",
		Long: `Keeps a dimmer's curve for a lamp of a set: a text file with a line for each
setting, what the dimmer reads in per cent and the light it gives in per cent of
full (lux over lux at full). Then solve and check may say what to turn it to.`,
		Example: "  lampwise sets dimmer garage key key-dimmer.txt",
		Args:    exactly(3, "the name of a set, a lamp and a file"),
		RunE: func(cmd *cobra.Command, args []string) error {
			t, err := job.ReadDimmerTable(args[2])
			if err != nil {
				return err
			}
			s, err := a.openStore(cmd.Context())
			if err != nil {
				return err
			}
			defer s.Close()
			set, err := job.KeepDimmer(cmd.Context(), s, args[0], args[1], t)
			if err != nil {
				return err
			}
			type point struct {
				Dimmer float64 `json:"dimmer"`
				Level  float64 `json:"level"`
			}
			answer := struct {
				Set    string  `json:"set"`
				Lamp   string  `json:"lamp"`
				Dimmer float64 `json:"dimmer"`
				Level  float64 `json:"level"`
				Points []point `json:"points"`
			}{Set: args[0], Lamp: args[1], Points: []point{}}
			for i, l := range set.Lamps {
				if l.Name == args[1] {
					answer.Level, answer.Dimmer = set.Mix[i], l.Dimmer.Setting(set.Mix[i])
				}
			}
			for _, p := range t.Dimmer.Points {
				answer.Points = append(answer.Points, point{p.Setting, p.Level})
			}
			return a.answer(answer, func(w io.Writer) {
				fmt.Fprintf(w, "%s of set %s: %s; in the mix its dimmer reads %s, which is %s of its light\n", args[1], args[0], count(len(answer.Points), "point"), perCent(answer.Dimmer), perCent(answer.Level))
			})
		},
	}
}

func (a *app) setsExport() *cobra.Command {
	var out string
	var overwrite bool
	cmd := &cobra.Command{
		Use: "export NAME -o FILE", Short: "write everything of a set as one file: pictures, checks, episodes, grades", Example: "  lampwise sets export garage -o garage.lampset", Args: exactly(1, "the name of a set"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if out == "" {
				return fault.New(fault.Usage, "arguments", "For example -o garage.lampset.", "where to? -o is missing")
			}
			s, err := a.openStore(cmd.Context())
			if err != nil {
				return err
			}
			defer s.Close()
			x, err := job.ExportSet(cmd.Context(), s, args[0], out, overwrite)
			if err != nil {
				return err
			}
			return a.answer(x, func(w io.Writer) {
				fmt.Fprintf(w, "%s: set %s, %s, %s, %s, %s\n", x.File, x.Set, count(x.Checks, "check"), count(x.Episodes, "episode"), count(len(x.Grades), "grade"), job.Size(x.Bytes))
				for _, n := range x.Notes {
					fmt.Fprintf(w, "note: %s\n", n)
				}
			})
		},
	}
	cmd.Flags().StringVarP(&out, "output", "o", "", "the file")
	cmd.Flags().BoolVar(&overwrite, "overwrite", false, "replace the file")
	return cmd
}

func (a *app) setsImport() *cobra.Command {
	var name string
	var overwrite bool
	cmd := &cobra.Command{
		Use: "import FILE", Short: "keep a set that was exported", Example: "  lampwise sets import garage.lampset --as garage-2", Args: exactly(1, "an exported set"),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := a.openStore(cmd.Context())
			if err != nil {
				return err
			}
			defer s.Close()
			x, err := job.ImportSet(cmd.Context(), s, args[0], name, filepath.Join(s.Folder(), "grades"), overwrite)
			if err != nil {
				return err
			}
			return a.answer(x, func(w io.Writer) {
				fmt.Fprintf(w, "set %s: %s, %s, %s\n", x.Set, count(x.Lamps, "lamp"), count(x.Checks, "check"), count(x.Episodes, "episode"))
				for _, g := range x.Grades {
					fmt.Fprintf(w, "grade: %s\n", g)
				}
				for _, n := range x.Notes {
					fmt.Fprintf(w, "note: %s\n", n)
				}
			})
		},
	}
	cmd.Flags().StringVar(&name, "as", "", "keep it under this name")
	cmd.Flags().BoolVar(&overwrite, "overwrite", false, "replace a set of the same name")
	return cmd
}

func (a *app) setsForget() *cobra.Command {
	return &cobra.Command{
		Use: "forget NAME", Short: "remove a set, its pictures and its history", Example: "  lampwise sets forget garage", Args: exactly(1, "the name of a set"),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := a.openStore(cmd.Context())
			if err != nil {
				return err
			}
			defer s.Close()
			if err := s.ForgetSet(cmd.Context(), args[0]); err != nil {
				return err
			}
			return a.answer(map[string]any{"forgotten": args[0]}, func(w io.Writer) { fmt.Fprintf(w, "set %s is forgotten\n", args[0]) })
		},
	}
}
