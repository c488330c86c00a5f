package grade

import (
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// samples is the length of every sampled curve of a program. The log domain is
// about 2.6 wide, so a step is 0.0006 of signal, 0.7 codes of 10 bits; linear
// interpolation then errs by less than 3e-6 relative in light.
const samples = 4096

// Program compiles the path to ops: sampled curves, matrices, the shift, the
// compressions, LUTs on their own grids. Stages that do nothing leave no op;
// matrices that meet are one. How far the ops lie from Exact is measured by
// ProgramError.
func (p *Path) Program() (*picture.Program, error) {
	prog := &picture.Program{Output: p.output()}
	prog.Input.YSlope, prog.Input.YOffset = 1, 0
	if p.on[StageDecode] {
		prog.Input.YSlope, prog.Input.YOffset = p.Curve.SignalFromE(p.clipRange())
	}
	b := builder{}
	if p.on[StageDecode] {
		p.sceneOps(&b)
		p.logOps(&b)
		p.convert.ops(&b)
	} else {
		b.hold(p.signalEnds())
	}
	if p.on[StageLook] {
		p.look.ops(&b)
	}
	prog.Ops = b.done()
	if p.on[StageVignette] {
		prog.Vignette = p.vignette()
	}
	return prog, prog.Check()
}

func (p *Path) vignette() *picture.Vignette {
	v := p.Grade.Vignette
	return &picture.Vignette{
		Stops: v.Stops, CentreX: v.Centre[0], CentreY: v.Centre[1],
		Aspect: v.Aspect, Inner: v.Inner, Softness: v.Softness,
	}
}

// clipRange is the range of the clip's codes: the setting, else the clip's tag.
func (p *Path) clipRange() colour.Range {
	if r := p.Grade.Decode.Range; r != "auto" {
		return colour.Range(r)
	}
	if p.Clip.Format.Range != "" {
		return p.Clip.Format.Range
	}
	return colour.Narrow
}

// Format is the clip's format with the overrides of decode in it: what its
// frames must be read as.
func (p *Path) Format() picture.Format {
	f := p.Clip.Format
	f.Range = p.clipRange()
	if m := p.Grade.Decode.Matrix; m != "auto" {
		f.Matrix = colour.MatrixCoefficients(m)
	}
	return f
}

// output is what encode asks for; with encode off the clip's own depth and
// subsampling, nothing limited, no dither. The picture is BT.709 in narrow
// range either way, since that is what convert makes.
func (p *Path) output() picture.Output {
	o := picture.Output{
		Limiter: picture.LimiterOff, Dither: picture.DitherNone,
		Matrix: colour.MatrixBT709, Range: colour.Narrow, Siting: picture.SiteLeft,
		Bits: p.Clip.Format.Bits, Sub: p.Clip.Format.Sub,
	}
	if e := p.Grade.Encode; p.on[StageEncode] {
		o.Bits, o.Sub = e.Bits, picture.Subsampling(e.Sub)
		o.Limiter, o.Dither = picture.Limiter(e.Limiter), picture.Dither(e.Dither)
		o.Seed = uint32(e.Seed)
	}
	if o.Bits == 0 {
		o.Bits = 10
	}
	if o.Sub == "" {
		o.Sub = picture.Sub422
	}
	return o
}

func (p *Path) sceneOps(b *builder) {
	first, last := p.signalEnds()
	if !p.on[StageExposure] && !p.on[StageBalance] {
		b.hold(first, last)
		return
	}
	b.uniform(first, last, func(_ int, y float64) float64 { return p.decode([3]float64{y})[0] })
	b.matrix(p.scene, [3]float64{})
	// The light that the matrix can give, exactly: the corners of the box of
	// decoded signals.
	top, bottom := p.decode([3]float64{last})[0], p.decode([3]float64{first})[0]
	var lo, hi [3]float64
	for i, row := range p.scene {
		for _, m := range row {
			lo[i] += min(m*top, m*bottom)
			hi[i] += max(m*top, m*bottom)
		}
	}
	b.asinh(lo, hi, encodeScale, func(_ int, x float64) float64 { return p.encodeLog([3]float64{x})[0] })
}

// encodeScale is where the axis of the camera curve's table turns from even in
// light to even in stops: near the toe of every shipped curve, 3 to 6 stops
// under grey.
const encodeScale = 0.005

func (p *Path) logOps(b *builder) {
	if p.on[StageSplit] {
		var table [3][]float64
		for c := range table {
			table[c] = make([]float64, samples)
		}
		for i := range samples {
			d := p.split.shift(place(logLo, p.logHi, i))
			for c := range table {
				table[c][i] = d[c]
			}
		}
		b.add(&picture.Shift{Weights: lumaWeights, Lo: logLo, Hi: p.logHi, Table: table})
	}
	if p.on[StageCurve] {
		b.uniform(logLo, p.logHi, func(ch int, y float64) float64 { return hold(p.tone.channel(ch, y), logLo, p.logHi) })
	}
	if p.on[StageSaturation] {
		if p.cdl != nil {
			b.add(p.cdl)
		}
		if p.sat != 1 {
			var m colour.Mat3
			for i := range m {
				for j := range m {
					m[i][j] = (1 - p.sat) * lumaWeights[j]
				}
				m[i][i] += p.sat
			}
			b.matrix(m, [3]float64{})
		}
	}
}

// toneTop is how far above the white the tone table reaches, in factors; the
// tone scale is nearly flat there.
const toneTop = 256

func (c *convert) ops(b *builder) {
	if !c.ours {
		b.affine(c.in)
		if c.chain != nil {
			for _, op := range c.chain.Ops {
				b.add(op)
			}
		}
		b.affine(c.out)
		return
	}
	b.uniform(c.logLo, c.logHi, func(_ int, y float64) float64 {
		return hold(c.curve.Decode(y), -sceneMax, sceneMax)
	})
	b.matrix(c.toAP1, [3]float64{})
	b.add(&c.academy)
	b.matrix(c.toScreen, [3]float64{})
	b.add(&c.screen)
	top, scale := toneTop*c.tone.White, c.tone.Toe/4
	if c.applied == "channels" {
		b.asinh([3]float64{}, [3]float64{top, top, top}, scale, func(_ int, x float64) float64 { return c.tone.At(x) })
		return
	}
	n := &picture.Norm{Hi: top, Scale: scale, Power: displayPower, Tone: make([]float64, samples), Purity: make([]float64, samples)}
	for i := range samples {
		x := scale * math.Sinh(place(0, math.Asinh(top/scale), i))
		n.Tone[i], n.Purity[i] = c.tone.At(x), c.tone.Purity(x)
	}
	b.add(n)
}

// place is the i-th of the samples spread evenly over lo..hi.
func place(lo, hi float64, i int) float64 { return lo + (hi-lo)*float64(i)/(samples-1) }

// builder collects ops and merges matrices that meet.
type builder struct{ ops []picture.Op }

func (b *builder) add(op picture.Op) { b.ops = append(b.ops, op) }

func (b *builder) matrix(m colour.Mat3, offset [3]float64) {
	if m == colour.Identity && offset == ([3]float64{}) {
		return
	}
	if n := len(b.ops); n > 0 {
		if last, ok := b.ops[n-1].(*picture.Matrix); ok {
			o := m.Apply(last.Offset)
			for i := range o {
				o[i] += offset[i]
			}
			b.ops[n-1] = &picture.Matrix{M: m.Mul(last.M), Offset: o}
			return
		}
	}
	b.add(&picture.Matrix{M: m, Offset: offset})
}

func (b *builder) affine(a affine) {
	b.matrix(colour.Diagonal(a.slope, a.slope, a.slope), [3]float64{a.offset, a.offset, a.offset})
}

// hold keeps the three channels inside lo..hi.
func (b *builder) hold(lo, hi float64) {
	b.add(&picture.Range{Slope: 1, Min: &lo, Max: &hi})
}

// uniform adds a curve sampled evenly over lo..hi.
func (b *builder) uniform(lo, hi float64, f func(ch int, x float64) float64) {
	c := &picture.Curves{Axis: picture.AxisUniform, Lo: [3]float64{lo, lo, lo}, Hi: [3]float64{hi, hi, hi}}
	c.Samples = sample(func(ch, i int) float64 { return f(ch, place(lo, hi, i)) })
	b.add(c)
}

// asinh adds a curve sampled evenly in asinh(x/scale).
func (b *builder) asinh(lo, hi [3]float64, scale float64, f func(ch int, x float64) float64) {
	c := &picture.Curves{Axis: picture.AxisAsinh, Lo: lo, Hi: hi, Scale: scale}
	c.Samples = sample(func(ch, i int) float64 {
		if i == samples-1 {
			return f(ch, hi[ch]) // not by way of sinh, which rounds
		}
		return f(ch, scale*math.Sinh(place(math.Asinh(lo[ch]/scale), math.Asinh(hi[ch]/scale), i)))
	})
	b.add(c)
}

func sample(f func(ch, i int) float64) (s [3][]float64) {
	for ch := range s {
		s[ch] = make([]float64, samples)
		for i := range s[ch] {
			s[ch][i] = f(ch, i)
		}
	}
	return s
}

func (b *builder) done() []picture.Op { return b.ops }
