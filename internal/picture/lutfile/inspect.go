package lutfile

import (
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// Inspection says what a chain is, seen as a function of colour.
type Inspection struct {
	Kind  string `json:"kind"` // "1-D LUT", "3-D LUT", "1-D LUT before a 3-D LUT", "CDL" or "operations"
	Parts []Part `json:"parts"`

	// Lo and Hi are the input the first part covers; beyond it a LUT holds its
	// ends. 0 and 1 where the first part is a formula.
	Lo [3]float64 `json:"lo"`
	Hi [3]float64 `json:"hi"`

	// Identity says that nothing changes by more than half a code of 10 bits;
	// LargestChange is by how much, in such codes.
	Identity      bool    `json:"identity"`
	LargestChange float64 `json:"largestChange"`

	Neutral Neutral `json:"neutral"`
	Outputs Outputs `json:"outputs"`
}

// Part is one op of a chain.
type Part struct {
	Kind   string         `json:"kind"`
	Size   int            `json:"size,omitempty"`   // samples of a 1-D LUT, grid points a side of a 3-D one
	Interp picture.Interp `json:"interp,omitempty"` // of a 3-D LUT
	Style  string         `json:"style,omitempty"`  // of a log, power or CDL
}

// Neutral says what becomes of greys, R = G = B over the whole domain.
type Neutral struct {
	// Rises says for R, G and B that the output never falls as the input rises,
	// LumaRises the same of luma (BT.709 weights).
	Rises     [3]bool `json:"rises"`
	LumaRises bool    `json:"lumaRises"`
	// LargestFall is how far a channel falls below a value it had reached, in
	// signal, and FallAt the input where.
	LargestFall float64 `json:"largestFall"`
	FallAt      float64 `json:"fallAt"`
	// Shift is the largest CIEDE2000 difference of an output from the grey of
	// the same lightness, the output taken as a BT.709 display signal held
	// within 0..1, and ShiftAt the input where. Meaningless where the output is
	// something else; Spread, the largest difference between two channels of
	// the signal, holds always.
	Shift    float64 `json:"shift"`
	ShiftAt  float64 `json:"shiftAt"`
	Spread   float64 `json:"spread"`
	SpreadAt float64 `json:"spreadAt"`
}

// Outputs says what range the results have over a lattice of the domain.
type Outputs struct {
	Lowest  [3]float64 `json:"lowest"`
	Highest [3]float64 `json:"highest"`
	Below   float64    `json:"below"` // share of colours with a channel below 0
	Above   float64    `json:"above"` // share of colours with a channel above 1
}

const (
	// greySteps is how many steps a grey axis is looked at in: four to a code
	// of 10 bits.
	greySteps = 4 * 1023
	// latticeSize is the lattice for what isn't a single 3-D LUT.
	latticeSize = 17
	// slack is what is still taken as not falling, as 0 and as 1: rounding of
	// tables printed with six decimals.
	slack = 1e-6
	// identityCodes is the largest change, in codes of 10 bits, of what is
	// called an identity: it rounds to the same code.
	identityCodes = 0.5
)

// Inspect looks at a chain as a function of colour.
func Inspect(c *picture.Chain) *Inspection {
	in := &Inspection{Hi: three(1)}
	lattice := latticeSize
	kinds := ""
	for i, op := range c.Ops {
		p := Part{Kind: op.Kind()}
		mark := "o"
		switch o := op.(type) {
		case *picture.Curves:
			mark, p.Size = "1", len(o.Samples[0])
			if i == 0 && o.Axis != picture.AxisHalf {
				in.Lo, in.Hi = o.Lo, o.Hi
			}
		case *picture.LUT3D:
			mark, p.Size, p.Interp = "3", o.Size, o.Interp
			if i == 0 {
				in.Lo, in.Hi = o.Lo, o.Hi
			}
			if len(c.Ops) == 1 {
				lattice = o.Size // its extremes are at its nodes
			}
		case *picture.CDL:
			mark, p.Style = "c", o.Style
		case *picture.Power:
			p.Style = o.Style
		case *picture.LogOp:
			p.Style = o.Style
		}
		kinds += mark
		in.Parts = append(in.Parts, p)
	}
	switch kinds {
	case "1":
		in.Kind = "1-D LUT"
	case "3":
		in.Kind = "3-D LUT"
	case "13":
		in.Kind = "1-D LUT before a 3-D LUT"
	case "c":
		in.Kind = "CDL"
	default:
		in.Kind = "operations"
	}
	in.greys(c)
	in.colours(c, lattice)
	in.Identity = in.LargestChange <= identityCodes
	return in
}

func (in *Inspection) change(x, y [3]float64) {
	for ch := range 3 {
		in.LargestChange = max(in.LargestChange, 1023*math.Abs(y[ch]-x[ch]))
	}
}

// greys walks the grey axis of the domain.
func (in *Inspection) greys(c *picture.Chain) {
	lo, hi := max(in.Lo[0], in.Lo[1], in.Lo[2]), min(in.Hi[0], in.Hi[1], in.Hi[2])
	if !(hi > lo) { // channels whose domains have no grey in common
		lo, hi = 0, 1
	}
	n := &in.Neutral
	n.Rises, n.LumaRises = [3]bool{true, true, true}, true
	var top [4]float64 // the highest so far of R, G, B and luma
	for i := range greySteps + 1 {
		x := lo + (hi-lo)*float64(i)/greySteps
		y := c.Apply(three(x))
		in.change(three(x), y)
		for ch, v := range [4]float64{y[0], y[1], y[2], luma(y)} {
			if i == 0 || v > top[ch] {
				top[ch] = v
			}
			fall := top[ch] - v
			if fall > slack {
				if ch < 3 {
					n.Rises[ch] = false
				} else {
					n.LumaRises = false
				}
			}
			if ch < 3 && fall > n.LargestFall {
				n.LargestFall, n.FallAt = fall, x
			}
		}
		if s := max(y[0], y[1], y[2]) - min(y[0], y[1], y[2]); s > n.Spread {
			n.Spread, n.SpreadAt = s, x
		}
		lab := colour.DisplayLab(colour.RGB{unit(y[0]), unit(y[1]), unit(y[2])})
		if d := colour.DeltaE2000(lab, [3]float64{lab[0], 0, 0}); d > n.Shift {
			n.Shift, n.ShiftAt = d, x
		}
	}
}

// colours walks a lattice of n points a side over the domain.
func (in *Inspection) colours(c *picture.Chain, n int) {
	o := &in.Outputs
	o.Lowest, o.Highest = three(math.Inf(1)), three(math.Inf(-1))
	below, above := 0, 0
	for i := range n * n * n {
		var x [3]float64
		for ch, k := range [3]int{i % n, i / n % n, i / (n * n)} {
			x[ch] = in.Lo[ch] + (in.Hi[ch]-in.Lo[ch])*float64(k)/float64(n-1)
		}
		y := c.Apply(x)
		in.change(x, y)
		for ch := range 3 {
			o.Lowest[ch], o.Highest[ch] = min(o.Lowest[ch], y[ch]), max(o.Highest[ch], y[ch])
		}
		if min(y[0], y[1], y[2]) < -slack {
			below++
		}
		if max(y[0], y[1], y[2]) > 1+slack {
			above++
		}
	}
	o.Below, o.Above = float64(below)/float64(n*n*n), float64(above)/float64(n*n*n)
}

var lumaR, lumaG, lumaB = colour.MatrixBT709.Weights()

func luma(v [3]float64) float64 { return lumaR*v[0] + lumaG*v[1] + lumaB*v[2] }

// unit holds a signal within 0..1.
func unit(x float64) float64 { return max(0, min(1, x)) }
