package job

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"

	"lampwise/internal/media"
	"lampwise/internal/picture"
)

// Where the sampled stretches begin, as parts of the clip, and their length.
const (
	stretchCount  = 3
	stretchFrames = 2
)

// codecAllowance is by how much the file may be further from the exact path
// than its twin is, which was encoded from the exact picture with the same
// settings: the two are coded in other groups of pictures, so their noise is
// not the same.
const (
	codecAllowanceMean = 0.15
	codecAllowanceMax  = 1.5
)

func (v *Verified) comparePicture(ctx context.Context, w *Work, info *media.Info, part madePart, frames int, report Progress) error {
	kernel, err := w.Kernel(0)
	if err != nil {
		return err
	}
	settings, known := parseSettings(info.Tags["comment"])
	c := &Compared{SameCodec: known}
	v.Compared = c
	if !known {
		v.Notes = append(v.Notes, "the file does not say how it was encoded: its twin is encoded with the usual settings")
	}
	var file, twin, arithmetic difference
	n := min(stretchFrames, frames)
	p := newPace(report, "compare with the exact path", "frames", int64(stretchCount*n))
	width, height := part.width, part.height
	for k := range min(stretchCount, frames/n) {
		start := (frames - n) * k / max(1, stretchCount-1)
		c.Stretches = append(c.Stretches, [2]float64{w.Info.FrameTime(part.first + start), w.Info.FrameTime(part.first + start + n - 1)})
		s := stretch{w: w, kernel: kernel, part: part, start: start, count: n}
		if err := s.read(ctx, info, settings); err != nil {
			return err
		}
		for i := range s.source {
			exact := squares(width, height, part.exact(exactFrame(w.Path, w.Program, s.source[i]), w.Format))
			file.merge(compare(exact, squares(width, height, s.file[i].RGB)))
			twin.merge(compare(exact, squares(width, height, s.twin[i].RGB)))
			arithmetic.merge(compare(squares(width, height, s.plain[i].RGB), squares(width, height, s.fast[i].RGB)))
			c.ArithCodes = math.Max(c.ArithCodes, codeDifference(s.fast[i], s.plain[i]))
			c.Frames++
			p.at(int64(c.Frames))
		}
	}
	v.MaxDE00, v.MeanDE00 = file.max, file.mean()
	c.CodecMax, c.CodecMean = twin.max, twin.mean()
	c.ArithMax, c.ArithMean = arithmetic.max, arithmetic.mean()
	switch {
	case file.mean() > twin.mean()+codecAllowanceMean || file.max > twin.max+codecAllowanceMax:
		v.problem(fmt.Sprintf("picture is not what the grade makes of the source (the codec alone explains ΔE00 %.2f in the mean, %.2f at most)", twin.mean(), twin.max),
			file.max, "ΔE00 at most", c.Stretches[0][0], c.Stretches[len(c.Stretches)-1][1], "Was it rendered with this grade? Render again.")
	case arithmetic.max > arithmeticLimit:
		v.problem("the fast arithmetic is off the exact path", arithmetic.max, "ΔE00 at most", 0, info.Duration, "Please report it with the grade.")
	}
	return nil
}

// arithmeticLimit is what a program promises of its fast form, in ΔE00.
const arithmeticLimit = 0.5

// stretch is a run of frames: the source's, what the kernel and the plain
// executor make of them, the finished file's, and the twin's.
type stretch struct {
	w            *Work
	kernel       executor
	part         madePart
	start, count int

	source, fast, plain, file, twin []*picture.Frame
}

func (s *stretch) read(ctx context.Context, info *media.Info, o media.WriteOptions) error {
	var err error
	s.source, err = readFrames(ctx, s.w.Info.Path, media.ReadOptions{Info: s.w.Info, Override: Override(s.w.Grade), Start: s.part.first + s.start, Count: s.count})
	if err != nil {
		return err
	}
	if s.file, err = readFrames(ctx, info.Path, media.ReadOptions{Info: info, Start: s.start, Count: s.count}); err != nil {
		return err
	}
	s.source = s.source[:min(len(s.source), len(s.file))]
	s.fast, s.plain = make([]*picture.Frame, len(s.source)), make([]*picture.Frame, len(s.source))
	full := s.w.Program.OutputFormat(s.w.Format)
	format := s.part.format(full)
	for i, f := range s.source {
		// The dither is a function of the frame's number in the whole clip.
		f.Index = s.start + i
		s.fast[i] = picture.NewFrame(full)
		s.fast[i].Index, s.fast[i].Time = f.Index, f.Time
		if err := s.kernel.Run(f, s.fast[i]); err != nil {
			return err
		}
	}
	errs := make([]error, len(s.source))
	parallel(len(s.source), func(i int) {
		s.plain[i] = picture.NewFrame(full)
		s.plain[i].Index, s.plain[i].Time = s.source[i].Index, s.source[i].Time
		errs[i] = s.w.Program.RunWith(s.w.Path.Exact, s.source[i], s.plain[i])
	})
	if err := errors.Join(errs...); err != nil {
		return err
	}
	if err := errors.Join(s.part.resize(s.fast), s.part.resize(s.plain)); err != nil {
		return err
	}
	s.twin, err = s.encodeTwin(ctx, o, format, info)
	return err
}

// encodeTwin encodes the exact stretch as the file was and decodes it again.
func (s *stretch) encodeTwin(ctx context.Context, o media.WriteOptions, format picture.Format, info *media.Info) ([]*picture.Frame, error) {
	folder, err := os.MkdirTemp("", "lampwise-twin-")
	if err != nil {
		return nil, storageFault(os.TempDir(), err)
	}
	defer os.RemoveAll(folder)
	path := filepath.Join(folder, "twin"+filepath.Ext(info.Path))
	o.Format, o.Rate = format, s.w.Info.Video.Rate
	writer, err := media.NewWriter(ctx, path, o)
	if err != nil {
		return nil, err
	}
	defer writer.Abort()
	for _, f := range s.plain {
		if err := writer.Write(f); err != nil {
			return nil, err
		}
	}
	if err := writer.Close(); err != nil {
		return nil, err
	}
	return readFrames(ctx, path, media.ReadOptions{})
}

func readFrames(ctx context.Context, path string, o media.ReadOptions) ([]*picture.Frame, error) {
	r, err := media.OpenReader(ctx, path, o)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	var frames []*picture.Frame
	for {
		f := picture.NewFrame(r.Format())
		err := r.Next(f)
		if errors.Is(err, io.EOF) {
			return frames, nil
		}
		if err != nil {
			return nil, err
		}
		frames = append(frames, f)
	}
}

// parseSettings reads back what settingsNote wrote.
func parseSettings(comment string) (media.WriteOptions, bool) {
	o := media.WriteOptions{Codec: media.CodecH264, Speed: media.SpeedFast}
	var sum string
	n, err := fmt.Sscanf(comment, "lampwise codec=%s quality=%g bitrate=%d speed=%s sound=%s grade=%s", &o.Codec, &o.Quality, &o.BitRate, &o.Speed, &o.Sound, &sum)
	if err != nil || n != 6 {
		return media.WriteOptions{Codec: media.CodecH264, Speed: media.SpeedFast}, false
	}
	return o, true
}

// codeDifference is the largest difference of two frames of one format, in codes.
func codeDifference(a, b *picture.Frame) float64 {
	worst := 0
	for _, p := range [][2][]uint16{{a.Y, b.Y}, {a.Cb, b.Cb}, {a.Cr, b.Cr}} {
		for i, c := range p[0] {
			d := int(c) - int(p[1][i])
			worst = max(worst, d, -d)
		}
	}
	return float64(worst)
}
