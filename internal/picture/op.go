package picture

// Op is one step of a program: a function of one colour, plain data, no
// knowledge of where it came from. Apply is the reference arithmetic in
// float64; every faster executor is held to it.
type Op interface {
	// Kind is the tag under which the op is serialised.
	Kind() string
	// Apply maps one colour. It never returns NaN for finite input.
	Apply(rgb [3]float64) [3]float64
}

// Matrix is out = M·in + Offset.
type Matrix struct {
	M      [3][3]float64 `json:"m"`
	Offset [3]float64    `json:"offset"`
}

// Axis says how the samples of a Curves op are spread over its input.
type Axis string

const (
	// AxisUniform spreads samples evenly from Lo to Hi.
	AxisUniform Axis = "uniform"
	// AxisAsinh spreads samples evenly in asinh(x/Scale) from Lo to Hi: fine
	// near zero, even in stops far from it. For scene-linear input.
	AxisAsinh Axis = "asinh"
	// AxisHalf has 65536 samples, one for each bit pattern of a half float
	// (Common LUT Format, halfDomain).
	AxisHalf Axis = "half"
)

// Curves is three sampled 1-D functions with linear interpolation between
// samples and the end values held outside.
type Curves struct {
	Axis    Axis         `json:"axis"`
	Lo      [3]float64   `json:"lo"`
	Hi      [3]float64   `json:"hi"`
	Scale   float64      `json:"scale,omitempty"` // AxisAsinh only
	Samples [3][]float64 `json:"samples"`         // R, G, B; may share one slice
	// KeepHue restores the middle channel's relative place between the other
	// two after the look-up (Common LUT Format, hueAdjust="dw3").
	KeepHue bool `json:"keepHue,omitempty"`
}

// Interp names an interpolation in a 3-D LUT.
type Interp string

const (
	Tetrahedral Interp = "tetrahedral"
	Trilinear   Interp = "trilinear"
)

// LUT3D is a cube of colours on a regular grid. Input outside Lo..Hi is
// clamped to it. The result is in + Strength·(LUT(in) − in).
type LUT3D struct {
	Size     int        `json:"size"` // 2..129
	Lo       [3]float64 `json:"lo"`
	Hi       [3]float64 `json:"hi"`
	Data     []float64  `json:"data"` // 3·Size³ values; red varies fastest, then green, then blue; R,G,B of a node together
	Interp   Interp     `json:"interp"`
	Strength float64    `json:"strength"` // 1 = the LUT alone; 0..1
}

// Shift adds a vector that depends on one weighted sum of the channels:
// out = in + T(w·in), T sampled evenly from Lo to Hi with linear
// interpolation and the ends held.
type Shift struct {
	Weights [3]float64   `json:"weights"`
	Lo      float64      `json:"lo"`
	Hi      float64      `json:"hi"`
	Table   [3][]float64 `json:"table"` // the shift of R, G, B
}

// Compress draws colours outside a gamut toward it, after the Academy
// Reference Gamut Compression 1.3: distance from the achromatic axis
// d = (max − c)/|max| for each channel, compressed above Threshold so that
// Limit lands on 1, with the given Power.
type Compress struct {
	Limit     [3]float64 `json:"limit"`     // distance that lands on the gamut's edge; > 1
	Threshold [3]float64 `json:"threshold"` // distance below which nothing changes; 0..1
	Power     float64    `json:"power"`
}

// Range is out = in·Slope + Offset, then held inside Min..Max where these are set.
type Range struct {
	Slope  float64  `json:"slope"`
	Offset float64  `json:"offset"`
	Min    *float64 `json:"min,omitempty"`
	Max    *float64 `json:"max,omitempty"`
}

// Power is a per-channel exponent in one of Common LUT Format's styles
// (basicFwd, basicRev, basicMirrorFwd, …, monCurveFwd, …).
type Power struct {
	Style    string     `json:"style"`
	Exponent [3]float64 `json:"exponent"`
	Offset   [3]float64 `json:"offset"` // monCurve styles
}

// LogOp is a per-channel logarithm or its inverse in one of Common LUT
// Format's styles (log10, antiLog10, log2, antiLog2, linToLog, logToLin,
// cameraLinToLog, cameraLogToLin).
type LogOp struct {
	Style  string       `json:"style"`
	Params [3]LogParams `json:"params"`
}

// LogParams are the numbers of one channel of a LogOp, as Common LUT Format names them.
type LogParams struct {
	Base          float64  `json:"base"`
	LinSideSlope  float64  `json:"linSideSlope"`
	LinSideOffset float64  `json:"linSideOffset"`
	LogSideSlope  float64  `json:"logSideSlope"`
	LogSideOffset float64  `json:"logSideOffset"`
	LinSideBreak  float64  `json:"linSideBreak"`
	LinearSlope   *float64 `json:"linearSlope,omitempty"`
}

// CDL is the ASC Color Decision List: slope, offset and power for each
// channel, then saturation about luma with BT.709 weights.
type CDL struct {
	Slope      [3]float64 `json:"slope"`
	Offset     [3]float64 `json:"offset"`
	Power      [3]float64 `json:"power"`
	Saturation float64    `json:"saturation"`
	// Style is Fwd or Rev (clamping to 0..1 after each half, ASC CDL 1.2) or
	// FwdNoClamp or RevNoClamp.
	Style string `json:"style"`
}

// Chain is ops in order, first first, with what a file said of itself.
type Chain struct {
	Title       string
	Description []string
	Input       string // what the file says of the colours it takes; may be empty
	Output      string // and of those it gives
	Ops         []Op
}

// Apply runs all ops in order.
func (c *Chain) Apply(rgb [3]float64) [3]float64 {
	for _, op := range c.Ops {
		rgb = op.Apply(rgb)
	}
	return rgb
}
