package job

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/gauge"
	"lampwise/internal/lamps"
	"lampwise/internal/media"
	"lampwise/internal/picture"
)

// today is a clip or still as a working picture of a set's size.
type today struct {
	light  *lamps.Light
	scale  float64 // pixels of the file for each of the working picture
	frames int
	notes  []string
}

// todayRequest says how a clip or still is to be read for a set of w×h.
type todayRequest struct {
	path       string
	decoding   Decoding
	w, h       int
	clipCode   float64      // of 10 bits; 0: looked for
	signal     colour.Range // the set's clips'
	correlated float64      // frames that share their noise
	step       int          // distance of the frames that are averaged
	threads    int
}

// stillKinds are the names' ends of stills.
var stillKinds = []string{".png", ".tif", ".tiff", ".jpg", ".jpeg", ".exr"}

func isStill(path string) bool {
	return slices.Contains(stillKinds, strings.ToLower(filepath.Ext(path)))
}

func readToday(ctx context.Context, r todayRequest) (*today, error) {
	if isStill(r.path) {
		return readStillToday(ctx, r)
	}
	return readClipToday(ctx, r)
}

// A clip is looked at in a few places, so that a presenter who moves doesn't
// stay in one place; of the places' means the largest and the least are left out.
const (
	todayPlaces = 5
	todayFrames = 4
	// trimmedMean3of5 is the efficiency of the mean of the middle three of five
	// for normal noise, against the mean of all five (from memory; about 0.83).
	trimmedMean3of5 = 0.83
	// lightChange is how far, in stops, the whole light may differ between the
	// places before it is told.
	lightChange = 0.05
)

func readClipToday(ctx context.Context, r todayRequest) (*today, error) {
	info, err := media.Probe(ctx, r.path)
	if err != nil {
		return nil, err
	}
	format := info.FormatWith(r.decoding.Override)
	n, err := r.side(format.Width, format.Height)
	if err != nil {
		return nil, err
	}
	out := &today{scale: float64(n)}
	var finder *gauge.ClipFinder
	if r.clipCode == 0 {
		finder = &gauge.ClipFinder{}
	}
	means, err := r.placeMeans(ctx, info, lightDecoderBy(format, r.decoding, n, r.clipCode), finder, out)
	if err != nil {
		return nil, err
	}
	if finder != nil {
		// Nothing was blown in the switch clip. Should something be today, look again with that known.
		if found := finder.Find(); found.Found {
			out.frames = 0
			if means, err = r.placeMeans(ctx, info, lightDecoderBy(format, r.decoding, n, found.Code), nil, out); err != nil {
				return nil, err
			}
		}
	}
	if s := spreadOf(means); s > lightChange {
		out.notes = append(out.notes, fmt.Sprintf("the light changes by %.2f stop during the clip; what is said is of its middle", s))
	}
	out.light = trimmed(means)
	return out, r.fit(out)
}

// place is a run of frames of which each step-th is averaged.
type place struct{ from, to int }

// placesOf gives the places of a clip of so many frames that are looked at.
func placesOf(count, step int) []place {
	long := step*(todayFrames-1) + 1
	if count < todayPlaces*long {
		return []place{{0, count}}
	}
	var out []place
	for i := range todayPlaces {
		from := min((2*i+1)*count/(2*todayPlaces), count-long)
		out = append(out, place{from, from + long})
	}
	return out
}

// runsOfPlaces joins places that are cheaper decoded in one go than entered
// each by itself: to enter costs what lies between the place and the frame at
// which decoding can begin, and entryCost frames for a decoder of its own.
func runsOfPlaces(info *media.Info, places []place) (runs [][]place) {
	end := 0
	for i, p := range places {
		if i > 0 && info.Entry(p.from) <= end+entryCost {
			runs[len(runs)-1] = append(runs[len(runs)-1], p)
		} else {
			runs = append(runs, []place{p})
		}
		end = p.to
	}
	return runs
}

const entryCost = 8 // frames of 1080p; of larger ones it is fewer

// placeMeans averages each place of the clip.
func (r todayRequest) placeMeans(ctx context.Context, info *media.Info, l *lightDecoder, finder *gauge.ClipFinder, out *today) ([]*lamps.Light, error) {
	places := placesOf(info.Video.Frames, r.step)
	var means []*lamps.Light
	read := func(o media.ReadOptions, places []place) error {
		o.Info, o.Override, o.Threads = info, r.decoding.Override, r.threads
		reader, err := media.OpenReader(ctx, r.path, o)
		if err != nil {
			return err
		}
		defer reader.Close()
		frame, light := picture.NewFrame(reader.Format()), l.newLight()
		at := o.Start
		for _, p := range places {
			mean := l.newLight()
			got := 0
			for ; at < p.to; at++ {
				if err := reader.Next(frame); errors.Is(err, io.EOF) {
					break
				} else if err != nil {
					return err
				}
				if at < p.from || (at-p.from)%r.step != 0 {
					continue
				}
				if finder != nil && at == p.from {
					finder.Add(frame)
				}
				l.decode(frame, light)
				for i, v := range light.Pix {
					mean.Pix[i] += v
				}
				mean.Clipped = eitherMask(mean.Clipped, light.Clipped)
				got++
			}
			if got == 0 {
				continue
			}
			for i := range mean.Pix {
				mean.Pix[i] /= float32(got)
			}
			mean.Frames = math.Max(1, float64(got)/math.Max(r.correlated, 1))
			out.frames += got
			means = append(means, mean)
		}
		return nil
	}
	for _, run := range runsOfPlaces(info, places) {
		from := run[0].from
		if err := read(media.ReadOptions{Start: from, Count: run[len(run)-1].to - from}, run); err != nil {
			return nil, err
		}
	}
	if len(means) == 0 {
		return nil, fault.New(fault.Input, "no-frames", "", "%s: holds no picture that can be read", r.path)
	}
	return means, nil
}

// trimmed joins the means of several places: of five, the mean of the middle three.
func trimmed(means []*lamps.Light) *lamps.Light {
	if len(means) < todayPlaces {
		return means[0]
	}
	out := &lamps.Light{Image: picture.NewImage(means[0].W, means[0].H, picture.SpaceSceneLinear)}
	for _, m := range means {
		out.Frames += trimmedMean3of5 * m.Frames
		out.Clipped = eitherMask(out.Clipped, m.Clipped)
	}
	parallel(out.H, func(y int) {
		for p := 3 * y * out.W; p < 3*(y+1)*out.W; p++ {
			lo, hi, sum := float32(math.Inf(1)), float32(math.Inf(-1)), float32(0)
			for _, m := range means {
				v := m.Pix[p]
				lo, hi, sum = min(lo, v), max(hi, v), sum+v
			}
			out.Pix[p] = (sum - lo - hi) / float32(len(means)-2)
		}
	})
	return out
}

// spreadOf is how far, in stops, the pictures' mean lights lie apart.
func spreadOf(means []*lamps.Light) float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, m := range means {
		sum := 0.0
		for _, v := range m.Pix {
			sum += float64(v)
		}
		lo, hi = math.Min(lo, sum), math.Max(hi, sum)
	}
	if !(lo > 0) {
		return 0
	}
	return math.Log2(hi / lo)
}

func eitherMask(a, b []bool) []bool {
	if b == nil {
		return a
	}
	if a == nil {
		return slices.Clone(b)
	}
	for i, v := range b {
		a[i] = a[i] || v
	}
	return a
}

func readStillToday(ctx context.Context, r todayRequest) (*today, error) {
	s, err := media.ReadStill(ctx, r.path)
	if err != nil {
		return nil, err
	}
	out := &today{frames: 1}
	if s.Kind == "jpeg" {
		out.notes = append(out.notes, "a JPEG's own compression is not in the set's noise: small changes and changes of colour in it may be the JPEG's. A PNG, a TIFF or the clip itself is safer")
	}
	for _, n := range s.Notes {
		out.notes = append(out.notes, n.Message)
	}
	if s.Frame != nil {
		f := s.Frame.Format
		n, err := r.side(f.Width, f.Height)
		if err != nil {
			return nil, err
		}
		d := r.decoding
		if d.Override.Range == "" {
			d.Signal = r.signal // as below
		}
		l := lightDecoderBy(f, d, n, r.clipCode)
		out.light, out.scale = l.newLight(), float64(n)
		l.decode(s.Frame, out.light)
		return out, r.fit(out)
	}
	if _, err := r.side(s.Image.W, s.Image.H); err != nil {
		return nil, err
	}
	// A still of R′G′B′ codes is taken as a frame of such a clip, grabbed: its
	// codes 0 to top are the signal's 0 to 1. Said to be full, its codes are the
	// curve's own. An EXR holds light itself.
	full := picture.NewImage(s.Image.W, s.Image.H, picture.SpaceSceneLinear)
	format := picture.Format{Width: full.W, Height: full.H, Bits: 16, Sub: picture.Sub444, Range: r.signal, Matrix: colour.MatrixBT709}
	if r.decoding.Override.Range != "" {
		format.Range = r.decoding.Override.Range
	}
	l := lightDecoderBy(format, r.decoding, 1, r.clipCode)
	clip := math.Inf(1)
	if r.clipCode > 0 {
		clip = clipNear * r.decoding.clipLight(r.clipCode, picture.Format{Bits: 10, Range: r.signal})
	}
	out.light = &lamps.Light{Image: full, Frames: 1}
	clipped := make([]bool, full.W*full.H)
	parallel(full.H, func(y int) {
		for p := 3 * y * full.W; p < 3*(y+1)*full.W; p++ {
			v := float64(s.Image.Pix[p])
			if s.Kind != "exr" {
				v = float64(l.light[lightBase+int32(math.Round(v*lightSteps))])
			}
			full.Pix[p] = float32(v)
			if v >= clip {
				clipped[p/3] = true
			}
		}
	})
	out.light.Clipped, out.scale = clipped, 1
	return out, r.fit(out)
}

// side is the square that brings a picture of w×h nearest above the set's size.
func (r todayRequest) side(w, h int) (int, error) {
	shape, want := float64(w)/float64(h), float64(r.w)/float64(r.h)
	if math.Abs(shape/want-1) > shapeTolerance {
		return 0, fault.New(fault.Input, "check-size", "Use a clip or still of the same picture shape as the switch clip.",
			"%s: the picture is %d×%d, which is another shape than the set's %d×%d", r.path, w, h, r.w, r.h)
	}
	if w < r.w || h < r.h {
		return 0, fault.New(fault.Input, "check-small", "Use a clip or still at least as large.",
			"%s: the picture is %d×%d, smaller than the set's %d×%d", r.path, w, h, r.w, r.h)
	}
	return min(w/r.w, h/r.h), nil
}

// shapeTolerance is how far two pictures' proportions may differ: a working
// picture leaves out what doesn't fill a square.
const shapeTolerance = 0.02

// fit shrinks the working picture to the set's size where it isn't that yet.
func (r todayRequest) fit(t *today) error {
	l := t.light
	if l.W == r.w && l.H == r.h {
		return nil
	}
	small := &lamps.Light{Image: l.Shrink(r.w, r.h), Frames: l.Frames}
	if l.Clipped != nil {
		small.Clipped = make([]bool, r.w*r.h)
		for p, c := range l.Clipped {
			if c {
				small.Clipped[min(p/l.W*r.h/l.H, r.h-1)*r.w+min(p%l.W*r.w/l.W, r.w-1)] = true
			}
		}
	}
	t.scale *= float64(l.W) / float64(r.w)
	t.light = small
	return nil
}
