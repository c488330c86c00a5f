package job

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"lampwise/internal/fault"
	"lampwise/internal/media"
	"lampwise/internal/picture"
)

// DeliverRequest is one clip, one grade and several finished files, all made
// from one decoding; with From or To only a stretch of the clip.
type DeliverRequest struct {
	Clip, Grade string
	Outputs     []Delivery
	From, To    string // timecode or time; From is the first frame, To the first that is left out; empty: the clip's ends
	Overwrite   bool
	Threads     int // for each of decoder, kernel and encoders; 0: all cores
	Told        func(Estimate)
}

// Delivered is what came of it.
type Delivered struct {
	Clip     string            `json:"clip"`
	First    int               `json:"first_frame"`
	Frames   int64             `json:"frames"`
	Timecode string            `json:"timecode,omitempty"` // of the first frame
	Seconds  float64           `json:"seconds"`            // all in all
	Prepare  float64           `json:"prepare_seconds"`    // of them, before the first frame
	Rate     float64           `json:"frames_per_second"`
	Error    *picture.Measured `json:"error"`
	Estimate *Estimate         `json:"estimate,omitempty"`
	Files    []DeliveredFile   `json:"files"`
	Notes    []string          `json:"notes"`
}

// DeliveredFile is one of the finished files.
type DeliveredFile struct {
	File       string  `json:"file"`
	Preset     string  `json:"preset,omitempty"`
	Width      int     `json:"width"`
	Height     int     `json:"height"`
	Bits       int     `json:"bits"`
	Sub        string  `json:"subsampling"`
	Bytes      int64   `json:"bytes"`
	SoundStart float64 `json:"sound_start_s"` // how long after the first frame the sound begins
}

// mostOutputs bounds how many encoders run beside each other.
const mostOutputs = 8

// Deliver makes the files. Each has its final name once it is whole; when one
// cannot be finished, those that were are said to stand, and the rest leave
// nothing behind.
func Deliver(ctx context.Context, r DeliverRequest, report Progress) (*Delivered, error) {
	began := time.Now()
	if n := len(r.Outputs); n < 1 || n > mostOutputs {
		return nil, fault.New(fault.Usage, "outputs", "Name one for each finished file.", "%d outputs; between 1 and %d can be made at a time", n, mostOutputs)
	}
	names := map[string]bool{}
	for _, o := range r.Outputs {
		full, err := filepath.Abs(o.Out)
		if err != nil {
			return nil, storageFault(o.Out, err)
		}
		if names[full] {
			return nil, fault.New(fault.Usage, "outputs", "Give each a name of its own.", "%s is named twice", o.Out)
		}
		names[full] = true
		if !r.Overwrite {
			if err := absent(o.Out); err != nil {
				return nil, err
			}
		}
	}
	w, err := Open(ctx, r.Clip, r.Grade)
	if err != nil {
		return nil, err
	}
	s, err := stretchOf(w.Info, r.From, r.To)
	if err != nil {
		return nil, err
	}
	outlets, err := w.outlets(r, s)
	if err != nil {
		return nil, err
	}
	done := &Delivered{Clip: r.Clip, First: s.first, Timecode: s.timecode, Notes: append([]string{}, w.Notes...), Error: w.Program.Error}
	done.Notes = append(done.Notes, s.notes...)
	doubts, err := w.doubtNotes(ctx)
	if err != nil {
		return nil, err
	}
	done.Notes = append(done.Notes, doubts...)
	if r.Told != nil {
		e, err := w.tryOutlets(ctx, r, s, outlets)
		if err != nil {
			return nil, err
		}
		e.Doubts = doubts
		done.Estimate = &e
		r.Told(e)
	}
	from := media.ReadOptions{Info: w.Info, Override: Override(w.Grade), Threads: r.Threads, Start: s.first, Count: s.count}
	run, err := w.fan(ctx, from, outlets, newPace(report, "render", "frames", int64(s.count)))
	if err != nil {
		return nil, err
	}
	done.Frames = run.frames
	done.Notes = append(done.Notes, run.warnings...)
	for _, o := range outlets {
		f := DeliveredFile{File: o.delivery.Out, Preset: o.delivery.Preset, Width: o.format.Width, Height: o.format.Height, Bits: o.format.Bits, Sub: string(o.format.Sub)}
		if st, err := os.Stat(o.delivery.Out); err == nil {
			f.Bytes = st.Size()
		}
		if s.cut && len(w.Info.Audio) > 0 && o.delivery.Sound != media.SoundNone {
			info, err := media.Probe(ctx, o.delivery.Out)
			if err != nil {
				return nil, err
			}
			f.SoundStart = media.SoundStart(info)
			if f.SoundStart > 0.0005 {
				done.Notes = append(done.Notes, fmt.Sprintf("%s: sound begins %.1f ms after the first frame, with its first whole packet (in step; encoded anew, --sound aac, it is cut to the sample)", o.delivery.Out, 1000*f.SoundStart))
			}
		}
		done.Files = append(done.Files, f)
	}
	done.Seconds = time.Since(began).Seconds()
	done.Prepare = done.Seconds - run.wall.Seconds()
	done.Rate = float64(run.frames) / run.wall.Seconds()
	return done, nil
}

// outlet is one finished file in the making.
type outlet struct {
	delivery Delivery
	options  media.WriteOptions
	format   picture.Format // of the file
	graded   *graded
	resizer  *picture.Resizer // nil: at the clip's size
	writer   *media.Writer
	ready    chan *picture.Frame
	free     chan *picture.Frame
}

// graded is the clip's own size written in one way, shared by the outlets that need it.
type graded struct {
	kernel executor
	frame  *picture.Frame
}

// resizeBits is the depth of the picture a resizer is given: its rounding is
// then a quarter of a code of 10 bits, and dither is added once, at the end.
const resizeBits = 12

func (w *Work) outlets(r DeliverRequest, s clipStretch) ([]*outlet, error) {
	// What was asked for is looked at before the tables are made, which takes seconds.
	var err error
	made := map[picture.Output]*graded{}
	var out []*outlet
	for _, d := range r.Outputs {
		output := w.Program.Output
		if d.Bits != 0 {
			output.Bits = d.Bits
		}
		if d.Sub != "" {
			output.Sub = d.Sub
		}
		width, height := w.Format.Width, w.Format.Height
		if d.Width > 0 {
			width, height = picture.FitWithin(w.Format, d.Width, d.Height)
		}
		o := &outlet{delivery: d, format: w.Program.OutputFormat(w.Format)}
		o.format.Width, o.format.Height, o.format.Bits, o.format.Sub = width, height, output.Bits, output.Sub
		own := output
		if resized := width != w.Format.Width || height != w.Format.Height; resized {
			own.Bits, own.Dither = resizeBits, picture.DitherNone
			in := w.Program.OutputFormat(w.Format)
			in.Bits, in.Sub = own.Bits, own.Sub
			if o.resizer, err = picture.NewResizer(in, width, height, d.filter(), output); err != nil {
				return nil, err
			}
		}
		if o.graded = made[own]; o.graded == nil {
			format := w.Program.OutputFormat(w.Format)
			format.Bits, format.Sub = own.Bits, own.Sub
			o.graded = &graded{frame: picture.NewFrame(format)}
			made[own] = o.graded
		}
		if err := o.writeOptions(w, r, s); err != nil {
			return nil, err
		}
		if err := media.CheckWrite(d.Out, o.options); err != nil {
			return nil, err
		}
		out = append(out, o)
	}
	base, err := w.Kernel(r.Threads)
	if err != nil {
		return nil, err
	}
	for own, g := range made {
		k, err := base.(counted).To(own)
		if err != nil {
			return nil, err
		}
		g.kernel = counted{k, newCount(k)}
	}
	return out, nil
}

func (o *outlet) writeOptions(w *Work, r DeliverRequest, s clipStretch) error {
	d := o.delivery
	single := RenderRequest{Clip: r.Clip, Grade: r.Grade, Out: d.Out, Codec: d.Codec, Quality: d.Quality, BitRate: d.BitRate, Speed: d.Speed, Sound: d.Sound, Overwrite: r.Overwrite, Threads: r.Threads}
	var err error
	if o.options, err = single.options(w); err != nil {
		return err
	}
	o.options.Format = o.format
	o.options.Display = scaledDisplay(w.Info.Video.Display, w.Format, o.format)
	o.options.Timecode = s.timecode
	if s.cut {
		o.options.Cut = &media.Cut{From: w.Info.FrameTime(s.first), Length: s.length(w.Info)}
	}
	o.options.Tags["comment"] += madeNote{first: s.first, count: s.count, width: o.format.Width, height: o.format.Height, filter: d.filter()}.String()
	return nil
}

// scaledDisplay is a display matrix for a picture of another size: its last row
// moves the turned picture back by a side, in 1/65536 pixel.
func scaledDisplay(m *[9]int32, from, to picture.Format) *[9]int32 {
	if m == nil || from.Width == to.Width && from.Height == to.Height {
		return m
	}
	out := *m
	for _, i := range []int{6, 7} {
		switch m[i] {
		case 0:
		case int32(from.Height) << 16:
			out[i] = int32(to.Height) << 16
		case int32(from.Width) << 16:
			out[i] = int32(to.Width) << 16
		default:
			out[i] = int32(int64(m[i]) * int64(to.Width) / int64(from.Width))
		}
	}
	return &out
}
