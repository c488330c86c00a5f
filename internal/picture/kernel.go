package picture

import (
	"fmt"
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"lampwise/internal/fault"
)

// Kernel carries a program out on frames of one format, fast: planes in, one
// pass over each row, planes out, in whole numbers.
//
// A stretch of ops that treats the channels apart is a table of every input. A
// user's 3-D LUT is looked up on its own grid. Any other stretch is baked onto
// a grid of 129 points a side whose cells were each tried against the exact
// function; cells that err by more than half of what is promised, and colours
// outside the grid, are evaluated exactly, pixel by pixel. What remains is in
// Error.
//
// Run does not allocate. It may be called from several goroutines; frames are
// then done one after the other, each on all workers.
type Kernel struct {
	program Program
	exact   func(y [3]float64) [3]float64
	in, out Format

	options  KernelOptions
	plan     *plan
	input    *input
	output   *output
	judge    judge
	gain     []uint16 // of the whole frame; nil without vignette
	gainBits int
	mostGain uint32 // the vignette's largest factor can be
	simd     bool

	mu      sync.Mutex
	workers []*worker
	start   []func() // each worker's run, so that starting one allocates nothing
	wait    sync.WaitGroup
	from    *Frame
	to      *Frame
	band    atomic.Int32
	fast    atomic.Int64 // pixels since the start that were not evaluated exactly
	slow    atomic.Int64 // and that were
}

// KernelOptions are choices that change the speed and nothing else.
type KernelOptions struct {
	Workers  int    // goroutines; 0 = one for each processor
	Portable bool   // do without instructions that not every processor has
	Tables   Tables // where baked tables are kept; nil: nowhere
}

// Compile makes a kernel for frames of format in and fills p.Error with what
// its baked form errs by over the whole cube of input signals. exact is the
// path that p.Ops were sampled from; nil stands for p.Colour.
func Compile(p *Program, exact func(y [3]float64) [3]float64, in Format, o KernelOptions) (*Kernel, error) {
	if err := p.Check(); err != nil {
		return nil, err
	}
	if err := in.Check(); err != nil {
		return nil, fault.Wrap(err, fault.Input, "frame-format", "", "%v", err)
	}
	if exact == nil {
		exact = p.Colour
	}
	k := newKernel(p, func(y [3]float64) [3]float64 { return total3(exact(y)) }, in, o)
	if o.Tables != nil {
		if t, ok := unpack(o.Tables.Load()); ok {
			k.plan = newPlan(p.Ops, k.exact, k.input.domain, k.judge, t)
			if len(t.cubes) == 0 {
				p.Error = &t.head.Error
				k.ready()
				return k, nil
			}
		}
	}
	k.plan = newPlan(p.Ops, k.exact, k.input.domain, k.judge, nil)
	m := k.settle()
	p.Error = &m
	if o.Tables != nil {
		if data := k.plan.pack(m); data != nil {
			o.Tables.Keep(data)
		}
	}
	k.ready()
	return k, nil
}

// For makes a kernel for frames of another format from the same baked tables.
// The format must have the same range (and, in full range, depth), since these
// decide what the tables' input stands for.
func (k *Kernel) For(in Format) (*Kernel, error) {
	if err := in.Check(); err != nil {
		return nil, fault.Wrap(err, fault.Input, "frame-format", "", "%v", err)
	}
	other := newKernel(&k.program, k.exact, in, k.options)
	if other.input.domain != k.input.domain {
		return nil, fmt.Errorf("picture: a kernel for %+v cannot do %+v", k.in, in)
	}
	other.plan = k.plan
	other.ready()
	return other, nil
}

// newKernel is a kernel without its colour part.
func newKernel(p *Program, exact func(y [3]float64) [3]float64, in Format, o KernelOptions) *Kernel {
	k := &Kernel{program: *p, exact: exact, in: in, out: p.OutputFormat(in), options: o, gainBits: gainBitsFor(1), mostGain: 1 << 15}
	k.judge = judge{limit: p.Output.limit, minGain: 1}
	if v := p.Vignette; v != nil && v.Stops != 0 {
		extreme := math.Exp2(-v.Stops / displayPower)
		k.gainBits = gainBitsFor(extreme)
		k.mostGain = uint32(math.Ceil(max(1, extreme) * float64(int(1)<<k.gainBits)))
		k.gain = gainPlane(v, in.Width, in.Height, k.gainBits)
		k.judge.minGain = min(1, extreme)
	}
	k.input = newInput(in, p.Input)
	k.input.held = holdsInside(p.Ops, k.input.domain)
	k.simd = !o.Portable && simdAvailable
	return k
}

// ready sets up what needs the colour part, and the workers.
func (k *Kernel) ready() {
	k.output = newOutput(k.out, k.program.Output, k.plan.display, k.gainBits)
	k.output.setPlain(k.mostGain)
	if k.program.Output.Dither == DitherBlue {
		blueTile()
	}
	if !k.simd {
		for _, s := range k.plan.steps {
			if c, ok := s.(*cube); ok && !c.trilinear {
				c.makeLanes()
			}
		}
	}
	n := k.options.Workers
	if n <= 0 {
		n = runtime.GOMAXPROCS(0)
	}
	for range min(n, bands(k.in.Height)) {
		w := newWorker(k)
		k.workers = append(k.workers, w)
		k.start = append(k.start, w.run)
	}
}

func gainPlane(v *Vignette, w, h, bits int) []uint16 {
	stride := padded(w + 1)
	gain := make([]uint16, stride*h)
	eachRow(h, func(y int) {
		for x := range w + 1 {
			gain[y*stride+x] = uint16(math.Round(v.SignalGain(x, y, w, h) * float64(int(1)<<bits)))
		}
	})
	return gain
}

// SIMD says whether the kernel uses the processor's wide instructions.
func (k *Kernel) SIMD() bool { return k.simd }

// Formats are those of the frames the kernel takes and makes.
func (k *Kernel) Formats() (in, out Format) { return k.in, k.out }

// Evaluated says how many pixels Run has done since the kernel was made, and
// how many of them were evaluated exactly.
func (k *Kernel) Evaluated() (pixels, exact int64) {
	return k.fast.Load() + k.slow.Load(), k.slow.Load()
}

// bandRows is how many rows a worker takes at a time: an even number, so that
// no row of chroma belongs to two.
const bandRows = 32

func bands(height int) int { return (height + bandRows - 1) / bandRows }

// Run does one frame. Both frames must have the kernel's formats.
func (k *Kernel) Run(in, out *Frame) error {
	if in.Format != k.in {
		return fault.New(fault.Input, "frame-format", "the clip changes its format on the way; cut it where it changes",
			"frame %d is %+v, the clip began as %+v", in.Index, in.Format, k.in)
	}
	if out.Format != k.out {
		return fmt.Errorf("picture: the kernel makes frames of %+v, not %+v", k.out, out.Format)
	}
	if err := first(in.Check(), out.Check()); err != nil {
		return err
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	k.from, k.to = in, out
	k.band.Store(0)
	k.wait.Add(len(k.start))
	for _, run := range k.start[1:] {
		go run()
	}
	k.start[0]()
	k.wait.Wait()
	k.from, k.to = nil, nil
	out.Index, out.Time = in.Index, in.Time
	return nil
}

// Colour is the kernel's function of one colour: the display signal before
// vignette and limiter. It rounds y to the kernel's numbers.
func (k *Kernel) Colour(y [3]float64) [3]float64 {
	v, _ := k.colour(y)
	return v
}

func (k *Kernel) colour(y [3]float64) (v [3]float64, exact bool) {
	u, inside := k.input.domain.code(y)
	if inside {
		if u, exact = k.plan.at(u); !exact {
			return k.plan.display.value(u), false
		}
	}
	return k.exact(y), true
}
