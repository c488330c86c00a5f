package picture

import (
	"math"
	"math/rand/v2"
	"sync"
	"testing"

	"lampwise/internal/colour"
)

// filmPath is an analytic path of the usual kind: a camera's log signal to
// light, white balance, compression into AP1's and BT.709's primaries, a tone
// scale and the display's signal.
func filmPath() []Op {
	curve, err := colour.CurveByID("log-420")
	if err != nil {
		panic(err)
	}
	gamut, err := colour.GamutByID(curve.Gamuts[0])
	if err != nil {
		panic(err)
	}
	ap1, bt709 := colour.MustGamut("ap1"), colour.MustGamut("bt709")
	toAP1 := colour.RGBToRGB(gamut, ap1, colour.CAT16).Mul(colour.Diagonal(1.04, 1, 0.93))
	toScreen := colour.RGBToRGB(ap1, bt709, colour.CAT16)
	const n, lo, hi = 4096, -0.1, 1.1
	decode := &Curves{Axis: AxisUniform, Lo: same3(lo), Hi: same3(hi), Samples: sameCurve(ramp(n, func(t float64) float64 { return curve.Decode(lo + (hi-lo)*t) }))}
	top, scale := 400.0, 0.01
	// A tone scale with a toe and a shoulder; any smooth one will do here.
	tone := func(x float64) float64 { b := x * x / (x + 0.01); return math.Pow(b/(b+0.9), 0.5) }
	show := &Curves{Axis: AxisAsinh, Lo: same3(0), Hi: same3(top), Scale: scale, Samples: sameCurve(ramp(n, func(t float64) float64 {
		return tone(scale * math.Sinh(t*math.Asinh(top/scale)))
	}))}
	return []Op{
		decode,
		&Matrix{M: toAP1},
		&Compress{Limit: [3]float64{1.147, 1.264, 1.312}, Threshold: [3]float64{0.815, 0.803, 0.880}, Power: 1.2},
		&Matrix{M: toScreen},
		&Compress{Limit: same3(1.5), Threshold: same3(0.8), Power: 1.2},
		show,
	}
}

// lookLUT is a smooth look on a 33-point grid.
func lookLUT(strength float64, interp Interp) *LUT3D {
	l := &LUT3D{Size: 33, Lo: same3(0), Hi: same3(1), Interp: interp, Strength: strength}
	at := func(i int) float64 { return float64(i) / float64(l.Size-1) }
	for b := range l.Size {
		for g := range l.Size {
			for r := range l.Size {
				v := [3]float64{at(r), at(g), at(b)}
				y := luma3(v)
				for ch, x := range v {
					s := x * x * (3 - 2*x)
					v[ch] = clamp01(y + 0.9*(0.6*x+0.4*s-y) + 0.02*float64(1-ch)*math.Sin(math.Pi*y))
				}
				l.Data = append(l.Data, v[0], v[1], v[2])
			}
		}
	}
	return l
}

func luma3(v [3]float64) float64 { return 0.2126*v[0] + 0.7152*v[1] + 0.0722*v[2] }

var logInput = Input{YSlope: 876.0 / 1023, YOffset: 64.0 / 1023}

func plainFormat(w, h int) Format {
	return Format{Width: w, Height: h, Bits: 10, Sub: Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: SiteLeft}
}

// roomFrame is a made-up log picture: large soft areas, some saturated ones,
// an edge here and there, and noise.
func roomFrame(f Format, seed uint64) *Frame {
	fr := NewFrame(f)
	r := rand.New(rand.NewPCG(seed, 1))
	unit := float64(int(1)<<f.Bits) / 1024
	noise := func() float64 { return r.NormFloat64() * 4 * unit }
	put := func(v float64) uint16 { return uint16(max(4*unit, min(1019*unit, v))) }
	for y := range f.Height {
		for x := range f.Width {
			u, v := float64(x)/float64(f.Width), float64(y)/float64(f.Height)
			l := 180 + 420*math.Exp(-8*((u-0.4)*(u-0.4)+(v-0.45)*(v-0.45))) + 150*v
			if x*7/f.Width%3 == 2 {
				l -= 90
			}
			fr.Y[y*f.Width+x] = put(l*unit + noise())
		}
	}
	cw, ch := f.ChromaSize()
	for y := range ch {
		for x := range cw {
			u, v := float64(x)/float64(cw), float64(y)/float64(ch)
			cb, cr := 512+60*math.Sin(6*u)*v, 512+70*math.Cos(5*v+u)*u
			if math.Hypot(u-0.8, v-0.3) < 0.08 {
				cb, cr = 440, 640
			}
			fr.Cb[y*cw+x] = put(cb*unit + noise())
			fr.Cr[y*cw+x] = put(cr*unit + noise())
		}
	}
	return fr
}

func wildFrame(f Format, seed uint64) *Frame {
	fr := NewFrame(f)
	r := rand.New(rand.NewPCG(seed, 2))
	fill := func(p []uint16) {
		for i := range p {
			switch r.IntN(8) {
			case 0:
				p[i] = 0
			case 1:
				p[i] = uint16(1<<f.Bits - 1)
			default:
				p[i] = uint16(r.UintN(1 << f.Bits))
			}
		}
	}
	fill(fr.Y)
	fill(fr.Cb)
	fill(fr.Cr)
	return fr
}

// filmKernel is the usual path baked, with a look at part strength. It takes
// seconds to make, so tests share it.
var filmKernel = sync.OnceValue(func() *Kernel {
	p := &Program{Input: logInput, Ops: append(filmPath(), lookLUT(0.45, Tetrahedral)), Output: plainOutput()}
	k, err := Compile(p, nil, plainFormat(64, 48), KernelOptions{})
	if err != nil {
		panic(err)
	}
	return k
})

// lutKernel has no baked stretch: a curve for each channel and two LUTs on
// their own grids, one of them interpolated trilinearly.
var lutKernel = sync.OnceValue(func() *Kernel {
	s := &Curves{Axis: AxisUniform, Lo: same3(0), Hi: same3(1), Samples: sameCurve(ramp(256, func(t float64) float64 { return t * t * (3 - 2*t) }))}
	p := &Program{Input: logInput, Ops: []Op{s, lookLUT(1, Trilinear), lookLUT(0.45, Tetrahedral)}, Output: plainOutput()}
	k, err := Compile(p, nil, plainFormat(64, 48), KernelOptions{})
	if err != nil {
		panic(err)
	}
	return k
})

// variant is the kernel with other frames and another output.
func (k *Kernel) variant(t testing.TB, in Format, o Output, v *Vignette, options KernelOptions) *Kernel {
	t.Helper()
	base := *k.programCopy()
	base.Output, base.Vignette = o, v
	other := newKernel(&base, k.exact, in, options)
	if other.input.domain == k.input.domain {
		other.plan = k.plan
	} else {
		other.plan = newPlan(base.Ops, other.exact, other.input.domain, other.judge, nil)
	}
	other.ready()
	return other
}

func (k *Kernel) programCopy() *Program { p := k.program; return &p }

// differences counts by how many codes two frames differ.
func differences(a, b *Frame) (count map[int]int, largest int) {
	count = map[int]int{}
	for _, planes := range [3][2][]uint16{{a.Y, b.Y}, {a.Cb, b.Cb}, {a.Cr, b.Cr}} {
		for i, v := range planes[0] {
			d := int(v) - int(planes[1][i])
			count[d]++
			largest = max(largest, d, -d)
		}
	}
	return count, largest
}

// codeTolerance is how many codes the kernel may differ from the plain
// executor that is given the same function of colour: one of 10 bits, which
// rounding at different places can always make; its 15 bits show in deeper
// codes.
func codeTolerance(bits int) int { return 1 << max(0, bits-10) }

func TestKernelAgainstPlain(t *testing.T) {
	vignette := &Vignette{Stops: 1.2, CentreX: 0.4, CentreY: 0.45, Aspect: 1.3, Inner: 0.1, Softness: 0.8}
	type sized struct{ w, h int }
	n := 0
	for _, sub := range []Subsampling{Sub444, Sub422, Sub420} {
		for _, siting := range []Siting{SiteLeft, SiteTopLeft, SiteCentre} {
			for _, bits := range []int{8, 10, 12, 16} {
				for _, size := range []sized{{64, 48}, {131, 67}, {1, 1}, {2, 3}, {3, 2}, {193, 1}} {
					n++
					in := Format{Width: size.w, Height: size.h, Bits: bits, Sub: sub, Range: colour.Narrow, Matrix: []colour.MatrixCoefficients{colour.MatrixBT709, colour.MatrixBT601, colour.MatrixBT2020}[n%3], Siting: siting}
					// Outputs of all kinds come round against inputs of all kinds.
					o := Output{
						Limiter: []Limiter{LimiterRGB, LimiterOff}[n%2], Matrix: []colour.MatrixCoefficients{colour.MatrixBT709, colour.MatrixBT2020}[n/2%2],
						Range: []colour.Range{colour.Narrow, colour.Full}[n/3%2], Bits: []int{10, 8, 12, 16}[n/5%4], Sub: []Subsampling{Sub420, Sub422, Sub444}[n/7%3],
						Siting: []Siting{SiteLeft, SiteTopLeft, SiteCentre}[n/11%3], Dither: []Dither{DitherTriangular, DitherNone, DitherBlue}[n%3], Seed: uint32(n),
					}
					var v *Vignette
					if n%2 == 0 {
						v = vignette
					}
					base := filmKernel()
					if n%3 == 0 {
						base = lutKernel()
					}
					k := base.variant(t, in, o, v, KernelOptions{Workers: 1 + n%3})
					portable := base.variant(t, in, o, v, KernelOptions{Workers: 1, Portable: true})
					for _, frame := range []*Frame{roomFrame(in, uint64(n)), wildFrame(in, uint64(n))} {
						frame.Index = n
						got, want := NewFrame(k.out), NewFrame(k.out)
						if err := k.Run(frame, got); err != nil {
							t.Fatal(err)
						}
						if k.SIMD() {
							same := NewFrame(k.out)
							if err := portable.Run(frame, same); err != nil {
								t.Fatal(err)
							}
							if count, largest := differences(got, same); largest != 0 {
								t.Fatalf("%+v to %+v: the wide form differs from the portable one: %v", in, o, count)
							}
						}
						if err := k.programCopy().RunWith(k.Colour, frame, want); err != nil {
							t.Fatal(err)
						}
						count, _ := differences(got, want)
						outside, all := 0, 0
						for d, c := range count {
							all += c
							if max(d, -d) > codeTolerance(o.Bits) {
								outside += c
							}
						}
						// The kernel's chroma has 14 bits. Where a wild frame's 16 bits
						// reach the steepest places near black, that shows now and then.
						allowed := 0
						if in.Bits == 16 {
							allowed = all / 1000
						}
						if outside > allowed {
							t.Errorf("%+v to %+v: %d of %d differ too much: %v", in, o, outside, all, count)
						}
					}
				}
			}
		}
	}
}
