package main

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"lampwise/internal/fault"
	"lampwise/internal/job"
)

func (a *app) lensCommand() *cobra.Command {
	r := job.LensRequest{}
	var sensor, frame, drawing string
	var overwrite bool
	cmd := &cobra.Command{
		Use:   "lens",
		Short: "what a lens sees: angle, framing, depth of field, background blur",
		Long: `Computes what a lens of a focal length sees on a sensor: angle of view, what is
in the picture at the subject and at the background, near and far limit of what is
sharp (blur of at most two pixels of the delivered picture), hyperfocal distance,
and how large the background's blur is in per cent of the picture's height.
Distances in metres from the lens, focal length and sensor in millimetres.
--draw FILE.svg draws the picture with a grown person in it, to scale, and the lens's
cone from the side, on an A4 sheet.`,
		Example: `  lampwise lens --focal 35 --f 2.8 --distance 2 --background 4
  lampwise lens --focal 50 --sensor 23.5x13.2 --f 4 --distance 2 --frame 1.6x0.9
  lampwise lens --focal 50 --distance 2.4 --draw framing.svg`,
		Args: exactly(0, "no arguments"),
		RunE: func(*cobra.Command, []string) error {
			var err error
			if r.Sensor, err = twoNumbers(sensor); err != nil {
				return err
			}
			if frame != "" {
				v, err := twoNumbers(frame)
				if err != nil {
					return err
				}
				r.Width, r.Height = v[0], v[1]
			}
			l, err := job.Lens(r)
			if err != nil {
				return err
			}
			if drawing != "" {
				if err := job.DrawLens(l, drawing, overwrite); err != nil {
					return err
				}
				l.File = &drawing
			}
			return a.answer(l, func(w io.Writer) {
				lensText(w, &l.PlannedLens)
				if l.File != nil {
					fmt.Fprintf(w, "  drawn to scale: %s\n", *l.File)
				}
				if l.DistFor != nil {
					fmt.Fprintf(w, "  to frame %s m: this lens from %.2f m, or %.0f mm from %.2f m\n", frame, *l.DistFor, *l.FocalFor, l.Distance)
				}
			})
		},
	}
	f := cmd.Flags()
	f.Float64Var(&r.Focal, "focal", 35, "focal length, mm")
	f.StringVar(&sensor, "sensor", "36x20.25", "width and height of what is recorded, mm")
	f.Float64Var(&r.F, "f", 2.8, "f-number")
	f.Float64Var(&r.Focus, "distance", 2, "distance focused at, m")
	f.Float64Var(&r.Subject, "subject", 0, "distance of the subject, m (default: in focus)")
	f.Float64Var(&r.Background, "background", 0, "distance of the background, m (default: twice as far)")
	f.IntVar(&r.Lines, "lines", 1080, "height of the delivered picture, pixels")
	f.StringVar(&frame, "frame", "", "width and height to be framed, m: 1.6x0.9")
	f.StringVar(&drawing, "draw", "", "draw it to scale as an SVG file")
	f.BoolVar(&overwrite, "overwrite", false, "replace a drawing that is there")
	return cmd
}

// twoNumbers reads "36x20.25".
func twoNumbers(s string) (v [2]float64, err error) {
	a, b, ok := strings.Cut(s, "x")
	if ok {
		if v[0], err = strconv.ParseFloat(strings.TrimSpace(a), 64); err == nil {
			v[1], err = strconv.ParseFloat(strings.TrimSpace(b), 64)
		}
	}
	if !ok || err != nil {
		return v, fault.New(fault.Usage, "numbers", "Two numbers with an x between: 36x20.25", "%q isn't width x height", s)
	}
	return v, nil
}
