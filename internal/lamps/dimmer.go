package lamps

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/interp"

	"lampwise/internal/fault"
)

// maxDimmerPoints bounds a typed table.
const maxDimmerPoints = 256

// Dimmer maps what a dimmer reads (0..1) to a lamp's level in light (0..1).
// The nil Dimmer is linear: level = reading.
type Dimmer struct {
	Points []DimmerPoint // rising in both; from 0,0 to 1,1
	curve  interp.FritschButland
}

// DimmerPoint is one measured or typed pair.
type DimmerPoint struct {
	Setting float64 // what the dimmer reads, 0..1
	Level   float64 // light, 1 = full
	Error   float64 // standard error of Level; 0 = typed
}

// NewDimmer makes a monotone curve through the points (Fritsch & Butland 1984,
// by gonum). 0 → 0 and 1 → 1 are added where they are missing. A table that
// doesn't rise is a fault.
func NewDimmer(points []DimmerPoint) (*Dimmer, error) {
	if len(points) > maxDimmerPoints {
		return nil, fault.New(fault.Input, "dimmer-size", "a few points are enough", "dimmer table has %d points; the most is %d", len(points), maxDimmerPoints)
	}
	p := append([]DimmerPoint{}, points...)
	sort.Slice(p, func(i, j int) bool { return p[i].Setting < p[j].Setting })
	for _, q := range p {
		if !(q.Setting >= 0 && q.Setting <= 1 && q.Level >= 0 && q.Level <= 1) { // also NaN
			return nil, fault.New(fault.Input, "dimmer-range", "both are fractions between 0 and 1", "dimmer point %g → %g is out of range", q.Setting, q.Level)
		}
	}
	if len(p) == 0 || p[0].Setting > 0 {
		p = append([]DimmerPoint{{}}, p...)
	}
	if last := p[len(p)-1]; last.Setting < 1 {
		p = append(p, DimmerPoint{Setting: 1, Level: 1})
	}
	xs, ys := make([]float64, len(p)), make([]float64, len(p))
	for i, q := range p {
		xs[i], ys[i] = q.Setting, q.Level
		if i > 0 && (xs[i] <= xs[i-1] || ys[i] < ys[i-1]) {
			return nil, fault.New(fault.Input, "dimmer-order", "more on the dimmer must give more light; each reading once",
				"dimmer table doesn't rise: %g → %g follows %g → %g", xs[i], ys[i], xs[i-1], ys[i-1])
		}
	}
	d := &Dimmer{Points: p}
	if len(p) > 2 { // two points are the straight line
		if err := d.curve.Fit(xs, ys); err != nil {
			return nil, fault.Wrap(err, fault.Input, "dimmer-order", "", "dimmer table: %v", err)
		}
	}
	return d, nil
}

// Level gives the light at a dimmer reading; the ends are held.
func (d *Dimmer) Level(setting float64) float64 {
	setting = min(max(setting, 0), 1)
	if d == nil {
		return setting
	}
	if len(d.Points) == 2 {
		a, b := d.Points[0], d.Points[1]
		return a.Level + (b.Level-a.Level)*(setting-a.Setting)/(b.Setting-a.Setting)
	}
	return d.curve.Predict(setting)
}

// Setting gives the lowest dimmer reading for a level, by bisection on the
// monotone curve, to 1e-9.
func (d *Dimmer) Setting(level float64) float64 {
	if d == nil {
		return min(max(level, 0), 1)
	}
	lo, hi := 0.0, 1.0
	if level >= d.Level(1) {
		hi = d.Points[len(d.Points)-1].Setting
	}
	for hi-lo > 1e-9 {
		mid := (lo + hi) / 2
		if d.Level(mid) < level {
			lo = mid
		} else {
			hi = mid
		}
	}
	return math.Round(hi*1e9) / 1e9
}
