package unit

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"lampwise/internal/fault"
)

// slowTimecode counts every number of the clock's order and leaves out those
// that SMPTE ST 12-1 leaves out: the obvious way.
func slowTimecode(nominal int, drop bool, visit func(n int64, text string) bool) {
	var n int64
	skip := map[int]int{30: 2, 60: 4}[nominal]
	for h := range 24 {
		for m := range 60 {
			for s := range 60 {
				for f := range nominal {
					if drop && s == 0 && f < skip && m%10 != 0 {
						continue
					}
					sep := ":"
					if drop {
						sep = ";"
					}
					if !visit(n, two(h)+":"+two(m)+":"+two(s)+sep+two(f)) {
						return
					}
					n++
				}
			}
		}
	}
}

func two(v int) string { return string([]byte{byte('0' + v/10), byte('0' + v%10)}) }

func TestTimecodeIsTheSlowCountOfADay(t *testing.T) {
	for _, r := range []TimecodeRate{{30, true}, {60, true}, {30, false}, {25, false}, {24, false}} {
		var last int64
		slowTimecode(r.Nominal, r.Drop, func(n int64, text string) bool {
			last = n
			// All of the first twenty minutes, then about every second's worth.
			if n > int64(1200*r.Nominal) && n%29 != 0 {
				return true
			}
			if got := r.Text(n); got != text {
				t.Errorf("%+v: frame %d is %s, not %s", r, n, got, text)
				return false
			}
			if got, err := r.Frame(text); err != nil || got != n {
				t.Errorf("%+v: %s is frame %d, not %d (%v)", r, text, got, n, err)
				return false
			}
			return true
		})
		if last+1 != r.Day() {
			t.Errorf("%+v: a day has %d frames, not %d", r, r.Day(), last+1)
		}
	}
}

// Figures that SMPTE ST 12-1 prints of drop frame compensation (from memory):
// an hour of uncompensated count is 108 frames off the clock; of each ten
// minutes nine drop two numbers; in 24 hours of compensated count 2.6 frames
// (86 ms) are left. All of them follow from 30000/1001.
func TestTimecodePublishedFigures(t *testing.T) {
	drop, plain := TimecodeRate{30, true}, TimecodeRate{30, false}
	for text, want := range map[string]int64{
		"00:00:59;29": 1799, "00:01:00;02": 1800, "00:09:59;29": 17981, "00:10:00;00": 17982, "01:00:00;00": 107892, "23:59:59;29": 2589407,
	} {
		if n, err := drop.Frame(text); err != nil || n != want {
			t.Errorf("%s is frame %d (%v), not %d", text, n, err, want)
		}
	}
	a, _ := plain.Frame("01:00:00:00")
	b, _ := drop.Frame("01:00:00;00")
	if a-b != 108 {
		t.Errorf("an hour drops %d numbers, not 108", a-b)
	}
	frames := 86400.0 * 30000 / 1001 // of a real day
	if off := frames - float64(drop.Day()); off < 2.5 || off > 2.7 {
		t.Errorf("a day of drop frame is %.2f frames off the clock, not 2.6", off)
	}
}

func TestTimecodeMistakes(t *testing.T) {
	for text, r := range map[string]TimecodeRate{
		"00:01:00;00": {30, true}, "00:01:00;01": {30, true}, "00:11:00;03": {60, true}, // left out
		"00:01:00:02": {30, true}, "00:00:00;05": {30, false}, // the other count's separator
		"24:00:00:00": {25, false}, "00:60:00:00": {25, false}, "00:00:60:00": {25, false}, "00:00:00:25": {25, false},
		"1:00:00:00": {25, false}, "01:00:00": {25, false}, "01;00:00:00": {25, false}, "-1:00:00:00": {25, false}, "00:00:00:+5": {25, false}, "": {25, false},
	} {
		_, err := r.Frame(text)
		f, ok := fault.As(err)
		if !ok || f.Hint == "" || strings.Contains(f.Message, "\n") {
			t.Errorf("%q at %+v: %v", text, r, err)
		}
	}
	if _, err := TimecodeRateOf(25, 1, true); err == nil {
		t.Error("drop frame of 25 frames/s")
	}
	if _, err := TimecodeRateOf(30, 1, true); err == nil {
		t.Error("drop frame of 30 frames/s, which is exact")
	}
	if r, err := TimecodeRateOf(60000, 1001, true); err != nil || r != (TimecodeRate{60, true}) {
		t.Errorf("60000/1001: %+v, %v", r, err)
	}
	if r, err := TimecodeRateOf(24000, 1001, false); err != nil || r.Nominal != 24 {
		t.Errorf("24000/1001: %+v, %v", r, err)
	}
}

func TestTimecodeOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rapid.SampledFrom([]TimecodeRate{{24, false}, {25, false}, {30, false}, {30, true}, {50, false}, {60, true}, {60, false}}).Draw(t, "rate")
		n := rapid.Int64Range(-3*r.Day(), 3*r.Day()).Draw(t, "frame")
		got, err := r.Frame(r.Text(n))
		if err != nil {
			t.Fatal(err)
		}
		if (got-n)%r.Day() != 0 {
			t.Fatalf("frame %d reads back as %d", n, got)
		}
	})
}

func FuzzTimecode(f *testing.F) {
	for _, s := range []string{"00:01:00;02", "23:59:59:29", "1:2:3:4", "00:00:00.00", ";;;;"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		for _, r := range []TimecodeRate{{30, true}, {30, false}, {25, false}} {
			if n, err := r.Frame(text); err == nil {
				if back := r.Text(n); strings.ReplaceAll(text, ".", ";") != back {
					t.Errorf("%q is frame %d is %q", text, n, back)
				}
			}
		}
	})
}
