package main

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"lampwise/internal/fault"
	"lampwise/internal/job"
	"lampwise/internal/unit"
)

func (a *app) solveCommand() *cobra.Command {
	var r job.SolveRequest
	var targets, tables []string
	var exposure string
	cmd := &cobra.Command{
		Use:   "solve --set NAME --target TARGET …",
		Short: "find the levels that give the picture wanted",
		Long: `Solves the lamps' levels for targets, from the lamp pictures of a learned set:
  face-lit=+0.5 ±0.1           stops from grey, with a tolerance in stops
  face-lit/face-shade=2        a ratio, 2 : 1
  face-lit/background=2.5 stop
  card=neutral                 equal red, green and blue

Levels are told in per cent of the dimmer and in stops. Where a dimmer's curve is
not known it is taken as even, and a reading to turn to is told instead.
--exposure lists changes the camera's settings allow, in stops; the camera may
then help.

Exit code 0: every target is met; 3: some are not (why, and what else, is said).`,
		Example: `  lampwise solve --set garage --target "face-lit=+0.5 ±0.1" --target "face-lit/face-shade=2" --target "background=-1.5"
  lampwise solve --set garage --target "face-lit=+0.3" --exposure -0.33,0,0.33 --table key=key-dimmer.txt`,
		Args: exactly(0, "no arguments"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if r.Set == "" {
				return fault.New(fault.Usage, "arguments", "For example --set garage; lampwise sets list shows them.", "which set? --set is missing")
			}
			var err error
			if r.Targets, err = job.ParseTargets(targets); err != nil {
				return err
			}
			if r.Exposure, err = parseStops(exposure); err != nil {
				return err
			}
			if r.Tables, err = readTables(tables); err != nil {
				return err
			}
			s, err := a.openStore(cmd.Context())
			if err != nil {
				return err
			}
			defer s.Close()
			res, err := job.Solve(cmd.Context(), s, r)
			if err != nil {
				return err
			}
			if err := a.answer(res, func(w io.Writer) { solveText(w, res) }); err != nil {
				return err
			}
			if !res.Met {
				return errProblems
			}
			return nil
		},
	}
	f := cmd.Flags()
	f.StringVar(&r.Set, "set", "", "the set")
	f.StringArrayVar(&targets, "target", nil, "what a region should read; may be repeated")
	f.StringVar(&exposure, "exposure", "", "changes of exposure the camera allows, in stops: -0.33,0,0.33")
	f.StringArrayVar(&tables, "table", nil, "lamp=FILE: a dimmer's typed curve, for this once (sets dimmer keeps one)")
	return cmd
}

// parseStops reads a list of stops.
func parseStops(text string) ([]unit.Stop, error) {
	if text == "" {
		return nil, nil
	}
	var out []unit.Stop
	for _, part := range strings.Split(text, ",") {
		v, err := strconv.ParseFloat(strings.TrimSpace(part), 64)
		if err != nil || !(v >= -10 && v <= 10) {
			return nil, fault.New(fault.Usage, "exposure", "For example --exposure -0.33,0,0.33.", "%q is no change of exposure in stops", part)
		}
		out = append(out, unit.Stop(v))
	}
	return out, nil
}

func solveText(w io.Writer, s *job.Solved) {
	if s.Met {
		fmt.Fprintf(w, "Set %s: every target is met\n", s.Set)
	} else {
		fmt.Fprintf(w, "Set %s: not every target can be met\n", s.Set)
	}
	fmt.Fprintln(w, "\nLamps")
	table(w, func(line func(...string)) {
		for _, l := range s.Levels {
			note, change := l.Until, stopsOr(l.Stops, "off")+" stop"
			switch {
			case l.Off:
				note, change = "switch it off", "off"
			case !l.Known && note != "":
				note = "turn it " + note + " (its dimmer's curve isn't known; taken as even)"
			case !l.Known && l.Stops != nil && *l.Stops != 0:
				note = "(its dimmer's curve isn't known; taken as even)"
			}
			line("  "+l.Name, perCent(l.DimmerBefore)+" → "+perCent(l.Dimmer)+" of the dimmer", change, note)
		}
		if s.Exposure != 0 {
			line("  camera", "", fmt.Sprintf("%+.2f stop", s.Exposure), "change the exposure")
		}
	})
	fmt.Fprintln(w, "\nTargets")
	table(w, func(line func(...string)) {
		for _, t := range s.Targets {
			met := "met"
			if !t.Met {
				met = "NOT met"
			}
			line("  "+t.Text, stopsOr(t.Before, "no light")+" → "+stopsOr(t.Got, "no light")+" stop", met)
		}
	})
	for _, t := range s.Targets {
		if !t.Met && t.Reason != "" {
			fmt.Fprintf(w, "why not %s: %s.\n", t.Text, t.Reason)
		}
	}
	for _, o := range s.Alternatives {
		met := "then every target is met"
		switch {
		case !o.Met:
			met = "it helps, and not all is met"
		case strings.HasPrefix(o.What, "give up"):
			met = "then the others are met"
		}
		fmt.Fprintf(w, "or: %s (%s)\n", o.What, met)
	}
	fmt.Fprintln(w, cautions)
}
