package grade

import (
	"fmt"
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/picture"
)

// BakeOptions say how a path becomes one LUT.
type BakeOptions struct {
	Size    int            // grid points a side, 2..129; 17, 33 and 65 are usual
	Levels  colour.Levels  // what the LUT's input 0..1 is: data = code/1023, video = (code − 64)/876
	Interp  picture.Interp // how it will be looked up; tetrahedral where empty
	Colours [][3]float64   // curve signals y to measure the error over besides the grid; may be nil
}

// BakeError is how far a baked LUT lies from the exact path.
type BakeError struct {
	Grid    picture.Measured  // over one scattered point in each cell of the grid
	Colours *picture.Measured // over the colours given, nil without any
}

// Bake turns the colour part of the path into one 3-D LUT for a camera's
// screen or an editing program: no vignette, no dither, output held inside
// 0..1. There is no shaper: the input is a log signal, which is one already.
// Its error is measured, because one LUT over the whole path can be far off at
// saturated colours; a rendered file never goes through it.
func (p *Path) Bake(o BakeOptions) (*picture.LUT3D, BakeError, error) {
	if o.Size < picture.MinLUT3D || o.Size > picture.MaxLUT3D {
		return nil, BakeError{}, fault.New(fault.Usage, "bake-size", "17, 33 and 65 are usual.",
			"a LUT of size %d can't be made; %d to %d can", o.Size, picture.MinLUT3D, picture.MaxLUT3D)
	}
	if o.Interp == "" {
		o.Interp = picture.Tetrahedral
	}
	if o.Levels == "" {
		o.Levels = colour.LevelsData
	}
	toSignal := p.fromLevels(o.Levels)
	exact := func(in [3]float64) [3]float64 { return hold3(p.Exact(toSignal.apply(in)), 0, 1) }
	lut := &picture.LUT3D{
		Size: o.Size, Hi: [3]float64{1, 1, 1}, Interp: o.Interp, Strength: 1,
		Data: make([]float64, 0, 3*o.Size*o.Size*o.Size),
	}
	at := func(i int) float64 { return float64(i) / float64(o.Size-1) }
	for b := range o.Size {
		for g := range o.Size {
			for r := range o.Size {
				v := exact([3]float64{at(r), at(g), at(b)})
				lut.Data = append(lut.Data, v[0], v[1], v[2])
			}
		}
	}
	var e BakeError
	m := measurer{over: "lattice", exact: exact, baked: lut.Apply}
	for b := range o.Size - 1 {
		for g := range o.Size - 1 {
			for r := range o.Size - 1 {
				p := scattered(m.m.Points)
				for i, corner := range [3]int{r, g, b} {
					p[i] = at(corner) + p[i]/float64(o.Size-1)
				}
				m.add(p)
			}
		}
	}
	e.Grid = m.done()
	if len(o.Colours) > 0 {
		m := measurer{over: "frame", exact: exact, baked: lut.Apply}
		back := affine{1 / toSignal.slope, -toSignal.offset / toSignal.slope}
		for _, y := range o.Colours {
			m.add(back.apply(y))
		}
		c := m.done()
		e.Colours = &c
	}
	return lut, e, nil
}

// fromLevels takes a LUT's input to the path's input signal.
func (p *Path) fromLevels(l colour.Levels) affine {
	if p.Curve == nil { // a finished picture: its signal is E′
		return levels(l, colour.LevelsVideo)
	}
	return levels(l, p.Curve.Levels)
}

// scattered is point n of a sequence that fills the unit cube evenly: the
// fractional parts of multiples of powers of 1/1.2207…, the root of x⁴ = x + 1
// (Roberts 2018, "The unreasonable effectiveness of quasirandom sequences",
// from memory). A cell's middle would flatter: tetrahedral interpolation
// reaches it along the diagonal of its corners, where a path is smoothest.
func scattered(n int) (p [3]float64) {
	const root = 1.2207440846057596
	step := 1.0
	for i := range p {
		step /= root
		p[i] = math.Mod(0.5+float64(n+1)*step, 1)
	}
	return p
}

// measurer compares a baked form with the exact path.
type measurer struct {
	over         string
	exact, baked func([3]float64) [3]float64
	m            picture.Measured
}

func (m *measurer) add(in [3]float64) {
	d := deltaE(m.exact(in), m.baked(in))
	m.m.MaxDE = max(m.m.MaxDE, d)
	m.m.MeanDE += d
	m.m.Points++
}

// neutralSteps is how many neutrals are compared: four to a 10-bit code.
const neutralSteps = 4 * 1023

func (m *measurer) done() picture.Measured {
	if m.m.Points > 0 {
		m.m.MeanDE /= float64(m.m.Points)
	}
	for i := range neutralSteps + 1 {
		x := float64(i) / neutralSteps
		in := [3]float64{x, x, x}
		a, b := m.exact(in), m.baked(in)
		for c := range a {
			m.m.Neutral = max(m.m.Neutral, math.Abs(a[c]-b[c])*876)
		}
	}
	m.m.Over = m.over
	return m.m
}

// LUTComments are the lines for the head of an exported LUT: what goes in,
// what comes out, and how far it is from the path.
func (p *Path) LUTComments(o BakeOptions, e BakeError) []string {
	in := "finished BT.709 signal"
	if p.Curve != nil {
		in = fmt.Sprintf("%s, primaries %s", p.Curve.ID, p.Gamut.ID)
	}
	levelsText := "data levels: 0..1 = 10-bit code 0..1023"
	if o.Levels == colour.LevelsVideo {
		levelsText = "video levels: 0..1 = 10-bit code 64..940"
	}
	out := []string{
		"grade: " + p.Grade.Name,
		"in: " + in + "; " + levelsText,
		"out: BT.709 display signal for a BT.1886 display, 0..1 = 0..100 %; no vignette",
		fmt.Sprintf("error of this LUT against the path, %s: mean %.2f, largest %.1f CIEDE2000 over %d cells; neutrals %.1f codes of 10 bits",
			interpName(o.Interp), e.Grid.MeanDE, e.Grid.MaxDE, e.Grid.Points, e.Grid.Neutral),
	}
	if c := e.Colours; c != nil {
		out = append(out, fmt.Sprintf("over the clip's own colours: mean %.2f, largest %.1f CIEDE2000 (%d colours)", c.MeanDE, c.MaxDE, c.Points))
	}
	return out
}

func interpName(i picture.Interp) string {
	if i == "" {
		i = picture.Tetrahedral
	}
	return string(i)
}
