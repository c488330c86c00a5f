package lamps

import (
	"slices"

	"lampwise/internal/picture"
)

// Join makes one hold of holds i and i+1: a presenter's movement can part a
// hold that is one by the light. The caller says so; Alike tells whether their
// light allows it.
func (r *Recording) Join(i int) {
	a, b := &r.Holds[i], &r.Holds[i+1]
	fa, fb := float64(a.Frames), float64(b.Frames)
	mean := &Light{Image: picture.NewImage(a.Mean.W, a.Mean.H, a.Mean.Space), Frames: a.Mean.Frames + b.Mean.Frames}
	for p := range mean.Pix {
		mean.Pix[p] = float32((fa*float64(a.Mean.Pix[p]) + fb*float64(b.Mean.Pix[p])) / (fa + fb))
	}
	mean.Clipped = either(slices.Clone(a.Mean.Clipped), b.Mean.Clipped)
	joined := Hold{Start: a.Start, End: b.End, Frames: a.Frames + b.Frames, Mean: mean, Moving: either(slices.Clone(a.Moving), b.Moving), Steady: a.Steady}
	joined.Steady.Flicker = max(a.Steady.Flicker, b.Steady.Flicker)
	s := make([]float64, len(r.signatures[i]))
	for k := range s {
		s[k] = (fa*r.signatures[i][k] + fb*r.signatures[i+1][k]) / (fa + fb)
	}
	r.Holds = slices.Concat(r.Holds[:i:i], []Hold{joined}, r.Holds[i+2:])
	r.signatures = slices.Concat(r.signatures[:i:i], [][]float64{s}, r.signatures[i+2:])
}

// Alike says how much of the picture has other light in hold i than in hold
// i+1: the share of cells that differ by more than two per cent and their
// noise, and the change of all light as a fraction.
func (r *Recording) Alike(i int) (cells, change float64) {
	const differs = 0.02
	var a, b float64
	n := 0
	for k := range cellsAcross * cellsDown {
		x, y := signatureLight(r.signatures[i][k]), signatureLight(r.signatures[i+1][k])
		a, b = a+x, b+y
		if d := y - x; d*d > sq(differs*max(x, y))+sq(4*2*(rootFloor+max(x, y))*r.sigma[k]) {
			n++
		}
	}
	return float64(n) / (cellsAcross * cellsDown), b/max(a, 1e-9) - 1
}

// Keep leaves the recording with some of its holds, given by rising number.
func (r *Recording) Keep(holds []int) {
	kept, signatures := make([]Hold, len(holds)), make([][]float64, len(holds))
	for i, h := range holds {
		kept[i], signatures[i] = r.Holds[h], r.signatures[h]
	}
	r.Holds, r.signatures = kept, signatures
}
