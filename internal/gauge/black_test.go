package gauge

import (
	"testing"

	"lampwise/internal/colour"
)

func TestBlackDrill(t *testing.T) {
	c, _ := colour.CurveByID("bt1886")
	drill(t, "black, s", BlackTime, 30, 8, func(n uint64, size float64) (bool, float64, float64) {
		r := newRand(n)
		const rate = 25
		from := 5 + r.IntN(20)
		var b Black
		var v Viewer
		light := flat(flashFormat, c, [3]float64{0.2, 0.2, 0.2})
		night := flat(flashFormat, c, [3]float64{2e-5, 2e-5, 2e-5})
		fill(light, c, Box{0, 0, 0.9, 1}, [3]float64{2e-5, 2e-5, 2e-5}) // dark, but for a window
		for i := range 60 {
			f := light
			if i >= from && float64(i-from) < size*rate-1e-9 {
				f = night
			}
			f.Index, f.Time = i, float64(i)/rate
			for k := range f.Y {
				f.Y[k] ^= uint16(r.IntN(2))
			}
			b.Add(v.Look(f))
		}
		for _, p := range b.Result().Problems {
			return true, p.Size, p.Error
		}
		return false, 0, 0
	})
	var b Black
	var v Viewer
	b.Add(v.Look(flat(flashFormat, c, [3]float64{0, 0, 0})))
	if r := b.Result(); len(r.Problems) != 1 || r.Problems[0].Severity != Fault {
		t.Errorf("one black frame and nothing else: %+v", r)
	}
	if r := (&Black{}).Result(); len(r.Problems) > 0 {
		t.Errorf("no frames: %+v", r)
	}
}
