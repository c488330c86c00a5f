package main

import (
	"fmt"
	"io"
	"math"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"lampwise/internal/fault"
	"lampwise/internal/grade"
	"lampwise/internal/job"
)

func (a *app) gradeCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "grade",
		Short: "make, show, suggest, match or change a grade",
		Long: `A grade is a readable file: the settings of the path from recorded code to
finished picture. Its stages run in one fixed order; any of them can be off.`,
		Example: "  lampwise grade new lesson.toml --curve log-420\n  lampwise grade show lesson.toml\n  lampwise grade set lesson.toml look.strength=0.4 exposure.stops=0.3",
		Args:    exactly(0, "new, show, set, suggest or match"),
		RunE:    func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.AddCommand(a.gradeNewCommand(), a.gradeShowCommand(), a.gradeSetCommand(), a.gradeSuggestCommand(), a.gradeMatchCommand())
	return cmd
}

func (a *app) gradeNewCommand() *cobra.Command {
	var r job.NewGrade
	cmd := &cobra.Command{
		Use:   "new FILE",
		Short: "write a sensible grade to begin with",
		Long: `Writes a starting grade and, beside it, the look it names (amber dusk, of our own
making, at 45 %). With --clip the recording's own clip is measured in it, and the
curve may be left out if it was said before of clips like it (lampwise probe).`,
		Example: "  lampwise grade new lesson.toml --curve log-420\n  lampwise grade new lesson.toml --clip lesson-12.mov --curve log-420",
		Args:    exactly(1, "the file to write"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.File = args[0]
			s, err := a.openStore(cmd.Context())
			if err != nil {
				return err
			}
			defer s.Close()
			made, err := job.MakeGrade(cmd.Context(), s, r)
			if err != nil {
				return err
			}
			return a.answer(made, func(w io.Writer) {
				fmt.Fprintf(w, "%s: a starting grade for %s\n", made.File, made.Curve)
				for _, f := range made.Beside {
					fmt.Fprintf(w, "%s: the look it names\n", f)
				}
				for _, n := range made.Notes {
					fmt.Fprintf(w, "note: %s\n", n)
				}
			})
		},
	}
	f := cmd.Flags()
	f.StringVar(&r.Curve, "curve", "", "the recording's curve (lampwise curves lists them)")
	f.StringVar(&r.Clip, "clip", "", "a clip the grade is for")
	f.BoolVar(&r.Overwrite, "overwrite", false, "replace a file that stands there")
	return cmd
}

func (a *app) gradeSetCommand() *cobra.Command {
	return &cobra.Command{
		Use:     "set FILE KEY=VALUE…",
		Short:   "change settings of a grade",
		Long:    "Changes settings by their full key, as they stand in the file. Either all are changed, or none.",
		Example: "  lampwise grade set lesson.toml look.strength=0.4 vignette.off=true",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) < 2 {
				return fault.New(fault.Usage, "arguments", cmd.CommandPath()+" --help shows an example.", "%s takes a grade file and at least one key=value", cmd.CommandPath())
			}
			return nil
		},
		RunE: func(_ *cobra.Command, args []string) error {
			g, err := grade.Load(args[0])
			if err != nil {
				return err
			}
			for _, s := range args[1:] {
				if err := g.Set(s); err != nil {
					return err
				}
			}
			if err := g.Save(args[0]); err != nil {
				return err
			}
			return a.answer(struct {
				File  string       `json:"file"`
				Grade *grade.Grade `json:"grade"`
			}{args[0], g}, func(w io.Writer) {
				fmt.Fprintf(w, "%s: changed\n", args[0])
				for _, s := range args[1:] {
					key, _, _ := strings.Cut(s, "=")
					stage, _, _ := strings.Cut(strings.TrimSpace(key), ".")
					if stage != "" && isStage(stage) && g.Off(grade.Stage(stage)) && !strings.HasSuffix(strings.TrimSpace(key), ".off") {
						fmt.Fprintf(w, "note: the stage %s is off; %s.off=false turns it on\n", stage, stage)
					}
				}
			})
		},
	}
}

func isStage(name string) bool {
	for _, s := range grade.Stages() {
		if string(s) == name {
			return true
		}
	}
	return false
}

// ladderStops are the scene stops at which `grade show` tells what a grade does.
var ladderStops = []float64{-6, -4, -2, -1, 0, 1, 2, 3, 4, 5}

// gradeJSON is `grade show --json`.
type gradeJSON struct {
	File   string       `json:"file"`
	Grade  *grade.Grade `json:"grade"`
	Stages []stageJSON  `json:"stages"`
	Ladder []rungJSON   `json:"ladder"`
	Notes  []string     `json:"notes"`
}

// stageJSON is one stage: whether it does anything, and what it does to a
// neutral at each of the ladder's scene stops.
type stageJSON struct {
	Stage  grade.Stage `json:"stage"`
	Runs   bool        `json:"runs"`
	Effect []float64   `json:"effect_stops"`
	DE00   []float64   `json:"effect_de00"`
}

// rungJSON joins a scene light to its place on the screen. Screen stops are
// null where the screen shows black.
type rungJSON struct {
	Scene  float64  `json:"scene_stops"`
	Signal float64  `json:"signal"`
	Screen *float64 `json:"screen_stops"`
}

func (a *app) gradeShowCommand() *cobra.Command {
	var budget bool
	var b job.BudgetRequest
	var peak float64
	cmd := &cobra.Command{
		Use:   "show FILE [--budget --clip CLIP]",
		Short: "what a grade does, stage by stage, in stops",
		Long: `Says what a grade does, stage by stage, in stops. With --budget and a clip it says
what the grade costs on that clip: how large each recorded step becomes on the
screen, against what the eye can see, what noise becomes of the clip's, how much of
the smooth area is at risk of banding (as rendered, as delivered, and encoded again
at a low rate), and which stage spends it.`,
		Example: "  lampwise grade show lesson.toml\n  lampwise grade show lesson.toml --budget --clip lesson-12.mov",
		Args:    exactly(1, "one grade file"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if budget {
				b.Grade = args[0]
				return a.budgetOf(cmd, b, peak)
			}
			g, err := grade.Load(args[0])
			if err != nil {
				return err
			}
			path, err := grade.Build(g, grade.Clip{}, job.LUTsIn(filepath.Dir(args[0])))
			if err != nil {
				return err
			}
			answer := gradeJSON{File: args[0], Grade: g, Notes: append([]string{}, path.Notes...)}
			for _, s := range grade.Stages() {
				e, err := path.Effect(s, ladderStops)
				if err != nil {
					return err
				}
				j := stageJSON{Stage: s, Runs: path.Runs(s)}
				for _, x := range e {
					j.Effect = append(j.Effect, round(x.Stops, 3))
					j.DE00 = append(j.DE00, round(x.DeltaE, 3))
				}
				answer.Stages = append(answer.Stages, j)
			}
			for _, r := range path.Ladder(ladderStops) {
				j := rungJSON{Scene: r.SceneStops, Signal: round(r.Signal, 5)}
				if !math.IsInf(r.ScreenStops, 0) {
					s := round(r.ScreenStops, 4)
					j.Screen = &s
				}
				answer.Ladder = append(answer.Ladder, j)
			}
			return a.answer(answer, func(w io.Writer) { gradeText(w, answer) })
		},
	}
	f := cmd.Flags()
	f.BoolVar(&budget, "budget", false, "what it costs on a clip: steps, noise, banding")
	f.StringVar(&b.Clip, "clip", "", "the clip")
	f.StringVar(&b.Set, "set", "", "the set it was filmed on")
	f.Float64Var(&b.Again, "again", job.WebQuality, "quality of a web site's second encode: the encoder's constant quality, 22 (good) to 34 (poor)")
	f.Float64Var(&peak, "peak", float64(job.BudgetPeak), "the screen's luminance in cd/m²")
	return cmd
}

func round(x float64, digits int) float64 {
	k := math.Pow10(digits)
	return math.Round(x*k) / k
}

func gradeText(w io.Writer, g gradeJSON) {
	fmt.Fprintf(w, "%s: %s\n\n", g.File, g.Grade.Name)
	table(w, func(line func(...string)) {
		head := []string{"scene stops from grey"}
		for _, s := range ladderStops {
			head = append(head, signed(s, 0))
		}
		line(head...)
		signal, screen := []string{"screen signal, %"}, []string{"screen stops from grey"}
		for _, r := range g.Ladder {
			signal = append(signal, fmt.Sprintf("%.1f", 100*r.Signal))
			if r.Screen == nil {
				screen = append(screen, "black")
			} else {
				screen = append(screen, signed(*r.Screen, 2))
			}
		}
		line(signal...)
		line(screen...)
		line()
		line("of it, in screen stops:")
		for _, s := range g.Stages {
			cells := []string{"  " + string(s.Stage)}
			switch {
			case s.Stage == grade.StageDecode:
				line(cells[0], g.Grade.Decode.Curve)
				continue
			case s.Stage == grade.StageEncode:
				e := g.Grade.Encode
				line(cells[0], fmt.Sprintf("%d bits", e.Bits), e.Sub, e.Dither)
				continue
			case !s.Runs:
				line(cells[0], "off")
				continue
			}
			for _, x := range s.Effect {
				cells = append(cells, signed(x, 2))
			}
			line(cells...)
		}
	})
	for _, n := range g.Notes {
		fmt.Fprintf(w, "note: %s\n", n)
	}
}

// signed writes a number with its sign and a true minus; 0 has none.
func signed(x float64, digits int) string {
	s := fmt.Sprintf("%+.*f", digits, x)
	if strings.Trim(s, "+-0.") == "" {
		return strings.TrimLeft(s, "+-")
	}
	return strings.Replace(s, "-", "−", 1)
}
