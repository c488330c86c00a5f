package lamps

import (
	"math"

	"lampwise/internal/fault"
	"lampwise/internal/unit"
)

// Learned is what a switch clip taught.
type Learned struct {
	*Separation
	Constancy *Constancy
	// HeldOut tells, for each hold, how well it is predicted from the others.
	HeldOut []HeldOut
	// Additivity is the median of the held-out errors, stops; NaN when no hold
	// could be left out.
	Additivity unit.Stop
	// Dimmers are the curves measured from holds at part settings, by lamp.
	Dimmers map[string]*Dimmer
	// Notes are sentences about what was odd but not fatal.
	Notes []string
}

// HeldOut is one hold predicted from the others.
type HeldOut struct {
	Testable bool      // the others tell everything in it
	Error    unit.Stop // median of the absolute error over bins
	Bias     unit.Stop // median of the error: the whole hold brighter or darker
}

// LearnOptions are what is known before.
type LearnOptions struct {
	Dimmers   map[string]*Dimmer   // typed curves; a lamp without one is measured when it can be, else linear
	Filaments map[string]*Filament // lamps whose colour follows their level
}

// Learn takes the holds of a switch clip apart after an order that matches
// them. Levels of part settings are measured when the lamp also has a full
// hold. A camera that adjusted itself is in Constancy; its Err is the fault.
func Learn(holds []Hold, o *Order, noise Noise, opt LearnOptions) (*Learned, error) {
	if len(holds) != len(o.Holds) {
		return nil, fault.New(fault.Input, "holds-count", "say the order as it was switched", "the order has %d holds, the clip %d", len(o.Holds), len(holds))
	}
	d := o.Design(opt.Dimmers)
	for _, l := range o.Lamps {
		d.Filament = append(d.Filament, opt.Filaments[l])
	}
	out := &Learned{Dimmers: map[string]*Dimmer{}}
	unknown := o.partHolds(opt.Dimmers)
	if len(unknown) > 0 {
		if err := out.measureLevels(holds, o, d, unknown, noise); err != nil {
			return nil, err
		}
	}
	s, err := Separate(holds, d, SeparateOptions{Noise: noise})
	if err != nil {
		return nil, err
	}
	out.Constancy = findConstancy(holds, s)
	if scale := out.Constancy.AmbientScale; scale != nil {
		if s, err = Separate(holds, d, SeparateOptions{Noise: noise, AmbientScale: scale}); err != nil {
			return nil, err
		}
	}
	if t := out.Constancy.String(); t != "" {
		out.Notes = append(out.Notes, t)
	}
	out.Separation = s
	out.holdOut(holds)
	return out, nil
}

// partHolds lists the holds in which a lamp without a known curve stands at a
// part setting, though it has a higher one in another hold.
func (o *Order) partHolds(known map[string]*Dimmer) []int {
	top := make([]float64, len(o.Lamps))
	for _, h := range o.Holds {
		for i, v := range h.Setting {
			top[i] = max(top[i], v)
		}
	}
	var out []int
	for s, h := range o.Holds {
		for i, v := range h.Setting {
			if v > 0 && v < top[i] && known[o.Lamps[i]] == nil {
				out = append(out, s)
				break
			}
		}
	}
	return out
}

// measureLevels learns the lamps from the other holds, then fits the part
// holds by them, and puts the levels found into the design.
func (l *Learned) measureLevels(holds []Hold, o *Order, d *Design, unknown []int, noise Noise) error {
	var rest []Hold
	part := &Design{Lamps: d.Lamps, Filament: d.Filament}
	isPart := map[int]bool{}
	for _, s := range unknown {
		isPart[s] = true
	}
	for s := range holds {
		if !isPart[s] {
			rest = append(rest, holds[s])
			part.Level = append(part.Level, d.Level[s])
		}
	}
	if !part.Rank().Full() {
		l.Notes = append(l.Notes, "the part settings are needed to tell the lamps apart, so their dimmers are taken as linear; add a hold with each lamp full to measure them")
		return nil
	}
	sep, err := Separate(rest, part, SeparateOptions{Noise: noise})
	if err != nil {
		return err
	}
	points := map[string][]DimmerPoint{}
	for _, s := range unknown {
		levels, errors, err := sep.fitLevels(holds[s].Mean, d.Level[s])
		if err != nil {
			return err
		}
		for i, name := range o.Lamps {
			v := o.Holds[s].Setting[i]
			if v <= 0 || v >= 1 || math.IsNaN(levels[i]) || errors[i] > 0.2*max(levels[i], 0.02) {
				continue
			}
			d.Level[s][i] = min(max(levels[i], 0), 1)
			points[name] = append(points[name], DimmerPoint{Setting: v, Level: d.Level[s][i], Error: errors[i]})
		}
	}
	for name, p := range points {
		curve, err := NewDimmer(meanPoints(p))
		if err != nil {
			l.Notes = append(l.Notes, name+": the levels measured don't rise with its dimmer; was the order right?")
			continue
		}
		l.Dimmers[name] = curve
	}
	return nil
}

// meanPoints joins points at the same setting, weighted by their errors.
func meanPoints(p []DimmerPoint) []DimmerPoint {
	sum := map[float64][2]float64{}
	for _, q := range p {
		w := 1 / max(sq(q.Error), 1e-12)
		s := sum[q.Setting]
		sum[q.Setting] = [2]float64{s[0] + w*q.Level, s[1] + w}
	}
	var out []DimmerPoint
	for v, s := range sum {
		out = append(out, DimmerPoint{Setting: v, Level: s[0] / s[1], Error: math.Sqrt(1 / s[1])})
	}
	return out
}

// fitLevels measures each lamp's level in a picture of the same clip, the
// camera being as it was: a robust fit with the channels joined by their
// covariance. near is what the levels should be about.
func (s *Separation) fitLevels(l *Light, near []float64) (levels, errors []float64, err error) {
	seen := make([]bool, s.W*s.H)
	for p := range seen {
		seen[p] = true
	}
	set := NewSet(s)
	copy(set.Mix, near)
	b := newBins(binSide(s.W), s.W, s.H, set.usable(l, seen))
	f := newRobustFit(s, l, b, nil)
	var reference [3][]float64
	for c := range 3 {
		reference[c] = append(append([]float64{}, near...), 1)
	}
	f.expect(reference)
	start, _ := f.search(reference)
	if f.n < fewestBins || !f.run(start, 30) || !f.covariance() {
		return nil, nil, fault.New(fault.Unsure, "levels-unknown", "film the part settings again with less clipping", "a hold at a part setting can't be fitted")
	}
	k := f.k
	for i := range s.lampCount() {
		var v, a []float64
		cov := make([]float64, 9)
		for c := range 3 {
			v = append(v, f.beta[c][i])
			a = append(a, 1)
			if fil := s.Design.Filament; fil != nil && fil[i] != nil && near[i] > 0 {
				a[c] = fil[i].Colour(near[i])[c]
			}
			for e := range 3 {
				cov[3*c+e] = f.cov[(c*k+i)*3*k+e*k+i]
			}
			cov[4*c] += sq(0.002) // what a lamp's channels part by, unmodelled
		}
		x, xc, ok := generalised(cov, a, v, 3, 1)
		if !ok {
			levels, errors = append(levels, math.NaN()), append(errors, math.Inf(1))
			continue
		}
		levels, errors = append(levels, x[0]), append(errors, math.Sqrt(xc[0]))
	}
	return levels, errors, nil
}

// heldOutSignal is how far above its noise a bin's light must be to count
// among the held-out errors, so that they tell of additivity and not of noise.
const heldOutSignal = 100

// holdOut fills HeldOut and Additivity: each hold predicted from the others,
// by the fit's residual and leverage.
func (l *Learned) holdOut(holds []Hold) {
	s := l.Separation
	n, k := len(holds), s.columns()
	b := newBins(binSide(s.W), s.W, s.H, nil)
	pics := make([][]float64, k)
	for j := range k {
		pics[j] = b.means(s.image(j))
	}
	// Leverage of each hold, for equal weights within a hold (channel green).
	row := make([]float64, k)
	eq := newNormal(k)
	for h := range n {
		s.row(h, 1, row)
		eq.add(row, 0, s.Effective[h])
	}
	l.HeldOut = make([]HeldOut, n)
	l.Additivity = unit.Stop(math.NaN())
	if !factorise(eq.a, k) {
		return
	}
	var all []float64
	for h := range n {
		s.row(h, 1, row)
		own := append([]float64{}, row...)
		substitute(eq.a, own, k)
		lever := 0.0
		for j := range k {
			lever += row[j] * own[j] * s.Effective[h]
		}
		if lever > 1-1e-6 {
			continue
		}
		y := b.means(holds[h].Mean.Image)
		var sizes, signed []float64
		for i, area := range b.count {
			if area == 0 || s.Figure != nil && s.Figure[i] {
				continue
			}
			light := 0.0
			for j := range k {
				light += row[j] * pics[j][3*i+1]
			}
			v := y[3*i+1]
			noise := math.Sqrt(s.variance(1, v) * s.Noise.together() / area / s.Effective[h])
			predicted := v - (v-light)/(1-lever)
			if v*(1-lever) > heldOutSignal*noise && predicted > 0 {
				e := math.Log2(v / predicted)
				sizes = append(sizes, math.Abs(e))
				signed = append(signed, e)
			}
		}
		if len(sizes) < fewestBins {
			continue
		}
		l.HeldOut[h] = HeldOut{Testable: true, Error: unit.Stop(median(sizes)), Bias: unit.Stop(median(signed))}
		all = append(all, float64(l.HeldOut[h].Error))
	}
	if len(all) > 0 {
		l.Additivity = unit.Stop(median(all))
	}
}
