package gauge

import (
	"fmt"
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
	"lampwise/internal/unit"
)

// The vectorscope's axes are U = 0.492·(B′ − Y′) and V = 0.877·(R′ − Y′) with
// Y′ of BT.601's weights, whatever matrix the file has, and skin of all kinds
// lies near the +I axis of the old colour system at 123° in them (video-qc of
// the check values; constants of ITU-R BT.470, from memory). In a plain plot
// of BT.709's Cb and Cr the same colours lie at 130.5°.
const (
	scaleU = 0.492
	scaleV = 0.877
	// SkinLine is the skin line's angle in U, V.
	SkinLine unit.Degree = 123
)

// uvMatrix takes Cb and Cr (−0.5..0.5) of a matrix to U and V.
func uvMatrix(m colour.MatrixCoefficients) [2][2]float64 {
	rgb := m.ToRGB() // its first column is 1: R′, G′ and B′ less Y′ follow from chroma
	kr, kg, kb := colour.MatrixBT601.Weights()
	var out [2][2]float64
	for c := range 2 {
		r, g, b := rgb[0][c+1], rgb[1][c+1], rgb[2][c+1]
		y := kr*r + kg*g + kb*b
		out[0][c], out[1][c] = scaleU*(b-y), scaleV*(r-y)
	}
	return out
}

// Skin measures hue and share of skin in a face, in the finished picture.
//
// Source: ITU-R BT.470 (U, V and the +I axis; from memory)
type Skin struct {
	face   Region
	format picture.Format
	uv     [2][2]float64
	frames int
	n      int
	inLine int
	grey   int
	sum    [2]float64 // of unit vectors weighted by chroma
	over   *series
}

const (
	// SkinLimit is by how many degrees the mean hue must miss the skin line
	// before it is told.
	SkinLimit unit.Degree = 6

	skinWithin    = 10.0 // degrees about the line that count as on it (common practice, no source)
	skinLeast     = 0.02 // chroma in U, V under which there is no hue
	skinFewest    = 0.2  // part of the face that must have a hue
	skinSamples   = 4096
	skinHueError  = 1.0 // degree
	skinBins      = 512
	skinWarnLimit = 15.0
	// Beyond it nothing is skin in white light (common practice, no source).
	skinNever = 60.0
)

// NewSkin makes a meter for a face.
func NewSkin(face Region) *Skin { return &Skin{face: face, over: newSeries(2, skinBins)} }

// Add measures a frame.
func (s *Skin) Add(v *View) {
	if s.format != v.Format {
		s.format = v.Format
		s.uv = uvMatrix(v.Matrix)
	}
	f := v.Frame
	cw, _ := f.ChromaSize()
	x0, y0, x1, y1 := s.face.Box.Pixels(v.Width, v.Height)
	step := max(1, int(math.Sqrt(float64((x1-x0)*(y1-y0))/skinSamples)))
	var sumU, sumV float64
	s.face.points(v.Width, v.Height, step, func(x, y int) {
		if f.Sub != picture.Sub444 {
			x /= 2
		}
		if f.Sub == picture.Sub420 {
			y /= 2
		}
		at := y*cw + x
		cb, cr := f.Range.ChromaFromCode(float64(f.Cb[at]), f.Bits), f.Range.ChromaFromCode(float64(f.Cr[at]), f.Bits)
		u, w := s.uv[0][0]*cb+s.uv[0][1]*cr, s.uv[1][0]*cb+s.uv[1][1]*cr
		s.n++
		if math.Hypot(u, w) < skinLeast {
			s.grey++
			return
		}
		sumU, sumV = sumU+u, sumV+w
		if math.Abs(turn(degrees(math.Atan2(w, u))-float64(SkinLine))) <= skinWithin {
			s.inLine++
		}
	})
	s.sum[0] += sumU
	s.sum[1] += sumV
	s.frames++
	s.over.add(v.Time, sumU, sumV)
}

func degrees(rad float64) float64 { return rad * 180 / math.Pi }

// turn brings an angle to −180..180.
func turn(d float64) float64 { return math.Mod(math.Mod(d, 360)+540, 360) - 180 }

// SkinFound is what Skin found.
type SkinFound struct {
	Region string `json:"region"`
	Frames int    `json:"frames"`
	// Hue is the mean hue, in degrees in U, V, and Off how far it lies from the
	// skin line: positive toward yellow-green, negative toward magenta. Nil
	// where most of the face has no hue.
	Hue *unit.Degree `json:"hue"`
	Off *unit.Degree `json:"off"`
	// Share is the part (0..1) of the face within 10° of the line, Grey that
	// without hue.
	Share    float64   `json:"share"`
	Grey     float64   `json:"grey"`
	Over     []Moment  `json:"over,omitempty"` // Off over time
	Problems []Problem `json:"problems,omitempty"`
	Notes    []string  `json:"notes,omitempty"`
}

// Result tells.
func (s *Skin) Result() SkinFound {
	out := SkinFound{Region: s.face.Name, Frames: s.frames}
	if s.n == 0 {
		out.Notes = append(out.Notes, "no frame was looked at")
		return out
	}
	out.Share, out.Grey = float64(s.inLine)/float64(s.n), float64(s.grey)/float64(s.n)
	if 1-out.Grey < skinFewest {
		out.Notes = append(out.Notes, "the region has hardly any colour, so skin has no hue there")
		return out
	}
	hue := degrees(math.Atan2(s.sum[1], s.sum[0]))
	off := turn(hue - float64(SkinLine))
	out.Hue, out.Off = ptr(unit.Degree(math.Mod(hue+360, 360))), ptr(unit.Degree(off))
	for _, b := range s.over.bins {
		u, v := b.v[0].sum, b.v[1].sum
		if u != 0 || v != 0 {
			o := turn(degrees(math.Atan2(v, u)) - float64(SkinLine))
			out.Over = append(out.Over, Moment{From: b.from, To: b.to, N: b.v[0].n, Mean: o, Least: o, Most: o})
		}
	}
	if math.Abs(off) < thresholdFactor*float64(SkinLimit) {
		return out
	}
	toward, advice := "yellow-green", "warm the balance less, or push its Duv away from green"
	if off < 0 {
		toward, advice = "magenta", "push the balance's Duv toward green, or cool it a little"
	}
	p := Problem{
		Kind: "skin-hue", What: fmt.Sprintf("skin in %s lies %.0f° from the skin line, toward %s", s.face.Name, math.Abs(off), toward), Size: off, Error: skinHueError, Unit: "°", Severity: Note,
		Advice: advice + "; leave it where the light is coloured on purpose",
	}
	switch d := math.Abs(off); {
	case d >= skinNever:
		p.What = fmt.Sprintf("what is in %s has a hue %.0f° from the skin line, which no skin has in white light", s.face.Name, d)
		p.Advice = "is the region on the face? Under coloured light skin takes its hue, and this check says nothing"
	case d >= skinWarnLimit:
		p.Severity = Warn
	}
	out.Problems = append(out.Problems, p)
	return out
}
