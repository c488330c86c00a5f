package lamps

import (
	"slices"
	"strings"
	"testing"

	"lampwise/internal/fault"
	"lampwise/internal/picture"
	"lampwise/internal/unit"
)

// recorded makes a recording of an order without filming it frame by frame.
func recorded(poses [][]*picture.Image, cam *madeCamera, o *Order, seed uint64) *Recording {
	_, _, _, rng := smallGarage(seed, 0)
	r := &Recording{Noise: cam.noise(), Correlation: 1}
	r.sigma = make([]float64, signatureSize)
	for i := range r.sigma {
		r.sigma[i] = 3e-4
	}
	for s, h := range o.Holds {
		m := cam.average(rng, mixed(poses[s%len(poses)], flat(h.Setting)), 6)
		sig, _ := signature(m)
		r.signatures = append(r.signatures, sig)
		r.Holds = append(r.Holds, Hold{Start: unit.Second(2 * s), End: unit.Second(2*s + 2), Frames: 6, Mean: m})
	}
	return r
}

func TestMatch(t *testing.T) {
	g, poses, cam, _ := smallGarage(7, 2)
	said := "all, -key, all, -fill, all, -rim, all, -tube, all, -tail, all, dark"
	o := mustOrder(t, said)
	tests := []struct {
		name, shown    string
		missing, extra []int
		say            string
	}{
		{"as said", said, nil, nil, ""},
		{"a lamp forgotten", "all, -key, all, -fill, all, -tube, all, -tail, all, dark", nil, nil, `"-rim" missing`},
		{"no dark", "all, -key, all, -fill, all, -rim, all, -tube, all, -tail, all", []int{11}, nil, `no hold shows "dark" (number 12) after the hold that ends at 22.0 s`},
		{"one more", "all, -key, all, dark, -fill, all, -rim, all, -tube, all, -tail, all, dark", nil, []int{3}, "the hold from 6.0 to 8.0 s isn't in the order"},
		{"another in its place", "all, -key, all, -rim, all, -fill, all, -tube, all, -tail, all, dark", nil, nil, "contradicts"},
	}
	for _, tt := range tests {
		shown, err := ParseOrder(tt.shown, g.names())
		if err != nil {
			t.Fatal(err)
		}
		mm, err := recorded(poses, &cam, shown, 3).Match(o)
		if tt.say == "" {
			if err != nil || mm != nil {
				t.Errorf("%s: %v", tt.name, err)
			}
			continue
		}
		f, ok := fault.As(err)
		if !ok {
			// Swapped lamps of the same shape of order can't be told by light alone.
			if tt.name == "another in its place" && err == nil {
				continue
			}
			t.Errorf("%s: %v is no fault", tt.name, err)
			continue
		}
		if !strings.Contains(f.Message, tt.say) {
			t.Errorf("%s: says %q, want %q in it", tt.name, f.Message, tt.say)
		}
		if len(tt.missing) > 0 && !sameHolds(o, mm.Missing, tt.missing) || len(tt.extra) > 0 && !slices.Equal(mm.Extra, tt.extra) {
			t.Errorf("%s: missing %v extra %v, want %v %v", tt.name, mm.Missing, mm.Extra, tt.missing, tt.extra)
		}
	}
}

// sameHolds: as the same kinds of holds, in any place.
func sameHolds(o *Order, a, b []int) bool {
	kinds := func(x []int) []string {
		var k []string
		for _, i := range x {
			k = append(k, o.HoldText(i))
		}
		slices.Sort(k)
		return k
	}
	return slices.Equal(kinds(a), kinds(b))
}

func TestGuess(t *testing.T) {
	g, poses, cam, _ := smallGarage(7, 2)
	tests := []struct {
		shown, pattern string
		lamps          int
	}{
		{"all, -key, all, -fill, all, -rim, all, -tube, all", "one lamp off", 4},
		{"all, -key, -fill, -rim, -tube, -tail, dark", "one lamp off", 5},
		{"dark, key, dark, fill, dark, rim", "one lamp on", 3},
		{"dark, key, fill, rim, all", "one lamp on", 3},
		{"dark, key, key+fill, key+fill+rim", "one more", 3},
	}
	for _, tt := range tests {
		o, err := ParseOrder(tt.shown, g.names())
		if err != nil {
			t.Fatal(err)
		}
		r := recorded(poses, &cam, o, 5)
		guess, ok := r.Guess()
		if !ok || !strings.Contains(guess.Pattern, tt.pattern) || len(guess.Order.Lamps) < tt.lamps {
			t.Errorf("%q: guessed %v %q, %d lamps, confidence %.2f", tt.shown, ok, guess.Pattern, len(safeLamps(guess)), guess.Confidence)
		}
	}
}

func safeLamps(g Guess) []string {
	if g.Order == nil {
		return nil
	}
	return g.Order.Lamps
}
