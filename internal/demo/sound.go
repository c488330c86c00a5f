package demo

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"math"
	"os"
)

const soundRate = 48000

// writeSound writes a clip's sound as 16-bit mono WAVE (RIFF, PCM): the room's
// hum and hiss, and a beep before each switching where the clip has a caller.
func writeSound(path string, c *clipScript, seed uint64) (err error) {
	n := c.frames * soundRate / Rate
	r := seeded(seed, 0x50)
	f, err := os.Create(path)
	if err != nil {
		return fmt.Errorf("demo: sound: %w", err)
	}
	defer func() {
		if e := f.Close(); err == nil {
			err = e
		}
	}()
	w := bufio.NewWriter(f)
	put := func(v any) {
		if err == nil {
			err = binary.Write(w, binary.LittleEndian, v)
		}
	}
	put([]byte("RIFF"))
	put(uint32(36 + 2*n))
	put([]byte("WAVEfmt "))
	put(uint32(16))
	put([]uint16{1, 1})
	put([]uint32{soundRate, soundRate * 2})
	put([]uint16{2, 16})
	put([]byte("data"))
	put(uint32(2 * n))
	low := 0.0
	samples := make([]int16, n)
	for i := range samples {
		t := float64(i) / soundRate
		low += 0.02 * (r.normal() - low)
		v := 0.010*low*8 + 0.0012*r.normal() + 0.003*math.Sin(2*math.Pi*100*t) + 0.001*math.Sin(2*math.Pi*200*t)
		if c.beeps {
			for k, h := range c.holds {
				v += beep(t-h.Start, k == 0)
			}
		}
		samples[i] = int16(32767 * math.Max(-1, math.Min(1, v)))
	}
	put(samples)
	if err == nil {
		err = w.Flush()
	}
	return err
}

// beepLength is a switching beep's, s.
const beepLength = 0.12

// beep is the caller's tone at t after the switching: 1 kHz, and an octave
// higher for the first.
func beep(t float64, first bool) float64 {
	if t < 0 || t > beepLength {
		return 0
	}
	hz := 1000.0
	if first {
		hz = 2000
	}
	edge := math.Min(1, math.Min(t, beepLength-t)/0.008)
	return 0.25 * edge * math.Sin(2*math.Pi*hz*t)
}
