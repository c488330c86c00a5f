package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"lampwise/internal/job"
)

func (a *app) exposureCommand() *cobra.Command {
	r := job.ExposureRequest{}
	cmd := &cobra.Command{
		Use:   "exposure",
		Short: "what an exposure is for: lux, ND, mains-safe shutters, a curve's card",
		Long: `Computes an exposure by ISO 2720: the light it is for as an incident and as a
reflected meter reads it, what a measured light comes to in stops, the f-number or
ND for it, which shutters the mains don't show at; and with --curve a card for a
log curve: reflectances in stops, codes and per cent of the waveform, and where to
set the camera's zebra.`,
		Example: `  lampwise exposure --f 2.8 --sensitivity 800 --lux 500
  lampwise exposure --f 4 --sensitivity 640 --rate 24 --shutter 172.8 --curve log-420`,
		Args: exactly(0, "no arguments"),
		RunE: func(*cobra.Command, []string) error {
			e, err := job.Exposure(r)
			if err != nil {
				return err
			}
			return a.answer(e, func(w io.Writer) { exposureFiguresText(w, e) })
		},
	}
	f := cmd.Flags()
	f.Float64Var(&r.F, "f", 2.8, "f-number")
	f.Float64Var(&r.Transmission, "transmission", 1, "part of the light the lens lets through (T = f/√τ)")
	f.Float64Var(&r.Angle, "shutter", 180, "shutter angle in degrees")
	f.Float64Var(&r.Time, "time", 0, "exposure time in seconds, instead of the angle")
	f.Float64Var(&r.Rate, "rate", 25, "pictures a second")
	f.Float64Var(&r.Sensitivity, "sensitivity", 800, "ISO sensitivity or exposure index")
	f.Float64Var(&r.ND, "nd", 0, "ND filter, in stops")
	f.Float64Var(&r.Mains, "mains", 50, "the mains' frequency: 50 or 60 Hz")
	f.Float64Var(&r.Lux, "lux", 0, "measured incident light, lx")
	f.Float64Var(&r.Luminance, "luminance", 0, "measured luminance, cd/m² (a spot meter's)")
	f.StringVar(&r.Curve, "curve", "", "camera curve, for its exposure card")
	return cmd
}

func exposureFiguresText(w io.Writer, e *job.ExposureFigures) {
	exposureText(w, &e.PlannedExposure)
	fmt.Fprintf(w, "  an incident meter with a flat receptor (C = 250) reads %.0f lx, one with a dome (C = 340) %.0f lx; a reflected meter (K = 12.5) %.3g cd/m²; EV %.1f at 100\n", e.GreyLux, e.Hemisphere, e.ReflectedGrey, e.EV100)
	fmt.Fprintf(w, "  K and C agree on a grey of %.1f %%, 0.20 stop under a grey card\n", 100*e.Implied)
	if e.Lux != nil {
		fmt.Fprintf(w, "%.4g lx: a grey card reads %+.2f stop; at grey with f/%.2g", *e.Lux, *e.LuxStops, *e.FForLux)
		if e.NDForLux != nil {
			fmt.Fprintf(w, ", or with ND of %.1f stop", *e.NDForLux)
		}
		fmt.Fprintln(w)
	}
	if e.Spot != nil {
		fmt.Fprintf(w, "what has that luminance reads %+.2f stop from grey\n", *e.Spot)
	}
	if e.Card == nil {
		return
	}
	fmt.Fprintf(w, "\nExposure card of %s\n", e.Card.Curve)
	table(w, func(line func(...string)) {
		line("  what", "reflects", "stops", "code (10 bits)", "waveform")
		for _, r := range e.Card.Rows {
			stops := "none"
			if r.Stops != nil {
				stops = fmt.Sprintf("%+.1f", *r.Stops)
			}
			line("  "+r.Name, fmt.Sprintf("%.0f %%", 100*r.Reflectance), stops, fmt.Sprintf("%.0f", r.Code), fmt.Sprintf("%.1f %%", r.Percent))
		}
	})
	fmt.Fprintf(w, "Zebra: light skin between %.0f and %.0f %%; clip warning from %.0f %% (a third of a stop under the curve's end at %+.1f; the camera itself may clip before: learn measures it)\n", e.Card.ZebraSkin[0], e.Card.ZebraSkin[1], e.Card.ZebraClip, e.Card.TopStops)
}
