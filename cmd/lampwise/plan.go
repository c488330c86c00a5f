package main

import (
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"lampwise/internal/fault"
	"lampwise/internal/job"
)

func (a *app) planCommand() *cobra.Command {
	var r job.PlanRequest
	var folder, set string
	var solve, keep bool
	var targets []string
	cmd := &cobra.Command{
		Use:   "plan FILE",
		Short: "plan a room: what its lamps will read, before any is hung",
		Long: `Reads a plan (a readable text file: room, subject, camera, lamps) and predicts
what every place will read in stops from grey at the camera's settings, lamp by
lamp, with what the room gives back; ratios, falloff over the subject's movement,
lens, exposure, colour, electrical load and cautions.

Every reading carries how far it may err: ±0.5 stop before anything was measured.
--set NAME puts what a learned set measured beside it; --keep takes it on.
--draw FOLDER writes plan, side view, isolux and the stop ladder as SVG.
--solve finds levels (then distances, then ND) for the plan's targets or --target's.

Exit code with --solve: 0 every target is met; 3 some are not.`,
		Example: `  lampwise plan new garage.toml
  lampwise plan garage.toml --draw garage
  lampwise plan garage.toml --target "face-lit/face-shade=2" --target "background=-1.5"
  lampwise plan garage.toml --set garage --keep`,
		Args: exactly(1, "one plan file"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.File = args[0]
			p, err := job.PlanFile(r)
			if err != nil {
				return err
			}
			if keep && set == "" {
				return fault.New(fault.Usage, "arguments", "For example --set garage --keep.", "--keep takes on what a set measured: which set? --set is missing")
			}
			if set != "" {
				s, err := a.openStore(cmd.Context())
				if err != nil {
					return err
				}
				defer s.Close()
				if p.Met, err = job.MeetSet(cmd.Context(), s, p, set); err != nil {
					return err
				}
				if keep {
					if err := job.KeepFactors(p, p.Met); err != nil {
						return err
					}
				}
			}
			if solve || len(targets) > 0 {
				if p.Solved, err = job.SolvePlan(p, targets); err != nil {
					return err
				}
			}
			if folder != "" {
				if p.Files, err = job.DrawPlan(p, folder); err != nil {
					return err
				}
			}
			if err := a.answer(p, func(w io.Writer) { planText(w, p) }); err != nil {
				return err
			}
			if p.Solved != nil && !p.Solved.Met {
				return errProblems
			}
			return nil
		},
	}
	f := cmd.Flags()
	f.StringVar(&folder, "draw", "", "folder for the drawings: plan.svg, side.svg, ladder.svg")
	f.StringVar(&set, "set", "", "a learned set to put beside the plan")
	f.BoolVar(&keep, "keep", false, "write the set's measured factors into the plan")
	f.BoolVar(&solve, "solve", false, "find levels, distances or ND for the plan's targets")
	f.StringArrayVar(&targets, "target", nil, "what a place should read; may be repeated")
	cmd.AddCommand(a.planNewCommand(), a.planKindsCommand())
	return cmd
}

// planText writes a plan's figures.
func planText(w io.Writer, p *job.Planned) {
	title := p.Title
	if title == "" {
		title = p.File
	}
	fmt.Fprintf(w, "Plan: %s\n", title)
	fmt.Fprintln(w, "\nReadings, all lamps at their levels: stops from grey, and how far the plan may err")
	table(w, func(line func(...string)) {
		for _, r := range p.Readings {
			note := ""
			switch {
			case r.Clipped:
				note = "CLIPS"
			case r.Noise:
				note = "in the noise"
			}
			line("  "+r.Region, fmt.Sprintf("%.0f lx", r.Lux), stopsOr(r.Stops, "no light")+fmt.Sprintf(" ±%.1f", r.SE), fmt.Sprintf("%.0f %% by way of the room", 100*r.Bounced), note)
		}
	})
	if k := p.Ratios.KeyToFill; k != nil {
		fmt.Fprintf(w, "\nKey to fill (%s + %s : %s): %.1f : 1 (%s stop)", p.Ratios.Key, p.Ratios.Fill, p.Ratios.Fill, *k, stopsOr(p.Ratios.LitToShade, "?"))
		if b := p.Ratios.KeyToBackground; b != nil {
			fmt.Fprintf(w, "; key to background %s stop", stopsOr(b, "?"))
		}
		fmt.Fprintf(w, "; the room lifts the shaded cheek by %s stop\n", stopsOr(p.Ratios.FillByRoom, "?"))
	}
	planLampText(w, p)
	if len(p.Falloff) > 0 {
		fmt.Fprintf(w, "\nWhen the subject moves by %.1f m:", p.Falloff[0].Metres)
		region := ""
		for _, f := range p.Falloff {
			sep := ","
			if f.Region != region {
				sep, region = "\n  "+f.Region, f.Region
			}
			fmt.Fprintf(w, "%s %s %+.2f", sep, f.Toward, f.Stops)
		}
		fmt.Fprintln(w)
	}
	exposureText(w, &p.Exposure)
	fmt.Fprintln(w)
	lensText(w, &p.Lens)
	powerText(w, &p.Power)
	planMetText(w, p.Met)
	planSolvedText(w, p.Solved)
	fmt.Fprintln(w, "\nCautions")
	for _, c := range p.Cautions {
		fmt.Fprintf(w, "  %s\n", c)
	}
	for _, n := range p.Notes {
		fmt.Fprintf(w, "note: %s\n", n)
	}
	for _, name := range []string{"plan", "side view", "stop ladder"} {
		if f := p.Files[name]; f != "" {
			fmt.Fprintf(w, "%s: %s\n", name, f)
		}
	}
}

func planLampText(w io.Writer, p *job.Planned) {
	fmt.Fprintln(w, "\nLamps, each alone at its level: stops from grey")
	table(w, func(line func(...string)) {
		head := []string{"  lamp", "level", "±"}
		for _, r := range p.Readings {
			head = append(head, r.Region)
		}
		line(append(head, "from", "inverse square", "looks")...)
		for _, l := range p.Lamps {
			row := []string{"  " + l.Name, fmt.Sprintf("%.0f %%", 100*l.Level), fmt.Sprintf("%.1f", l.SE)}
			for _, r := range p.Readings {
				row = append(row, stopsOr(l.Stops[r.Region], "none"))
			}
			looks := l.Looks
			if l.MiredToWhite != nil && math.Abs(*l.MiredToWhite) >= 0.5 {
				looks += fmt.Sprintf(" (%+.0f mired)", *l.MiredToWhite)
			}
			square := "everywhere"
			if l.InverseSquare > 0 {
				square = fmt.Sprintf("from %.1f m", l.InverseSquare)
			}
			line(append(row, fmt.Sprintf("%.1f m", l.Distance), square, looks)...)
		}
	})
	fmt.Fprintln(w, "  (inverse square: from where the square of the distance tells the lamp's light within 5 %)")
}

func exposureText(w io.Writer, e *job.PlannedExposure) {
	fmt.Fprintf(w, "\nExposure: f/%.3g (T%.2f), 1/%.4g s (%.1f° at %g/s), index %g, ND %.1f stop (density %.2f): an 18 %% card is grey at %.0f lx\n", e.F, e.T, 1/e.Time, e.Angle, e.Rate, e.Sensitivity, e.ND, e.NDDensity, e.GreyLux)
	if e.Over != nil {
		fmt.Fprintf(w, "  a grey card at the face reads %+.2f stop; at grey with f/%.2g", *e.Over, *e.FForGrey)
		if e.NDForGrey != nil {
			fmt.Fprintf(w, ", or with ND of %.1f stop (density %.1f)", *e.NDForGrey, *e.NDForGrey*math.Log10(2))
		}
		fmt.Fprintln(w)
	}
	if e.Headroom != nil {
		fmt.Fprintf(w, "  clips at %+.1f stop (%s): %.1f stop over the brightest place read\n", *e.Clip, e.ClipFrom, *e.Headroom)
	}
	var safe []string
	for _, s := range e.Safe {
		safe = append(safe, fmt.Sprintf("%.1f° (1/%.3g s)", s.Angle, 1/s.Time))
	}
	word := "this one is safe"
	if !e.IsSafe {
		word = fmt.Sprintf("this one isn't: a lamp on the mains may differ by %.2f stop from frame to frame", e.Ripple)
	}
	if len(safe) > 0 {
		fmt.Fprintf(w, "  shutters that %g Hz mains don't show at: %s; %s\n", e.MainsHz, strings.Join(safe, ", "), word)
	} else {
		fmt.Fprintf(w, "  no shutter at this rate is safe for lamps on %g Hz mains; %s\n", e.MainsHz, word)
	}
}

func lensText(w io.Writer, l *job.PlannedLens) {
	fmt.Fprintf(w, "Lens: %.3g mm sees %.1f° × %.1f°; at %.2f m the picture is %.2f × %.2f m (a head fills %.0f %% of its height)\n", l.Focal, l.Horizontal, l.Vertical, l.Distance, l.Width, l.Height, 100*l.Head)
	far := "infinity"
	if l.Far != nil {
		far = fmt.Sprintf("%.2f m", *l.Far)
	}
	sharp := ""
	if !l.Sharp {
		sharp = ": NOT the subject"
	}
	fmt.Fprintf(w, "  focused at %.2f m: sharp from %.2f m to %s%s (circle %.4f mm, two pixels); hyperfocal %.1f m\n", l.Focus, l.Near, far, sharp, l.Circle, l.Hyperfocal)
	fmt.Fprintf(w, "  background at %.2f m: %.2f m of it across, blurred to %.1f %% of the picture's height\n", l.Background, l.BackWidth, 100*l.Blur)
}

func powerText(w io.Writer, p *job.PlannedPower) {
	fmt.Fprintf(w, "\nPower: %.0f W with every lamp at full\n", p.Watts)
	for _, c := range p.Circuits {
		word := fmt.Sprintf("%.1f A to spare", c.Margin)
		if c.Over {
			word = fmt.Sprintf("OVER by %.1f A", -c.Margin)
		}
		fmt.Fprintf(w, "  circuit %s: %.1f A of %.1f A (80 %% of %g A at %g V): %s\n", c.Name, c.Amperes, c.Limit, c.Breaker, c.Volts, word)
	}
	if len(p.Loose) > 0 {
		fmt.Fprintf(w, "  on no circuit of the plan: %s\n", strings.Join(p.Loose, ", "))
	}
}
