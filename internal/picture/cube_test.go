package picture

import "math/rand/v2"

var unitDomain = domain{hi: same3(1)}

func randomCube(n int, trilinear bool, r *rand.Rand) *cube {
	c := newCube(n, unitDomain, unitDomain, func(_, _, _ int) [3]float64 { return [3]float64{r.Float64(), r.Float64(), r.Float64()} })
	c.trilinear = trilinear
	return c
}
