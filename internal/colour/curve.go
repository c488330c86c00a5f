package colour

import (
	"math"
	"strconv"
	"strings"

	"lampwise/internal/fault"
	"lampwise/internal/unit"
)

// Grey is the reflectance of the trade's grey card, 18 %: 0 stops.
const Grey = 0.18

// CurveKind says what a curve is for.
type CurveKind string

const (
	KindCamera  CurveKind = "camera"  // a camera's log recording
	KindWorking CurveKind = "working" // a log space to grade in
	KindDisplay CurveKind = "display" // display light ↔ signal; linear 1 = the display's white
	KindScene   CurveKind = "scene"   // a broadcast camera's scene light ↔ signal; linear 1 = the signal's top
)

// Curve is one transfer function between linear light x and a signal y.
//
// For cameras and working spaces x is scene-linear with 0.18 = grey; for
// display and scene curves x = 1 is white or the signal's top. What y = 1
// stands for in a recording is said by Levels. A Curve is immutable and safe
// for concurrent use.
type Curve struct {
	ID             string
	Kind           CurveKind
	Levels         Levels
	Gamuts         []string    // ids of the gamuts this curve is recorded with, the usual first
	Source         string      // where the constants come from
	Note           string      // what is peculiar to it, for the user's eyes
	PublishedCodes map[int]int // reflectance in % → 10-bit code, as published
	ExposureIndex  int         // 0, or the index a curve with one formula per index stands for

	form form
}

// form is a curve's arithmetic.
type form interface {
	encode(x float64) float64
	decode(y float64) float64
}

// Encode maps linear light to the signal. Finite input gives finite output.
func (c *Curve) Encode(x float64) float64 { return c.form.encode(x) }

// Decode maps the signal to linear light. Finite input gives finite output,
// and a larger y never gives a smaller x.
func (c *Curve) Decode(y float64) float64 { return c.form.decode(y) }

// Code10 returns the 10-bit code, unrounded, that linear x is recorded at.
func (c *Curve) Code10(x float64) unit.CodeValue {
	y := c.Encode(x)
	if c.Levels == LevelsVideo {
		return unit.CodeValue(Narrow.LumaToCode(y, 10))
	}
	return unit.CodeValue(y * topCode10)
}

// FromCode10 returns the linear light that a 10-bit code stands for.
func (c *Curve) FromCode10(code unit.CodeValue) float64 {
	if c.Levels == LevelsVideo {
		return c.Decode(Narrow.LumaFromCode(float64(code), 10))
	}
	return c.Decode(float64(code) / topCode10)
}

// NarrowPercent returns the level of linear x as a waveform in narrow range
// reads it: 0 % = code 64, 100 % = code 940 of 10 bits.
func (c *Curve) NarrowPercent(x float64) unit.Percent {
	return unit.Percent(100 * Narrow.LumaFromCode(float64(c.Code10(x)), 10))
}

// StopsAtTop returns how far above grey the curve's last code (y = 1) lies.
// The recording's own clip is at or below it: a sensor often clips first.
func (c *Curve) StopsAtTop() unit.Stop { return unit.StopsOf(c.Decode(1) / Grey) }

// SignalFromE returns slope and offset of y = slope·E′ + offset, where E′ is
// the signal read from a frame of range r (0 = black, 1 = white of that
// range). A curve on code values (LevelsData) is defined on code10/1023
// whatever the container's range, so E′ of a narrow clip is put back to
// 64 + 876·E′ first; a curve on the signal takes E′ as it is.
func (c *Curve) SignalFromE(r Range) (slope, offset float64) {
	if c.Levels == LevelsData && r == Narrow {
		return narrowLumaSpan10 / topCode10, narrowBlack10 / topCode10
	}
	return 1, 0
}

const topCode10 = 1023.0

// The curves by name, for code that needs a certain one.
var (
	// BT1886 is the reference display with black at 0 and white at 1: Decode is
	// the EOTF, a pure power 2.4; Encode its inverse.
	BT1886 = mustCurve("bt1886")
	// BT709 is BT.709's OETF: Encode is the camera's, Decode its inverse.
	BT709 = mustCurve("bt709")
	// SRGB is IEC 61966-2-1.
	SRGB = mustCurve("srgb")
	// HLG is BT.2100's hybrid log-gamma OETF; x = 1 is the signal's top.
	HLG = mustCurve("hlg")
	// PQ is SMPTE ST 2084; x = 1 is 10 000 cd/m².
	PQ = mustCurve("pq")
	// ACEScct and ACEScc are the Academy's log working spaces.
	ACEScct = mustCurve("acescct")
	ACEScc  = mustCurve("acescc")
)

// Curves returns every shipped curve in a fixed order: cameras, then working
// spaces, then display and scene curves.
func Curves() []*Curve { return append([]*Curve(nil), allCurves...) }

// CurveByID returns the shipped curve of that id. A curve with one formula
// for each exposure index is had for another index as "ID@INDEX", for example
// "log-400a@1600". An unknown id is a fault that offers the nearest one.
func CurveByID(id string) (*Curve, error) {
	base, index, hasIndex := strings.Cut(id, "@")
	for _, c := range allCurves {
		if c.ID != base {
			continue
		}
		if !hasIndex {
			return c, nil
		}
		n, err := strconv.Atoi(index)
		if err != nil {
			return nil, fault.New(fault.Usage, "curve-index", "write the camera's exposure index as a whole number, such as "+base+"@800",
				"curve %q: %q is not an exposure index", id, index)
		}
		return c.AtExposureIndex(n)
	}
	hint := "`lampwise curves` lists them; `lampwise curves find` finds one by its grey and white levels"
	ids := make([]string, len(allCurves))
	for i, c := range allCurves {
		ids[i] = c.ID
	}
	var lettered []string
	for _, known := range ids {
		if len(known) == len(base)+1 && strings.HasPrefix(known, base) {
			lettered = append(lettered, known)
		}
	}
	if near, ok := fault.Nearest(base, ids); len(lettered) > 1 {
		hint = "did you mean " + strings.Join(lettered, " or ") + "? " + hint
	} else if ok {
		hint = "did you mean " + near + "? " + hint
	}
	return nil, fault.New(fault.Usage, "curve-unknown", hint, "no curve is called %q", id)
}

func mustCurve(id string) *Curve {
	for _, c := range allCurves {
		if c.ID == id {
			return c
		}
	}
	panic("colour: no curve " + id)
}

// Largest finite values, to which curves hold what would overflow.
const (
	lowest  = -math.MaxFloat64
	highest = math.MaxFloat64
)
