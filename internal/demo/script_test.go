package demo

import (
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"lampwise/internal/caller"
)

// TestHoldsAreSteady: every hold of the switch clip has 0.4 s or more in which
// no lamp is on its way, and the lamps are what the order says there.
func TestHoldsAreSteady(t *testing.T) {
	lamps := exampleLamps()
	c := scripts(lamps, 1, 1)[0]
	levels := c.play(lamps)
	if len(c.holds) != len(switchOrder) {
		t.Fatalf("%d holds, the order has %d", len(c.holds), len(switchOrder))
	}
	for i, h := range c.holds {
		if n := h.Last - h.First + 1; n < 10 {
			t.Errorf("hold %d (%s) is steady for %d frames only", i, h, n)
		}
		for f := h.First; f <= h.Last; f++ {
			for l, lamp := range lamps {
				want := h.On[l] * lamp.Level
				if math.Abs(levels[f][l]-want) > (math.Abs(lamp.warm)+0.002)*lamp.Level {
					t.Fatalf("frame %d in hold %s: %s is at %.4f, wanted %.4f", f, h, lamp.Name, levels[f][l], want)
				}
			}
		}
		if i > 0 && h.First == 0 {
			t.Errorf("hold %s starts with the clip", h)
		}
	}
}

// TestWarmUp: a lamp that has come on settles by its warm-up and no more.
func TestWarmUp(t *testing.T) {
	lamps := exampleLamps()
	c := scripts(lamps, 1, 1)[1] // an episode: everything on throughout
	levels := c.play(lamps)
	for l, lamp := range lamps {
		full := lamp.Level * math.Exp2(c.drift[l])
		first, last := levels[0][l], levels[len(levels)-1][l]
		if want := full * (1 + lamp.warm); lamp.warmFor > 0 && math.Abs(first-want) > 0.002*full {
			t.Errorf("%s starts at %.4f, cold it gives %.4f", lamp.Name, first, want)
		}
		left := math.Exp(-float64(len(levels)) / Rate / math.Max(lamp.warmFor, 1e-3))
		if want := full * (1 + lamp.warm*left); math.Abs(last-want) > 0.003*full {
			t.Errorf("%s ends at %.4f, wanted %.4f", lamp.Name, last, want)
		}
	}
}

// TestDrifts: what the episodes say of themselves is what their levels are.
func TestDrifts(t *testing.T) {
	lamps := exampleLamps()
	all := scripts(lamps, 1, 1)
	moved := func(c clipScript) (n int) {
		for _, d := range c.drift {
			if d != 0 {
				n++
			}
		}
		return n
	}
	if n := moved(all[0]); n != 0 {
		t.Errorf("the switch clip has %d drifts", n)
	}
	if n := moved(all[1]); n != 2 || all[1].pose != Still || all[1].gain != 0 {
		t.Errorf("episode 1 should have two lamps drifted and nothing else")
	}
	two := all[2]
	if n := moved(two); n != 1 || !lamps[len(lamps)-1].Ambient || two.drift[len(lamps)-1] != 0.9 {
		t.Errorf("episode 2 should have the daylight alone 0.9 stop up")
	}
	if two.pose == Still {
		t.Error("episode 2's camera was not nudged")
	}
	ref, now := all[0].play(lamps)[0], two.play(lamps)[0]
	last := len(lamps) - 1
	if got := math.Log2(now[last] / ref[last]); math.Abs(got-0.9) > 1e-9 {
		t.Errorf("episode 2's daylight is %.3f stop up", got)
	}
}

// TestMotionStaysInReach: the mechanic never moves further than the picture
// behind him is known for.
func TestMotionStaysInReach(t *testing.T) {
	const metre = 955 / 1080.0 // of the frame's height, at the mechanic
	for seed := range uint64(20) {
		for f := range 1500 {
			b := Moving(float64(f)/Rate, seed)
			// The crown is 0.28 m over the neck.
			x := math.Abs(b.X) + math.Abs(b.HeadX) + math.Abs(b.Tilt)*0.28
			y := math.Abs(b.Y) + math.Abs(b.HeadY) + math.Abs(b.Tilt)*0.12
			if d := math.Hypot(x, y) * metre; d > motionReach {
				t.Fatalf("seed %d frame %d: moved by %.4f of the height, reach is %.4f", seed, f, d, motionReach)
			}
		}
	}
}

// TestSoundHasItsBeeps reads the sound back: the caller's mark stands at each
// switching, and the room alone elsewhere.
func TestSoundHasItsBeeps(t *testing.T) {
	lamps := exampleLamps()
	c := scripts(lamps, 0.5, 1)[0]
	path := filepath.Join(t.TempDir(), "s.wav")
	if err := writeSound(path, &c, 3); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if string(b[:4]) != "RIFF" || string(b[8:16]) != "WAVEfmt " || len(b) != 44+2*(c.frames*soundRate/Rate) {
		t.Fatalf("not the WAVE file it should be (%d bytes)", len(b))
	}
	samples := make([]float32, (len(b)-44)/2)
	for k := range samples {
		samples[k] = float32(int16(binary.LittleEndian.Uint16(b[44+2*k:]))) / 32768
	}
	heard, err := caller.Listen(samples, soundRate)
	if err != nil || len(heard) != len(c.holds) {
		t.Fatalf("%d of %d marks heard, %v", len(heard), len(c.holds), err)
	}
	want := caller.Number(strings.Join(switchOrder, ", "))
	for i, h := range c.holds {
		if m := heard[i]; m.Step != i || m.Order != want || math.Abs(m.At-h.Start) > 0.005 {
			t.Errorf("hold %s: %+v, want step %d of order %d at %.3f s", h, m, i, want, h.Start)
		}
		rms, from, to := 0.0, int((h.Start+caller.MarkLength+0.01)*soundRate), int(math.Min(h.End, float64(c.frames)/Rate)*soundRate)-1
		for _, v := range samples[from:to] {
			rms += float64(v*v) / float64(to-from)
		}
		if rms = math.Sqrt(rms); rms > 0.02 {
			t.Errorf("hold %s: the room at %.3f between marks", h, rms)
		}
	}
}
