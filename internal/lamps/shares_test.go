package lamps

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestSharesAreReadLamps(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	_, s, _ := madeSet(t, rng, 4, 96, 54)
	for _, r := range append(s.Regions, Region{Name: "all", W: 1, H: 1}) {
		shares := s.Shares(s.Mix, r)
		for i := range s.Lamps {
			if want := s.ReadLamp(s.Mix, i, r).Share; math.Abs(shares[i]-want) > 1e-12 {
				t.Errorf("%s, lamp %d: %g, want %g", r.Name, i, shares[i], want)
			}
		}
	}
}
