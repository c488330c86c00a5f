package gauge

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// regular paints regular things onto a scene's wall, as light times its own:
// what a detector of periods, edges or copies might take for a fault.
type regular struct {
	name  string
	moves bool
	at    func(x, y, t float64) float64 // x 0..16, y 0..9; t in seconds
}

func regulars(r *rand.Rand) []regular {
	cx, cy := 4+8*r.Float64(), 2+5*r.Float64()
	pairs := 3 + 5*r.Float64() // to a unit of the picture's height/9
	turn := 0.4 + 0.8*r.Float64()
	deep := 0.25 + 0.5*r.Float64()
	square := func(v float64) float64 {
		if math.Sin(2*math.Pi*v) > 0 {
			return 1
		}
		return deep
	}
	return []regular{
		{"rings", false, func(x, y, _ float64) float64 { return square(pairs * 0.4 * math.Hypot(x-cx, y-cy)) }},
		{"slats that converge", false, func(x, y, _ float64) float64 { return square(pairs * 3 * (y - cy) / (2 + 0.9*x)) }},
		{"tiles in perspective", false, func(x, y, _ float64) float64 {
			d := y + 1.5
			return square(2*pairs/d) * square(pairs*0.5*(x-cx)/d)
		}},
		{"spokes that stand", false, func(x, y, _ float64) float64 { return square(14 * math.Atan2(y-cy, x-cx) / math.Pi) }},
		{"spokes that turn", true, func(x, y, t float64) float64 {
			if math.Hypot(x-cx, y-cy) > 3 {
				return 1
			}
			return square(14*math.Atan2(y-cy, x-cx)/math.Pi + turn*t)
		}},
		{"rows of like things", false, func(x, y, _ float64) float64 { return square(pairs*0.3*x) * square(pairs*0.3*y) }},
		{"slats across", false, func(_, y, _ float64) float64 { return square(pairs * 0.5 * y) }},
	}
}

// Regular things in a steady, sound clip are no fault: by the default plan
// nothing is told of them but that the lamp in the picture is clipped.
func TestRegularThingsAreNoFault(t *testing.T) {
	t.Parallel()
	hits, n := 0, 0
	clips := max(2*drills, (cleanest+6)/7)
	for k := range clips {
		for i := range regulars(newRand(0)) {
			s := newScene(160, 90, 10, uint64(k)+7000)
			s.b = 1e-4
			c := regulars(newRand(uint64(k) + 8000))[i]
			var plain [3][]float32
			for ch := range s.wall {
				plain[ch] = append([]float32(nil), s.wall[ch]...)
			}
			walk := walk(s.rng)
			m := NewMeter(MeterOptions{Camera: s.camera(), Thin: planThin})
			for _, from := range []int{0, 150} {
				for f := from; f < from+66; f++ {
					at := float64(f) / 24
					if c.moves || f == 0 {
						for p := range s.wall[0] {
							v := float32(c.at(16*float64(p%s.Width)/float64(s.Width), 9*float64(p/s.Width)/float64(s.Height), at))
							for ch := range s.wall {
								s.wall[ch][p] = plain[ch][p] * v
							}
						}
					}
					o := shot{index: f, time: at}
					o.x, o.y = walk(at)
					m.Add(s.frame(o))
				}
			}
			n++
			r := m.Result()
			said := ""
			for _, q := range r.Problems() {
				if q.Kind != "clipped" {
					said += fmt.Sprintf(" %s %.3g±%.2g %s;", q.Kind, q.Size, q.Error, q.Unit)
				}
			}
			if said != "" {
				hits++
				t.Logf("%s (clip %d): %s", c.name, k, said)
			}
		}
	}
	t.Logf("regular things: false %d/%d (at most %.2f %%; seed %d)", hits, n, 100*atMost(hits, n), seed)
	if float64(hits) >= 0.01*float64(n) && hits > 1 {
		t.Errorf("%d false alarms in %d clips (seed %d)", hits, n, seed)
	}
}
