package picture

import "math"

// The styles of a LogOp (Common LUT Format, Log, attribute style).
const (
	Log10          = "log10"
	AntiLog10      = "antiLog10"
	Log2           = "log2"
	AntiLog2       = "antiLog2"
	LinToLog       = "linToLog"
	LogToLin       = "logToLin"
	CameraLinToLog = "cameraLinToLog"
	CameraLogToLin = "cameraLogToLin"
)

// smallest is what a logarithm's argument is held above: the smallest normal
// single precision float (Common LUT Format, Log, FLT_MIN).
const smallest = 0x1p-126

// Kind implements Op.
func (l *LogOp) Kind() string { return "log" }

// Apply implements Op.
func (l *LogOp) Apply(v [3]float64) [3]float64 {
	for ch, x := range v {
		p := &l.Params[ch]
		switch l.Style {
		case Log10:
			x = math.Log10(max(x, smallest))
		case AntiLog10:
			x = math.Pow(10, x)
		case Log2:
			x = math.Log2(max(x, smallest))
		case AntiLog2:
			x = math.Exp2(x)
		case LinToLog:
			x = p.log(x)
		case LogToLin:
			x = p.antiLog(x)
		case CameraLinToLog:
			if x <= p.LinSideBreak {
				slope, offset := p.line()
				x = slope*x + offset
			} else {
				x = p.log(x)
			}
		case CameraLogToLin:
			if x <= p.log(p.LinSideBreak) {
				slope, offset := p.line()
				x = (x - offset) / slope
			} else {
				x = p.antiLog(x)
			}
		}
		v[ch] = total(x)
	}
	return v
}

func (p *LogParams) log(x float64) float64 {
	return p.LogSideSlope*math.Log(max(p.LinSideSlope*x+p.LinSideOffset, smallest))/math.Log(p.Base) + p.LogSideOffset
}

func (p *LogParams) antiLog(y float64) float64 {
	return (math.Pow(p.Base, (y-p.LogSideOffset)/p.LogSideSlope) - p.LinSideOffset) / p.LinSideSlope
}

// line is the straight part below LinSideBreak: with the given slope, or the
// log part's own slope there, and meeting it (Common LUT Format, Log,
// cameraLinToLog).
func (p *LogParams) line() (slope, offset float64) {
	if p.LinearSlope != nil {
		slope = *p.LinearSlope
	} else {
		slope = p.LogSideSlope * p.LinSideSlope / ((p.LinSideSlope*p.LinSideBreak + p.LinSideOffset) * math.Log(p.Base))
	}
	return slope, p.log(p.LinSideBreak) - slope*p.LinSideBreak
}
