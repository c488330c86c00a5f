package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
)

func (a *app) curvesFindCommand() *cobra.Command {
	var grey, white, black float64
	var in string
	cmd := &cobra.Command{
		Use:   "find",
		Short: "which curve has these figures",
		Long: `Ranks the curves by how near they come to the levels that a camera's manual gives
for an 18 % grey card, a 90 % white card and a capped lens. Figures above 110 are
taken as 10-bit codes, others as per cent of a waveform in narrow range (--in says
it outright). Grey alone can't tell curves apart that share it.`,
		Example: "  lampwise curves find --grey 41 --white 61\n  lampwise curves find --grey 420 --white 598 --black 95",
		Args:    exactly(0, "no arguments"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			q := colour.CurveQuery{Unit: colour.NarrowPercent}
			given := func(flag string, v *float64, to **float64) {
				if cmd.Flags().Changed(flag) {
					*to = v
					if in == "auto" && *v > 110 {
						q.Unit = colour.Code10
					}
				}
			}
			if err := oneOf("--in", in, "auto", "percent", "code"); err != nil {
				return err
			}
			if in == "code" {
				q.Unit = colour.Code10
			}
			given("grey", &grey, &q.Grey)
			given("white", &white, &q.White)
			given("black", &black, &q.Black)
			if q.Grey != nil && q.White != nil && in == "auto" && (grey > 110) != (white > 110) {
				return fault.New(fault.Usage, "level-unit", "Give both as 10-bit codes or both as per cent; --in says which they are.",
					"grey %v and white %v: one looks like a 10-bit code, the other like per cent", grey, white)
			}
			return a.findCurves(q)
		},
	}
	f := cmd.Flags()
	f.Float64Var(&grey, "grey", 0, "level of an 18 % grey card")
	f.Float64Var(&white, "white", 0, "level of a 90 % white card")
	f.Float64Var(&black, "black", 0, "level of black, the lens capped")
	f.StringVar(&in, "in", "auto", "what the figures are: auto, percent or code")
	return cmd
}

// matchJSON is one curve of `curves find --json`, nearest first.
type matchJSON struct {
	ID     string             `json:"id"`
	Fits   bool               `json:"fits"`      // every figure within rounding
	RMS    float64            `json:"rms_codes"` // root mean square of the misses, 10-bit codes
	Misses map[string]float64 `json:"misses_codes"`
	Alike  []string           `json:"alike"`   // other curves that fit as well
	TellBy []string           `json:"tell_by"` // figures that would tell them apart
}

func (a *app) findCurves(q colour.CurveQuery) error {
	matches, err := colour.FindCurves(q)
	if err != nil {
		return err
	}
	answer := struct {
		Unit    colour.LevelUnit `json:"unit"`
		Matches []matchJSON      `json:"matches"`
	}{Unit: q.Unit}
	for _, m := range matches {
		j := matchJSON{ID: m.Curve.ID, Fits: m.Fits, RMS: round(float64(m.RMS), 2), Misses: map[string]float64{}, Alike: append([]string{}, m.Alike...), TellBy: []string{}}
		for _, x := range m.Misses {
			j.Misses[string(x.Anchor)] = round(float64(x.Miss()), 2)
		}
		for _, n := range m.TellBy {
			j.TellBy = append(j.TellBy, string(n))
		}
		answer.Matches = append(answer.Matches, j)
	}
	return a.answer(answer, func(w io.Writer) {
		fmt.Fprintf(w, "figures taken as %s; nearest first\n", map[colour.LevelUnit]string{colour.NarrowPercent: "per cent of a narrow-range waveform", colour.Code10: "10-bit codes"}[q.Unit])
		const shown = 6
		table(w, func(line func(...string)) {
			for i, m := range answer.Matches {
				if i >= shown && !m.Fits {
					break
				}
				verdict := ""
				if m.Fits {
					verdict = "fits"
				}
				var misses []string
				for _, anchor := range []string{"black", "grey", "white"} {
					if x, ok := m.Misses[anchor]; ok {
						misses = append(misses, fmt.Sprintf("%s off by %s", anchor, signed(x, 1)))
					}
				}
				line(m.ID, verdict, fmt.Sprintf("%.1f codes", m.RMS), strings.Join(misses, ", "))
			}
		})
		if first := answer.Matches[0]; first.Fits && len(first.Alike) > 0 {
			fmt.Fprintf(w, "These figures can't tell %s from %s", first.ID, strings.Join(first.Alike, ", "))
			if len(first.TellBy) > 0 {
				fmt.Fprintf(w, "; add --%s", strings.Join(first.TellBy, " or --"))
			}
			fmt.Fprintln(w, ".")
		}
		if !answer.Matches[0].Fits {
			fmt.Fprintln(w, "None fits within rounding. Are the figures for this unit? lampwise curves fit measures the camera itself.")
		}
	})
}
