package main

import (
	"fmt"
	"io"
	"math"
	"strconv"

	"github.com/spf13/cobra"

	"lampwise/internal/colour"
)

func (a *app) curvesCommand() *cobra.Command {
	var all bool
	cmd := &cobra.Command{
		Use:   "curves",
		Short: "list, find or fit camera log curves",
		Long: `Lists the camera log curves lampwise knows. A curve is named log-NNN after the
10-bit code it records an 18 % grey card at. Codes are as a file stores them;
per cent are as a waveform in narrow range reads them (0 % = code 64, 100 % = 940).`,
		Example: "  lampwise curves\n  lampwise curves find --grey 41 --white 61\n  lampwise curves fit --readings bracket.csv",
		Args:    exactly(0, "no arguments"),
		RunE:    func(*cobra.Command, []string) error { return a.listCurves(all) },
	}
	cmd.Flags().BoolVar(&all, "all", false, "also working, display and scene curves")
	cmd.AddCommand(a.curvesFindCommand(), a.curvesFitCommand())
	return cmd
}

// curveJSON is one curve of `curves --json`.
type curveJSON struct {
	ID      string             `json:"id"`
	Kind    colour.CurveKind   `json:"kind"`
	Codes   map[string]int     `json:"codes"`     // reflectance % → nearest 10-bit code
	Percent map[string]float64 `json:"percent"`   // reflectance % → narrow-range per cent
	Top     float64            `json:"top_stops"` // stops above grey at the last code
	Gamuts  []string           `json:"gamuts"`
	Levels  colour.Levels      `json:"levels"` // what the curve is defined on
	Source  string             `json:"source"`
	Note    string             `json:"note,omitempty"`
}

func (a *app) listCurves(all bool) error {
	var answer struct {
		Curves []curveJSON `json:"curves"`
	}
	for _, c := range colour.Curves() {
		if !all && c.Kind != colour.KindCamera {
			continue
		}
		j := curveJSON{
			ID: c.ID, Kind: c.Kind, Codes: map[string]int{}, Percent: map[string]float64{},
			Gamuts: c.Gamuts, Levels: c.Levels, Source: c.Source, Note: c.Note, Top: math.Round(100*float64(c.StopsAtTop())) / 100,
		}
		for _, r := range []int{0, 18, 90} {
			key := strconv.Itoa(r)
			j.Codes[key] = int(math.Round(float64(c.Code10(float64(r) / 100))))
			j.Percent[key] = math.Round(10*float64(c.NarrowPercent(float64(r)/100))) / 10
		}
		answer.Curves = append(answer.Curves, j)
	}
	return a.answer(answer, func(w io.Writer) {
		table(w, func(line func(...string)) {
			line("curve", "black 0 %", "grey 18 %", "white 90 %", "waveform 0 / 18 / 90 %", "last code", "gamuts")
			for _, c := range answer.Curves {
				line(c.ID, code(c.Codes["0"]), code(c.Codes["18"]), code(c.Codes["90"]),
					fmt.Sprintf("%.1f / %.1f / %.1f %%", c.Percent["0"], c.Percent["18"], c.Percent["90"]),
					fmt.Sprintf("%+.1f stops", c.Top), join(c.Gamuts))
			}
		})
		fmt.Fprintln(w, "\nCodes are 10-bit, as stored. “last code” is the curve's end: an upper bound, since a sensor often clips before it.")
	})
}

func code(c int) string { return strconv.Itoa(c) }

// join lists words with spaces; a dash stands for none.
func join(words []string) string {
	if len(words) == 0 {
		return "–"
	}
	s := words[0]
	for _, w := range words[1:] {
		s += " " + w
	}
	return s
}
