package grade

// Schema is the version of the grade file this package reads and writes.
const Schema = 1

// Grade is the settings of one path. The struct tags are the file's whole
// definition: key, unit, range (inclusive), allowed words and the comment
// written beside it.
type Grade struct {
	Schema     int        `toml:"schema" json:"schema" about:"version of this file's layout"`
	Name       string     `toml:"name" json:"name" about:"what you call this grade"`
	Decode     Decode     `toml:"decode" json:"decode" about:"recorded code to scene light"`
	Exposure   Exposure   `toml:"exposure" json:"exposure" about:"scene light: times 2^stops"`
	Balance    Balance    `toml:"balance" json:"balance" about:"scene light: from the measured white to the wanted one"`
	Split      Split      `toml:"split" json:"split" about:"log: tint shadow, middle and high range; mired + is warmer, Duv + is greener"`
	Curve      Curve      `toml:"curve" json:"curve" about:"log: tone, as pairs [stops from grey, stops from grey]"`
	Saturation Saturation `toml:"saturation" json:"saturation" about:"log: about luma, after an optional ASC CDL"`
	Convert    Convert    `toml:"convert" json:"convert" about:"log to screen"`
	Look       Look       `toml:"look" json:"look" about:"screen: a LUT at part strength"`
	Vignette   Vignette   `toml:"vignette" json:"vignette" about:"screen light: gain 2^-(stops * f(r)), f from 0 inside to 1 outside"`
	Encode     Encode     `toml:"encode" json:"encode" about:"screen: what the finished file holds"`

	// notes are the user's comments, by the key they stood at.
	notes map[string][]string
}

// Decode says what the recorded codes mean. Off means that the clip already
// holds a finished display signal; then every stage up to convert must be off.
type Decode struct {
	Off    bool         `toml:"off" json:"off"`
	Curve  string       `toml:"curve" json:"curve" about:"camera curve, e.g. log-420 (lampwise curves lists them)"`
	Gamut  string       `toml:"gamut" json:"gamut" about:"the camera's primaries; empty = the curve's first"`
	Levels string       `toml:"levels" json:"levels" oneof:"auto,data,video" about:"what the curve's y is: auto = as published; data = code/1023; video = (code-64)/876"`
	Range  string       `toml:"range" json:"range" oneof:"auto,narrow,full" about:"auto = the clip's tag"`
	Matrix string       `toml:"matrix" json:"matrix" oneof:"auto,bt709,bt601,bt2020ncl" about:"auto = the clip's tag"`
	Clip   float64      `toml:"clip" json:"clip" range:"0..1087" unit:"10-bit code" about:"where the recording itself clips, measured (grade new --clip); 0 = unknown, the curve's end is taken"`
	Params *CurveParams `toml:"params,omitempty" json:"params,omitempty" about:"a curve of your own (Common LUT Format, cameraLinToLog)"`
}

// CurveParams is a user's own curve in the parameters of Common LUT Format's
// cameraLinToLog.
type CurveParams struct {
	Base          float64  `toml:"base" json:"base" range:"1.0001..1e6" about:"of the logarithm"`
	LinSideSlope  float64  `toml:"lin_side_slope" json:"lin_side_slope" range:"1e-9..1e9"`
	LinSideOffset float64  `toml:"lin_side_offset" json:"lin_side_offset" range:"-1e3..1e3"`
	LogSideSlope  float64  `toml:"log_side_slope" json:"log_side_slope" range:"1e-9..1e3"`
	LogSideOffset float64  `toml:"log_side_offset" json:"log_side_offset" range:"-1e3..1e3"`
	LinSideBreak  float64  `toml:"lin_side_break" json:"lin_side_break" range:"-1e3..1e3"`
	LinearSlope   *float64 `toml:"linear_slope,omitempty" json:"linear_slope,omitempty" range:"1e-9..1e9"`
}

// Exposure multiplies scene light.
type Exposure struct {
	Off   bool    `toml:"off" json:"off"`
	Stops float64 `toml:"stops" json:"stops" unit:"stops" range:"-8..8"`
}

// White is a chromaticity given in one of three ways.
type White struct {
	XY   *[2]float64 `toml:"xy,omitempty" json:"xy,omitempty" range:"0.001..0.999" unit:"CIE 1931 x, y"`
	CCT  *float64    `toml:"cct,omitempty" json:"cct,omitempty" range:"1000..25000" unit:"K"`
	Duv  *float64    `toml:"duv,omitempty" json:"duv,omitempty" range:"-0.05..0.05" unit:"Duv"`
	Card *[3]float64 `toml:"card,omitempty" json:"card,omitempty" range:"1e-6..1e3" unit:"scene-linear camera R, G, B"`
}

// Set says whether the white is given at all.
func (w White) Set() bool { return w.XY != nil || w.CCT != nil || w.Card != nil }

// Balance moves the measured white to the target white.
type Balance struct {
	Off    bool    `toml:"off" json:"off"`
	White  White   `toml:"white" json:"white" inline:"yes" about:"the white as recorded: { card = [r, g, b] } in scene light, { cct = 3200, duv = 0.0 } or { xy = [x, y] }"`
	Target White   `toml:"target" json:"target" inline:"yes" about:"where it should land; {} = the gamut's own white (a neutral card)"`
	Keep   float64 `toml:"keep" json:"keep" range:"0..1" about:"part of the warmth kept: 0 = all removed, 1 = untouched"`
	CAT    string  `toml:"cat" json:"cat" oneof:"CAT16,Bradford" about:"chromatic adaptation"`
}

// Push moves a range's neutral along the daylight axis and across it.
type Push struct {
	Mired float64 `toml:"mired" json:"mired" unit:"mired" range:"-100..100"`
	Duv   float64 `toml:"duv" json:"duv" unit:"Duv" range:"-0.03..0.03"`
}

// Split tints three ranges of the log signal.
type Split struct {
	Off     bool       `toml:"off" json:"off"`
	Centres [3]float64 `toml:"centres" json:"centres" unit:"stops from grey" range:"-10..10" about:"centres of shadow, middle, high"`
	Shadow  Push       `toml:"shadow" json:"shadow" inline:"yes"`
	Middle  Push       `toml:"middle" json:"middle" inline:"yes"`
	High    Push       `toml:"high" json:"high" inline:"yes"`
	Counter string     `toml:"counter" json:"counter" oneof:"none,shadow,middle,high" about:"the range solved such that the picture's mean chroma stays where it was; its own numbers are ignored"`
	Spread  [2]float64 `toml:"spread" json:"spread" unit:"stops" range:"-10..10" about:"the picture's light for the counter-push: centre, from grey, and width"`
}

// Curve is the tone curve in log.
type Curve struct {
	Off    bool         `toml:"off" json:"off"`
	Master [][2]float64 `toml:"master" json:"master" unit:"stops from grey" range:"-16..16" about:"all channels; from a few stops under grey up"`
	Red    [][2]float64 `toml:"red" json:"red" unit:"stops from grey" range:"-16..16"`
	Green  [][2]float64 `toml:"green" json:"green" unit:"stops from grey" range:"-16..16"`
	Blue   [][2]float64 `toml:"blue" json:"blue" unit:"stops from grey" range:"-16..16"`
	Foot   [][2]float64 `toml:"foot" json:"foot" unit:"10-bit code" range:"-64..1087" about:"the toe, as pairs [code, code]; empty = zero light keeps its code"`
}

// CDL is an ASC Color Decision List, inline or from a file.
type CDL struct {
	File       string     `toml:"file" json:"file" about:".cdl, .cc or .ccc; empty = the numbers here"`
	ID         string     `toml:"id" json:"id" about:"which correction of the file; empty = the only one"`
	Slope      [3]float64 `toml:"slope" json:"slope" range:"0..16"`
	Offset     [3]float64 `toml:"offset" json:"offset" range:"-4..4"`
	Power      [3]float64 `toml:"power" json:"power" range:"0.05..16"`
	Saturation float64    `toml:"saturation" json:"saturation" range:"0..4"`
	Clamp      bool       `toml:"clamp" json:"clamp" about:"hold 0..1 after each half (ASC CDL 1.2)"`
}

// Saturation scales the distance from luma in log.
type Saturation struct {
	Off    bool    `toml:"off" json:"off"`
	Amount float64 `toml:"amount" json:"amount" range:"0..2" about:"1 = unchanged"`
	CDL    *CDL    `toml:"cdl,omitempty" json:"cdl,omitempty"`
}

// Convert takes log to the screen.
type Convert struct {
	Off    bool    `toml:"off" json:"off"`
	By     string  `toml:"by" json:"by" oneof:"tone,lut" about:"tone = ours; lut = your conversion LUT"`
	Slope  float64 `toml:"slope" json:"slope" unit:"screen stops per scene stop" range:"0.6..1.8" about:"tone: contrast at grey"`
	Toe    float64 `toml:"toe" json:"toe" unit:"stops from grey" range:"-12..-3" about:"tone: where shadows bend to black"`
	Peak   float64 `toml:"peak" json:"peak" unit:"signal" range:"0.7..1" about:"tone: signal at the recording's clip"`
	Apply  string  `toml:"apply" json:"apply" oneof:"norm,channels" about:"tone: on the colour's largest channel, so that hue stays, or on each channel"`
	LUT    string  `toml:"lut" json:"lut" about:"lut: file"`
	LUTIn  string  `toml:"lut_in" json:"lut_in" oneof:"data,video" about:"lut: what its input 0..1 is"`
	LUTOut string  `toml:"lut_out" json:"lut_out" oneof:"data,video" about:"lut: what its output 0..1 is; most give video"`
}

// Look mixes a LUT in on the screen side.
type Look struct {
	Off      bool    `toml:"off" json:"off"`
	LUT      string  `toml:"lut" json:"lut" about:"file; works on the finished signal"`
	Strength float64 `toml:"strength" json:"strength" range:"0..1" about:"common practice: strong looks sit well at 0.4 to 0.5"`
}

// Vignette darkens toward the frame's edge.
type Vignette struct {
	Off      bool       `toml:"off" json:"off"`
	Stops    float64    `toml:"stops" json:"stops" unit:"stops" range:"-4..4" about:"darkening at the outside"`
	Centre   [2]float64 `toml:"centre" json:"centre" unit:"part of width, height" range:"-1..2" about:"0.5, 0.5 = the frame's middle"`
	Aspect   float64    `toml:"aspect" json:"aspect" range:"0.1..10" about:"width over height of the ellipse; 1 = a circle"`
	Inner    float64    `toml:"inner" json:"inner" unit:"half diagonals" range:"0..2" about:"radius with no darkening"`
	Softness float64    `toml:"softness" json:"softness" unit:"half diagonals" range:"0.1..4" about:"width of the fall-off; never hard"`
}

// Encode says what the finished file holds.
type Encode struct {
	Off     bool   `toml:"off" json:"off"`
	Bits    int    `toml:"bits" json:"bits" oneof:"8,10,12" about:"bits a sample"`
	Sub     string `toml:"sub" json:"sub" oneof:"4:2:0,4:2:2,4:4:4" about:"chroma subsampling"`
	Limiter string `toml:"limiter" json:"limiter" oneof:"off,rgb" about:"rgb holds R'G'B' inside 0..100 %"`
	Dither  string `toml:"dither" json:"dither" oneof:"none,triangular,blue" about:"hides steps and keeps a vignette from banding"`
	Seed    int    `toml:"seed" json:"seed" range:"0..2147483647" about:"of the dither"`
}

// Stage is one place of the path, in order.
type Stage string

// The stages.
const (
	StageDecode     Stage = "decode"
	StageExposure   Stage = "exposure"
	StageBalance    Stage = "balance"
	StageSplit      Stage = "split"
	StageCurve      Stage = "curve"
	StageSaturation Stage = "saturation"
	StageConvert    Stage = "convert"
	StageLook       Stage = "look"
	StageVignette   Stage = "vignette"
	StageEncode     Stage = "encode"
)

// Stages lists the stages in the path's order.
func Stages() []Stage {
	return []Stage{
		StageDecode, StageExposure, StageBalance, StageSplit, StageCurve,
		StageSaturation, StageConvert, StageLook, StageVignette, StageEncode,
	}
}

// off returns the switch of a stage.
func (g *Grade) off(s Stage) *bool {
	switch s {
	case StageDecode:
		return &g.Decode.Off
	case StageExposure:
		return &g.Exposure.Off
	case StageBalance:
		return &g.Balance.Off
	case StageSplit:
		return &g.Split.Off
	case StageCurve:
		return &g.Curve.Off
	case StageSaturation:
		return &g.Saturation.Off
	case StageConvert:
		return &g.Convert.Off
	case StageLook:
		return &g.Look.Off
	case StageVignette:
		return &g.Vignette.Off
	case StageEncode:
		return &g.Encode.Off
	}
	return nil
}

// Off says whether a stage is off.
func (g *Grade) Off(s Stage) bool {
	p := g.off(s)
	return p != nil && *p
}

// SetOff turns a stage off or on.
func (g *Grade) SetOff(s Stage, off bool) {
	if p := g.off(s); p != nil {
		*p = off
	}
}

// defaults is a grade with every setting at its identity or default and every
// stage on; it is what a key left out of a file means.
func defaults() *Grade {
	return &Grade{
		Schema:     Schema,
		Decode:     Decode{Levels: "auto", Range: "auto", Matrix: "auto"},
		Balance:    Balance{CAT: "CAT16"},
		Split:      Split{Centres: [3]float64{-3, 0, 2.5}, Counter: "none", Spread: [2]float64{-1.5, 2}},
		Saturation: Saturation{Amount: 1},
		Convert: Convert{
			By: "tone", Slope: 1.3, Toe: -7, Peak: 1, Apply: "norm",
			LUTIn: "data", LUTOut: "video",
		},
		Vignette: Vignette{Centre: [2]float64{0.5, 0.5}, Aspect: 1.6, Inner: 0.3, Softness: 0.7},
		Encode:   Encode{Bits: 10, Sub: "4:2:2", Limiter: "rgb", Dither: "triangular"},
	}
}

func identityCDL() CDL {
	return CDL{Slope: [3]float64{1, 1, 1}, Power: [3]float64{1, 1, 1}, Saturation: 1}
}

// LookFile and LookStrength are what Starting names: the look of our own
// making, which the example writes beside the grade, at a strength that common
// practice (no source) finds sits well.
const (
	LookFile     = "amber-dusk.cube"
	LookStrength = 0.45
)

// Starting is a sensible grade to begin with for a clip in the named curve:
// our tone scale, a gentle log curve, a slight warm-over-cool split that
// leaves the mean chroma in place and the grey card neutral, our look at 45 %, a soft vignette.
func Starting(curveID string) *Grade {
	g := defaults()
	g.Name = "starting grade"
	g.Decode.Curve = curveID
	g.Balance.Off = true
	g.Split.High = Push{Mired: 10}
	g.Split.Counter = "shadow"
	g.Curve.Master = [][2]float64{{-4, -4.3}, {-2, -2.1}, {0, 0}, {2, 2.05}, {4, 3.9}}
	g.Saturation.Amount = 1.1
	g.Look = Look{LUT: LookFile, Strength: LookStrength}
	g.Vignette.Stops = 0.5
	g.Encode.Bits, g.Encode.Sub = 8, "4:2:0" // what every browser plays; the dither carries the rest
	return g
}
