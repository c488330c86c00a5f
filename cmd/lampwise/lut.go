package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/job"
	"lampwise/internal/picture"
)

func (a *app) lutCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:     "lut",
		Short:   "grade → LUT file; inspect a LUT",
		Example: "  lampwise lut bake lesson.toml -o monitor.cube --size 33\n  lampwise lut inspect found.cube --curve log-420",
		Args:    exactly(0, "bake or inspect"),
		RunE:    func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.AddCommand(a.lutBakeCommand(), a.lutInspectCommand())
	return cmd
}

func (a *app) lutBakeCommand() *cobra.Command {
	var r job.BakeRequest
	var levels, interp string
	cmd := &cobra.Command{
		Use:   "bake GRADE -o OUT",
		Short: "a grade as one LUT, for a camera's screen or an editing program",
		Long: `Bakes a grade into one 3-D LUT, without the vignette. The error against the exact
path is measured and written into the file's head: fine for a camera's screen,
but a finished file is better rendered.`,
		Example: "  lampwise lut bake lesson.toml -o monitor.cube --size 33\n  lampwise lut bake lesson.toml -o monitor.clf --size 65 --levels video",
		Args:    exactly(1, "one grade"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Grade, r.Levels, r.Interp = args[0], colour.Levels(levels), picture.Interp(interp)
			if r.Out == "" {
				return fault.New(fault.Usage, "arguments", cmd.CommandPath()+" --help shows an example.", "name the file to write with -o")
			}
			if err := oneOf("--levels", levels, "data", "video"); err != nil {
				return err
			}
			if err := oneOf("--interpolation", interp, "tetrahedral", "trilinear"); err != nil {
				return err
			}
			baked, err := job.BakeLUT(r)
			if err != nil {
				return err
			}
			return a.answer(baked, func(w io.Writer) {
				fmt.Fprintf(w, "%s: %d×%d×%d, input at %s levels\n", baked.File, baked.Size, baked.Size, baked.Size, baked.Levels)
				fmt.Fprintf(w, "against the exact path: ΔE00 %.2f in the mean, %.1f at most, neutrals within %.1f codes of 10 bits\n",
					baked.Error.MeanDE, baked.Error.MaxDE, baked.Error.Neutral)
				for _, n := range baked.Notes {
					fmt.Fprintf(w, "note: %s\n", n)
				}
			})
		},
	}
	f := cmd.Flags()
	f.StringVarP(&r.Out, "out", "o", "", "the LUT to write, .cube or .clf")
	f.IntVar(&r.Size, "size", 33, "grid points a side; 17, 33 and 65 are usual")
	f.StringVar(&levels, "levels", "data", "what the LUT's input 0..1 is: data (code/1023) or video (code 64..940)")
	f.StringVar(&interp, "interpolation", "tetrahedral", "how it will be looked up: tetrahedral or trilinear")
	f.BoolVar(&r.Overwrite, "overwrite", false, "replace a file that stands there")
	return cmd
}
