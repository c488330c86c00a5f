package main

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/gauge"
	"lampwise/internal/job"
	"lampwise/internal/unit"
)

func (a *app) curvesFitCommand() *cobra.Command {
	var r job.BracketRequest
	var card, full string
	var stopError float64
	cmd := &cobra.Command{
		Use:   "fit FILE@STOPS… | --readings FILE",
		Short: "measure a camera's curve from an exposure bracket",
		Long: `Fits the camera's log curve to an exposure bracket of one steady grey card: a clip
or still for each exposure, named with its stops from the exposure at which the card
is at grey. Or give the card's 10-bit codes yourself with --readings: a text file,
on each line stops, code and, if known, the code's standard error.

The parameters come with standard errors; what the bracket can't tell is fixed and
said. They can stand in a grade file under [decode.params].`,
		Example: "  lampwise curves fit dark.mov@-4 a.mov@-2 b.mov@0 c.mov@+2 d.mov@+4 --card 45,45,10,10\n  lampwise curves fit --readings bracket.csv",
		RunE: func(cmd *cobra.Command, args []string) error {
			if (len(args) == 0) == (r.Readings == "") {
				return fault.New(fault.Usage, "arguments", cmd.CommandPath()+" --help shows an example.", "give files with their stops, or --readings")
			}
			for _, arg := range args {
				f, err := bracketFile(arg)
				if err != nil {
					return err
				}
				r.Files = append(r.Files, f)
			}
			var err error
			if r.Card, err = parseBox("--card", card); err != nil {
				return err
			}
			if full != "auto" {
				if err := oneOf("--range", full, "auto", "narrow", "full"); err != nil {
					return err
				}
				r.Override.Range = colour.Range(full)
			}
			r.StopSigma = unit.Stop(stopError)
			fit, err := job.FitCurve(cmd.Context(), r)
			if err != nil {
				return err
			}
			return a.answer(fitOf(fit), func(w io.Writer) { fitText(w, fit) })
		},
	}
	f := cmd.Flags()
	f.StringVar(&r.Readings, "readings", "", "text file of stops, 10-bit code[, standard error]")
	f.StringVar(&card, "card", "45,45,10,10", "where the card is in every file: x,y,width,height in per cent of the picture")
	f.StringVar(&full, "range", "auto", "the files' range: auto (their tag), narrow or full")
	f.Float64Var(&stopError, "stop-error", 0, "how well the exposure steps are known, in stops")
	return cmd
}

// bracketFile reads FILE@STOPS; the last @ counts, so that names may have one.
func bracketFile(arg string) (job.BracketFile, error) {
	i := strings.LastIndex(arg, "@")
	if i > 0 {
		if s, err := strconv.ParseFloat(strings.ReplaceAll(arg[i+1:], "−", "-"), 64); err == nil && !math.IsNaN(s) && math.Abs(s) <= 30 {
			return job.BracketFile{Path: arg[:i], Stops: unit.Stop(s)}, nil
		}
		if arg[i+1:] == "capped" {
			return job.BracketFile{Path: arg[:i], Stops: unit.Stop(math.Inf(-1))}, nil
		}
	}
	return job.BracketFile{}, fault.New(fault.Usage, "bracket-file", "For example shot.mov@-2, or shot.mov@capped for the lens capped.", "%q: expected FILE@STOPS", arg)
}

// parseBox reads x,y,w,h in per cent.
func parseBox(flag, s string) (gauge.Box, error) {
	bad := fault.New(fault.Usage, "box", "For example 45,45,10,10: x, y, width and height in per cent of the picture.", "%s: %q is no box inside the picture", flag, s)
	parts := strings.Split(s, ",")
	if len(parts) != 4 {
		return gauge.Box{}, bad
	}
	var v [4]float64
	for i, p := range parts {
		x, err := strconv.ParseFloat(strings.TrimSpace(p), 64)
		if err != nil || !(x >= 0 && x <= 100) {
			return gauge.Box{}, bad
		}
		v[i] = x / 100
	}
	if v[2] <= 0 || v[3] <= 0 || v[0]+v[2] > 1.0001 || v[1]+v[3] > 1.0001 {
		return gauge.Box{}, bad
	}
	return gauge.Box{X: v[0], Y: v[1], W: v[2], H: v[3]}, nil
}

// fitJSON is `curves fit --json`.
type fitJSON struct {
	Parameters []parameterJSON `json:"parameters"`
	Samples    int             `json:"samples"`
	LeftOut    int             `json:"left_out"` // clipped
	RMS        float64         `json:"rms_codes"`
	Condition  float64         `json:"condition"`
	Residuals  []residualJSON  `json:"residuals"`
	Clip       *float64        `json:"clip_code"` // the recording's own clip, 10-bit code; null when the bracket doesn't reach it
	Nearest    []nearestJSON   `json:"nearest"`
	Remarks    []string        `json:"remarks"`
}

type parameterJSON struct {
	Name  string  `json:"name"` // as Common LUT Format names it
	Value float64 `json:"value"`
	SE    float64 `json:"se"`
	Fixed bool    `json:"fixed"`
	Why   string  `json:"why,omitempty"`
}

type residualJSON struct {
	Stops    *float64 `json:"stops"` // null: lens capped
	Residual float64  `json:"residual_codes"`
}

type nearestJSON struct {
	ID        string  `json:"id"`
	RMS       float64 `json:"rms_codes"`
	Shift     float64 `json:"shift_stops"`
	Shifted   float64 `json:"rms_shifted_codes"`
	Plausible bool    `json:"plausible"`
}

func fitOf(fit colour.CurveFit) fitJSON {
	j := fitJSON{Samples: len(fit.Samples), LeftOut: fit.LeftOut, RMS: round(float64(fit.RMS), 3), Condition: round(fit.Condition, 1), Remarks: append([]string{}, fit.Remarks...)}
	for _, p := range fit.Parameters {
		j.Parameters = append(j.Parameters, parameterJSON(p))
	}
	for _, s := range fit.Samples {
		r := residualJSON{Residual: round(float64(s.Residual), 3)}
		if v := float64(s.Stops); !math.IsInf(v, 0) {
			r.Stops = &v
		}
		j.Residuals = append(j.Residuals, r)
	}
	if fit.ClipY > 0 {
		c := round(1023*fit.ClipY, 1)
		j.Clip = &c
	}
	for _, n := range fit.Nearest {
		j.Nearest = append(j.Nearest, nearestJSON{n.ID, round(float64(n.RMS), 2), round(float64(n.Shift), 3), round(float64(n.RMSShifted), 2), n.Plausible})
	}
	return j
}

// nearestShown is how many curves that explain a bracket are listed by name.
const nearestShown = 6

func plausible(curves []colour.CurveDistance) int {
	n := 0
	for _, c := range curves {
		if c.Plausible {
			n++
		}
	}
	return n
}

func fitText(w io.Writer, fit colour.CurveFit) {
	fmt.Fprintf(w, "fitted to %d exposures (%d clipped left out): residuals %.2f codes of 10 bits, condition %.0f\n\n", len(fit.Samples), fit.LeftOut, fit.RMS, fit.Condition)
	keys := map[string]string{
		"base": "base", "linSideSlope": "lin_side_slope", "linSideOffset": "lin_side_offset", "logSideSlope": "log_side_slope",
		"logSideOffset": "log_side_offset", "linSideBreak": "lin_side_break", "linearSlope": "linear_slope",
	}
	fmt.Fprintln(w, "[decode.params]")
	table(w, func(line func(...string)) {
		for _, p := range fit.Parameters {
			doubt := fmt.Sprintf("# ± %.2g", p.SE)
			if p.Fixed {
				doubt = "# fixed: " + p.Why
			}
			line(fmt.Sprintf("%s = %.10g", keys[p.Name], p.Value), doubt)
		}
	})
	fmt.Fprintln(w, "\nnearest shipped curves:")
	table(w, func(line func(...string)) {
		for i, n := range fit.Nearest {
			if i >= 3 && !n.Plausible {
				break
			}
			if more := plausible(fit.Nearest[i:]); i >= nearestShown && more > 0 {
				line(fmt.Sprintf("  and %d more that can't be told from this bracket (--json lists them)", more))
				break
			}
			verdict := ""
			if n.Plausible {
				verdict = "can't be told from this bracket"
			}
			line("  "+n.ID, fmt.Sprintf("%.1f codes off", n.RMSShifted), fmt.Sprintf("with exposure %s stop", signed(float64(n.Shift), 2)), verdict)
		}
	})
	if fit.ClipY > 0 {
		fmt.Fprintf(w, "the recording clips at code %.0f\n", 1023*fit.ClipY)
	}
	for _, r := range fit.Remarks {
		fmt.Fprintf(w, "note: %s\n", r)
	}
}
