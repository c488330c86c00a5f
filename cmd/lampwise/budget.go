package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"lampwise/internal/fault"
	"lampwise/internal/job"
	"lampwise/internal/unit"
)

// missingFlag says that a flag is needed.
func missingFlag(cmd *cobra.Command, name, value string) error {
	return fault.New(fault.Usage, "flag", cmd.CommandPath()+" --help shows an example.", "%s needs --%s %s", cmd.CommandPath(), name, value)
}

// inRange refuses what lies outside, and what is no number.
func inRange(name string, v, lo, hi float64) error {
	if v >= lo && v <= hi {
		return nil
	}
	return fault.New(fault.Usage, "flag", "", "--%s %v lies outside %v to %v", name, v, lo, hi)
}

// budgetOf is grade show --budget.
func (a *app) budgetOf(cmd *cobra.Command, r job.BudgetRequest, peak float64) error {
	if r.Clip == "" {
		return missingFlag(cmd, "clip", "CLIP")
	}
	if err := inRange("peak", peak, 10, 10000); err != nil {
		return err
	}
	r.Peak = unit.CandelaPerSquareMetre(peak)
	s, err := a.openStore(cmd.Context())
	if err != nil {
		return err
	}
	defer s.Close()
	report, end := a.progress()
	b, err := job.BudgetOf(cmd.Context(), s, r, report)
	end()
	if err != nil {
		return err
	}
	return a.answer(b, func(w io.Writer) { budgetText(w, b) })
}

func budgetText(w io.Writer, b *job.Budget) {
	fmt.Fprintf(w, "%s with %s: %d bits recorded, %d written, %s dither, on a screen of %.0f cd/m²\n\n", b.File, b.Grade, b.Bits, b.OutBits, b.Dither, float64(b.Peak))
	for _, t := range b.Words {
		fmt.Fprintf(w, "%s.\n", t)
	}
	fmt.Fprintln(w, "\nRisk of bands, in per cent of the smooth area")
	table(w, func(line func(...string)) {
		line("  recorded → written", "rendered", "delivered", "encoded again")
		risks := func(name string, r job.BandingRisks) {
			line("  "+name, fmt.Sprintf("%.1f", 100*r.Rendered), fmt.Sprintf("%.1f", 100*r.Delivered), fmt.Sprintf("%.1f", 100*r.Web))
		}
		risks("this clip and grade", b.Risk)
		for _, o := range b.Other {
			risks(fmt.Sprintf("%d → %d bits", o.Recorded, o.Out), o.Risk)
		}
	})
	fmt.Fprintln(w, "\nAlong the stop ladder (steps in just noticeable ones: over 1 can be seen unless noise hides it)")
	table(w, func(line func(...string)) {
		line("  scene stops", "code", "screen", "recorded step", "were it 8 bits", "written step", "noise in steps", "on the screen", "noise cost", "smooth area")
		rows := append(append([]job.BudgetLevel{}, b.Levels...), b.Colours...)
		for _, l := range rows {
			name := signed(l.Stops, 0)
			if l.Region != "" {
				name = fmt.Sprintf("%s %s", l.Region, signed(l.Stops, 1))
			}
			step := fmt.Sprintf("%.2f", l.Step)
			if l.Hidden && l.Step > 1 {
				step += " (hidden)"
			}
			area := ""
			if l.Region == "" {
				area = fmt.Sprintf("%.0f %%", 100*l.Area)
			}
			line("  "+name, fmt.Sprintf("%.0f", l.Code), fmt.Sprintf("%.1f %%", l.Signal), step, fmt.Sprintf("%.2f", l.Step8), fmt.Sprintf("%.2f", l.Out), orUnknown(l.Noise, 2), orUnknown(l.Sigma, 2), signedOr(l.Cost), area)
		}
	})
	if len(b.Stages) > 0 {
		fmt.Fprintln(w, "\nWhich stage spends it (points of risk with it over without it; noise at grey in stops)")
		table(w, func(line func(...string)) {
			line("  stage", "rendered", "delivered", "encoded again", "noise")
			for _, s := range b.Stages {
				line("  "+string(s.Stage), signed(100*s.Rendered, 1), signed(100*s.Delivered, 1), signed(100*s.Web, 1), signedOr(s.Noise))
			}
		})
	}
	for _, n := range b.Notes {
		fmt.Fprintf(w, "note: %s\n", n)
	}
}

func orUnknown(v *float64, digits int) string {
	if v == nil {
		return "not known"
	}
	return fmt.Sprintf("%.*f", digits, *v)
}

func signedOr(v *float64) string {
	if v == nil {
		return "not known"
	}
	return signed(*v, 2)
}
