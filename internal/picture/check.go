package picture

import (
	"fmt"
	"math"
	"slices"
)

// Maxima of an op's tables. A file that asks for more is refused before
// memory is taken for it.
const (
	MaxLUT3D   = 129     // grid points a side
	MinLUT3D   = 2       // grid points a side
	MaxSamples = 1 << 16 // of one channel of Curves or Shift; AxisHalf has just so many
	MaxOps     = 256     // of one program
)

// Checker is what every op of this package also is: Check says in plain words
// what is wrong with an op's numbers, nil when nothing is. Apply may be called
// only on an op that passed.
type Checker interface{ Check() error }

// CheckOps checks each op of a list and names the first that fails.
func CheckOps(ops []Op) error {
	if len(ops) > MaxOps {
		return fmt.Errorf("%d ops, at most %d are allowed", len(ops), MaxOps)
	}
	for i, op := range ops {
		c, ok := op.(Checker)
		if !ok {
			return fmt.Errorf("op %d: unknown op %T", i+1, op)
		}
		if err := c.Check(); err != nil {
			return fmt.Errorf("op %d (%s): %w", i+1, op.Kind(), err)
		}
	}
	return nil
}

func finite(name string, v ...float64) error {
	for _, x := range v {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return fmt.Errorf("%s holds %v; every number must be finite", name, x)
		}
		if math.Abs(x) > held {
			return fmt.Errorf("%s holds %v; the largest number allowed is %v", name, x, held)
		}
	}
	return nil
}

func positive(name string, v ...float64) error {
	if err := finite(name, v...); err != nil {
		return err
	}
	for _, x := range v {
		if x <= 0 {
			return fmt.Errorf("%s is %v; it must be above 0", name, x)
		}
	}
	return nil
}

func known(name, value string, allowed ...string) error {
	if slices.Contains(allowed, value) {
		return nil
	}
	return fmt.Errorf("%s %q is not one of %q", name, value, allowed)
}

func first(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

func span(lo, hi [3]float64) error {
	if err := first(finite("lo", lo[:]...), finite("hi", hi[:]...)); err != nil {
		return err
	}
	for ch := range 3 {
		if !(hi[ch]-lo[ch] > 0) {
			return fmt.Errorf("channel %d: hi %v is not above lo %v", ch+1, hi[ch], lo[ch])
		}
	}
	return nil
}

// Check implements Checker.
func (m *Matrix) Check() error {
	return first(finite("m", m.M[0][:]...), finite("m", m.M[1][:]...), finite("m", m.M[2][:]...), finite("offset", m.Offset[:]...))
}

// Check implements Checker.
func (r *Range) Check() error {
	if err := finite("slope or offset", r.Slope, r.Offset); err != nil {
		return err
	}
	for _, limit := range []*float64{r.Min, r.Max} {
		if limit != nil {
			if err := finite("min or max", *limit); err != nil {
				return err
			}
		}
	}
	if r.Min != nil && r.Max != nil && *r.Min > *r.Max {
		return fmt.Errorf("min %v is above max %v", *r.Min, *r.Max)
	}
	return nil
}

// Check implements Checker.
func (c *Curves) Check() error {
	if err := known("axis", string(c.Axis), string(AxisUniform), string(AxisAsinh), string(AxisHalf)); err != nil {
		return err
	}
	if c.Axis != AxisHalf {
		if err := span(c.Lo, c.Hi); err != nil {
			return err
		}
	}
	if c.Axis == AxisAsinh {
		if err := positive("scale", c.Scale); err != nil {
			return err
		}
	}
	for ch, s := range c.Samples {
		switch {
		case c.Axis == AxisHalf && len(s) != MaxSamples:
			return fmt.Errorf("channel %d has %d samples; a half-float axis has %d", ch+1, len(s), MaxSamples)
		case len(s) < 2 || len(s) > MaxSamples:
			return fmt.Errorf("channel %d has %d samples; 2 to %d are allowed", ch+1, len(s), MaxSamples)
		}
		if err := finite("samples", s...); err != nil {
			return err
		}
	}
	return nil
}

// Check implements Checker.
func (l *LUT3D) Check() error {
	if l.Size < MinLUT3D || l.Size > MaxLUT3D {
		return fmt.Errorf("size %d; %d to %d are allowed", l.Size, MinLUT3D, MaxLUT3D)
	}
	if want := 3 * l.Size * l.Size * l.Size; len(l.Data) != want {
		return fmt.Errorf("%d values; size %d has %d", len(l.Data), l.Size, want)
	}
	if !(l.Strength >= 0 && l.Strength <= 1) {
		return fmt.Errorf("strength %v is not within 0 to 1", l.Strength)
	}
	return first(known("interp", string(l.Interp), string(Tetrahedral), string(Trilinear)), span(l.Lo, l.Hi), finite("data", l.Data...))
}

// Check implements Checker.
func (s *Shift) Check() error {
	if err := first(finite("weights", s.Weights[:]...), span([3]float64{s.Lo, s.Lo, s.Lo}, [3]float64{s.Hi, s.Hi, s.Hi})); err != nil {
		return err
	}
	for ch, t := range s.Table {
		if len(t) < 2 || len(t) > MaxSamples {
			return fmt.Errorf("channel %d has %d samples; 2 to %d are allowed", ch+1, len(t), MaxSamples)
		}
		if err := finite("table", t...); err != nil {
			return err
		}
	}
	return nil
}

// Check implements Checker.
func (c *Compress) Check() error {
	if err := positive("power", c.Power); err != nil {
		return err
	}
	for ch := range 3 {
		if t := c.Threshold[ch]; !(t >= 0 && t < 1) {
			return fmt.Errorf("threshold %v of channel %d is not within 0 to 1 (1 excluded)", t, ch+1)
		}
		if l := c.Limit[ch]; !(l > 1 && l <= held) {
			return fmt.Errorf("limit %v of channel %d is not above 1", l, ch+1)
		}
		if s := c.scale(ch); !(s > 0 && s <= held) {
			return fmt.Errorf("limit %v, threshold %v and power %v of channel %d leave nothing to compress with", c.Limit[ch], c.Threshold[ch], c.Power, ch+1)
		}
	}
	return nil
}

// Check implements Checker. The bounds of the moncurve styles are those of
// Common LUT Format, Exponent.
func (p *Power) Check() error {
	if err := known("style", p.Style, BasicFwd, BasicRev, BasicMirrorFwd, BasicMirrorRev, BasicPassThruFwd, BasicPassThruRev,
		MonCurveFwd, MonCurveRev, MonCurveMirrorFwd, MonCurveMirrorRev); err != nil {
		return err
	}
	if err := positive("exponent", p.Exponent[:]...); err != nil {
		return err
	}
	switch p.Style {
	case MonCurveFwd, MonCurveRev, MonCurveMirrorFwd, MonCurveMirrorRev:
		for ch := range 3 {
			if e := p.Exponent[ch]; !(e >= 1 && e <= 10) {
				return fmt.Errorf("exponent %v of channel %d is not within 1 to 10", e, ch+1)
			}
			if o := p.Offset[ch]; !(o >= 0 && o <= 0.9) {
				return fmt.Errorf("offset %v of channel %d is not within 0 to 0.9", o, ch+1)
			}
		}
	}
	return nil
}

// Check implements Checker.
func (l *LogOp) Check() error {
	if err := known("style", l.Style, Log10, AntiLog10, Log2, AntiLog2, LinToLog, LogToLin, CameraLinToLog, CameraLogToLin); err != nil {
		return err
	}
	switch l.Style {
	case Log10, AntiLog10, Log2, AntiLog2:
		return nil // these have no parameters
	}
	for ch := range l.Params {
		if err := l.Params[ch].check(l.Style == CameraLinToLog || l.Style == CameraLogToLin); err != nil {
			return fmt.Errorf("channel %d: %w", ch+1, err)
		}
	}
	return nil
}

func (p *LogParams) check(camera bool) error {
	if err := first(positive("base", p.Base), finite("parameters", p.LinSideSlope, p.LinSideOffset, p.LogSideSlope, p.LogSideOffset)); err != nil {
		return err
	}
	if p.Base == 1 {
		return fmt.Errorf("base is 1, which has no logarithm")
	}
	if p.LinSideSlope == 0 || p.LogSideSlope == 0 {
		return fmt.Errorf("linSideSlope and logSideSlope must not be 0")
	}
	if !camera {
		return nil
	}
	if err := finite("linSideBreak", p.LinSideBreak); err != nil {
		return err
	}
	if p.LinearSlope != nil {
		if err := finite("linearSlope", *p.LinearSlope); err != nil {
			return err
		}
	}
	if p.LinSideSlope*p.LinSideBreak+p.LinSideOffset <= 0 {
		return fmt.Errorf("linSideSlope·linSideBreak + linSideOffset is not above 0, so the log part does not reach the break")
	}
	slope, offset := p.line()
	if slope == 0 {
		return fmt.Errorf("linearSlope is 0, so the straight part cannot be undone")
	}
	return finite("straight part", slope, offset)
}

// Check implements Checker.
func (c *CDL) Check() error {
	if err := first(known("style", c.Style, CDLFwd, CDLRev, CDLFwdNoClamp, CDLRevNoClamp),
		finite("slope", c.Slope[:]...), finite("offset", c.Offset[:]...), positive("power", c.Power[:]...), finite("saturation", c.Saturation)); err != nil {
		return err
	}
	reverse := c.Style == CDLRev || c.Style == CDLRevNoClamp
	for ch, s := range c.Slope {
		if s < 0 || reverse && s == 0 {
			return fmt.Errorf("slope %v of channel %d: it must be above 0 (0 is allowed forward)", s, ch+1)
		}
	}
	if c.Saturation < 0 || reverse && c.Saturation == 0 {
		return fmt.Errorf("saturation %v: it must be above 0 (0 is allowed forward)", c.Saturation)
	}
	return nil
}
