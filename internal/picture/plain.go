package picture

import (
	"math"
	"runtime"
	"sync"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
)

// RunPlain carries the program out on one frame in float64, stage by stage
// and pixel by pixel, as the reference every other executor is judged by. The
// frames must have the formats p.OutputFormat ties together.
//
// Codes become R′G′B′ (Frame.RGB), then y, the ops, the vignette, the limiter,
// Y′CbCr; chroma is filtered down by its siting (downTaps); dither is added
// and the sum rounded down after adding a half.
func (p *Program) RunPlain(in, out *Frame) error {
	return p.RunWith(p.Colour, in, out)
}

// RunWith is RunPlain with another function for the ops: the exact path that
// the ops were sampled from.
func (p *Program) RunWith(exact func(y [3]float64) [3]float64, in, out *Frame) error {
	if err := p.accepts(in, out); err != nil {
		return err
	}
	o := p.Output
	w, h := in.Width, in.Height
	signal := make([][3]float64, w*h)
	eachRow(h, func(y int) {
		for x := range w {
			v := exact(p.Input.Signal(in.RGB(x, y)))
			if p.Vignette != nil {
				g := p.Vignette.SignalGain(x, y, w, h)
				v = [3]float64{v[0] * g, v[1] * g, v[2] * g}
			}
			signal[y*w+x] = o.limit(v)
		}
	})
	toYCC := o.Matrix.FromRGB()
	eachRow(h, func(y int) {
		noise := make([]int16, w)
		o.noiseRow(noise, planeY, y, in.Index)
		for x := range w {
			e := toYCC.Apply(signal[y*w+x])[0]
			out.Y[y*w+x] = o.quantise(o.Range.LumaToCode(e, o.Bits), noise[x])
		}
	})
	cw, ch := out.ChromaSize()
	for plane, codes := range map[int][]uint16{planeCb: out.Cb, planeCr: out.Cr} {
		eachRow(ch, func(cy int) {
			noise := make([]int16, cw)
			o.noiseRow(noise, plane, cy, in.Index)
			for cx := range cw {
				across, down := filterTaps(out.Format, cx, cy)
				var e float64
				for _, tv := range down {
					for _, th := range across {
						if weight := tv.weight * th.weight; weight != 0 {
							e += float64(weight) / (tapUnit * tapUnit) * toYCC.Apply(signal[tv.at*w+th.at])[plane]
						}
					}
				}
				codes[cy*cw+cx] = o.quantise(o.Range.ChromaToCode(e, o.Bits), noise[cx])
			}
		})
	}
	out.Index, out.Time = in.Index, in.Time
	return nil
}

// filterTaps gives the luma-rate samples that chroma sample cx, cy is made of.
func filterTaps(f Format, cx, cy int) (across, down [3]tap) {
	across = [3]tap{{cx, tapUnit}, {cx, 0}, {cx, 0}}
	down = [3]tap{{cy, tapUnit}, {cy, 0}, {cy, 0}}
	if f.Sub != Sub444 {
		across = downTaps(cx, f.Width, f.Siting == SiteCentre)
	}
	if f.Sub == Sub420 {
		down = downTaps(cy, f.Height, f.Siting != SiteTopLeft)
	}
	return across, down
}

func (o Output) limit(v [3]float64) [3]float64 {
	if o.Limiter == LimiterRGB {
		return [3]float64{clamp01(v[0]), clamp01(v[1]), clamp01(v[2])}
	}
	return v
}

// codeLimits are the lowest and the highest code written. In narrow range the
// codes that a serial interface keeps for timing are left out: 0..3 and
// 1020..1023 of 10 bits (ITU-R BT.709-6, item 4.6, and BT.2100-2, table 9).
func (o Output) codeLimits() (lo, hi int) {
	if o.Range == colour.Full {
		return 0, 1<<o.Bits - 1
	}
	one := 1 << (o.Bits - 8)
	return one, 255*one - 1
}

func (o Output) quantise(code float64, noise int16) uint16 {
	lo, hi := o.codeLimits()
	code = math.Floor(code + 0.5 + float64(noise)/noiseUnit)
	return uint16(max(float64(lo), min(float64(hi), code)))
}

// accepts checks the program and the frames against each other.
func (p *Program) accepts(in, out *Frame) error {
	if err := p.Check(); err != nil {
		return err
	}
	return p.acceptsFrames(in, out)
}

func (p *Program) acceptsFrames(in, out *Frame) error {
	if err := in.Check(); err != nil {
		return fault.Wrap(err, fault.Input, "frame-format", "", "frame %d: %v", in.Index, err)
	}
	if want := p.OutputFormat(in.Format); out.Format != want {
		return fault.New(fault.Input, "frame-format", "the clip changes its format on the way; cut it where it changes",
			"frame %d: the result is set up as %+v, this frame asks for %+v", in.Index, out.Format, want)
	}
	return out.Check()
}

// eachRow calls f for the rows 0..n−1, on all processors.
func eachRow(n int, f func(y int)) {
	var wg sync.WaitGroup
	workers := min(runtime.GOMAXPROCS(0), n)
	for k := range workers {
		wg.Go(func() {
			for y := n * k / workers; y < n*(k+1)/workers; y++ {
				f(y)
			}
		})
	}
	wg.Wait()
}
