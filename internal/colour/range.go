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

// Narrow-range levels at 8 bits (ITU-R BT.709-6, item 4.6; ITU-T H.273), and
// at the 10 bits in which curves are published.
const (
	narrowBlack      = 16.0
	narrowLumaSpan   = 235.0 - 16
	narrowChromaSpan = 240.0 - 16
	narrowChromaZero = 128.0

	narrowBlack10    = 4 * narrowBlack
	narrowLumaSpan10 = 4 * narrowLumaSpan
)

// LumaScale returns slope and offset of code = slope·E′ + offset for luma
// (and R′G′B′) at 8, 10, 12 or 16 bits. Narrow: black 16·2^(bits−8), white
// 235·2^(bits−8). Full: 0 and 2^bits − 1.
func (r Range) LumaScale(bits int) (slope, offset float64) {
	if r == Full {
		return float64(int(1)<<bits - 1), 0
	}
	k := float64(int(1) << (bits - 8))
	return narrowLumaSpan * k, narrowBlack * k
}

// ChromaScale returns slope and offset of code = slope·E′ + offset for Cb and
// Cr, E′ from −0.5 to 0.5. Narrow: zero 128·2^(bits−8), span 224·2^(bits−8).
// Full: zero 2^(bits−1), span 2^bits − 1.
func (r Range) ChromaScale(bits int) (slope, offset float64) {
	if r == Full {
		return float64(int(1)<<bits - 1), float64(int(1) << (bits - 1))
	}
	k := float64(int(1) << (bits - 8))
	return narrowChromaSpan * k, narrowChromaZero * k
}

// LumaFromCode returns E′ of a luma (or R′, G′, B′) code: 0 = black, 1 =
// white. Codes outside the nominal range give values outside 0..1: a log
// recording's luma may rightly lie above 940 of 10 bits.
func (r Range) LumaFromCode(code float64, bits int) float64 {
	slope, offset := r.LumaScale(bits)
	return (code - offset) / slope
}

// LumaToCode is the inverse of LumaFromCode, neither rounded nor clipped.
func (r Range) LumaToCode(e float64, bits int) float64 {
	slope, offset := r.LumaScale(bits)
	return slope*e + offset
}

// ChromaFromCode returns E′Cb or E′Cr of a code, nominally −0.5..0.5.
func (r Range) ChromaFromCode(code float64, bits int) float64 {
	slope, offset := r.ChromaScale(bits)
	return (code - offset) / slope
}

// ChromaToCode is the inverse of ChromaFromCode, neither rounded nor clipped.
func (r Range) ChromaToCode(e float64, bits int) float64 {
	slope, offset := r.ChromaScale(bits)
	return slope*e + offset
}

// Known says whether m is one of the matrices this package has.
func (m MatrixCoefficients) Known() bool {
	return m == MatrixBT709 || m == MatrixBT601 || m == MatrixBT2020
}

// Weights returns the luma weights of R′, G′ and B′: BT.709-6 item 3.2,
// BT.601-7 item 2.5.1, BT.2020-2 table 4 (non-constant luminance). It panics
// on a value that is not Known: readers of files check that first.
//
// Source: ITU-R BT.709-6, item 3.2; BT.601-7, item 2.5.1; BT.2020-2, table 4
func (m MatrixCoefficients) Weights() (kr, kg, kb float64) {
	switch m {
	case MatrixBT709:
		kr, kb = 0.2126, 0.0722
	case MatrixBT601:
		kr, kb = 0.299, 0.114
	case MatrixBT2020:
		kr, kb = 0.2627, 0.0593
	default:
		panic("colour: unknown matrix coefficients " + string(m))
	}
	return kr, 1 - kr - kb, kb
}

// FromRGB returns the matrix R′G′B′ → Y′, Cb, Cr, all as signals (chroma
// −0.5..0.5). Cb = (B′ − Y′)/(2(1 − Kb)), Cr = (R′ − Y′)/(2(1 − Kr)).
func (m MatrixCoefficients) FromRGB() Mat3 {
	kr, kg, kb := m.Weights()
	cb, cr := 2*(1-kb), 2*(1-kr)
	return Mat3{
		{kr, kg, kb},
		{-kr / cb, -kg / cb, 0.5},
		{0.5, -kg / cr, -kb / cr},
	}
}

// ToRGB returns the matrix Y′, Cb, Cr → R′G′B′, the inverse of FromRGB.
func (m MatrixCoefficients) ToRGB() Mat3 {
	kr, kg, kb := m.Weights()
	cb, cr := 2*(1-kb), 2*(1-kr)
	return Mat3{
		{1, 0, cr},
		{1, -kb * cb / kg, -kr * cr / kg},
		{1, cb, 0},
	}
}
