package demo

import (
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// Camera is how light becomes code values. Its numbers are the example's own,
// of an ordinary size for a 12-megapixel sensor at its log mode's base
// sensitivity.
type Camera struct {
	Curve  *colour.Curve
	Gamut  *colour.Gamut
	Format picture.Format

	// Exposure is sensor signal (1 = clip) for each cd/m² of a white in a
	// channel of response 1.
	Exposure float64
	// White is what the camera's white balance was set to.
	White colour.XY
	// ClipLinear is the scene-linear value (0.18 = grey) at which a neutral clips.
	ClipLinear float64
	// Electrons at clip for each channel of a pixel: a pixel of a frame is a
	// square of four photosites, of which two are green.
	Electrons [3]float64
	ReadNoise [3]float64 // electrons, RMS
	Pattern   float64    // RMS of the fixed pattern's gain
	Smoothing float64    // share of the frame before that noise reduction keeps where nothing moved; 0 = off

	gains   [3]float32 // white balance, the least is 1
	toRGB   [3][3]float32
	noiseA  [3]float32 // variance = A·signal + B, in units of clip²
	noiseB  [3]float32
	codes   []float32
	codesLo uint32
	luma    [3]float32 // Y from R′G′B′ codes
	cb, cr  float32
	chroma0 float32
	normal  []float32 // a table of normal deviates
	maxCode float32
	minCode float32
}

// ClipStops is where the example's sensor clips a neutral: stops above grey.
const ClipStops = 5.2

// NewCamera makes the camera for frames of the given format.
func NewCamera(curveID, gamutID string, f picture.Format) (*Camera, error) {
	c := &Camera{
		Format: f, White: whitePoint(5000, 0),
		ClipLinear: 0.18 * math.Pow(2, ClipStops),
		Electrons:  [3]float64{12000, 24000, 12000},
		ReadNoise:  [3]float64{4, 5.6, 4},
		Pattern:    0.003,
		Smoothing:  0.45,
		Exposure:   exampleExposure,
	}
	var err error
	if c.Curve, err = colour.CurveByID(curveID); err != nil {
		return nil, err
	}
	if c.Gamut, err = colour.GamutByID(gamutID); err != nil {
		return nil, err
	}
	c.Prepare()
	return c, nil
}

// matrix gives the white balance's gains and the matrix from balanced sensor
// channels (1 = clip of the least amplified) to scene-linear camera RGB in
// units of ClipLinear.
func (c *Camera) matrix() (gains [3]float64, m colour.Mat3) {
	n := NativeFromXYZ.Apply(c.White.XYZ())
	top := max(n[0], n[1], n[2])
	for i := range gains {
		gains[i] = top / n[i]
	}
	adapt := colour.Adapt(c.White, c.Gamut.W, colour.CAT16)
	m = c.Gamut.FromXYZ().Mul(adapt).Mul(NativeFromXYZ.Inverse()).
		Mul(colour.Diagonal(1/gains[0], 1/gains[1], 1/gains[2])).Scale(top)
	return gains, m
}

// codeBits is how finely the log curve's table is cut: mantissa bits kept.
const codeBits = 11

// codeShift is added to linear values so that the table's argument is positive
// for all the noise there can be under black.
const codeShift = 0.06

// Prepare works out what follows from the fields. Call it again after changing any.
func (c *Camera) Prepare() {
	gains, m := c.matrix()
	for i := range 3 {
		c.gains[i] = float32(gains[i])
		for j := range 3 {
			c.toRGB[i][j] = float32(m[i][j] * c.ClipLinear)
		}
		c.noiseA[i] = float32(1 / c.Electrons[i])
		c.noiseB[i] = float32(c.ReadNoise[i] * c.ReadNoise[i] / (c.Electrons[i] * c.Electrons[i]))
	}
	// The table: code (10 bits, not rounded) of every float32 of codeBits mantissa bits.
	lo, hi := float32(1e-3), float32(256)
	c.codesLo = math.Float32bits(lo) >> (23 - codeBits)
	n := math.Float32bits(hi)>>(23-codeBits) - c.codesLo + 1
	slope, offset := c.Curve.SignalFromE(c.Format.Range) // y = slope·E′ + offset
	bits := c.Format.Bits
	c.codes = make([]float32, n)
	for i := range c.codes {
		mid := math.Float32frombits((uint32(i)+c.codesLo)<<(23-codeBits) | 1<<(22-codeBits))
		y := c.Curve.Encode(float64(mid) - codeShift)
		c.codes[i] = float32(c.Format.Range.LumaToCode((y-offset)/slope, bits))
	}
	kr, kg, kb := c.Format.Matrix.Weights()
	c.luma = [3]float32{float32(kr), float32(kg), float32(kb)}
	// Chroma codes from R′−Y′ and B′−Y′ in luma codes.
	perLuma := c.Format.Range.LumaToCode(1, bits) - c.Format.Range.LumaToCode(0, bits)
	perChroma := c.Format.Range.ChromaToCode(0.5, bits) - c.Format.Range.ChromaToCode(-0.5, bits)
	c.cb = float32(perChroma / (2 * (1 - kb) * perLuma))
	c.cr = float32(perChroma / (2 * (1 - kr) * perLuma))
	c.chroma0 = float32(c.Format.Range.ChromaToCode(0, bits))
	// SDI keeps the ends for its timing (BT.709-6, item 5.5: 4..1019 at 10 bits).
	c.minCode, c.maxCode = float32(int(1)<<(bits-8)), float32(int(255)<<(bits-8)-1)
	c.normal = normalTable()
}

// normalCount is a power of two.
const normalCount = 1 << 18

func normalTable() []float32 {
	r := seeded(0x6e6f697365)
	t := make([]float32, normalCount)
	for i := range t {
		t[i] = float32(r.normal())
	}
	return t
}

// code looks a scene-linear value up on the log curve, in codes of the format.
func (c *Camera) code(x float32) float32 {
	x += codeShift
	if !(x > 1e-3) {
		x = 1e-3
	}
	i := math.Float32bits(x)>>(23-codeBits) - c.codesLo
	if i >= uint32(len(c.codes)) {
		i = uint32(len(c.codes)) - 1
	}
	return c.codes[i]
}

// ClipCode is the code a clipped neutral is recorded at.
func (c *Camera) ClipCode() float64 {
	slope, offset := c.Curve.SignalFromE(c.Format.Range)
	return c.Format.Range.LumaToCode((c.Curve.Encode(c.ClipLinear)-offset)/slope, c.Format.Bits)
}

// Expose turns sensor-channel light (as a Studio's pictures hold it) into
// scene-linear camera RGB without noise: exposure, clip, white balance, matrix.
func (c *Camera) Expose(native [3]float64) (rgb [3]float64) {
	gains, m := c.matrix()
	var n [3]float64
	for i := range n {
		n[i] = min(1, min(1, native[i]*c.Exposure)*gains[i])
	}
	rgb = m.Apply(n)
	for i := range rgb {
		rgb[i] *= c.ClipLinear
	}
	return rgb
}

// exposed is a frame on its way: the planes of the frame before, which noise
// reduction leans on.
type recording struct {
	camera    *Camera
	y, cb, cr []float32
	started   bool
	seed      uint64
}

func (c *Camera) record(seed uint64) *recording {
	cw, ch := c.Format.ChromaSize()
	n := c.Format.Width * c.Format.Height
	return &recording{camera: c, y: make([]float32, n), cb: make([]float32, cw*ch), cr: make([]float32, cw*ch), seed: seed}
}

// row exposes row y of frame number index from native light, 3 values a pixel,
// and writes its codes.
func (r *recording) row(native []float32, index, y int, gain float32, scratch *rowScratch, out *picture.Frame) {
	c := r.camera
	w := c.Format.Width
	scratch.fit(w)
	rs := seeded(r.seed, uint64(index), uint64(y))
	ps := seeded(0xf1ced, uint64(y))
	k := float32(c.Exposure) * gain
	var noise, fixed [3][]float32
	for ch := range 3 {
		at := int(rs.next() & (normalCount - 1))
		if at+w > normalCount {
			at -= w
		}
		noise[ch] = c.normal[at : at+w]
		at = int(ps.next() & (normalCount - 1))
		if at+w > normalCount {
			at -= w
		}
		fixed[ch] = c.normal[at : at+w]
	}
	yy, r1, b1 := scratch.y[:w], scratch.r[:w], scratch.b[:w]
	n0, n1, n2 := noise[0][:w], noise[1][:w], noise[2][:w]
	p0, p1, p2 := fixed[0][:w], fixed[1][:w], fixed[2][:w]
	native = native[:3*w]
	pattern, m := float32(c.Pattern), &c.toRGB
	for x := range w {
		px := native[3*x : 3*x+3 : 3*x+3]
		n0 := c.sensed(px[0]*k, pattern*p0[x], n0[x], 0)
		n1 := c.sensed(px[1]*k, pattern*p1[x], n1[x], 1)
		n2 := c.sensed(px[2]*k, pattern*p2[x], n2[x], 2)
		R := c.code(m[0][0]*n0 + m[0][1]*n1 + m[0][2]*n2)
		G := c.code(m[1][0]*n0 + m[1][1]*n1 + m[1][2]*n2)
		B := c.code(m[2][0]*n0 + m[2][1]*n1 + m[2][2]*n2)
		l := c.luma[0]*R + c.luma[1]*G + c.luma[2]*B
		yy[x] = l
		r1[x] = (R - l) * c.cr
		b1[x] = (B - l) * c.cb
	}
	r.finish(scratch, index, y, out)
}

// sensed is one channel of a photosite: signal v with its fixed pattern and
// its noise, clipped, then white-balanced. The channels that clip later are
// cut where the first one clips, as cameras do, so that a blown white stays
// white.
func (c *Camera) sensed(v, pattern, noise float32, channel int) float32 {
	s := v
	if s < 0 {
		s = 0
	}
	v += v*pattern + noise*sqrt32(s*c.noiseA[channel]+c.noiseB[channel])
	if v > 1 {
		v = 1
	}
	v *= c.gains[channel]
	if v > 1 {
		v = 1
	}
	return v
}

type rowScratch struct{ y, r, b []float32 }

func (s *rowScratch) fit(w int) {
	if len(s.y) < w {
		s.y, s.r, s.b = make([]float32, w), make([]float32, w), make([]float32, w)
	}
}

// stillCodes is how many codes a pixel may differ from the frame before and
// still count as the same thing with other noise.
const stillCodes = 40

// finish filters chroma to half the width (co-sited, 1-2-1), leans on the
// frame before and rounds to codes.
func (r *recording) finish(s *rowScratch, index, y int, out *picture.Frame) {
	c := r.camera
	w := c.Format.Width
	keep := float32(c.Smoothing)
	if !r.started {
		keep = 0
	}
	lean := func(cur float32, prev *float32) float32 {
		d := *prev - cur
		t := 1 - d*d*(1.0/(stillCodes*stillCodes))
		if t > 0 {
			cur += keep * t * d
		}
		*prev = cur
		return cur
	}
	round := func(v float32) uint16 {
		if v < c.minCode {
			v = c.minCode
		} else if v > c.maxCode {
			v = c.maxCode
		}
		return uint16(v + 0.5)
	}
	py := r.y[y*w : (y+1)*w]
	oy := out.Y[y*w : (y+1)*w]
	for x, v := range s.y[:w] {
		oy[x] = round(lean(v, &py[x]))
	}
	cw, _ := c.Format.ChromaSize()
	pb, pr := r.cb[y*cw:(y+1)*cw], r.cr[y*cw:(y+1)*cw]
	ob, or := out.Cb[y*cw:(y+1)*cw], out.Cr[y*cw:(y+1)*cw]
	for i := range cw {
		x := 2 * i
		a, b := max(0, x-1), min(w-1, x+1)
		ob[i] = round(lean(0.25*s.b[a]+0.5*s.b[x]+0.25*s.b[b]+c.chroma0, &pb[i]))
		or[i] = round(lean(0.25*s.r[a]+0.5*s.r[x]+0.25*s.r[b]+c.chroma0, &pr[i]))
	}
}

// exampleExposure is set so that the reference mix puts the lit side of the
// face a little under a stop above grey.
const exampleExposure = 0.0021
