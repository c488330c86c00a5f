package main

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"lampwise/internal/job"
	"lampwise/internal/unit"
)

func (a *app) gradeSuggestCommand() *cobra.Command {
	var r job.SuggestRequest
	var regions []string
	var face, skin, strength float64
	cmd := &cobra.Command{
		Use:   "suggest CLIP --grade FILE",
		Short: "what the grade should be for a clip, with reasons; nothing is changed unless asked",
		Long: `Reads the clip and says what each stage should be set to: exposure, balance, split,
curve, look and vignette, each with its reason, its numbers, and what the regions
read on the screen before and after.

Nothing is written unless --apply names the stages to take. Each suggestion is for
the grade as it stands with those that are taken before it. Comments in the grade
file stay.`,
		Example: "  lampwise grade suggest lesson-12.mov --grade lesson.toml --set garage\n  lampwise grade suggest lesson-12.mov --grade lesson.toml --apply exposure,balance",
		Args:    exactly(1, "one clip"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Clip = args[0]
			r.Face, r.Skin, r.Strength = unit.Stop(face), unit.Degree(skin), strength
			if err := inRange("face", face, -3, 3); err != nil {
				return err
			}
			if err := inRange("skin", skin, 0, 60); err != nil {
				return err
			}
			if err := inRange("strength", strength, 0, 1); err != nil {
				return err
			}
			if r.Grade == "" {
				return missingFlag(cmd, "grade", "FILE")
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
			out, err := job.Suggest(cmd.Context(), s, r, report)
			end()
			if err != nil {
				return err
			}
			return a.answer(out, func(w io.Writer) { suggestText(w, out) })
		},
	}
	f := cmd.Flags()
	f.StringVarP(&r.Grade, "grade", "g", "", "the grade")
	f.StringVar(&r.Set, "set", "", "the set it was filmed on: its regions, and how its lamps differ in colour")
	f.StringSliceVar(&r.Apply, "apply", nil, "stages whose suggestion is written into the grade, with commas")
	f.StringArrayVar(&regions, "region", nil, "name=x,y,w,h in per cent of the picture; may be repeated")
	f.Float64Var(&face, "face", float64(job.SuggestFace), "stops from grey for the lit side of the face, where no card is seen")
	f.Float64Var(&strength, "strength", job.SuggestStrength, "how much of the curve is taken, 0 to 1")
	f.Float64Var(&skin, "skin", float64(job.SuggestSkin), "degrees that the look may turn skin off the skin line")
	f.BoolVar(&r.EveryFrame, "every-frame", false, "look at every frame")
	f.IntVar(&r.Threads, "threads", 0, "decoder threads (0: the decoder's choice)")
	return cmd
}

func suggestText(w io.Writer, s *job.Suggested) {
	fmt.Fprintf(w, "%s with %s\n", s.File, s.Grade)
	for _, x := range s.Suggestions {
		head := "leave it"
		switch {
		case x.Applied:
			head = "taken"
		case x.Change:
			head = "suggested"
		}
		fmt.Fprintf(w, "\n%s: %s\n  %s.\n", x.Stage, head, strings.TrimSuffix(x.Reason, "."))
		for _, t := range x.Settings {
			fmt.Fprintf(w, "    %s\n", t)
		}
		if len(x.Numbers) > 0 {
			table(w, func(line func(...string)) {
				for _, n := range x.Numbers {
					line("  "+n.Name, figure(n.Value), n.Unit)
				}
			})
		}
		if x.Change {
			beforeAfter(w, x.Before, x.After)
		}
	}
	if len(s.Mixed) > 0 {
		fmt.Fprintln(w, "\nLights of different colour")
		for _, m := range s.Mixed {
			mark := " "
			if m.Warn {
				mark = "!"
			}
			fmt.Fprintf(w, "  %s %s is %s mired from %s: %s\n", mark, m.B, signed(m.Mired, 0), m.A, m.Why)
		}
	}
	if len(s.Applied) == 0 {
		var can []string
		for _, x := range s.Suggestions {
			if x.Change {
				can = append(can, string(x.Stage))
			}
		}
		if len(can) > 0 {
			fmt.Fprintf(w, "\nNothing was changed; --apply %s takes them.\n", strings.Join(can, ","))
		} else {
			end := "and nothing needs to be"
			for _, x := range s.Suggestions {
				if x.Unknown {
					end = "since not enough is seen to suggest more by"
				}
			}
			fmt.Fprintf(w, "\nNothing was changed, %s.\n", end)
		}
	}
	for _, n := range s.Notes {
		fmt.Fprintf(w, "note: %s\n", n)
	}
}

// beforeAfter tells the regions that a suggestion moves.
func beforeAfter(w io.Writer, before, after []job.RegionOnScene) {
	table(w, func(line func(...string)) {
		line("  region", "signal before", "after", "screen stops before", "after", "chroma before", "after")
		for i, b := range before {
			k := slices.IndexFunc(after, func(x job.RegionOnScene) bool { return x.Region == b.Region })
			if k < 0 || i >= len(after) {
				continue
			}
			line("  "+b.Region, fmt.Sprintf("%.1f %%", b.Signal), fmt.Sprintf("%.1f %%", after[k].Signal), screenStops(b.Screen), screenStops(after[k].Screen), fmt.Sprintf("%.1f", b.Chroma), fmt.Sprintf("%.1f", after[k].Chroma))
		}
	})
}

func screenStops(s *unit.Stop) string {
	if s == nil {
		return "black"
	}
	return signed(float64(*s), 2)
}

// figure writes a number with as many digits as it deserves.
func figure(v float64) string {
	switch a := math.Abs(v); {
	case a >= 100:
		return fmt.Sprintf("%.0f", v)
	case a >= 10:
		return fmt.Sprintf("%.1f", v)
	case a >= 0.1 || a == 0:
		return fmt.Sprintf("%.2f", v)
	}
	return fmt.Sprintf("%.4f", v)
}
