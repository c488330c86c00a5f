package job

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"lampwise/internal/colour"
	"lampwise/internal/lamps"
)

// wobbleOf is the standard deviation of one hold's light in a region beyond
// what the lamps explain, in scene light: a presenter who moves, a shadow that
// moves with them, light that isn't steady. The holds themselves tell it, by
// what a plain least-squares fit of the region's means leaves; 0 when no hold
// is spare.
func wobbleOf(set *lamps.Set, holds []lamps.Hold, g lamps.Region) float64 {
	d := set.Design.Matrix()
	n, k := d.Dims()
	if n <= k {
		return 0
	}
	r, gr, b := luminanceWeights(set)
	pixels := g.Pixels(set.W, set.H)
	y := mat.NewVecDense(n, nil)
	for h := range holds {
		sum := 0.0
		pix := holds[h].Mean.Pix
		for _, p := range pixels {
			sum += r*float64(pix[3*p]) + gr*float64(pix[3*p+1]) + b*float64(pix[3*p+2])
		}
		y.SetVec(h, sum/float64(len(pixels)))
	}
	var x, left mat.VecDense
	if err := x.SolveVec(d, y); err != nil {
		return 0
	}
	left.MulVec(d, &x)
	left.SubVec(y, &left)
	return mat.Norm(&left, 2) / math.Sqrt(float64(n-k))
}

// wobbleShares says by how much a hold's wobble comes into each lamp's light at
// level 1: the roots of the diagonal of (DᵀD)⁻¹.
func wobbleShares(set *lamps.Set) []float64 {
	d := set.Design.Matrix()
	_, k := d.Dims()
	out := make([]float64, k)
	var n, inverse mat.Dense
	n.Mul(d.T(), d)
	if err := inverse.Inverse(&n); err != nil {
		return out
	}
	for i := range out {
		out[i] = math.Sqrt(math.Max(inverse.At(i, i), 0))
	}
	return out
}

func luminanceWeights(set *lamps.Set) (r, g, b float64) {
	p := set.Primaries
	if p == nil {
		p = colour.MustGamut("bt709")
	}
	return p.LuminanceWeights()
}
