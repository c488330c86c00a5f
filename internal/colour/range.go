package colour

// Range is the quantisation range of integer codes (ITU-T H.273,
// VideoFullRangeFlag).
type Range string

const (
	Narrow Range = "narrow"
	Full   Range = "full"
)

// MatrixCoefficients names the Y′CbCr matrix (ITU-T H.273, MatrixCoefficients).
type MatrixCoefficients string

const (
	MatrixBT709  MatrixCoefficients = "bt709"
	MatrixBT601  MatrixCoefficients = "bt601"
	MatrixBT2020 MatrixCoefficients = "bt2020ncl"
)

// Levels says what a curve's or a LUT's y = 1 stands for: the top code
// (10-bit code value / 1023, whatever the container's range) or the
// narrow-range signal E′ = (code − 64)/876.
type Levels string

const (
	// LevelsData is y = code10/1023.
	LevelsData Levels = "data"
	// LevelsVideo is y = E′ = (code10 − 64)/876.
	LevelsVideo Levels = "video"
)
