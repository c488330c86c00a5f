package gauge

import (
	"fmt"
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/unit"
)

// NoiseFound is what Noise found. Figures are of luma, which is quieter than
// each channel alone; what isn't known is nil, and Notes say why.
type NoiseFound struct {
	Frames int          `json:"frames"`
	Pairs  int          `json:"pairs"` // of neighbouring frames
	Levels []NoiseLevel `json:"levels,omitempty"`
	// Agree says whether space and time agree within a third; Ratio is space
	// over time, the middle of the levels. Nil where one of them is missing.
	Agree *bool    `json:"agree"`
	Ratio *float64 `json:"ratio"`
	// Persistence is how much of a frame's noise is still in the next (0 for a
	// camera that treats each frame alone). Each frame is then worth only
	// (1 − p)/(1 + p) of an independent one: Effective.
	Persistence *float64 `json:"persistence"`
	Effective   *float64 `json:"effective"`
	// Line is the photon-transfer line σ² = A + B·light in scene-linear light.
	Line *NoiseLine `json:"line"`
	// SNRGrey and SNRShadow are signal over noise (a ratio) at 18 % and four
	// stops below it, in luma of one pixel.
	SNRGrey   *float64 `json:"snr_grey"`
	SNRShadow *float64 `json:"snr_shadow"`
	// Floor is where signal and noise are equal, in stops from grey, and
	// FloorError what it may be off by (three standard errors): it lies beyond
	// the darkest level that was seen as often as not.
	Floor      *unit.Stop `json:"floor"`
	FloorError unit.Stop  `json:"floor_error"`
	Problems   []Problem  `json:"problems,omitempty"`
	Notes      []string   `json:"notes,omitempty"`
}

// NoiseLevel is the noise at one level.
type NoiseLevel struct {
	Code  float64     `json:"code"`  // mean luma code, of 10 bits
	Stops *unit.Stop  `json:"stops"` // the same as light
	Time  *float64    `json:"time"`  // standard deviation over time, in 10-bit codes
	Cb    *float64    `json:"cb"`
	Cr    *float64    `json:"cr"`
	Space *float64    `json:"space"` // and in space
	SE    float64     `json:"se"`    // standard error of Time
	Light *NoiseLight `json:"light"`
	N     int         `json:"n"` // differences behind Time
}

// NoiseLight is a level's noise in scene-linear light.
type NoiseLight struct {
	Light float64 `json:"light"` // 0.18 = grey
	Sigma float64 `json:"sigma"`
}

// NoiseLine is a photon-transfer line with the standard errors of its numbers
// and how far the levels scatter about it (root mean square, as a part of σ).
type NoiseLine struct {
	A       float64 `json:"a"` // the sensor's own, at no light
	B       float64 `json:"b"` // of the photons
	SEA     float64 `json:"a_se"`
	SEB     float64 `json:"b_se"`
	Scatter float64 `json:"scatter"`
}

// Sigma is the line's noise at scene-linear light x ≥ 0.
func (l NoiseLine) Sigma(x float64) float64 { return math.Sqrt(l.A + l.B*max(x, 0)) }

// Noise of luma from which it is told (signal over noise at grey; common
// practice, no source).
const (
	noisyGrey     = 20.0
	veryNoisyGrey = 10.0

	noiseCoreTime = 0.5 // see tally.sigma
	noiseAgrees   = 4.0 / 3
	// A line's points may scatter so far before it is no line.
	lineScatter = 0.25
	// Each level's figure is uncertain by this part of itself beyond counting:
	// levels differ in what texture lies in them (common practice, no source).
	levelDoubt  = 0.04
	shadowStops = -4
	// Beyond this many stops of error a floor is no more than a guess.
	mostFloorError  = 3
	leastFloorError = 0.25
)

// Result gives the noise.
func (n *Noise) Result() NoiseFound {
	out := NoiseFound{Frames: n.frames, Pairs: n.pairs}
	if n.frames == 0 {
		out.Notes = append(out.Notes, "no frame was looked at")
		return out
	}
	if n.pairs == 0 {
		out.Notes = append(out.Notes, "no two neighbouring frames were looked at, so there is no figure over time")
	}
	var light *light
	if n.cam.Curve != nil {
		light = newLight(n.cam.Curve, n.format.Range)
	}
	for l := range noiseBySteps {
		if v, ok := n.levelResult(l, light); ok {
			out.Levels = append(out.Levels, v)
		}
	}
	if len(out.Levels) == 0 {
		out.Notes = append(out.Notes, "nothing in the picture is still and smooth enough to measure noise on")
		return out
	}
	n.agreement(&out)
	n.persistence(&out)
	if light == nil {
		out.Notes = append(out.Notes, "the camera's curve isn't known, so noise is given in codes only")
		return out
	}
	n.fit(&out, light)
	return out
}

func (n *Noise) levelResult(l int, light *light) (NoiseLevel, bool) {
	unit10 := float64(int(1)<<n.format.Bits) / 1024
	y := &n.planes[0]
	out := NoiseLevel{Code: (float64(l) + 0.5) * 1024 / noiseBySteps, N: int(y.n[l])}
	sigma := func(p *noisePlane) *float64 {
		if p.diff[l] == nil || p.diff[l].total() < noiseFewest {
			return nil
		}
		s, ok := p.diff[l].sigma(pairFilter, noiseCoreTime)
		if !ok {
			return nil
		}
		return ptr(s / unit10)
	}
	if out.Time = sigma(y); out.Time != nil {
		out.Code = y.code[l] / y.n[l] / unit10
		// A share of one half, read off n differences, gives the scale within 1.2/√n.
		out.SE = *out.Time * 1.2 / math.Sqrt(y.n[l])
		out.Cb, out.Cr = sigma(&n.planes[1]), sigma(&n.planes[2])
	}
	if s, ok := n.spaceSigma(l); ok {
		out.Space = ptr(s / unit10)
	}
	if out.Time == nil && out.Space == nil {
		return out, false
	}
	if light != nil {
		e := n.format.Range.LumaFromCode(out.Code*unit10, n.format.Bits)
		if s, ok := stops(light.exact(e)); ok {
			out.Stops = &s
		}
		if out.Time != nil {
			span, _ := n.format.Range.LumaScale(n.format.Bits)
			out.Light = &NoiseLight{Light: light.exact(e), Sigma: *out.Time * unit10 / span * light.slope(e)}
		}
	}
	return out, true
}

// spaceSigma is a level's noise in space, in the recording's codes: of its
// blocks' mean masks the value below which noiseQuiet of them lie. Were all
// blocks nothing but noise, that quantile of a mean of half a block's samples
// would lie quietShift of its standard deviation under the mean.
func (n *Noise) spaceSigma(l int) (float64, bool) {
	// |x| of a normal variable has mean √(2/π) and deviation √(1 − 2/π).
	const samples = noiseSide * noiseSide / 2
	quantile := math.Sqrt(2/math.Pi) + quietShift*math.Sqrt((1-2/math.Pi)/samples)
	at, ok := quantileOf(&n.space[l], noiseQuiet, fewestBlocks)
	if !ok {
		return 0, false
	}
	s := n.scatterOf(at) / quantile
	v := (s*s - maskGain/12.0) / maskGain
	if at < 1 || v < leastSigma*leastSigma {
		return 0, true
	}
	return math.Sqrt(v), true
}

// agreement compares space with time.
func (n *Noise) agreement(out *NoiseFound) {
	var r []float64
	for _, l := range out.Levels {
		const tellable = 0.5 // codes; below it rounding rules
		if l.Time != nil && l.Space != nil && (*l.Time > tellable || *l.Space > tellable) {
			r = append(r, max(*l.Space, leastSigma)/max(*l.Time, leastSigma))
		}
	}
	switch {
	case n.pairs > 0 && 2*n.same > n.pairs:
		out.Notes = append(out.Notes, "most frames repeat the one before code by code, so noise over time means nothing")
		return
	case len(r) == 0:
		if n.pairs > 0 {
			out.Notes = append(out.Notes, "the noise is below half a code, too little to compare space with time")
		}
		return
	}
	m := median(r)
	ok := m < noiseAgrees && m > 1/noiseAgrees
	out.Ratio, out.Agree = &m, &ok
	switch {
	case ok:
	case m < 1:
		out.Notes = append(out.Notes, "fine noise is weaker in space than over time: the camera or the codec smooths each picture (noise reduction, strong compression)")
	default:
		out.Notes = append(out.Notes, "noise is weaker over time than in space: frames are averaged (noise reduction over time), the codec repeats still parts, or the picture has fine texture everywhere")
	}
}

func (n *Noise) persistence(out *NoiseFound) {
	a, okA := n.lag1.sigma(pairFilter, noiseCoreTime)
	b, okB := n.lag2.sigma(pairFilter, noiseCoreTime)
	if !okA || !okB || a < 0.5 || n.lag1.total() < noiseFewest {
		return
	}
	// Noise that keeps the part p from frame to frame differs over one frame by
	// 2σ²(1 − p) and over two by 2σ²(1 − p²).
	p := min(max(b*b/(a*a)-1, 0), 0.99)
	out.Persistence, out.Effective = &p, ptr((1-p)/(1+p))
	const persists = 0.15
	if p > persists {
		out.Notes = append(out.Notes, fmt.Sprintf("%.0f %% of the noise stays from one frame to the next: noise reduction over time; a mean of frames gains less than it seems", 100*p))
	}
}

// persistsMost is the part of the noise that may stay from frame to frame
// before differences over time say nothing of its size: of 0.6 they show 63 %
// of the deviation.
const persistsMost = 0.6

// faintest is the noise, in codes as recorded, below which rounding and the
// codec rule what is left over time (see leastSigma).
const faintest = 0.5

// fit draws the photon-transfer line.
func (n *Noise) fit(out *NoiseFound, light *light) {
	clip := n.cam.ClipCode
	unit10 := float64(int(1)<<n.format.Bits) / 1024
	span, _ := n.format.Range.LumaScale(n.format.Bits)
	var xs, ys, rel []float64
	for _, l := range out.Levels {
		const nearClip = 12 // 10-bit codes; the clip cuts the noise off
		if l.Light == nil || *l.Time <= 0 || l.Light.Light < -0.01 || clip > 0 && l.Code > clip-nearClip {
			continue
		}
		v := l.Light.Sigma * l.Light.Sigma
		// Where the curve's slope changes within the noise, σ of the light isn't
		// that of the code times the slope.
		e := n.format.Range.LumaFromCode(l.Code*unit10, n.format.Bits)
		se := *l.Time * unit10 / span
		bend := math.Abs(math.Log(light.slope(e+se)/light.slope(e-se))) / 4
		xs, ys, rel = append(xs, l.Light.Light), append(ys, v), append(rel, 2*math.Hypot(math.Hypot(levelDoubt, bend), l.SE / *l.Time))
	}
	if len(xs) < 3 {
		out.Notes = append(out.Notes, "too few levels with noise above rounding to draw a line through")
		return
	}
	// A level's doubt is a part of its variance: of the line's there, so that
	// levels that happen to come out low don't weigh more.
	ws, model := make([]float64, len(xs)), ys
	var line NoiseLine
	for range 8 {
		// A level off the line for another reason, something that moved all the
		// time, loses its say (weights after Cauchy, at two standard errors).
		for i, v := range model {
			r := (ys[i] - v) / (rel[i] * v) / 2
			ws[i] = 1 / (rel[i] * rel[i] * v * v) / (1 + r*r)
		}
		line = fitLine(xs, ys, ws)
		model = make([]float64, len(xs))
		for i, x := range xs {
			model[i] = max(line.A+line.B*x, 1e-3*ys[i])
		}
	}
	n2 := 0.0
	for i, x := range xs {
		d := math.Sqrt(ys[i])/math.Max(line.Sigma(x), 1e-12) - 1
		n2 += min(d*d, 1)
	}
	line.Scatter = math.Sqrt(n2 / float64(len(xs)))
	out.Line = &line
	if line.Scatter > lineScatter {
		out.Notes = append(out.Notes, "noise does not rise with light as photons make it: noise reduction that depends on level, or the curve is another one")
	}
	if p := out.Persistence; p != nil && *p > persistsMost {
		out.Notes = append(out.Notes, "frames share most of their noise, so differences between them don't show how much there is: signal over noise and the noise floor are not told")
		return
	}
	// The line's noise at grey, in codes as recorded.
	slope, offset := n.cam.Curve.SignalFromE(n.format.Range)
	grey := (n.cam.Curve.Encode(colour.Grey) - offset) / slope
	if line.Sigma(colour.Grey)/light.slope(grey)*span < faintest {
		out.Notes = append(out.Notes, "noise over time at grey is below half a code, less than so few bits can tell: signal over noise and the noise floor are not told")
		return
	}
	snr := func(x float64) *float64 {
		if s := line.Sigma(x); s > 0 {
			return ptr(x / s)
		}
		return nil
	}
	shadow := colour.Grey * math.Exp2(shadowStops)
	out.SNRGrey, out.SNRShadow = snr(colour.Grey), snr(shadow)
	// x = σ(x): x² − B·x − A = 0.
	root := math.Sqrt(line.B*line.B + 4*line.A)
	if x := (line.B + root) / 2; x > 0 {
		s, _ := stops(x)
		out.Floor = &s
		dA, dB := line.SEA/root, line.SEB*(1+line.B/root)/2
		out.FloorError = unit.Stop(min(max(3*math.Hypot(dA, dB)/x/math.Ln2, leastFloorError), mostFloorError))
	}
	if out.SNRGrey != nil && *out.SNRGrey < noisyGrey {
		p := Problem{
			Kind: "noise", What: fmt.Sprintf("at grey the signal is only %.0f times the noise (luma, one pixel)", *out.SNRGrey), Size: *out.SNRGrey, Error: 0.1 * *out.SNRGrey, Unit: "signal/noise",
			Severity: Warn, Advice: "more light and a lower sensitivity: four times the light halves the noise against the signal",
		}
		if *out.SNRGrey < veryNoisyGrey {
			p.Severity = Fault
		}
		out.Problems = append(out.Problems, p)
	}
}

// fitLine is the weighted least-squares line with neither number negative.
func fitLine(x, y, w []float64) NoiseLine {
	var s, sx, sy, sxx, sxy float64
	for i := range x {
		s += w[i]
		sx += w[i] * x[i]
		sy += w[i] * y[i]
		sxx += w[i] * x[i] * x[i]
		sxy += w[i] * x[i] * y[i]
	}
	det := s*sxx - sx*sx
	l := NoiseLine{A: (sxx*sy - sx*sxy) / det, B: (s*sxy - sx*sy) / det, SEA: math.Sqrt(sxx / det), SEB: math.Sqrt(s / det)}
	// A number held at 0 keeps its standard error: it is not known to be 0.
	if !(det > 0) || l.A < 0 {
		l.A, l.B, l.SEB = 0, sxy/sxx, math.Sqrt(1/sxx)
	}
	if l.B < 0 {
		l.A, l.B, l.SEA = sy/s, 0, math.Sqrt(1/s)
	}
	if !(det > 0) {
		l.SEA = l.SEB * math.Sqrt(sxx/s)
	}
	return l
}
