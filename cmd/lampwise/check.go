package main

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"lampwise/internal/fault"
	"lampwise/internal/job"
)

func (a *app) checkCommand() *cobra.Command {
	var r job.CheckRequest
	var watch, rng, matrix string
	cmd := &cobra.Command{
		Use:   "check CLIP_OR_STILL --set NAME",
		Short: "say whether today's set is the set of last time",
		Long: `Explains a clip or still (PNG, TIFF, JPEG) as a mix of the set's lamps, and says
which lamp is off and by how much, whether the camera was moved or set otherwise,
and what light doesn't belong, with what to do about it, the largest first. The
presenter need not sit in the chair, and no card is needed.

Each check is kept in the set's history; from five on the thresholds follow how
much this set's lamps move by themselves.

Where a change of the camera's exposure and one of the lamps can't be told apart,
no answer is given. Look at the camera's stop, shutter, ISO, ND and white balance;
where they are as they were, --camera-same says so, and the lamps are judged by it.

--watch DIR answers for each clip or still that arrives in the folder, as soon as
it has stopped growing; Ctrl-C ends it.

Exit code 0: as it was; 3: something drifted; 4: no safe answer (why is said).`,
		Example: "  lampwise check today.mov --set garage\n  lampwise check today.mov --set garage --camera-same\n  lampwise check --watch /media/card/clips --set garage",
		Args:    cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if r.Set == "" {
				return fault.New(fault.Usage, "arguments", "For example --set garage; lampwise sets list shows them.", "which set? --set is missing")
			}
			if watch == "" && len(args) != 1 || watch != "" && len(args) != 0 {
				return fault.New(fault.Usage, "arguments", cmd.CommandPath()+" --help shows an example.", "%s takes one clip or still, or --watch DIR; %d given", cmd.CommandPath(), len(args))
			}
			var err error
			if r.Override, err = parseOverride(rng, matrix); err != nil {
				return err
			}
			s, err := a.openStore(cmd.Context())
			if err != nil {
				return err
			}
			defer s.Close()
			if watch != "" {
				return a.watch(cmd.Context(), s, r, watch)
			}
			r.File = args[0]
			c, err := job.Check(cmd.Context(), s, r)
			if err != nil {
				return err
			}
			if err := a.answer(c, func(w io.Writer) { checkText(w, c) }); err != nil {
				return err
			}
			return checkOutcome(c)
		},
	}
	f := cmd.Flags()
	f.StringVar(&r.Set, "set", "", "the set")
	f.StringVar(&watch, "watch", "", "answer for each clip or still that arrives in this folder")
	f.StringVar(&r.Curve, "curve", "", "camera curve, when it isn't the set's")
	f.StringVar(&rng, "range", "", "narrow or full: against the clip's tag")
	f.StringVar(&matrix, "matrix", "", "bt709, bt601 or bt2020ncl: against the clip's tag")
	f.BoolVar(&r.CameraSame, "camera-same", false, "the camera's settings were looked at and are as they were when the set was learned")
	f.BoolVar(&r.Forget, "no-history", false, "keep nothing of it in the set's history")
	f.IntVar(&r.Threads, "threads", 0, "decoder threads (0: the decoder's choice)")
	return cmd
}

func checkOutcome(c *job.Checked) error {
	switch c.Verdict {
	case "drift":
		return errProblems
	case "unsure":
		return outcome(fault.Unsure)
	}
	return nil
}

// watch answers for what arrives until it is stopped. With --json each answer
// is one line.
func (a *app) watch(ctx context.Context, s job.Sets, r job.CheckRequest, dir string) error {
	a.note("watching %s; Ctrl-C ends it", dir)
	err := job.Watch(ctx, s, r, dir, func(file string, c *job.Checked, err error) {
		if a.json {
			if err != nil {
				a.fail(err)
				return
			}
			_ = json.NewEncoder(a.out).Encode(c)
			return
		}
		if err != nil {
			a.fail(err)
			return
		}
		checkText(a.out, c)
		fmt.Fprintln(a.out)
	})
	if errors.Is(err, context.Canceled) {
		return nil
	}
	return err
}

func checkText(w io.Writer, c *job.Checked) {
	name := filepath.Base(c.File)
	switch c.Verdict {
	case "same":
		fmt.Fprintf(w, "%s: set %s is as it was\n", name, c.Set)
	case "drift":
		fmt.Fprintf(w, "%s: set %s is not as it was\n", name, c.Set)
	default:
		fmt.Fprintf(w, "%s: no safe answer for set %s\n", name, c.Set)
	}
	table(w, func(line func(...string)) {
		for _, l := range c.Lamps {
			line("  "+l.Name, lampVerdict(l), measured(l.Stops, l.SE, "stop"), miredText(l))
		}
		line("  ambient", ambientVerdict(c.Ambient), measured(c.Ambient.Stops, c.Ambient.SE, "stop"))
		line("  camera", cameraVerdict(c.Camera), measured(c.Camera.Gain, c.Camera.GainSE, "stop"), cameraMove(c.Camera))
	})
	if len(c.Advice) > 0 {
		fmt.Fprintln(w, "Do this, the largest first:")
		for i, t := range c.Advice {
			fmt.Fprintf(w, "  %d. %s\n", i+1, t)
		}
		fmt.Fprintf(w, "  %s\n", cautions)
	}
	if k := c.Correction; k != nil && c.Verdict == "drift" {
		fmt.Fprintf(w, "For a clip already shot: exposure %+.2f stop, red %+.2f, blue %+.2f; then still off: %s.\n", k.Exposure, k.Balance[0], k.Balance[1], leftWords(k.Left))
	}
	for _, n := range c.Notes {
		fmt.Fprintf(w, "note: %s\n", n)
	}
	fmt.Fprintf(w, "Told from %.2f stop, to act on from %.2f stop (%s before this one).\n", c.Thresholds.Mention, c.Thresholds.Act, count(c.Thresholds.Checks, "check"))
}

func lampVerdict(l job.CheckedLamp) string {
	words := map[string]string{
		"same": "as it was", "brighter": "brighter", "darker": "darker", "off": "OFF", "colour": "another colour", "different": "falls differently", "unsure": "can't say",
	}
	text := words[l.Verdict]
	if l.Verdict == "unsure" && l.Reason != "" {
		text += ": " + strings.TrimSuffix(l.Reason, ".")
	}
	return text
}

func measured(v, se *float64, unit string) string {
	if v == nil {
		return ""
	}
	if se == nil {
		return fmt.Sprintf("%+.2f %s", *v, unit)
	}
	return fmt.Sprintf("%+.3f ± %.3f %s", *v, *se, unit)
}

func miredText(l job.CheckedLamp) string {
	if l.Mired == nil || l.Verdict == "unsure" {
		return ""
	}
	return fmt.Sprintf("%+.0f mired", *l.Mired)
}

func ambientVerdict(a job.CheckedAmbient) string {
	switch {
	case a.Stops == nil:
		return "too little of it to say"
	case !a.Changed:
		return "as it was"
	case *a.Stops > 0:
		return "brighter"
	}
	return "darker"
}

func cameraVerdict(c job.CheckedCamera) string {
	switch {
	case c.Moved && c.Changed:
		return "moved and set otherwise"
	case c.Moved:
		return "moved"
	case c.Changed:
		return "set otherwise"
	}
	return "as it was"
}

func cameraMove(c job.CheckedCamera) string {
	return fmt.Sprintf("%+.1f, %+.1f pixels; turned %+.2f°; size %+.2f %%", c.DX, c.DY, c.Rotation, 100*(c.Scale-1))
}

// leftWords lists what regions differ by, the largest first.
func leftWords(left map[string]float64) string {
	names := slices.Sorted(maps.Keys(left))
	slices.SortStableFunc(names, func(a, b string) int { return cmp.Compare(math.Abs(left[b]), math.Abs(left[a])) })
	var parts []string
	for _, n := range names {
		if math.Abs(left[n]) >= 0.03 {
			parts = append(parts, fmt.Sprintf("%s %+.2f", n, left[n]))
		}
	}
	if len(parts) == 0 {
		return "nothing by more than 0.03 stop"
	}
	return strings.Join(parts, ", ") + " stop"
}
