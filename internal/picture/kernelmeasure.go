package picture

import (
	"sync/atomic"

	"lampwise/internal/fault"
)

// latticePoints is how many colours of the signal's cube Compile compares, and
// neutralPoints how many neutrals.
const (
	latticePoints = 1 << 15
	neutralPoints = 1 << 12
)

// tally gathers differences between the exact path and the baked form.
type tally struct {
	judge judge
	sum   float64
	m     Measured
	exact int
}

// add takes a colour in. An exactly evaluated one counts without difference.
func (t *tally) add(want, got [3]float64, exact bool) {
	t.m.Points++
	if exact {
		t.exact++
		return
	}
	de, _ := t.judge.compare(want, got)
	t.sum += de
	t.m.MaxDE = max(t.m.MaxDE, de)
}

func (t *tally) neutral(want, got [3]float64) {
	want, got = t.judge.limit(want), t.judge.limit(got)
	for ch := range want {
		d := want[ch] - got[ch]
		t.m.Neutral = max(t.m.Neutral, max(d, -d)*codes10)
	}
}

func (t *tally) merge(o tally) {
	t.m.Points += o.m.Points
	t.exact += o.exact
	t.sum += o.sum
	t.m.MaxDE = max(t.m.MaxDE, o.m.MaxDE)
	t.m.Neutral = max(t.m.Neutral, o.m.Neutral)
}

func (t *tally) done(over string) Measured {
	m := t.m
	m.Over = over
	if m.Points > 0 {
		m.MeanDE = t.sum / float64(m.Points)
		m.Exact = float64(t.exact) / float64(m.Points)
	}
	return m
}

// scattered is point n of a sequence that is spread evenly over the domain:
// the fractional parts of multiples of powers of 1/1.2207… (the real root of
// x⁴ = x + 1; Roberts 2018, "The unreasonable effectiveness of quasirandom
// sequences", from memory), from a start of one's own. The points fall nowhere
// in particular in the cells.
func scattered(n int, start float64) (u [3]uint16) {
	const root = 1.2207440846057596
	step := 1.0
	for ch := range u {
		step /= root
		x := start + float64(n)*step
		u[ch] = uint16((x - float64(int(x))) * (1 << 16))
	}
	return u
}

// settle mends the plan and measures it, again and from other starts while the
// measure finds a colour that mending missed.
func (k *Kernel) settle() Measured {
	start := 0.25
	for round := 1; ; round++ {
		k.plan.mend(k.exact, k.judge, start)
		m := k.measureLattice(start + 0.25)
		if m.MaxDE <= mendPart*cellDE || round == settleRounds {
			return m
		}
		start += 0.0823 // no multiple of a step: none of the points come again
	}
}

// settleRounds is how often a plan is mended at most. A second round is rare.
const settleRounds = 4

// mend tries points all over the domain once more, other ones than those that
// are measured afterwards, and has the cells of those that err too much
// evaluated exactly.
func (p *plan) mend(exact func([3]float64) [3]float64, j judge, start float64) {
	if len(p.steps) == 0 {
		return
	}
	c, ok := p.steps[0].(*cube)
	if !ok || !c.baked {
		return
	}
	var flagged atomic.Int64
	const rows = 64
	eachRow(rows, func(i int) {
		for n := i; n < mendPoints; n += rows {
			u := scattered(n, start)
			got, marked := p.at(u)
			if marked || !j.excessive(exact(p.in.value(u)), p.display.value(got), mendPart) {
				continue
			}
			if atomic.OrUint64(&c.nodes[c.cell(u)], nodeFlag)&nodeFlag == 0 {
				flagged.Add(1)
			}
		}
	})
	c.flagged += int(flagged.Load())
}

// mendPoints is how many points mend tries.
const mendPoints = 4 * latticePoints

// mendPart scales a cell's allowance to what may not be passed anywhere: four
// fifths of what is promised.
const mendPart = 0.4 / cellDE

// measureLattice compares the kernel's function of colour with the exact path
// over the input domain, at scattered points and at neutrals from the domain's
// one end to the other.
func (k *Kernel) measureLattice(start float64) Measured {
	d := k.input.domain
	rows := make([]tally, 64)
	eachRow(len(rows), func(i int) {
		t := &rows[i]
		t.judge = k.judge
		for n := i; n < latticePoints; n += len(rows) {
			k.compare(t, d, scattered(n, start), false)
		}
		for n := i; n < neutralPoints; n += len(rows) {
			u := uint16(n * (1 << 16) / neutralPoints)
			k.compare(t, d, [3]uint16{u, u, u}, true)
		}
	})
	all := tally{judge: k.judge}
	for _, t := range rows {
		all.merge(t)
	}
	m := all.done("lattice")
	if cells, flagged := k.plan.cells(); cells > 0 {
		m.Exact = float64(flagged) / float64(cells)
	}
	return m
}

func (k *Kernel) compare(t *tally, d domain, u [3]uint16, neutral bool) {
	got, exact := k.plan.at(u)
	var want [3]float64
	value := k.plan.display.value(got)
	if !exact {
		want = k.exact(d.value(u))
		if neutral {
			t.neutral(want, value)
		}
	}
	t.add(want, value, exact)
}

// cells counts those of the baked grids.
func (p *plan) cells() (cells, flagged int) {
	for _, s := range p.steps {
		if c, ok := s.(*cube); ok && c.baked {
			cells += (c.n - 1) * (c.n - 1) * (c.n - 1)
			flagged += c.flagged
		}
	}
	return cells, flagged
}

// Measure compares the kernel with the exact path on a frame's own colours,
// every step-th pixel of every step-th row, before vignette, limiter and
// dither. Neutral speaks of the pixels whose exact result is neutral.
func (k *Kernel) Measure(f *Frame, step int) (Measured, error) {
	if f.Format != k.in {
		return Measured{}, fault.New(fault.Input, "frame-format", "", "frame %d is %+v, the kernel was made for %+v", f.Index, f.Format, k.in)
	}
	if err := f.Check(); err != nil {
		return Measured{}, err
	}
	step = max(1, step)
	rows := make([]tally, (f.Height+step-1)/step)
	eachRow(len(rows), func(i int) {
		t := &rows[i]
		t.judge = k.judge
		for x := 0; x < f.Width; x += step {
			y := k.program.Input.Signal(f.RGB(x, i*step))
			got, exact := k.colour(y)
			if exact {
				t.add(got, got, true)
				continue
			}
			want := k.exact(y)
			t.add(want, got, false)
			if lo, hi := min(want[0], want[1], want[2]), max(want[0], want[1], want[2]); hi-lo <= near {
				t.neutral(want, got)
			}
		}
	})
	all := tally{judge: k.judge}
	for _, t := range rows {
		all.merge(t)
	}
	return all.done("frame"), nil
}
