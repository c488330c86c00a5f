package job

import (
	"math"
	"math/rand/v2"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// TestCurvature holds the second-order mean of a few codes' light to the mean
// itself, for every curve: to bentTolerance where the curve is said to bend so.
// The squares are a camera's noise, or an edge between two codes, which is the
// worst for the third order.
func TestCurvature(t *testing.T) {
	// Of the light: twice thirdOrder's 0.00035, and 3 % of the bend itself; near
	// black, of a light 8 stops under grey.
	const bentTolerance = 0.0008
	f := picture.Format{Width: 64, Height: 64, Bits: 10, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft}
	bending := 0
	for _, curve := range colour.Curves() {
		l := lightDecoderBy(f, Decoding{Curve: curve}, 2, 0)
		c := curvatureOf(l.light)
		if math.IsInf(float64(c.high), 1) {
			t.Logf("%s: nothing is said of its bend", curve.ID)
			continue
		}
		bending++
		worst := 0.0
		t.Logf("%s: corner from %+.2f to %+.2f stop from grey", curve.ID, math.Log2(float64(c.low)/colour.Grey), math.Log2(float64(c.high)/colour.Grey))
		rng := rand.New(rand.NewPCG(1, 2))
		for range 20000 {
			middle := lightBase + rng.IntN(lightSteps*95/100)
			var at [4]int
			edge, high := rng.IntN(int(8*min(bentCodes, c.reach))), rng.IntN(16)
			for i := range at {
				at[i] = middle + edge*(high>>i&1)
			}
			sum, sum2, mean := 0, 0, 0.0
			for _, a := range at {
				sum, sum2, mean = sum+a, sum2+a*a, mean+float64(l.light[a])/4
			}
			variance := float64(4*sum2-sum*sum) / 16
			d := []float32{l.light[(sum+2)/4]}
			if c.corner(d[0]) {
				continue
			}
			c.bent(d, float32(variance))
			got := float64(d[0])
			// The place is rounded to a whole one, here as in the squares.
			step := float64(l.light[(sum+2)/4+1]-l.light[(sum+2)/4]) / 2
			worst = max(worst, (math.Abs(got-mean)-step)/max(mean, colour.Grey/256))
		}
		t.Logf("%s: off by %.5f at most", curve.ID, worst)
		if worst > bentTolerance {
			t.Errorf("%s: a square of %d codes is off by %.5f of its light", curve.ID, bentCodes, worst)
		}
	}
	if bending < 5 {
		t.Errorf("only %d curves bend as log curves do", bending)
	}
}
