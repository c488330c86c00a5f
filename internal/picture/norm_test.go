package picture

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// normTolerance: double precision, a few operations.
const normTolerance = 1e-12

func TestNormScalesByItsLargestChannel(t *testing.T) {
	n := &Norm{Hi: 8, Scale: 0.01, Power: 2.4, Tone: []float64{0, 0.5, 1}, Purity: []float64{1, 1, 1}}
	rapid.Check(t, func(t *rapid.T) {
		var v [3]float64
		for ch := range v {
			v[ch] = rapid.Float64Range(-1, 20).Draw(t, "channel")
		}
		out, top := n.Apply(v), max(v[0], v[1], v[2])
		if top <= 0 {
			if out != [3]float64{} {
				t.Fatalf("no light gives %v", out)
			}
			return
		}
		tone := max(out[0], out[1], out[2])
		for ch := range v { // purity 1 keeps the ratios of light
			want := math.Pow(tone, 2.4) * max(v[ch], 0) / top
			if d := math.Abs(math.Pow(out[ch], 2.4) - want); d > normTolerance {
				t.Fatalf("%v → %v: channel %d has another ratio", v, out, ch)
			}
		}
	})
	n.Purity = []float64{0, 0, 0}
	if out := n.Apply([3]float64{0.1, 0.5, 2}); out[0] != out[1] || out[1] != out[2] {
		t.Errorf("purity 0 left the colour %v", out)
	}
}

func TestMixGoesPartOfTheWay(t *testing.T) {
	m := &Mix{Ops: []Op{&Range{Slope: 2}, &Range{Slope: 1, Offset: 0.1}}, Strength: 0.25}
	got := m.Apply([3]float64{0.4, 0, 1})
	want := [3]float64{0.4 + 0.25*0.5, 0.25 * 0.1, 1 + 0.25*1.1}
	for ch := range want {
		if math.Abs(got[ch]-want[ch]) > normTolerance {
			t.Errorf("got %v, want %v", got, want)
		}
	}
	if (&Mix{Ops: []Op{m}, Strength: 1}).Check() == nil {
		t.Error("a mix inside a mix was accepted")
	}
}
