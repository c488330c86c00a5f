package job

import (
	"fmt"

	"lampwise/internal/media"
	"lampwise/internal/picture"
)

// madePart is which part of its source a finished file is of, and its size.
type madePart struct {
	first, count  int
	cut           bool
	width, height int
	resizer       *picture.Resizer // nil: the source's own size
	filter        picture.Filter
	note          string
}

// partIn reads what a finished file says of itself (deliver writes it), and
// sets the program to write as the file is written. A file that says nothing
// is of the whole source.
func (w *Work) partIn(info *media.Info) madePart {
	p := madePart{count: w.Info.Video.Frames, width: w.Format.Width, height: w.Format.Height}
	made, ok := parseMade(info.Tags["comment"])
	if !ok || made.first+made.count > w.Info.Video.Frames {
		return p
	}
	p.first, p.count, p.cut = made.first, made.count, made.count < w.Info.Video.Frames
	if p.cut {
		p.note = fmt.Sprintf("the file is of frames %d to %d of the source", made.first, made.first+made.count-1)
	}
	own := w.Program.OutputFormat(w.Format)
	final := w.Program.Output
	final.Bits, final.Sub = info.Video.Bits, info.Video.Sub
	if made.width == p.width && made.height == p.height {
		if own.Bits != final.Bits || own.Sub != final.Sub {
			w.Program.Output = final
		}
		return p
	}
	own.Bits, own.Sub = resizeBits, final.Sub
	r, err := picture.NewResizer(own, made.width, made.height, made.filter, final)
	if err != nil {
		return p
	}
	p.width, p.height, p.filter, p.resizer = made.width, made.height, made.filter, r
	w.Program.Output.Bits, w.Program.Output.Sub, w.Program.Output.Dither = resizeBits, final.Sub, picture.DitherNone
	return p
}

// format is that of the file's frames, of the program's.
func (p madePart) format(full picture.Format) picture.Format {
	if p.resizer == nil {
		return full
	}
	return p.resizer.Format()
}

// resize brings frames to the file's size in place.
func (p madePart) resize(frames []*picture.Frame) error {
	if p.resizer == nil {
		return nil
	}
	for i, f := range frames {
		out := picture.NewFrame(p.resizer.Format())
		if err := p.resizer.Run(f, out); err != nil {
			return err
		}
		frames[i] = out
	}
	return nil
}

// exact is the exact picture at the file's size, by the plain form of the filter.
func (p madePart) exact(at func(x, y int) [3]float64, full picture.Format) func(x, y int) [3]float64 {
	if p.resizer == nil {
		return at
	}
	im := picture.NewImage(full.Width, full.Height, picture.SpaceDisplay)
	parallel(full.Height, func(y int) {
		for x := range full.Width {
			im.Set(x, y, at(x, y))
		}
	})
	small := picture.ResizePlain(im, p.width, p.height, p.filter)
	return func(x, y int) [3]float64 { return small.At(x, y) }
}
