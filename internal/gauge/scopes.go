package gauge

import (
	"math"

	"lampwise/internal/picture"
)

// Scopes are counted on grids of ScopeSide × ScopeSide cells.
const ScopeSide = 256

const (
	// ScopeChroma is how far the vectorscope reaches in U and V each way: V of
	// red and cyan at full saturation is 0.615.
	ScopeChroma = 0.66
	// ScopeUV is how far the chromaticity plot reaches in CIE 1976 u′, v′.
	ScopeUV = 0.64
)

// Grid counts samples in ScopeSide × ScopeSide cells, row 0 lowest.
type Grid []uint32

// At is the count of a cell.
func (g Grid) At(x, y int) uint32 { return g[y*ScopeSide+x] }

func (g Grid) add(x, y int) {
	if uint(x) < ScopeSide && uint(y) < ScopeSide {
		g[y*ScopeSide+x]++
	}
}

// ScopeData is what the scopes show.
type ScopeData struct {
	Frames  int `json:"frames"`
	Samples int `json:"samples"`
	// Luma, R, G and B over the picture's width: x is the place from left to
	// right, y the code in 10 bits, four codes to a row. R, G and B are R′G′B′ as
	// codes of the frames' range.
	Luma Grid `json:"luma"`
	R    Grid `json:"r"`
	G    Grid `json:"g"`
	B    Grid `json:"b"`
	// Vector is U to the right and V upward, −ScopeChroma to ScopeChroma.
	Vector Grid `json:"vector"`
	// Chroma is CIE 1976 u′ to the right and v′ upward, 0 to ScopeUV; nil where
	// the curve or the primaries are not known.
	Chroma Grid `json:"chroma,omitempty"`
}

// Histogram sums a waveform's rows: how many samples lie in each four codes.
func (g Grid) Histogram() []uint32 {
	out := make([]uint32, ScopeSide)
	for y := range out {
		for _, n := range g[y*ScopeSide : (y+1)*ScopeSide] {
			out[y] += n
		}
	}
	return out
}

// Scopes count what waveform, parade, vectorscope, histogram and the
// chromaticity plot show.
type Scopes struct {
	cam    Camera
	format picture.Format
	light  *light
	uv     [2][2]float64
	data   ScopeData
}

// NewScopes makes a counter; without curve and primaries there is no
// chromaticity.
func NewScopes(cam Camera) *Scopes {
	grid := func() Grid { return make(Grid, ScopeSide*ScopeSide) }
	s := &Scopes{cam: cam, data: ScopeData{Luma: grid(), R: grid(), G: grid(), B: grid(), Vector: grid()}}
	if cam.Curve != nil && cam.Gamut != nil {
		s.data.Chroma = grid()
	}
	return s
}

// scopeBits is the depth that codes are told in.
const scopeBits = 10

// row is the row of a code of 10 bits.
func scopeRow(code float64) int {
	return min(max(int(math.Floor(code*ScopeSide/(1<<scopeBits))), 0), ScopeSide-1)
}

// scopeColumn is the column of sample x of w in a row. Samples are wider than
// columns, or no whole number of them to one: each row puts its samples at
// another place inside their width, so that no column stays dark or doubled.
func scopeColumn(x, w, row int) int {
	const golden = 0.6180339887498949 // its multiples fill 0..1 evenly
	_, inside := math.Modf(golden * float64(row))
	return int((float64(x) + inside) * ScopeSide / float64(w))
}

// Add counts a frame's samples.
func (s *Scopes) Add(v *View) {
	if s.format != v.Format {
		s.format, s.uv = v.Format, uvMatrix(v.Matrix)
		if s.data.Chroma != nil {
			s.light = newLight(s.cam.Curve, v.Range)
		}
	}
	e := v.E()
	scale, offset := v.Range.LumaScale(scopeBits)
	ten := float64(int(1)<<scopeBits) / float64(int(1)<<v.Bits)
	// Every second row of samples is enough.
	for i, code := range v.Y {
		if i/v.W%2 == 1 {
			continue
		}
		x := scopeColumn(i%v.W, v.W, i/v.W)
		s.data.Samples++
		cb, cr := v.Range.ChromaFromCode(float64(v.Cb[i]), v.Bits), v.Range.ChromaFromCode(float64(v.Cr[i]), v.Bits)
		s.count(x, float64(code)*ten, [3]float64{float64(e[0][i]), float64(e[1][i]), float64(e[2][i])}, scale, offset, cb, cr)
	}
	s.data.Frames++
}

// AddColours counts a picture of w×h pixels of R′G′B′ signals (0 = black, 1 =
// white) as a frame of the format's matrix and range would show them.
func (s *Scopes) AddColours(f picture.Format, w, h int, at func(x, y int) [3]float64) {
	s.format, s.uv = f, uvMatrix(f.Matrix)
	if s.data.Chroma != nil {
		s.light = newLight(s.cam.Curve, f.Range)
	}
	scale, offset := f.Range.LumaScale(scopeBits)
	m := f.Matrix.FromRGB()
	for y := range h {
		for x := range w {
			p := at(x, y)
			c := m.Apply(p)
			s.count(scopeColumn(x, w, y), scale*c[0]+offset, p, scale, offset, c[1], c[2])
		}
	}
	s.data.Frames++
	s.data.Samples += w * h
}

func (s *Scopes) count(x int, code float64, e [3]float64, scale, offset, cb, cr float64) {
	d := &s.data
	d.Luma.add(x, scopeRow(code))
	d.R.add(x, scopeRow(scale*e[0]+offset))
	d.G.add(x, scopeRow(scale*e[1]+offset))
	d.B.add(x, scopeRow(scale*e[2]+offset))
	u, w := s.uv[0][0]*cb+s.uv[0][1]*cr, s.uv[1][0]*cb+s.uv[1][1]*cr
	place := func(v float64) int { return int(math.Floor((v + ScopeChroma) / (2 * ScopeChroma) * ScopeSide)) }
	d.Vector.add(place(u), place(w))
	if s.light == nil {
		return
	}
	lin := [3]float64{float64(s.light.at(float32(e[0]))), float64(s.light.at(float32(e[1]))), float64(s.light.at(float32(e[2])))}
	// Near black the noise has a chromaticity and the scene none.
	if max(lin[0], lin[1], lin[2]) < darkestCell {
		return
	}
	xyz := s.cam.Gamut.ToXYZ().Apply(lin)
	den := xyz[0] + 15*xyz[1] + 3*xyz[2]
	if !(den > 0) {
		return
	}
	d.Chroma.add(int(4*xyz[0]/den/ScopeUV*ScopeSide), int(9*xyz[1]/den/ScopeUV*ScopeSide))
}

// Result gives what was counted.
func (s *Scopes) Result() *ScopeData {
	out := s.data
	return &out
}

// ScopeUVOf is where a vectorscope shows Cb and Cr (−0.5..0.5) of BT.709.
func ScopeUVOf(cb, cr float64) (u, v float64) {
	m := uvMatrix("bt709")
	return m[0][0]*cb + m[0][1]*cr, m[1][0]*cb + m[1][1]*cr
}
