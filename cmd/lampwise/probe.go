package main

import (
	"context"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"lampwise/internal/job"
	"lampwise/internal/media"
)

func (a *app) probeCommand() *cobra.Command {
	var curve string
	cmd := &cobra.Command{
		Use:   "probe CLIP",
		Short: "what a clip is",
		Long: `Tells what a clip is: picture, sound, tags, what had to be assumed, and whether
its metadata hints at the recording curve. Say the curve once with --curve: it is
remembered for clips whose metadata looks the same.`,
		Example: "  lampwise probe lesson-12.mov\n  lampwise probe lesson-12.mov --curve log-420",
		Args:    exactly(1, "one clip"),
		RunE:    func(cmd *cobra.Command, args []string) error { return a.probe(cmd.Context(), args[0], curve) },
	}
	cmd.Flags().StringVar(&curve, "curve", "", "remember that clips like this one are recorded with this curve")
	return cmd
}

// probeJSON is `probe --json`: the clip's facts and the curve that was said.
type probeJSON struct {
	*media.Info
	Curve      string `json:"curve,omitempty"` // as said for clips like this one
	Remembered bool   `json:"curve_remembered,omitempty"`
}

func (a *app) probe(ctx context.Context, path, curve string) error {
	info, err := media.Probe(ctx, path)
	if err != nil {
		return err
	}
	answer := probeJSON{Info: info, Curve: curve}
	if curve != "" || info.HintKey != "" {
		s, err := a.openStore(ctx)
		if err != nil {
			return err
		}
		defer s.Close()
		if curve != "" {
			answer.Remembered, err = job.SayCurve(ctx, s, info, curve)
		} else {
			answer.Curve, err = job.SaidCurve(ctx, s, info)
		}
		if err != nil {
			return err
		}
	}
	return a.answer(answer, func(w io.Writer) { probeText(w, answer) })
}

func probeText(w io.Writer, p probeJSON) {
	v := p.Video
	table(w, func(line func(...string)) {
		line("file", p.Path)
		line("container", fmt.Sprintf("%s, %s, %s", p.ContainerName, job.Span(seconds(p.Duration)), job.Size(p.SizeBytes)))
		rate := fmt.Sprintf("%.3f frames/s", v.Rate.Float())
		if v.VariableRate {
			rate += " in the mean, varying"
		}
		line("picture", fmt.Sprintf("%d×%d, %s, %d frames", v.Width, v.Height, rate, v.Frames))
		codec := v.Codec
		if v.Profile != "" {
			codec += " (" + v.Profile + ")"
		}
		line("codes", fmt.Sprintf("%s, %d bits, %s, %s range%s", codec, v.Bits, v.Sub, v.Range, tagged(v.RangeTagged)))
		line("colour tags", fmt.Sprintf("matrix %s%s, transfer %s, primaries %s, chroma %s%s",
			v.Matrix, tagged(v.MatrixTagged), said(v.Transfer), said(v.Primaries), v.Siting, tagged(v.SitingTagged)))
		if v.Rotation != 0 {
			line("rotation", fmt.Sprintf("%d° clockwise for display", v.Rotation))
		}
		if p.Timecode != "" {
			line("timecode", p.Timecode)
		}
		for _, s := range p.Audio {
			line("sound", fmt.Sprintf("%s, %d Hz, %d channels", s.Codec, s.Rate, s.Channels))
		}
		if len(p.Audio) == 0 {
			line("sound", "none")
		}
		if n := len(p.Chapters); n > 0 {
			line("chapters", fmt.Sprint(n))
		}
		for _, h := range p.Hints {
			line("curve hint", fmt.Sprintf("%s: %s", h.Key, h.Value))
		}
		switch {
		case p.Curve != "" && p.Remembered:
			line("curve", p.Curve+", remembered for clips with these hints")
		case p.Curve != "" && p.HintKey == "":
			line("curve", p.Curve+", not remembered: nothing in the clip's metadata hints at its curve")
		case p.Curve != "":
			line("curve", p.Curve+", as you said of clips with these hints")
		case len(p.Hints) > 0:
			line("curve", "not said yet: lampwise probe CLIP --curve ID remembers it for clips with these hints")
		}
	})
	for _, n := range p.Notes {
		fmt.Fprintf(w, "note: %s\n", n.Message)
	}
}

func tagged(is bool) string {
	if is {
		return ""
	}
	return " (assumed)"
}

func said(s string) string {
	if s == "" {
		return "not said"
	}
	return s
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
