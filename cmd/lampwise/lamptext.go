package main

import (
	"fmt"
	"io"
	"math"
	"slices"

	"lampwise/internal/book"
	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/job"
	"lampwise/internal/media"
)

// cautions is said once wherever someone is sent to a lamp.
const cautions = "Lamps are hot, heavy overhead and on mains: the usual cautions; local codes and a licensed electrician decide."

// parseOverride reads what is said against a clip's tags.
func parseOverride(rng, matrix string) (media.Override, error) {
	o := media.Override{Range: colour.Range(rng), Matrix: colour.MatrixCoefficients(matrix)}
	if rng != "" && o.Range != colour.Narrow && o.Range != colour.Full {
		return o, fault.New(fault.Usage, "range", "Say narrow or full.", "%q is no range", rng)
	}
	if matrix != "" && !o.Matrix.Known() {
		return o, fault.New(fault.Usage, "matrix", "Say bt709, bt601 or bt2020ncl.", "%q is no matrix", matrix)
	}
	return o, nil
}

// lampText writes what each lamp does to each region.
func lampText(w io.Writer, lamps []job.LampReport, regions []book.SetRegion) {
	fmt.Fprintln(w, "\nLamps, at their level in the mix: stops from grey alone ± standard error (gain in the mix, share of the light)")
	table(w, func(line func(...string)) {
		head := []string{"  lamp", "level", "dimmer"}
		for _, g := range regions {
			head = append(head, g.Name)
		}
		line(append(head, "colour to key")...)
		for _, l := range lamps {
			row := []string{"  " + l.Name, fmt.Sprintf("%.0f %%", 100*l.Level), dimmerText(l)}
			for _, g := range regions {
				s := l.Stops[g.Name]
				if s.Alone == nil {
					row = append(row, "too faint")
					continue
				}
				row = append(row, fmt.Sprintf("%+.2f ± %s (%s, %.0f %%)", *s.Alone, shortSE(s.SE), stopsOr(s.InMix, "all"), 100*l.Share[g.Name]))
			}
			line(append(row, colourText(l))...)
		}
	})
	for _, l := range lamps {
		for _, g := range regions {
			if c := l.Clips[g.Name]; c > 0.01 {
				fmt.Fprintf(w, "  %s alone clips %.0f %% of %s at its highest level\n", l.Name, 100*c, g.Name)
			}
		}
		if l.Blind > 0.01 {
			fmt.Fprintf(w, "  %s: its light is not known in %.1f %% of the picture, where its holds are clipped\n", l.Name, 100*l.Blind)
		}
	}
}

func dimmerText(l job.LampReport) string {
	if l.Known {
		return fmt.Sprintf("%.0f %%", 100*l.Dimmer)
	}
	return fmt.Sprintf("%.0f %% if even", 100*l.Dimmer)
}

func colourText(l job.LampReport) string {
	switch {
	case l.Mired == nil && l.Tint != nil:
		return "a colour"
	case l.Mired == nil:
		return "not known"
	case l.CCT != nil:
		return fmt.Sprintf("%+.0f mired, %.0f K, Duv %+.3f", *l.Mired, *l.CCT, *l.Duv)
	}
	return fmt.Sprintf("%+.0f mired", *l.Mired)
}

func seText(v *float64) string {
	if v == nil {
		return "?"
	}
	return fmt.Sprintf("%.3f", *v)
}

// shortSE writes a standard error to what matters.
func shortSE(v *float64) string {
	switch {
	case v == nil:
		return "?"
	case *v < 0.095:
		return fmt.Sprintf("%.3f", *v)
	}
	return fmt.Sprintf("%.1f", *v)
}

// readingText writes the set's readings, ratios and additivity.
func readingText(w io.Writer, l *job.LearnedSet) {
	fmt.Fprintln(w, "\nReadings of the mix")
	table(w, func(line func(...string)) {
		for _, r := range l.Readings {
			more := ""
			if r.Clipped > 0.001 {
				more = fmt.Sprintf("%.1f %% clipped", 100*r.Clipped)
			}
			line("  "+r.Region, stopsOr(r.Stops, "no light")+" stop from grey", "± "+seText(r.SE), more)
		}
	})
	if v := l.Ratios.KeyToFill; v != nil {
		fmt.Fprintf(w, "  (key + fill) : fill on the lit side  %.1f : 1\n", *v)
	}
	if v := l.Ratios.LitToShade; v != nil {
		fmt.Fprintf(w, "  lit side over shaded side            %+.2f stop\n", *v)
	}
	if v := l.Ratios.KeyToBackground; v != nil {
		fmt.Fprintf(w, "  lit side over background             %+.2f stop\n", *v)
	}
	if l.Additivity != nil {
		fmt.Fprintf(w, "Light adds: a hold is predicted from the others to %.4f stop (median).\n", *l.Additivity)
	} else {
		fmt.Fprintln(w, "Light adds: could not be tried, since no hold is spare. Repeat a hold to have it tried.")
	}
}

func fileText(w io.Writer, files map[string]string) {
	if len(files) == 0 {
		return
	}
	names := make([]string, 0, len(files))
	for n := range files {
		names = append(names, n)
	}
	slices.Sort(names)
	fmt.Fprintln(w, "\nPictures")
	table(w, func(line func(...string)) {
		for _, n := range names {
			line("  "+n, files[n])
		}
	})
}

// perCent writes a fraction, with a decimal where it is small.
func perCent(v float64) string {
	if math.Abs(v) < 0.0995 {
		return fmt.Sprintf("%.1f %%", 100*v)
	}
	return fmt.Sprintf("%.0f %%", 100*v)
}
