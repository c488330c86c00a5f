package picture

import (
	"math"
	"sync"
)

// tileSide is the blue-noise tile's width and height, a power of two.
const tileSide = 64

func blueRow(row []int16, dx, y int) {
	tile := blueTile()
	line := tile[(y&(tileSide-1))*tileSide:][:tileSide]
	dx &= tileSide - 1
	for n := copy(row, line[dx:]); n < len(row); n += tileSide {
		copy(row[n:], line)
	}
}

// blueTile is noise of ±1 code in units of 1/noiseUnit, without low
// frequencies, that joins itself at the edges. It is made once, from a fixed
// start, and is the same everywhere.
var blueTile = sync.OnceValue(func() *[tileSide * tileSide]int16 {
	var out [tileSide * tileSide]int16
	for i, rank := range voidAndCluster() {
		// Even ranks to a triangular distribution, by its inverse.
		u := (float64(rank) + 0.5) / float64(len(out))
		t := math.Sqrt(2*u) - 1
		if u > 0.5 {
			t = 1 - math.Sqrt(2*(1-u))
		}
		out[i] = int16(math.Round(t * (noiseUnit - 1)))
	}
	return &out
})

// voidAndCluster ranks the tile's places such that the first n of them are
// evenly spread for every n (Ulichney 1993, "The void-and-cluster method for
// dither array generation", with his σ of 1.5).
//
// The filter's values are integers, so that sums do not depend on their order
// and the tile is the same on every processor.
func voidAndCluster() []int {
	const n = tileSide * tileSide
	const sigma, unit = 1.5, 1 << 30
	var filter [n]int64
	for y := range tileSide {
		for x := range tileSide {
			dx, dy := float64(min(x, tileSide-x)), float64(min(y, tileSide-y))
			filter[y*tileSide+x] = int64(unit * math.Exp(-(dx*dx+dy*dy)/(2*sigma*sigma)))
		}
	}
	var on [n]bool
	var energy [n]int64
	flip := func(at int) {
		sign := int64(1)
		if on[at] {
			sign = -1
		}
		on[at] = !on[at]
		ax, ay := at%tileSide, at/tileSide
		for y := range tileSide {
			line := filter[((y-ay)&(tileSide-1))*tileSide:][:tileSide]
			for x := range tileSide {
				energy[y*tileSide+x] += sign * line[(x-ax)&(tileSide-1)]
			}
		}
	}
	// The place of most energy among those that are on, or of least among the off.
	extreme := func(among bool) int {
		best := -1
		for i, e := range energy {
			if on[i] == among && (best < 0 || among && e > energy[best] || !among && e < energy[best]) {
				best = i
			}
		}
		return best
	}

	// A tenth of the places to begin with, moved from the tightest cluster to
	// the largest void until that changes nothing.
	count := 0
	for i := uint32(0); count < n/10; i++ {
		if at := int(mix32(i) % n); !on[at] {
			flip(at)
			count++
		}
	}
	for {
		cluster := extreme(true)
		flip(cluster)
		void := extreme(false)
		flip(void)
		if void == cluster {
			break
		}
	}
	rank := make([]int, n)
	start, startEnergy := on, energy
	for r := count - 1; r >= 0; r-- {
		at := extreme(true)
		flip(at)
		rank[at] = r
	}
	on, energy = start, startEnergy
	for r := count; r < n; r++ {
		at := extreme(false)
		flip(at)
		rank[at] = r
	}
	return rank
}
