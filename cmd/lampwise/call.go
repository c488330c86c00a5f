package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"lampwise/internal/caller"
	"lampwise/internal/job"
)

func (a *app) callCommand() *cobra.Command {
	var r job.CallRequest
	var quiet bool
	cmd := &cobra.Command{
		Use:   "call --order ORDER | --set NAME",
		Short: "the caller: says and beeps what to switch, for a switch clip",
		Long: `Says and beeps, on a timer, what to switch next, so that one person can film a
switch clip. Start the camera first, then this; switch at each beep. The beeps are
heard on the clip's sound track: lampwise learn then knows which lamp was switched
when, and --order need not be said again.

The beeps come from this computer's loudspeaker where a player is there (lampwise
doctor says); speech too, where espeak-ng or say is. --wav FILE writes the beeps as
a sound file instead, to be played by a phone near the camera, and ends.

Exit code 6 when the beeps can't be played; 130 when it was stopped before the order was through.`,
		Example: "  lampwise call --order \"all, -key, all, -fill, all, dark\"\n  lampwise call --set garage --hold 5 --wav garage-call.wav",
		Args:    exactly(0, "no arguments"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			s, err := a.openStore(cmd.Context())
			if err != nil {
				return err
			}
			defer s.Close()
			c, err := job.PlanCall(cmd.Context(), s, r)
			if err != nil {
				return err
			}
			if a.json || r.WAV != "" {
				return a.answer(c, func(w io.Writer) { callText(w, c) })
			}
			player, speaker := job.Sounding()
			callText(a.out, c)
			switch {
			case quiet:
				fmt.Fprintln(a.out, "Without sound: words and the terminal's bell alone, and no marks on the sound track.")
			case player == "":
				fmt.Fprintln(a.out, "No program to play sound is there (lampwise doctor says what to install): the terminal's bell alone, and no marks on the sound track.")
			case speaker == "":
				fmt.Fprintf(a.out, "Beeps through %s; no speech, since neither espeak-ng nor say is there.\n", player)
			default:
				fmt.Fprintf(a.out, "Beeps through %s, speech through %s.\n", player, speaker)
			}
			fmt.Fprintln(a.out, "\nIs the camera running? It begins now; Ctrl-C ends it.")
			return job.RunCall(cmd.Context(), c.Plan, job.Voice{Quiet: quiet, Tell: func(s caller.Step, now bool) { a.callStep(s, now) }})
		},
	}
	f := cmd.Flags()
	f.StringVar(&r.Order, "order", "", "what is switched, hold after hold, as for lampwise learn")
	f.StringVar(&r.Set, "set", "", "take the order of a set that was learned")
	f.Float64Var(&r.Hold, "hold", 4, "s from beep to beep, 2 to 30")
	f.StringVar(&r.WAV, "wav", "", "write the beeps as this sound file and end")
	f.BoolVar(&r.Overwrite, "overwrite", false, "let --wav replace a file")
	f.BoolVar(&quiet, "quiet", false, "no beeps and no speech from this computer")
	cmd.MarkFlagsMutuallyExclusive("order", "set")
	return cmd
}

// callStep writes a step; at the beep with the terminal's bell.
func (a *app) callStep(s caller.Step, now bool) {
	switch {
	case now && s.Hold == "":
		fmt.Fprintf(a.out, "\adone\n")
	case now:
		fmt.Fprintf(a.out, "\a now\n")
	default:
		fmt.Fprintf(a.out, "%2d  %s …", s.Number+1, s.Say)
	}
}

func callText(w io.Writer, c *job.Called) {
	fmt.Fprintf(w, "%s, %.0f s in all\n", count(len(c.Steps)-1, "hold"), c.Length)
	table(w, func(line func(...string)) {
		for _, s := range c.Steps[:len(c.Steps)-1] {
			line(fmt.Sprintf("  %d", s.Number+1), fmt.Sprintf("%.0f s", s.Now), s.Say)
		}
	})
	fmt.Fprintln(w, "Camera locked; exposure, white balance and focus on manual; stabiliser off; its sound on. Let lamps warm up first.")
	sittingText(w, c.Advice)
	fmt.Fprintf(w, "%s\n", cautions)
	for _, n := range c.Notes {
		fmt.Fprintf(w, "note: %s\n", n)
	}
	if c.File != "" {
		fmt.Fprintf(w, "Beeps: %s. Start the camera, then play them near it.\n", c.File)
	}
}

// sittingText says who may sit in the picture meanwhile.
func sittingText(w io.Writer, advice []string) {
	fmt.Fprintln(w, "Who sits there meanwhile:")
	for _, t := range advice {
		fmt.Fprintf(w, "  - %s\n", t)
	}
}
