package main

import (
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/job"
	"lampwise/internal/lamps"
	"lampwise/internal/unit"
)

func (a *app) learnCommand() *cobra.Command {
	var r job.LearnRequest
	var f learnFlags
	cmd := &cobra.Command{
		Use:   "learn CLIP --set NAME",
		Short: "take the lamps apart from one switch clip",
		Long: `Learns a set from one switch clip: a clip in which the lamps are switched one
after the other, the camera locked, exposure and white balance on manual. Each
lamp's own light is separated in linear light and kept, with what it does to
every region of the picture.

Say what was switched with --order, hold after hold:
  all, -key, all, -fill, all, dark     everything on, then one lamp off at a time
  dark, key, rim, key+rim              everything off, then the lamps named
  all, all+key=50%, key=25%            what its dimmer read, to measure its curve
Without --order the beeps of lampwise call are listened for on the clip's sound
track; without these the pattern is guessed and lamps are called lamp-1, lamp-2 …

Advice before filming: learn --advise 5 says in which order to switch five lamps
and how long to hold.

Exit code 0: learned; 4: the clip can't tell (which lamps, and what to add, is said).`,
		Example: `  lampwise learn switch.mov --set garage --order "all, -key, all, -fill, all, -rim, dark" \
      --dimmers "key=50%, fill=60%" --region face-lit=34,22,2,4 --pictures garage-pictures
  lampwise learn --advise 5`,
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if cmd.Flags().Changed("advise") {
				return a.advise(f.advise, args)
			}
			if len(args) != 1 {
				return fault.New(fault.Usage, "arguments", cmd.CommandPath()+" --help shows an example.", "%s takes one switch clip; %d given", cmd.CommandPath(), len(args))
			}
			if r.Set == "" {
				return fault.New(fault.Usage, "arguments", "For example --set garage.", "which set is it? --set is missing")
			}
			r.Clip = args[0]
			if err := f.into(&r); err != nil {
				return err
			}
			s, err := a.openStore(cmd.Context())
			if err != nil {
				return err
			}
			defer s.Close()
			report, end := a.progress()
			l, err := job.Learn(cmd.Context(), s, r, report)
			end()
			if err != nil {
				return err
			}
			return a.answer(l, func(w io.Writer) { learnText(w, l) })
		},
	}
	fl := cmd.Flags()
	fl.StringVar(&r.Set, "set", "", "name of the set")
	fl.StringVar(&r.Order, "order", "", "what was switched, hold after hold")
	fl.StringVar(&r.Curve, "curve", "", "camera curve (remembered for clips like it)")
	fl.StringVar(&r.Gamut, "gamut", "", "the camera's primaries (default: the curve's first)")
	fl.StringArrayVar(&f.regions, "region", nil, "name=x,y,w,h in per cent of the picture; may be repeated")
	fl.StringVar(&f.dimmers, "dimmers", "", "what the dimmers read while the lamps were on: \"key=50%, rim=70%\"")
	fl.StringArrayVar(&f.tables, "table", nil, "lamp=FILE: a dimmer's typed curve, a line for each setting: reading % and light %")
	fl.StringArrayVar(&f.filaments, "filament", nil, "lamp=K: a lamp that reddens when dimmed, with its colour temperature at full")
	fl.StringVar(&f.white, "white", "", "what the camera's white balance was set to, in K, or \"K,Duv\"")
	fl.StringVar(&f.rng, "range", "", "narrow or full: against the clip's tag")
	fl.StringVar(&f.matrix, "matrix", "", "bt709, bt601 or bt2020ncl: against the clip's tag")
	fl.StringVar(&r.Pictures, "pictures", "", "folder for the pictures: each lamp alone, the share picture, the stop ladder")
	fl.StringVar(&r.Grade, "grade", "", "grade file to show the lamps through on the pictures")
	fl.BoolVar(&r.Overwrite, "overwrite", false, "replace a set of the same name, with its history")
	fl.IntVar(&r.Threads, "threads", 0, "decoder threads (0: the decoder's choice)")
	fl.IntVar(&f.advise, "advise", 0, "give a switching order for so many lamps, and stop")
	return cmd
}

// learnFlags are learn's flags as typed.
type learnFlags struct {
	regions, tables, filaments  []string
	dimmers, white, rng, matrix string
	advise                      int
}

func (f *learnFlags) into(r *job.LearnRequest) error {
	var err error
	for _, text := range f.regions {
		g, err := lamps.ParseRegion(text)
		if err != nil {
			return err
		}
		r.Regions = append(r.Regions, g)
	}
	if r.Dimmers, err = job.ParseDimmerReadings(f.dimmers); err != nil {
		return err
	}
	if r.Tables, err = readTables(f.tables); err != nil {
		return err
	}
	r.Filaments = map[string]unit.Kelvin{}
	for _, text := range f.filaments {
		lamp, k, err := job.ParseFilament(text)
		if err != nil {
			return err
		}
		r.Filaments[lamp] = k
	}
	if r.White, err = parseWhite(f.white); err != nil {
		return err
	}
	r.Override, err = parseOverride(f.rng, f.matrix)
	return err
}

// readTables reads "lamp=FILE" pairs.
func readTables(texts []string) (map[string]*job.DimmerTable, error) {
	out := map[string]*job.DimmerTable{}
	for _, text := range texts {
		lamp, file, ok := strings.Cut(text, "=")
		if !ok || lamp == "" || file == "" {
			return nil, fault.New(fault.Usage, "table", "Write --table lamp=FILE.", "%q names no lamp and file", text)
		}
		t, err := job.ReadDimmerTable(file)
		if err != nil {
			return nil, err
		}
		out[lamp] = t
	}
	return out, nil
}

// parseWhite reads "5000" or "5000,0.002".
func parseWhite(text string) (colour.XY, error) {
	if text == "" {
		return colour.XY{}, nil
	}
	var k, duv float64
	a, b, two := strings.Cut(text, ",")
	_, err := fmt.Sscan(strings.TrimSuffix(strings.TrimSpace(a), "K"), &k)
	if two && err == nil {
		_, err = fmt.Sscan(strings.TrimSpace(b), &duv)
	}
	if err != nil || !(k >= 1700 && k <= 20000) || !(math.Abs(duv) <= 0.05) {
		return colour.XY{}, fault.New(fault.Usage, "white", "For example --white 5000, or --white 5000,0.003.", "%q is no white balance in K (1700 to 20000)", text)
	}
	return colour.XYFromCCT(unit.Kelvin(k), duv), nil
}

func (a *app) advise(n int, args []string) error {
	if len(args) > 0 {
		return fault.New(fault.Usage, "arguments", "", "--advise takes no clip")
	}
	plans, err := lamps.Advise(n, lamps.AdviseOptions{})
	if err != nil {
		return err
	}
	type planJSON struct {
		Kind     string  `json:"kind"`
		Order    string  `json:"order"`
		Hold     float64 `json:"hold_s"`
		Total    float64 `json:"total_s"`
		Switches int     `json:"switches"`
		Spare    int     `json:"spare_holds"`
		SE       float64 `json:"se_share"`
		Why      string  `json:"why"`
	}
	answer := struct {
		Plans []planJSON `json:"plans"`
	}{}
	for _, p := range plans {
		answer.Plans = append(answer.Plans, planJSON{p.Kind, p.Order.String(), float64(p.Hold), float64(p.Total), p.Switches, p.Spare, p.Deviation, p.Why})
	}
	return a.answer(answer, func(w io.Writer) {
		fmt.Fprintln(w, "Camera locked; exposure, white balance and focus on manual; stabiliser off; its sound on. Let lamps warm up first.")
		fmt.Fprintln(w, "lampwise call --order ORDER says and beeps it on a timer, and learn then hears the beeps.")
		sittingText(w, job.Sitting())
		for i, p := range answer.Plans {
			head := "or: "
			if i == 0 {
				head = "best: "
			}
			fmt.Fprintf(w, "\n%s%s. %s\n", head, p.Kind, p.Why)
			fmt.Fprintf(w, "  switch:  %s\n", p.Order)
			fmt.Fprintf(w, "  hold each %.1f s; %.0f s in all, %d times a switch is thrown; a lamp's picture to %.2f %% of its light; %s to check by\n",
				p.Hold, p.Total, p.Switches, 100*p.SE, count(p.Spare, "spare hold"))
		}
	})
}

func learnText(w io.Writer, l *job.LearnedSet) {
	fmt.Fprintf(w, "Set %s: %s and the ambient light, from %s (%s)\n", l.Set, count(len(l.Lamps), "lamp"), count(len(l.Holds), "hold"), l.Curve)
	if l.Guess != nil {
		fmt.Fprintf(w, "The order was guessed: %s (confidence %.0f %%). Name the lamps: lampwise sets rename %s lamp-1=key …\n", l.Guess.Pattern, 100*l.Guess.Confidence, l.Set)
	}
	if l.Beeps != nil {
		fmt.Fprintf(w, "The holds are named by %d of %s on the sound track.\n", l.Beeps.Heard, count(l.Beeps.Of, "beep"))
	}
	fmt.Fprintln(w, "\nHolds")
	table(w, func(line func(...string)) {
		for i, h := range l.Holds {
			on := strings.Join(h.On, " + ")
			if on == "" {
				on = "(ambient alone)"
			}
			line(fmt.Sprintf("  %d", i+1), fmt.Sprintf("%.2f to %.2f s", h.Start, h.End), on)
		}
	})
	for _, d := range l.Dropped {
		fmt.Fprintf(w, "  left out: %.2f to %.2f s, %s\n", d.Start, d.End, d.Why)
	}
	lampText(w, l.Lamps, l.Regions)
	readingText(w, l)
	for _, n := range l.Notes {
		fmt.Fprintf(w, "note: %s\n", n)
	}
	fileText(w, l.Files)
	fmt.Fprintf(w, "\n%d frames: decoded and looked at in %.1f s, taken apart in %.1f s.\n", l.Timing.Frames, l.Timing.Decode, l.Timing.Numbers)
}

// stopsOr writes stops, or a word where there are none.
func stopsOr(v *float64, none string) string {
	if v == nil {
		return none
	}
	return fmt.Sprintf("%+.2f", *v)
}
