package main

import (
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"lampwise/internal/fault"
	"lampwise/internal/gauge"
	"lampwise/internal/job"
)

func (a *app) measureCommand() *cobra.Command {
	var r job.MeasureRequest
	var rng, matrix, white, intended string
	var regions []string
	cmd := &cobra.Command{
		Use:   "measure CLIP [--curve ID]",
		Short: "say what a clip reads and what is wrong with it",
		Long: `Reads a clip in light: every region on the stop ladder, and what is wrong with the
recording, as a list: what, how much, when, what to do. Clipped and crushed parts,
exposure and white balance that change, noise, flicker of the mains, bits that are
worth less than they say, a range tag or curve that doesn't fit, a face out of
focus, frames doubled or missing. Last comes what to set on the camera before the
next recording.

A set gives the curve, the regions and the recording's clip; a grade gives the
curve, and each reading is told as the screen shows it, too.

What is so on purpose is said once with the set and isn't called a fault again:
  ` + intendedHelp() + `

Long clips are read in stretches, and the answer says how much was looked at;
--every-frame looks at all.

Exit code 0: nothing is wrong; 3: something is (worse than a note).`,
		Example: "  lampwise measure lesson-12.mov --curve log-420\n  lampwise measure lesson-12.mov --set garage --intended \"warm, over=1\"",
		Args:    exactly(1, "one clip"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Clip = args[0]
			var err error
			if r.Override, err = parseOverride(rng, matrix); err != nil {
				return err
			}
			if r.White, err = parseWhite(white); err != nil {
				return err
			}
			if r.Regions, err = job.ParseRegions(regions); err != nil {
				return err
			}
			s, err := a.openStore(cmd.Context())
			if err != nil {
				return err
			}
			defer s.Close()
			if intended == "none" {
				if r.Set == "" {
					return fault.New(fault.Usage, "arguments", "For example --set garage.", "--intended none forgets what was said of a set; --set is missing")
				}
				if err := job.ForgetIntended(cmd.Context(), s, r.Set); err != nil {
					return err
				}
			} else if intended != "" {
				r.Intended = strings.Split(intended, ",")
			}
			report, end := a.progress()
			m, err := job.Measure(cmd.Context(), s, r, report)
			end()
			if err != nil {
				return err
			}
			if err := a.answer(m, func(w io.Writer) { measureText(w, m) }); err != nil {
				return err
			}
			for _, p := range m.Problems {
				if p.Severity != gauge.Note {
					return errProblems
				}
			}
			return nil
		},
	}
	f := cmd.Flags()
	f.StringVar(&r.Curve, "curve", "", "camera curve (remembered for clips like it)")
	f.StringVar(&r.Set, "set", "", "the set it was filmed on")
	f.StringVarP(&r.Grade, "grade", "g", "", "a grade: readings are told on the screen, too")
	f.StringVar(&r.Gamut, "gamut", "", "the camera's primaries (default: the curve's first)")
	f.StringVar(&white, "white", "", "what the camera's white balance was set to, in K, or \"K,Duv\"")
	f.StringArrayVar(&regions, "region", nil, "name=x,y,w,h in per cent of the picture; may be repeated")
	f.StringVar(&intended, "intended", "", "what is so on purpose, with commas; kept with --set; none forgets it")
	f.StringVar(&r.Scopes, "scopes", "", "folder for the scopes: waveform, parade, vectorscope, histogram, chromaticity")
	f.BoolVar(&r.EveryFrame, "every-frame", false, "look at every frame")
	f.StringVar(&rng, "range", "", "narrow or full: against the clip's tag")
	f.StringVar(&matrix, "matrix", "", "bt709, bt601 or bt2020ncl: against the clip's tag")
	f.IntVar(&r.Threads, "threads", 0, "decoder threads (0: the decoder's choice)")
	return cmd
}

func intendedHelp() string {
	var lines []string
	for _, w := range job.IntendedWords() {
		lines = append(lines, fmt.Sprintf("%-14s %s", w[0], w[1]))
	}
	return strings.Join(lines, "\n  ")
}

func measureText(w io.Writer, m *job.MeasuredClip) {
	curve := "no curve known"
	if m.Curve != "" {
		curve = m.Curve
	}
	fmt.Fprintf(w, "%s: %s; %s.\n", m.File, curve, m.Plan.Words)
	fmt.Fprintln(w, "\nReadings, in stops from grey")
	table(w, func(line func(...string)) {
		line("  region", "stops", "10 % to 90 %", "signal", "colour", "clipped", screenHead(m))
		for _, r := range m.Readings {
			line("  "+r.Region, stopsText(r.Reading), spanText(r.Reading), fmt.Sprintf("%.1f %%", r.Signal), readingColour(m, r.Reading), partText(r.Clipped), screenText(r.Screen))
		}
	})
	fmt.Fprintln(w, "  "+ladderText(m.Ladder))
	fmt.Fprintln(w, "  "+noiseText(&m.Found.Noise))
	if len(m.Problems) == 0 {
		fmt.Fprintln(w, "\nNothing is wrong with what was looked at.")
	} else {
		fmt.Fprintln(w, "\nProblems, the worst first")
	}
	for _, p := range m.Problems {
		fmt.Fprintf(w, "  %s: %s\n", p.Severity, p.What)
		fmt.Fprintf(w, "      %s\n", sizeText(p))
		fmt.Fprintf(w, "      Do: %s.\n", strings.TrimSuffix(p.Advice, "."))
	}
	for _, i := range m.Intended {
		fmt.Fprintf(w, "  on purpose (%s): %s\n", i.Declared, i.What)
	}
	fmt.Fprintln(w, "\nOn the camera, before the next recording")
	table(w, func(line func(...string)) {
		for _, p := range m.Preflight {
			mark := "  "
			if p.Evident {
				mark = "! "
			}
			line("  "+mark+p.Item, p.Set, p.Why)
		}
	})
	for _, f := range m.Files {
		fmt.Fprintf(w, "written: %s\n", f)
	}
	for _, n := range m.Notes {
		fmt.Fprintf(w, "note: %s\n", n)
	}
}

func stopsText(r gauge.Reading) string {
	if r.Stops == nil {
		return "not known"
	}
	if r.SE > 0 {
		return fmt.Sprintf("%s ± %.2f", plusMinus(float64(*r.Stops)), float64(r.SE))
	}
	return plusMinus(float64(*r.Stops))
}

// plusMinus writes two digits; what rounds to nothing has no minus.
func plusMinus(v float64) string {
	if math.Abs(v) < 0.005 {
		v = 0
	}
	return fmt.Sprintf("%+.2f", v)
}

func spanText(r gauge.Reading) string {
	if r.Low == nil || r.High == nil {
		return ""
	}
	return fmt.Sprintf("%+.1f to %+.1f", float64(*r.Low), float64(*r.High))
}

func readingColour(m *job.MeasuredClip, r gauge.Reading) string {
	if r.CCT != nil {
		return fmt.Sprintf("%.0f K, Duv %+.3f", float64(*r.CCT), *r.Duv)
	}
	if r.Hue != nil {
		return fmt.Sprintf("hue %.0f°, purity %.2f", *r.Hue, *r.Purity)
	}
	for _, g := range m.Gaps {
		if g.Region == r.Region {
			return fmt.Sprintf("%+.0f mired to %s", float64(g.Mired), g.To)
		}
	}
	return ""
}

func partText(v *float64) string {
	if v == nil {
		return "not known"
	}
	return fmt.Sprintf("%.2f %%", 100**v)
}

func screenHead(m *job.MeasuredClip) string {
	for _, r := range m.Readings {
		if r.Screen != nil {
			return "on the screen"
		}
	}
	return ""
}

func screenText(s *job.ScreenReading) string {
	if s == nil {
		return ""
	}
	if s.Stops == nil {
		return "black"
	}
	return fmt.Sprintf("%.1f %%, %+.2f stop", s.Signal, float64(*s.Stops))
}

func ladderText(l job.LadderEnds) string {
	var parts []string
	if l.Clip != nil {
		parts = append(parts, fmt.Sprintf("the recording clips %+.2f stop from grey", float64(*l.Clip)))
	} else if l.Top != nil {
		parts = append(parts, fmt.Sprintf("where the recording clips was not seen: %+.1f stop from grey at most", float64(*l.Top)))
	}
	if l.Floor != nil {
		parts = append(parts, fmt.Sprintf("signal and noise are equal at %+.1f", float64(*l.Floor)))
	}
	if len(parts) == 0 {
		return "the stop ladder has no ends without a curve"
	}
	return strings.Join(parts, "; ")
}

func noiseText(n *gauge.NoiseFound) string {
	if n.SNRGrey == nil {
		return "noise at grey was not measured"
	}
	text := fmt.Sprintf("signal over noise at grey %.0f", *n.SNRGrey)
	if n.SNRShadow != nil {
		text += fmt.Sprintf(", four stops below it %.1f", *n.SNRShadow)
	}
	return text + " (luma, one pixel)"
}

func sizeText(p gauge.Problem) string {
	text := p.Amount()
	if p.To > p.From {
		return fmt.Sprintf("%s, from %.1f to %.1f s", text, p.From, p.To)
	}
	return fmt.Sprintf("%s, at %.1f s", text, p.From)
}
