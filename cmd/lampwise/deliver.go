package main

import (
	"context"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/pflag"

	"lampwise/internal/fault"
	"lampwise/internal/job"
	"lampwise/internal/picture"
)

// deliverFlags are render's flags that make it a delivery: several files, a
// stretch of the clip, another size.
type deliverFlags struct {
	as       []string
	from, to string
	fit      string
	filter   string
}

func (d *deliverFlags) add(f *pflag.FlagSet) {
	f.StringArrayVar(&d.as, "as", nil, "a finished file by a preset, PRESET:FILE; may be given several times: one decoding serves all ("+presetNames()+")")
	f.StringVar(&d.from, "from", "", "first frame, by timecode (01:00:10:00) or time (1:02.5)")
	f.StringVar(&d.to, "to", "", "first frame that is left out")
	f.StringVar(&d.fit, "fit", "", "largest size, WIDTHxHEIGHT; never enlarged")
	f.StringVar(&d.filter, "filter", "lanczos", "how a picture is made smaller: lanczos (sharper) or cubic (softer)")
}

func presetNames() string {
	var names []string
	for _, p := range job.Presets {
		names = append(names, p.Name)
	}
	return strings.Join(names, ", ")
}

func (d *deliverFlags) used() bool { return len(d.as) > 0 || d.from != "" || d.to != "" || d.fit != "" }

// request makes the delivery of a render request and the flags.
func (d *deliverFlags) request(r job.RenderRequest, soundGiven bool) (job.DeliverRequest, error) {
	out := job.DeliverRequest{Clip: r.Clip, Grade: r.Grade, From: d.from, To: d.to, Overwrite: r.Overwrite, Threads: r.Threads}
	if err := oneOf("--filter", d.filter, "lanczos", "cubic"); err != nil {
		return out, err
	}
	width, height := 0, 0
	if d.fit != "" {
		if n, err := fmt.Sscanf(d.fit+" ", "%dx%d ", &width, &height); err != nil || n != 2 || width < 2 || height < 2 || width > picture.MaxSide || height > picture.MaxSide {
			return out, fault.New(fault.Usage, "flag", "For example --fit 1920x1080.", "--fit: %q is no size", d.fit)
		}
	}
	for _, as := range d.as {
		name, file, ok := strings.Cut(as, ":")
		if !ok || file == "" {
			return out, fault.New(fault.Usage, "flag", "For example --as web-1080p:lesson.mp4.", "--as: %q is no preset with a file", as)
		}
		p, err := job.PresetDelivery(name, file)
		if err != nil {
			return out, err
		}
		p.Speed = r.Speed
		if soundGiven {
			p.Sound = r.Sound
		}
		out.Outputs = append(out.Outputs, p)
	}
	if r.Out != "" {
		out.Outputs = append(out.Outputs, job.Delivery{Out: r.Out, Codec: r.Codec, Quality: r.Quality, BitRate: r.BitRate, Speed: r.Speed, Sound: r.Sound})
	}
	for i := range out.Outputs {
		o := &out.Outputs[i]
		o.Filter = picture.Filter(d.filter)
		if d.fit != "" && (o.Width == 0 || width < o.Width || height < o.Height) {
			o.Width, o.Height = width, height
		}
	}
	return out, nil
}

func (a *app) deliver(ctx context.Context, r job.DeliverRequest, estimate bool) error {
	if estimate {
		r.Told = func(e job.Estimate) {
			a.note("This will take about %s and make files of about %s together (from %d frames rendered for trial).",
				job.Span(seconds(e.Seconds)), job.Size(e.Bytes), e.Frames)
			for _, d := range e.Doubts {
				a.note("Is the clip read rightly? %s", d)
			}
		}
	}
	report, end := a.progress()
	done, err := job.Deliver(ctx, r, report)
	end()
	if err != nil {
		return err
	}
	return a.answer(done, func(w io.Writer) {
		at := ""
		if done.Timecode != "" {
			at = " from " + done.Timecode
		}
		fmt.Fprintf(w, "%d frames%s, decoded once, in %s\n", done.Frames, at, took(done.Seconds, done.Prepare, done.Rate))
		for _, f := range done.Files {
			fmt.Fprintf(w, "%s: %d×%d, %d bits %s, %s\n", f.File, f.Width, f.Height, f.Bits, f.Sub, job.Size(f.Bytes))
		}
		for _, n := range done.Notes {
			fmt.Fprintf(w, "note: %s\n", n)
		}
	})
}
