package caller

import (
	"encoding/binary"
	"testing"
)

func TestPlan(t *testing.T) {
	lamps := []string{"key", "fill"}
	holds := []Hold{{"all", []float64{1, 1}}, {"-key", []float64{0, 1}}, {"key=50%", []float64{0.5, 0}}, {"all", []float64{1, 1}}, {"all", []float64{1, 1}}, {"dark", []float64{0, 0}}}
	p, err := Make("all, -key, key=50%, all, all, dark", lamps, holds, 4)
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"all on", "key off", "fill off, key to 50 %", "key back to where it stood, fill on", "leave it as it is", "key off, fill off", "done"}
	for i, s := range p.Steps {
		if s.Say != want[i] || s.Number != i || s.Now != 5+4*float64(i) {
			t.Errorf("step %d: %+v, want %q at %g s", i, s, want[i], 5+4*float64(i))
		}
		if i > 0 && s.Ready < p.Steps[i-1].Now+MarkLength {
			t.Errorf("step %d is said while the mark before still sounds", i)
		}
	}
	if p.Length < p.Steps[len(p.Steps)-1].Now+MarkLength {
		t.Errorf("the sound ends at %g s, before the last mark does", p.Length)
	}
	for _, hold := range []float64{0, 1, 31} {
		if _, err := Make("all", lamps, holds, hold); err == nil {
			t.Errorf("a hold of %g s was taken", hold)
		}
	}
}

// TestSoundIsHeard: a plan's own sound, as 16-bit samples at another rate than
// the detector's, has all its marks at their times.
func TestSoundIsHeard(t *testing.T) {
	lamps := []string{"key", "fill"}
	holds := []Hold{{"all", []float64{1, 1}}, {"-key", []float64{0, 1}}, {"-fill", []float64{1, 0}}, {"dark", []float64{0, 0}}}
	p, err := Make("all, -key, -fill, dark", lamps, holds, 2)
	if err != nil {
		t.Fatal(err)
	}
	wav := WAV(Sound(p.Marks(), p.Length), Rate)
	if string(wav[:4]) != "RIFF" || binary.LittleEndian.Uint32(wav[24:]) != Rate || int(binary.LittleEndian.Uint32(wav[40:])) != len(wav)-44 {
		t.Fatal("no WAVE file of this rate and length")
	}
	samples := make([]float32, (len(wav)-44)/2)
	for i := range samples {
		samples[i] = float32(int16(binary.LittleEndian.Uint16(wav[44+2*i:]))) / 32768
	}
	heard, err := Listen(samples, Rate)
	if err != nil {
		t.Fatal(err)
	}
	if len(heard) != len(p.Steps) {
		t.Fatalf("%d of %d marks heard", len(heard), len(p.Steps))
	}
	for i, h := range heard {
		if d := h.At - p.Steps[i].Now; h.Step != i || h.Order != p.Number || d < -0.005 || d > 0.005 {
			t.Errorf("mark %d: %+v, want step %d of order %d at %g s", i, h, i, p.Number, p.Steps[i].Now)
		}
	}
	if _, err := Listen(samples, 4000); err == nil {
		t.Error("4000 samples a second were taken")
	}
	if heard, err := Listen(nil, Rate); err != nil || heard != nil {
		t.Errorf("no sound: %v, %v", heard, err)
	}
}
