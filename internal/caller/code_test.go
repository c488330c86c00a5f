package caller

import (
	"testing"

	"pgregory.net/rapid"
)

// TestCodesLieApart: two different words' codes agree in three of eight places
// at most, and the field is one.
func TestCodesLieApart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.IntRange(0, words-1).Draw(t, "a"), rapid.IntRange(0, words-1).Draw(t, "b")
		if a == b {
			return
		}
		x, y, same := code(a), code(b), 0
		for i := range x {
			if x[i] == y[i] {
				same++
			}
		}
		if same > 3 {
			t.Fatalf("words %d and %d agree in %d places", a, b, same)
		}
	})
	rapid.Check(t, func(t *rapid.T) {
		digit := func(name string) uint8 { return uint8(rapid.IntRange(0, 15).Draw(t, name)) }
		a, b, c := digit("a"), digit("b"), digit("c")
		if times(a, b) != times(b, a) || times(a, times(b, c)) != times(times(a, b), c) || times(a, b^c) != times(a, b)^times(a, c) || times(a, 1) != a {
			t.Fatalf("%d, %d, %d: no field", a, b, c)
		}
		if a != 0 && b != 0 && times(a, b) == 0 {
			t.Fatalf("%d·%d is 0", a, b)
		}
	})
}

// TestNoToneRules: a mark never has a tone more than three times, which the
// detector's usual level rests on.
func TestNoToneRules(t *testing.T) {
	for order := tones; order < 1<<orderBits; order++ {
		for step := range MaxStep + 1 {
			var count [tones]int
			for _, d := range code(Mark{step, order}.word()) {
				if count[d]++; count[d] > 3 {
					t.Fatalf("step %d of order %d has tone %d %d times", step, order, d, count[d])
				}
			}
		}
	}
}

func TestMarkAndWord(t *testing.T) {
	for _, m := range []Mark{{0, 16}, {13, 99}, {MaxStep, 511}} {
		if got := markOf(m.word()); got != m {
			t.Errorf("%v comes back as %v", m, got)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		if n := Number(rapid.String().Draw(t, "order")); n < tones || n >= 1<<orderBits {
			t.Fatalf("an order's number is %d", n)
		}
	})
}
