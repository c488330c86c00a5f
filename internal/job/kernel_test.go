package job

import (
	"math/rand/v2"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/grade"
	"lampwise/internal/picture"
)

// promisedDE is what the renderer's fast arithmetic may differ from the exact
// path by, in CIEDE2000 (docs/architecture.md).
const promisedDE = 0.5

// TestTheFastArithmeticKeepsItsPromise compares the starting grade's kernel
// with the exact path on colours from all over the signal's cube, which the
// kernel has not seen when it was made.
func TestTheFastArithmeticKeepsItsPromise(t *testing.T) {
	luts := grade.LUTFunc(func(string, string) (*picture.Chain, error) {
		return &picture.Chain{Ops: []picture.Op{grade.AmberDusk()}}, nil
	})
	f := picture.Format{Width: 64, Height: 48, Bits: 10, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft}
	g := grade.Starting("log-420")
	g.Decode.Clip = 820
	p, err := grade.Build(g, grade.Clip{Format: f}, luts)
	if err != nil {
		t.Fatal(err)
	}
	program, err := p.Program()
	if err != nil {
		t.Fatal(err)
	}
	k, err := picture.Compile(program, p.Exact, f, picture.KernelOptions{})
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(rand.Uint64(), 2))
	worst, sum, colours := 0.0, 0.0, 60000
	for range colours {
		y := [3]float64{r.Float64(), r.Float64(), r.Float64()}
		de := colour.DeltaE2000(colour.DisplayLab(p.Exact(y)), colour.DisplayLab(k.Colour(y)))
		worst, sum = max(worst, de), sum+de
	}
	t.Logf("told %+v; over %d fresh colours: ΔE00 %.3f at most, %.4f in the mean", *program.Error, colours, worst, sum/float64(colours))
	if worst > promisedDE || sum/float64(colours) > 0.05 || program.Error.MaxDE > promisedDE || program.Error.Neutral > 1 {
		t.Error("more than was promised")
	}
}
