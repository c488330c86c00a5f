package picture

import (
	"fmt"
	"math"

	"lampwise/internal/fault"
)

// Filter is how samples between samples are found.
type Filter string

// The filters. Both are wider in proportion where a picture becomes smaller,
// so that what is finer than the new pixels is taken out and does not come
// back as a false pattern.
const (
	FilterLanczos Filter = "lanczos" // sinc windowed by a sinc of 3 lobes: the sharpest here, with some overshoot at edges
	FilterCubic   Filter = "cubic"   // Keys, IEEE Trans. ASSP 29 (1981), a = −½: softer, less overshoot
)

// lobes is half the filter's width, in samples of the coarser picture.
func (f Filter) lobes() float64 {
	if f == FilterLanczos {
		return 3
	}
	return 2
}

// at is the filter's height at a distance in samples of the coarser picture.
func (f Filter) at(d float64) float64 {
	d = math.Abs(d)
	if d >= f.lobes() {
		return 0
	}
	switch f {
	case FilterCubic:
		return keys(d, -0.5)
	case filterCubic06:
		return keys(d, -0.6)
	}
	if d < 1e-9 {
		return 1
	}
	a := math.Pi * d
	return math.Sin(a) * math.Sin(a/3) * 3 / (a * a)
}

// filterCubic06 is the cubic as ffmpeg has it unless told otherwise: what the
// test compares with. (Told otherwise, 5.1 cuts the parameter to a whole number.)
const filterCubic06 Filter = "cubic, a = −0.6"

// keys is the cubic family of Keys, equation 4, for 0 ≤ d < 2.
func keys(d, a float64) float64 {
	if d < 1 {
		return ((a+2)*d-(a+3))*d*d + 1
	}
	return ((a*d-5*a)*d+8*a)*d - 4*a
}

// Resizer brings frames to another size, and to the depth and chroma sampling
// of their output. Chroma stays where its siting says it is.
//
// It works on the display signal, plane by plane, not on light: an edge's
// overshoot is then about as visible on its dark side as on its bright one,
// where in light the dark side would go far below black; and it is what
// players do who fit a picture to their window. The price is that detail at
// the limit of what is resolved gets darker: a pattern of ±5 % of signal about
// mid signal by 0.02 stop, one of pixels black and white by turns by 1.4 stop
// (½^2.4 in place of ½ of the light).
//
// Run may not be called by several goroutines at once.
type Resizer struct {
	in, out Format
	output  Output
	planes  [3]planeResizer
}

// NewResizer makes a resizer of frames of format in to width×height. o gives
// what the result's codes are (depth, chroma sampling, dither, limiter); range,
// matrix and siting must be in's.
func NewResizer(in Format, width, height int, f Filter, o Output) (*Resizer, error) {
	if f != FilterLanczos && f != FilterCubic && f != filterCubic06 {
		return nil, fault.New(fault.Usage, "filter", "Choose lanczos or cubic.", "resizing filter %q is not known", string(f))
	}
	if err := first(in.Check(), o.Check()); err != nil {
		return nil, err
	}
	out := Format{Width: width, Height: height, Bits: o.Bits, Sub: o.Sub, Range: o.Range, Matrix: o.Matrix, Siting: o.Siting}
	if err := out.Check(); err != nil {
		return nil, fault.Wrap(err, fault.Usage, "output-size", "", "a picture cannot be brought to %d×%d: %v", width, height, err)
	}
	if in.Range != out.Range || in.Matrix != out.Matrix || in.Siting != out.Siting {
		return nil, fmt.Errorf("picture: a resizer of %+v cannot make %+v", in, out)
	}
	r := &Resizer{in: in, out: out, output: o}
	cw, ch := in.ChromaSize()
	ocw, och := out.ChromaSize()
	across := func(sub Subsampling) place { return placeOf(sub != Sub444, in.Siting == SiteCentre) }
	down := func(sub Subsampling) place { return placeOf(sub == Sub420, in.Siting != SiteTopLeft) }
	whole := placeOf(false, false)
	for i := range r.planes {
		p := &r.planes[i]
		if i == planeY {
			p.across = newTaps(f, in.Width, out.Width, in.Width, out.Width, whole, whole)
			p.down = newTaps(f, in.Height, out.Height, in.Height, out.Height, whole, whole)
			p.slope, p.offset = between(in.Range.LumaScale, in.Bits, out.Bits)
		} else {
			p.across = newTaps(f, cw, ocw, in.Width, out.Width, across(in.Sub), across(out.Sub))
			p.down = newTaps(f, ch, och, in.Height, out.Height, down(in.Sub), down(out.Sub))
			p.slope, p.offset = between(in.Range.ChromaScale, in.Bits, out.Bits)
		}
		p.middle = make([]float32, p.down.from*p.across.to)
	}
	return r, nil
}

// Format is that of the frames it makes.
func (r *Resizer) Format() Format { return r.out }

// Run does one frame.
func (r *Resizer) Run(in, out *Frame) error {
	if in.Format != r.in || out.Format != r.out {
		return fmt.Errorf("picture: a resizer of %+v to %+v was given %+v and %+v", r.in, r.out, in.Format, out.Format)
	}
	if err := first(in.Check(), out.Check()); err != nil {
		return err
	}
	from, to := [3][]uint16{in.Y, in.Cb, in.Cr}, [3][]uint16{out.Y, out.Cb, out.Cr}
	for i := range r.planes {
		lo, hi := r.output.codeLimits()
		if i == planeY && r.output.Limiter == LimiterRGB {
			// Overshoot beyond black and white is not to come back by the filter.
			slope, offset := r.out.Range.LumaScale(r.out.Bits)
			lo, hi = max(lo, int(math.Round(offset))), min(hi, int(math.Round(slope+offset)))
		}
		r.planes[i].run(from[i], to[i], lo, hi, func(row []int16, y int) { r.output.noiseRow(row, i, y, in.Index) })
	}
	out.Index, out.Time = in.Index, in.Time
	return nil
}

// place is where a plane's samples lie: sample k at k·step + offset, in luma
// pixels from the picture's edge.
type place struct{ step, offset float64 }

func placeOf(halved, midway bool) place {
	switch {
	case !halved:
		return place{1, 0.5}
	case midway:
		return place{2, 1}
	}
	return place{2, 0.5}
}

// taps are a filter's weights for each sample of a row that becomes to samples
// from from samples: width of each, beginning with sample start.
type taps struct {
	from, to, width int
	start           []int
	weights         []float32 // width for each of to
}

// newTaps computes weights; each sample's sum to 1. Beyond the edge the edge's
// sample is repeated.
func newTaps(f Filter, from, to, lumaFrom, lumaTo int, in, out place) taps {
	ratio := float64(lumaFrom) / float64(lumaTo)
	scale := math.Max(1, ratio*out.step/in.step)
	reach := f.lobes() * scale
	t := taps{from: from, to: to, width: min(from, int(math.Ceil(2*reach))+1)}
	t.start = make([]int, to)
	t.weights = make([]float32, to*t.width)
	row := make([]float64, t.width)
	for k := range to {
		centre := ((float64(k)*out.step+out.offset)*ratio - in.offset) / in.step
		low, high := int(math.Ceil(centre-reach)), int(math.Floor(centre+reach))
		start := max(0, min(from-t.width, low))
		clear(row)
		sum := 0.0
		for i := low; i <= high; i++ {
			w := f.at((float64(i) - centre) / scale)
			row[max(0, min(from-1, i))-start] += w
			sum += w
		}
		t.start[k] = start
		for i, w := range row {
			t.weights[k*t.width+i] = float32(w / sum)
		}
	}
	return t
}

// between gives the line from codes of one depth to codes of another.
func between(scale func(bits int) (slope, offset float64), in, out int) (slope, offset float64) {
	a, b := scale(in)
	c, d := scale(out)
	return c / a, d - b*c/a
}

type planeResizer struct {
	across, down  taps
	slope, offset float64
	middle        []float32 // rows as they came, columns as they will be
}

func (p *planeResizer) run(from, to []uint16, lo, hi int, noise func(row []int16, y int)) {
	w := p.across.to
	eachRow(p.down.from, func(y int) {
		p.row(p.middle[y*w:(y+1)*w], from[y*p.across.from:(y+1)*p.across.from])
	})
	slope, offset := float32(p.slope), float32(p.offset+0.5)
	lowest, highest := float32(lo), float32(hi)
	eachRow(p.down.to, func(y int) {
		sum, dither := make([]float32, w), make([]int16, w)
		noise(dither, y)
		for i, weight := range p.down.weights[y*p.down.width : (y+1)*p.down.width] {
			if weight == 0 {
				continue
			}
			at := (p.down.start[y] + i) * w
			for x, v := range p.middle[at : at+w] {
				sum[x] += weight * v
			}
		}
		row := to[y*w : (y+1)*w]
		for x, s := range sum {
			code := s*slope + offset + float32(dither[x])*(1.0/noiseUnit)
			row[x] = uint16(max(lowest, min(highest, code))) // ≥ 0: towards zero is down
		}
	})
}

func (p *planeResizer) row(dst []float32, src []uint16) {
	n := p.across.width
	for x := range dst {
		at := src[p.across.start[x]:][:n]
		weights := p.across.weights[x*n:][:n]
		var sum float32
		for i, v := range at {
			sum += weights[i] * float32(v)
		}
		dst[x] = sum
	}
}

// ResizePlain brings an image of float numbers to another size by the same
// filter in float64, a double sum for each pixel: the reference of Resizer.
// Numbers stay what they are (a display signal a display signal).
func ResizePlain(im *Image, width, height int, f Filter) *Image {
	out := NewImage(width, height, im.Space)
	whole := placeOf(false, false)
	across := newTaps(f, im.W, width, im.W, width, whole, whole)
	down := newTaps(f, im.H, height, im.H, height, whole, whole)
	eachRow(height, func(y int) {
		for x := range width {
			var sum [3]float64
			for j, wy := range down.weights[y*down.width : (y+1)*down.width] {
				for i, wx := range across.weights[x*across.width : (x+1)*across.width] {
					at := 3 * ((down.start[y]+j)*im.W + across.start[x] + i)
					for c := range sum {
						sum[c] += float64(wy) * float64(wx) * float64(im.Pix[at+c])
					}
				}
			}
			for c, v := range sum {
				out.Pix[3*(y*width+x)+c] = float32(v)
			}
		}
	})
	return out
}

// FitWithin gives the largest even size of the same shape within width×height
// that does not enlarge. An anamorphic picture keeps its own samples.
func FitWithin(f Format, width, height int) (w, h int) {
	scale := min(1, float64(width)/float64(f.Width), float64(height)/float64(f.Height))
	if scale == 1 {
		return f.Width, f.Height
	}
	even := func(v float64, most int) int { return max(2, min(most, 2*int(math.Round(v/2)))) }
	return even(float64(f.Width)*scale, width&^1), even(float64(f.Height)*scale, height&^1)
}
