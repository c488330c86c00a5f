package main

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"os"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"lampwise/internal/job"
)

func (a *app) planNewCommand() *cobra.Command {
	var overwrite, example, usual bool
	cmd := &cobra.Command{
		Use:   "new FILE",
		Short: "write a new plan, from a few questions or the commented example",
		Long: `Asks for the room, the lens and the lamps and writes a commented plan to start
from; Enter takes the usual answer. --usual asks nothing; --example writes the
example's garage instead.`,
		Example: "  lampwise plan new garage.toml\n  lampwise plan new garage.toml --example",
		Args:    exactly(1, "the file to write"),
		RunE: func(cmd *cobra.Command, args []string) error {
			ask := io.Reader(nil)
			if !usual && !example {
				if f, ok := cmd.InOrStdin().(*os.File); !ok || term.IsTerminal(int(f.Fd())) || !a.json {
					ask = cmd.InOrStdin()
				}
			}
			n, err := job.NewPlan(job.NewPlanRequest{File: args[0], Overwrite: overwrite, Example: example, Ask: a.asker(ask)})
			if err != nil {
				return err
			}
			return a.answer(n, func(w io.Writer) {
				fmt.Fprintf(w, "%s: a plan to start from. Edit it, then: lampwise plan %s\n", n.File, n.File)
			})
		},
	}
	f := cmd.Flags()
	f.BoolVar(&overwrite, "overwrite", false, "replace a file that stands there")
	f.BoolVar(&example, "example", false, "write the commented example")
	f.BoolVar(&usual, "usual", false, "ask nothing: an ordinary room")
	return cmd
}

// asker puts a question on stderr and reads a line; an empty line, or the end
// of the input, takes the usual answer.
func (a *app) asker(in io.Reader) func(question, usual string) string {
	if in == nil {
		return func(_, usual string) string { return usual }
	}
	lines := bufio.NewScanner(in)
	return func(question, usual string) string {
		fmt.Fprintf(a.err, "%s [%s]: ", question, usual)
		if !lines.Scan() {
			return usual
		}
		if t := strings.TrimSpace(lines.Text()); t != "" {
			return t
		}
		return usual
	}
}

func (a *app) planKindsCommand() *cobra.Command {
	return &cobra.Command{
		Use:     "kinds",
		Short:   "list the generic lamp kinds and what is assumed of each",
		Example: "  lampwise plan kinds",
		Args:    exactly(0, "no arguments"),
		RunE: func(*cobra.Command, []string) error {
			kinds := job.PlanKinds()
			return a.answer(struct {
				Kinds []job.PlanKind `json:"kinds"`
			}{kinds}, func(w io.Writer) {
				table(w, func(line func(...string)) {
					for _, k := range kinds {
						line(k.Name, k.Says, k.Assumes)
					}
				})
				fmt.Fprintln(w, "Round figures of ordinary small lamps (common practice, no source); a lamp's own figures in the plan go before them.")
			})
		},
	}
}

func planMetText(w io.Writer, m *job.PlanMet) {
	if m == nil {
		return
	}
	fmt.Fprintf(w, "\nPlan and set %s: each lamp alone at the set's level, stops from grey, planned → measured\n", m.Set)
	table(w, func(line func(...string)) {
		for _, l := range m.Lamps {
			row := []string{"  " + l.Name}
			for _, r := range l.Regions {
				row = append(row, fmt.Sprintf("%s %+.2f → %+.2f", r.Region, r.Planned, r.Measured))
			}
			if l.Factor != nil {
				row = append(row, fmt.Sprintf("factor %+.2f ±%.2f", *l.Factor, l.SE))
			}
			line(row...)
		}
	})
	if len(m.Missing) > 0 {
		fmt.Fprintf(w, "  not in the set: %s\n", strings.Join(m.Missing, ", "))
	}
	if len(m.Other) > 0 {
		fmt.Fprintf(w, "  not in the plan: %s\n", strings.Join(m.Other, ", "))
	}
	if m.Kept {
		fmt.Fprintln(w, "  the factors stand in the plan now; its readings above are those from before")
	}
}

func planSolvedText(w io.Writer, s *job.PlanSolved) {
	if s == nil {
		return
	}
	fmt.Fprintln(w)
	solveText(w, s.Solved)
	for _, m := range s.Moves {
		fmt.Fprintf(w, "move %s from %.2f m to %.2f m (to x %.2f, y %.2f, z %.2f): %s\n", m.Name, m.From, m.To, m.At[0], m.At[1], m.At[2], m.Why)
	}
	if math.Abs(s.ND) > 0.01 {
		word, k := "more", s.ND
		if k < 0 {
			word, k = "less", -k
		}
		fmt.Fprintf(w, "camera: ND %s by %s stop, or f/%.2g instead\n", word, strconv.FormatFloat(k, 'f', 2, 64), s.Open)
	}
}
