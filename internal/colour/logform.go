package colour

import "math"

// piecewise is a straight line up to a cut and a logarithm above it, the form
// of most camera curves:
//
//	y = slope·x + offset                          x ≤ cut (or < cut)
//	y = logSlope·log_base(linSlope·x + linOffset) + logOffset   above
//
// Published constants are rounded, so the two pieces rarely meet. Encode
// follows the published formula on both sides. Decode undoes it so that it is
// monotone and defined everywhere:
//
//   - where the logarithm starts above the line's end (a gap of codes that are
//     never recorded), every code of the gap decodes to the cut;
//   - where it starts below (some codes are recorded from both sides), the
//     published decode cut chooses the side; a light just beside the cut may
//     then come back changed by at most the overlap, and Encode falls there
//     by as much.
type piecewise struct {
	a, b, c, d    float64 // y = a·ln(b·x + c) + d
	invA, invB    float64
	slope, offset float64
	invSlope      float64
	cut           float64 // the last x on the line
	lineTop       float64 // the last y decoded by the line
	logFrom       float64 // from here on y is decoded by the logarithm
	published     logPieces
}

// logPieces are the numbers of a piecewise curve as their source prints them.
type logPieces struct {
	base                 float64
	linSlope, linOffset  float64
	logSlope, logOffset  float64
	cut                  float64
	lineSlope, lineStart float64 // y = lineSlope·x + lineStart up to the cut
	cutIsLog             bool    // the cut itself belongs to the logarithm (x ≥ cut)
	decodeCut            float64 // published y of the cut; 0 where none is printed
}

func newPiecewise(p logPieces) *piecewise {
	f := &piecewise{
		a: p.logSlope / math.Log(p.base), b: p.linSlope, c: p.linOffset, d: p.logOffset,
		invA: math.Log(p.base) / p.logSlope, invB: 1 / p.linSlope,
		slope: p.lineSlope, offset: p.lineStart, invSlope: 1 / p.lineSlope,
		cut: p.cut, published: p,
	}
	if p.cutIsLog {
		f.cut = math.Nextafter(p.cut, lowest)
	}
	lineEnd := p.lineSlope*p.cut + p.lineStart
	logStart := f.logarithm(p.cut)
	f.lineTop, f.logFrom = lineEnd, logStart
	if logStart <= lineEnd {
		side := p.decodeCut
		if side == 0 {
			side = lineEnd
		}
		side = max(logStart, min(lineEnd, side))
		f.lineTop, f.logFrom = side, side
	}
	return f
}

func (f *piecewise) logarithm(x float64) float64 { return f.a*math.Log(f.b*x+f.c) + f.d }

func (f *piecewise) encode(x float64) float64 {
	if x <= f.cut {
		return max(lowest, f.slope*x+f.offset)
	}
	return min(highest, f.logarithm(x))
}

func (f *piecewise) decode(y float64) float64 {
	if y > f.logFrom {
		return min(highest, (math.Exp((y-f.d)*f.invA)-f.c)*f.invB)
	}
	if y <= f.lineTop {
		return max(lowest, (y-f.offset)*f.invSlope)
	}
	if y != y {
		return y
	}
	return f.published.cut
}

// mirrored is a logarithm on both sides of zero with an optional straight
// piece between:
//
//	x > cut:   y =  a·ln(1 + b·x) + above
//	|x| ≤ cut: y =  slope·x + middle
//	x < −cut:  y = −a·ln(1 − b·x) + below
type mirrored struct {
	a, b                 float64
	above, middle, below float64
	slope, cut           float64
	logSlope, linSlope   float64 // as published, base 10
}

func newMirrored(logSlope, linSlope, above, middle, below, slope, cut float64) *mirrored {
	return &mirrored{
		a: logSlope / math.Ln10, b: linSlope, above: above, middle: middle, below: below,
		slope: slope, cut: cut, logSlope: logSlope, linSlope: linSlope,
	}
}

func (f *mirrored) encode(x float64) float64 {
	switch {
	case x > f.cut:
		return min(highest, f.a*math.Log(1+f.b*x)+f.above)
	case x < -f.cut:
		return max(lowest, -f.a*math.Log(1-f.b*x)+f.below)
	}
	return f.slope*x + f.middle
}

// decode holds each piece inside its own side of the cuts, so that the
// rounding of published constants can't make it fall.
func (f *mirrored) decode(y float64) float64 {
	if y != y {
		return y
	}
	if f.cut > 0 {
		if x := (y - f.middle) / f.slope; x >= -f.cut && x <= f.cut {
			return x
		}
	}
	if y >= f.middle {
		return min(highest, max(f.cut, (math.Exp((y-f.above)/f.a)-1)/f.b))
	}
	return max(lowest, min(-f.cut, -(math.Exp((f.below-y)/f.a)-1)/f.b))
}

// cubeRootLog is a cube root up to a cut and a natural logarithm above it:
//
//	y = root·∛(x + shift)        x < cut
//	y = logSlope·ln(x) + logOffset
//
// The real cube root carries on below x = −shift. The pieces leave a gap of
// codes at the cut, which decode to the cut.
type cubeRootLog struct {
	root, shift         float64
	logSlope, logOffset float64
	cut                 float64
	logStart            float64 // y of the logarithm at the cut
}

func newCubeRootLog(root, shift, logSlope, logOffset, cut float64) *cubeRootLog {
	return &cubeRootLog{root, shift, logSlope, logOffset, cut, logSlope*math.Log(cut) + logOffset}
}

func (f *cubeRootLog) encode(x float64) float64 {
	if x < f.cut {
		return f.root * math.Cbrt(x+f.shift)
	}
	return f.logSlope*math.Log(x) + f.logOffset
}

func (f *cubeRootLog) decode(y float64) float64 {
	if y >= f.logStart {
		return min(highest, max(f.cut, math.Exp((y-f.logOffset)/f.logSlope)))
	}
	t := y / f.root
	return max(lowest, min(f.cut, t*t*t-f.shift))
}

// squareLog is zero below a foot, a parabola up to a cut and a base-2
// logarithm above it:
//
//	y = 0                         x < foot
//	y = square·(x − foot)²        x < cut
//	y = logSlope·log₂(x + shift) + logOffset
//
// All light below the foot is recorded as 0, which decodes to the foot.
type squareLog struct {
	foot, cut, square          float64
	shift, logSlope, logOffset float64
	squareTop, logStart        float64 // y of the two pieces at the cut
}

func newSquareLog(foot, cut, square, shift, logSlope, logOffset float64) *squareLog {
	d := cut - foot
	return &squareLog{
		foot, cut, square, shift, logSlope, logOffset,
		square * d * d, logSlope*math.Log2(cut+shift) + logOffset,
	}
}

func (f *squareLog) encode(x float64) float64 {
	switch {
	case x >= f.cut:
		return f.logSlope*math.Log2(x+f.shift) + f.logOffset
	case x < f.foot:
		return 0
	}
	d := x - f.foot
	return f.square * d * d
}

func (f *squareLog) decode(y float64) float64 {
	switch {
	case y >= f.logStart:
		return min(highest, max(f.cut, math.Exp2((y-f.logOffset)/f.logSlope)-f.shift))
	case y <= 0:
		return f.foot
	case y >= f.squareTop:
		return f.cut
	}
	return math.Sqrt(y/f.square) + f.foot
}

// pureLog is ACEScc (Academy S-2014-003, 4.4.2), all logarithm: below 2⁻¹⁵
// half of x is added to 2⁻¹⁶, and nothing below 0 is kept.
type pureLog struct{}

const (
	accStops, accOffset = 17.52, 9.72
	accSmall            = 1.0 / (1 << 15)
	accFloor            = 1.0 / (1 << 16)
)

func (pureLog) encode(x float64) float64 {
	switch {
	case x <= 0:
		x = accFloor
	case x < accSmall:
		x = accFloor + x/2
	}
	return (math.Log2(x) + accOffset) / accStops
}

func (pureLog) decode(y float64) float64 {
	x := math.Exp2(y*accStops - accOffset)
	if x < accSmall {
		return (x - accFloor) * 2
	}
	return min(highest, x)
}
