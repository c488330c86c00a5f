package job

import (
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/gauge"
	"lampwise/internal/grade"
	"lampwise/internal/unit"
)

// bandingModel predicts false contours of a path on smooth areas.
//
// A step that the recording or the finished file rounds to is seen when it is
// over one just noticeable step and nothing has dithered it away. Where noise of
// σ steps stands before the rounding, little of a step is left in the mean of what
// is rounded: noise of half a step leaves under 1 % (see ripple).
//
// Source: B. Widrow, I. Kollár 2008, "Quantization Noise", chapter 19 on dither (from memory)
type bandingModel struct {
	path    *grade.Path
	rng     colour.Range
	peak    unit.CandelaPerSquareMetre
	sigma10 func(code float64) float64 // luma noise by luma code, both of 10 bits
	dither  bool
	again   float64 // quality of a web site's encode; WebQuality is usual
}

// codecModel is what a codec does to a smooth area. Its quantiser wipes out what
// lies under its dead zone, noise and dither alike.
//
// Source: ITU-T H.264, 8.5.9 (a quantiser's step is 0.625 at QP 0 and doubles every 6; from memory)
type codecModel struct {
	step0, double float64 // the quantiser's step in codes of 8 bits at QP 0; QP in which it doubles
	// deadZone is the part of a step under which a coefficient is dropped.
	deadZone float64
	// Encoders quantise flat squares finer: by flat QP for each doubling of the
	// energy (sum of squares of a 16×16 square, in codes of 8 bits) under
	// 2^flatFrom, which is the h264 encoder's variance-adaptive quantisation.
	flat, flatFrom float64
}

// codec is calibrated: dead zone and flat are those at which the model ranks
// best what TestPredictedBandingRanksWhatIsSeen counts in its small set; the
// full set has other grades.
var codec = codecModel{step0: 0.625, double: 6, deadZone: 1.6, flat: 0.7, flatFrom: 14.4}

const (
	flatSquare = 256 // pixels of the square
	// The constant quality of a delivery, media's own for h264.
	deliveryQP = 18.0
	// tpdfVariance is that of triangular dither of two steps' width and of the
	// rounding after it, in steps².
	tpdfVariance = 1.0/6 + 1.0/12
	// ragged is what is seen of contours that noise or dither has made ragged
	// before an encoder dropped it, against clean ones: the mean of what was
	// counted over what was foreseen in the training set of budgetagain_test.go.
	ragged = 0.5
)

// kept is the noise of σ that is left after encoding at a QP, both in codes of
// a file of so many bits.
func (c codecModel) kept(sigma, qp float64, bits int) float64 {
	if sigma <= 0 {
		return 0
	}
	code := math.Exp2(float64(bits - 8))
	energy := math.Max(flatSquare*sigma*sigma/(code*code), 1)
	qp = math.Max(0, qp+c.flat*(math.Log2(energy)-c.flatFrom))
	t := c.deadZone * c.step0 * math.Exp2(qp/c.double) * code / sigma
	// E[c²; |c| > t] of a normal variable: 2(t·φ(t) + Q(t)).
	power := 2*t*math.Exp(-t*t/2)/math.Sqrt(2*math.Pi) + math.Erfc(t/math.Sqrt2)
	return sigma * math.Sqrt(math.Min(power, 1))
}

// ripple is the part of a step, peak to peak, by which the mean of what is
// rounded still waves under Gaussian noise of σ steps before the rounding:
// twice the greatest value of Σ (−1)^(k+1)·exp(−2π²k²σ²)·sin(2πkx)/(πk).
func ripple(sigma float64) float64 {
	const harmonics, places = 40, 256
	if sigma <= 0 {
		return 1
	}
	if sigma >= rippleEnd {
		return 0
	}
	// Beyond the first few the terms are nothing but for small σ.
	most := 0.0
	for i := 1; i < places; i++ {
		x, sum := float64(i)/(2*places), 0.0
		for k := 1; k <= harmonics; k++ {
			w := math.Exp(-2 * math.Pi * math.Pi * float64(k*k) * sigma * sigma)
			if w < 1e-6 {
				break
			}
			if k%2 == 0 {
				w = -w
			}
			sum += w * math.Sin(2*math.Pi*float64(k)*x) / (math.Pi * float64(k))
		}
		most = math.Max(most, sum)
	}
	return math.Min(2*most, 1)
}

// rippleEnd is the noise, in steps, from which under 10⁻⁸ of a step is left.
const rippleEnd = 1.0

// spoilt is the part of an area that a step of j just noticeable ones spoils:
// nothing up to 1, nearly all where it is many.
func spoilt(j float64) float64 {
	if j <= 1 {
		return 0
	}
	return 1 - 1/j
}

// lumaSpan is the codes from black to white at so many bits.
func lumaSpan(r colour.Range, bits int) float64 {
	span, _ := r.LumaScale(bits)
	return span
}

// eOfBin is the recorded luma signal at the middle of one of n equal stretches of code.
func (m bandingModel) eOfBin(i, n int) float64 {
	return m.rng.LumaFromCode((float64(i)+0.5)*1024/float64(n), 10)
}

// neutralE is the recorded signal of a neutral at scene stops; false where it
// lies beyond the codes.
func (m bandingModel) neutralE(stops float64) (float64, bool) {
	slope, offset := m.path.SignalOfE()
	e := (m.path.NeutralSignal(stops) - offset) / slope
	code := m.rng.LumaToCode(e, 10)
	return e, code >= 4 && code <= 1019
}

// steps are the visibilities of one recorded and one written step, and the
// noise in each, at a recorded colour.
func (m bandingModel) steps(e [3]float64, bits, outBits int) (at grade.StepAt, source, out, sigmaSource, sigmaOut float64) {
	step := 1 / lumaSpan(m.rng, bits)
	at = m.path.StepOf(e, step)
	p := m.peak
	source = gauge.StepVisibility(unit.CandelaPerSquareMetre(at.Light[0])*p, unit.CandelaPerSquareMetre(at.Light[1])*p)
	outStep := 1 / lumaSpan(colour.Narrow, outBits)
	l := grade.LumaStepLight(math.Max(at.Signal, outStep/2), outStep)
	out = gauge.StepVisibility(unit.CandelaPerSquareMetre(l[0])*p, unit.CandelaPerSquareMetre(l[1])*p)
	sigma := m.sigma10(m.rng.LumaToCode(at.E, 10)) / lumaSpan(m.rng, 10) // in E′
	return at, source, out, sigma / step, sigma * math.Abs(at.Gain) / outStep
}

// risk is what a recorded level suffers; slope is how fast the recorded luma
// changes there, in 10-bit codes a pixel.
func (m bandingModel) risk(e, slope float64, bits, outBits int) BandingRisks {
	at, source, out, ss, so := m.steps([3]float64{e, e, e}, bits, outBits)
	source *= ripple(ss)
	rendered := ripple(so)
	if m.dither {
		rendered = 0
	}
	// What stands on the finished codes before the codec: noise, dither, rounding.
	total := so * so
	if m.dither {
		total += tpdfVariance
	}
	_, _, out8, _, so8 := m.steps([3]float64{e, e, e}, bits, 8)
	first := codec.kept(math.Sqrt(total), deliveryQP, outBits)
	delivered := out * ripple(first)
	eight := math.Abs(at.Gain) * lumaSpan(colour.Narrow, 8) / lumaSpan(m.rng, 10)
	web := again.spoilt(math.Max(out8, source), so8, slope*eight, m.again)
	gone := spoilt(math.Max(source, delivered))
	if total > 0 {
		gone *= ragged
	}
	// What a first encode has spoilt no second one mends.
	return BandingRisks{Rendered: spoilt(math.Max(source, out*rendered)), Delivered: gone, Web: math.Max(web, gone)}
}

// risks weighs the levels by the smooth area; slope as gauge.SmoothArea has it.
func (m bandingModel) risks(area, slope []float64, bits, outBits int) BandingRisks {
	var sum BandingRisks
	total := 0.0
	for i, a := range area {
		if a == 0 {
			continue
		}
		r := m.risk(m.eOfBin(i, len(area)), slope[i], bits, outBits)
		sum.Rendered += a * r.Rendered
		sum.Delivered += a * r.Delivered
		sum.Web += a * r.Web
		total += a
	}
	if total > 0 {
		sum.Rendered, sum.Delivered, sum.Web = sum.Rendered/total, sum.Delivered/total, sum.Web/total
	}
	return sum
}

// level tells the cost at a recorded colour.
func (m bandingModel) level(e [3]float64, bits, outBits int, alone *grade.Path) BudgetLevel {
	at, source, out, ss, so := m.steps(e, bits, outBits)
	_, source8, _, _, _ := m.steps(e, 8, outBits)
	l := BudgetLevel{
		Stops: at.Stops, Code: m.rng.LumaToCode(at.E, 10), Signal: 100 * at.Signal, Step: source, Step8: source8, Out: out,
		Gain: at.Gain * lumaSpan(colour.Narrow, 10) / lumaSpan(m.rng, 10), Hidden: gauge.HiddenBy(ss),
	}
	if ss > 0 {
		l.Noise, l.Sigma = &ss, &so
		// Independent noise of the channels, as luma's σ would come from it.
		sigma := m.sigma10(l.Code) / lumaSpan(m.rng, 10)
		w := [3]float64{}
		w[0], w[1], w[2] = colour.MatrixBT709.Weights()
		each := sigma / math.Sqrt(w[0]*w[0]+w[1]*w[1]+w[2]*w[2])
		slope, _ := m.path.SignalOfE()
		s := each * slope
		pass := func(p *grade.Path) gauge.OutputNoise {
			return gauge.PassNoise(p.Exact, m.signal(e), [3]float64{s, s, s}, w, 0.25/1023)
		}
		if cost, ok := gauge.NoiseCost(pass(m.path), pass(alone)); ok {
			v := float64(cost)
			l.Cost = &v
		}
	}
	return l
}

func (m bandingModel) signal(e [3]float64) (y [3]float64) {
	slope, offset := m.path.SignalOfE()
	for i, x := range e {
		y[i] = slope*x + offset
	}
	return y
}
