package picture

import (
	"fmt"

	"lampwise/internal/colour"
)

// Program is all that is done to a clip's frames, as plain data: the recorded
// codes become the camera curve's signal y, the ops take y to the display
// signal R′G′B′, the vignette and the limiter follow, and the output says how
// that is written. It serialises to JSON (Save, LoadProgram).
type Program struct {
	Input    Input
	Ops      []Op
	Vignette *Vignette // nil = none
	Output   Output
	Error    *Measured // of the executor's baked form; nil = not measured
}

// Input says how R′G′B′ of a frame (E′, 0 = black and 1 = white of the frame's
// own range, by the frame's own matrix) becomes y: y = YSlope·E′ + YOffset
// (colour.Curve.SignalFromE). Slope 0 with offset 0 stands for y = E′.
type Input struct {
	YSlope  float64 `json:"ySlope"`
	YOffset float64 `json:"yOffset"`
}

// Signal returns y of E′.
func (in Input) Signal(e [3]float64) [3]float64 {
	slope, offset := in.line()
	for ch := range e {
		e[ch] = slope*e[ch] + offset
	}
	return e
}

func (in Input) line() (slope, offset float64) {
	if in.YSlope == 0 && in.YOffset == 0 {
		return 1, 0
	}
	return in.YSlope, in.YOffset
}

// Limiter says what happens to display signals outside 0..1.
type Limiter string

// The limiters.
const (
	LimiterOff Limiter = "off" // kept as far as the codes reach
	LimiterRGB Limiter = "rgb" // R′, G′ and B′ are each held inside 0..1
)

// Output says how the display signal is written.
type Output struct {
	Limiter Limiter                   `json:"limiter"`
	Matrix  colour.MatrixCoefficients `json:"matrix"`
	Range   colour.Range              `json:"range"`
	Bits    int                       `json:"bits"`
	Sub     Subsampling               `json:"sub"`
	Siting  Siting                    `json:"siting"`
	Dither  Dither                    `json:"dither"`
	Seed    uint32                    `json:"seed"`
}

// Measured is how far an executor's baked form lies from the exact path.
type Measured struct {
	Over    string  `json:"over"`    // what it was measured over: "lattice" (all of the signal's cube) or "frame" (a clip's own colours)
	Points  int     `json:"points"`  // how many colours were compared
	MaxDE   float64 `json:"maxDE"`   // CIEDE2000
	MeanDE  float64 `json:"meanDE"`  // CIEDE2000
	Neutral float64 `json:"neutral"` // largest difference on neutrals, in 10-bit narrow-range codes (1/876), before rounding to codes
	Exact   float64 `json:"exact"`   // share of cells (lattice) or pixels (frame) that are evaluated exactly
}

// Colour takes y to the display signal: all ops in order, in float64.
func (p *Program) Colour(y [3]float64) [3]float64 {
	for _, op := range p.Ops {
		y = op.Apply(y)
	}
	return y
}

// OutputFormat is the format of the frames the program makes of frames of
// format in: the output's numbers at the input's size.
func (p *Program) OutputFormat(in Format) Format {
	o := p.Output
	return Format{Width: in.Width, Height: in.Height, Bits: o.Bits, Sub: o.Sub, Range: o.Range, Matrix: o.Matrix, Siting: o.Siting}
}

// Check says what is wrong with the program's numbers, nil when nothing is.
func (p *Program) Check() error {
	if err := finite("input", p.Input.YSlope, p.Input.YOffset); err != nil {
		return err
	}
	if slope, _ := p.Input.line(); slope == 0 {
		return fmt.Errorf("input: a slope of 0 leaves no picture")
	}
	if err := CheckOps(p.Ops); err != nil {
		return err
	}
	if p.Vignette != nil {
		if err := p.Vignette.Check(); err != nil {
			return fmt.Errorf("vignette: %w", err)
		}
	}
	if err := p.Output.Check(); err != nil {
		return fmt.Errorf("output: %w", err)
	}
	if p.Error != nil {
		if err := finite("error", p.Error.MaxDE, p.Error.MeanDE, p.Error.Neutral, p.Error.Exact); err != nil {
			return err
		}
	}
	return nil
}

// Check says what is wrong with the output's settings, nil when nothing is.
func (o Output) Check() error {
	return first(
		known("limiter", string(o.Limiter), string(LimiterOff), string(LimiterRGB)),
		known("dither", string(o.Dither), string(DitherNone), string(DitherTriangular), string(DitherBlue)),
		Format{Width: 1, Height: 1, Bits: o.Bits, Sub: o.Sub, Range: o.Range, Matrix: o.Matrix, Siting: o.Siting}.Check(),
	)
}
