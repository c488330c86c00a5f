package picture

import (
	"math"
	"math/rand/v2"
	"testing"
)

var unitDomain = domain{hi: same3(1)}

func randomCube(n int, trilinear bool, r *rand.Rand) *cube {
	c := newCube(n, unitDomain, unitDomain, func(_, _, _ int) [3]float64 { return [3]float64{r.Float64(), r.Float64(), r.Float64()} })
	c.trilinear = trilinear
	return c
}

func BenchmarkCubeRow(bb *testing.B) {
	const w = 3840
	for _, n := range []int{33, 65, 129} {
		c := newCube(n, unitDomain, unitDomain, func(r, g, b int) [3]float64 {
			return [3]float64{float64(r) / float64(n), float64(g) / float64(n), float64(b) / float64(n)}
		})
		src, dst := newPlanes(w), newPlanes(w)
		base := 30000.0
		for x := range w {
			if x%64 == 0 {
				base = rand.Float64()*50000 + 5000
			}
			src.r[x] = uint16(base + rand.NormFloat64()*600)
			src.g[x] = uint16(base + rand.NormFloat64()*600 + 1500)
			src.b[x] = uint16(base + rand.NormFloat64()*600 + 3000)
		}
		m := make(marks, w/64)
		bb.Run("", func(bb *testing.B) {
			for bb.Loop() {
				c.row(dst, src, w, m)
			}
			bb.ReportMetric(float64(bb.Elapsed().Nanoseconds())/float64(bb.N)/w, "ns/px")
		})
	}
	_ = math.Pi
}
